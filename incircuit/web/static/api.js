// Talking to the server: questions, work that takes time, and what to say when it does not answer.

export const tab = Math.random().toString(36).slice(2);

/** A refusal with the server's reason; `status` 0 where it did not answer at all. */
export class Refused extends Error {
  constructor(message, status, body = {}) {
    super(message);
    this.status = status;
    this.body = body;
  }
}

async function answered(promise) {
  let response;
  try {
    response = await promise;
  } catch {
    throw new Refused("the page's server does not answer; was it stopped in the terminal?", 0);
  }
  if (response.status === 401) location.href = "/enter";
  let body = {};
  try {
    body = await response.json();
  } catch {
    throw new Refused("the page's server was cut off", 0);
  }
  if (!response.ok) throw new Refused(body.error || `refused (${response.status})`, response.status, body);
  return body;
}

export const get = (path, query = {}) =>
  answered(fetch(`${path}?${new URLSearchParams(query)}`, { headers: { accept: "application/json" } }));

export const post = (path, body) => answered(fetch(path, {
  method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body),
}));

const running = new Map();
const AGAIN = [0, 503]; // no answer, or too many at once

/**
 * Work off the request. `told` is called with {state: working | done | error, …}; a newer call with the same
 * `lane` silences an older one. Nothing is asked while the page is hidden.
 */
export async function work(lane, kind, fields, told) {
  const mine = Symbol(lane);
  running.set(lane, mine);
  const current = () => running.get(lane) === mine;
  const began = performance.now();
  while (current()) {
    let said;
    try {
      said = await post("/api/work", { kind, tab: `${tab} ${lane}`, ...fields });
    } catch (error) {
      if (!current()) return;
      if (AGAIN.includes(error.status)) { // said on top of the page; the answer comes when it is back
        await new Promise((resolve) => setTimeout(resolve, 1000));
        continue;
      }
      told({ state: "error", message: error.message, body: error.body || {}, status: error.status });
      return;
    }
    if (!current()) return;
    if (said.state === "stale") continue;
    if (said.state !== "working" || said.early || performance.now() - began > 300) told(said);
    if (said.state !== "working") return;
    await shown();
  }
}

/** Forget a lane: its answer is not wanted any more. */
export function drop(lane) {
  running.delete(lane);
}

function shown() {
  if (document.visibilityState === "visible") return Promise.resolve();
  return new Promise((resolve) => document.addEventListener("visibilitychange", resolve, { once: true }));
}
