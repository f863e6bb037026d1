// A reading typed, saved at once, judged at once. Numbers never leave the keypad.

import { $, fill, h } from "./dom.js";
import { Refused, post, tab } from "./api.js";
import { about, judging, kept, on, setProbes, state, take, tell } from "./state.js";
import { nextMode, swap } from "./probes.js";

const QUICK = [["k", "k"], ["M", "M"], ["−", "-"]];
const view = $("view-read");

fill(view,
  h("form", { id: "enter", class: "card", autocomplete: "off", onsubmit: (event) => { event.preventDefault(); enter(); } },
    h("h2", { id: "h-read", class: "unseen" }, "Read"),
    h("p", { id: "short", "aria-hidden": "true" }), // the verdict again, where the thumb is
    h("p", { id: "expect", class: "quiet" }),
    h("div", { class: "row" },
      h("label", { class: "grow" }, "The display shows ",
        h("input", { id: "reading", inputmode: "decimal", enterkeyhint: "send", spellcheck: "false",
          autocapitalize: "off", "aria-describedby": "refused keys", onkeydown: keypad })),
      h("button", { class: "main", id: "save" }, "Save"),
      h("button", { type: "button", id: "ask-meter", hidden: true, onclick: askMeter }, "From the meter")),
    h("div", { class: "row quick" }, h("span", { id: "words" }), QUICK.map(([label, text]) => h("button", {
      type: "button", class: "letter", onclick: () => put(text) }, label)),
    h("button", { type: "button", id: "take", onclick: () => suggest() }, "Next one"),
    h("button", { type: "button", id: "undo", onclick: undo }, "Take back")),
    h("p", { id: "refused", class: "bad", role: "alert" }),
    h("p", { id: "pending", class: "bad", role: "status" }),
    h("p", { id: "stored", role: "status", class: "unseen" }),
    h("p", { id: "keys", class: "quiet keys" }, h("kbd", {}, "Enter"), " saves · in the empty field ",
      h("kbd", {}, "/"), " OL · ", h("kbd", {}, "*"), " next mode · ", h("kbd", {}, "+"), " next reading to take · ",
      h("kbd", {}, ".."), h("kbd", {}, "Enter"), " swaps the probes · ", h("kbd", {}, "--"), h("kbd", {}, "Enter"),
      " takes the last line back")),
  h("div", { id: "verdict", class: "card", role: "status" }),
  h("div", { id: "lines", class: "card" }),
  h("div", { id: "parts", class: "card" }));

on("story", () => fill($("words"), state.story.words.map((word) => h("button", { type: "button", "data-key": word,
  onclick: () => put(word) }, word))));

function put(text) {
  const field = $("reading");
  if (text.length > 1) field.value = text;
  else if (text === "-") field.value = field.value.startsWith("-") ? field.value.slice(1) : `-${field.value}`;
  else field.value += text;
  field.focus();
}

function keypad(event) {
  if ($("reading").value) return;
  const act = { "/": () => put("OL"), "*": nextMode, "+": suggest }[event.key];
  if (!act || event.ctrlKey || event.altKey || event.metaKey) return;
  event.preventDefault();
  act();
}

/** The next reading to take: what tells most, or the next open line of the worksheet. */
export function suggest() {
  const read = new Set((state.story?.entries || []).filter((e) => e.red)
    .map((e) => `${e.red} ${e.black} ${e.mode}`));
  const open = (step) => !read.has(`${step.red} ${step.black} ${step.mode}`);
  const here = (step) => step.red === state.red && step.black === state.black && step.mode === state.mode;
  const found = [...state.acts, ...state.steps].find((step) => open(step) && !here(step));
  if (!found || (state.lift && !state.acts.length)) {
    refuse(state.lift ? `no reading in place tells more: ${state.lift}, as Next says` : "nothing is proposed yet: Next "
      + "works it out");
    return;
  }
  takeProbes(found);
}

/** Put the probes where a proposal wants them. */
export function takeProbes(step) {
  refuse("");
  setProbes({ red: step.red, black: step.black, mode: step.mode, turn: "red" });
  if (state.view === "read") { $("reading").focus(); return; }
  window.addEventListener("hashchange", () => $("reading").focus(), { once: true }); // once the view is shown
  location.hash = "#read";
}

function enter() {
  const text = $("reading").value.trim();
  if (text === "..") { $("reading").value = ""; swap(); return; }
  if (text === "--") { $("reading").value = ""; undo(); return; }
  if (!text && state.instrument) { askMeter(); return; }
  if (!text) { refuse("type what the display shows: 0.011, 10k1, OL, beep"); return; }
  if (!state.red || !state.black) { refuse("name two pads first"); $(state.red ? "black" : "red").focus(); return; }
  record({ red: state.red, black: state.black, mode: state.mode, shown: text });
  $("reading").value = "";
  $("reading").focus();
}

/** The reading of a meter on a wire, saved like a typed one. */
async function askMeter() {
  if (!state.red || !state.black) { refuse("name two pads first"); return; }
  const where = { red: state.red, black: state.black, mode: state.mode };
  refuse("");
  try {
    const { shown } = await post("/api/instrument", { mode: where.mode });
    record({ ...where, shown });
  } catch (error) {
    refuse(error.message);
  }
  $("reading").focus();
}
on("opened", () => { $("ask-meter").hidden = !state.instrument; });

// What is not on the disk yet. Every tab has a list of its own, mirrored to a place of its own in the browser, so
// that no tab can overwrite another's; what a closed tab left behind is taken over. The server stores the same line
// of the same second once, so that sending twice does no harm.
const MINE = `pending ${tab}`;
const ABANDONED = 30_000; // ms
const waiting = [];

/** Save a reading or a statement: it waits in the browser until the server has it on the disk. */
export function record(ask) {
  refuse("");
  waiting.push({ ...ask, ...judging(), folder: state.folder, stamp: now() });
  mirror();
  performance.mark("entered"); // User Timing: what a person waits for
  return send();
}

const mirror = () => kept.set(MINE, waiting.length ? waiting : null);

function takeOver() {
  for (const [key, list] of kept.all("pending ")) {
    const old = Array.isArray(list) ? list.filter((one) => one.folder === state.folder) : [];
    if (key === MINE || !old.length || old.some((one) => Date.now() - Date.parse(one.stamp) < ABANDONED)) continue;
    waiting.push(...old);
    mirror();
    kept.set(key, null);
    send();
  }
}
setInterval(takeOver, 5000);
on("opened", takeOver);

let sending = null;
function send() {
  sending ??= sendAll().finally(() => { sending = null; });
  return sending;
}

async function sendAll() {
  while (waiting.length) {
    const one = waiting[0];
    const here = one.board === state.board && one.readings === state.readings;
    try {
      const story = await post("/api/record", here && state.view === "read" ? { ...one, tab: `${tab} verdict` } : one);
      waiting.shift();
      mirror();
      $("stored").textContent = `saved: ${story.stored}`;
      if (here) take(story);
      tell("recorded");
    } catch (error) {
      if (!(error instanceof Refused) || error.status === 0) {
        pending(waiting.length);
        setTimeout(send, 1000);
        return;
      }
      waiting.shift();
      mirror();
      refuse(error.message.replace(/^this line:1:\d+: /, "").split("\n")[0]);
      if (one.shown && here && !$("reading").value) $("reading").value = one.shown;
      $("reading").select();
    }
  }
  pending(0);
}

function pending(count) {
  $("pending").textContent = count ? `The page's server does not answer. ${count === 1 ? "One line waits"
    : `${count} lines wait`} in this browser and will be saved when it does.` : "";
}

function now() {
  const d = new Date();
  const two = (n) => String(Math.abs(n)).padStart(2, "0");
  const off = -d.getTimezoneOffset();
  return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}T${two(d.getHours())}:${two(d.getMinutes())}:`
    + `${two(d.getSeconds())}${off < 0 ? "-" : "+"}${two(Math.trunc(off / 60))}:${two(off % 60)}`;
}

/** Say why something was not done, where the reading is typed. */
export function refuse(text) {
  $("refused").textContent = text;
}

async function undo() {
  const entries = state.story?.entries || [];
  const last = entries[entries.length - 1];
  if (!last) { refuse("nothing to take back"); return; }
  try {
    const story = await post("/api/undo", { ...judging(), line: last.text });
    take(story);
    refuse("");
    $("stored").textContent = `taken back: ${story.taken}`;
  } catch (error) {
    refuse(error.message.split("\n")[0]);
  }
  $("reading").focus();
}

on("expected", (r) => {
  const row = r?.rows.find((x) => x.mode === r.mode && x.red === state.red);
  fill($("expect"), row ? ["Expect ", h("b", {}, `${row.digits} ${row.unit}`.trim()), row.beep === null ? ""
    : row.beep ? ", beeps" : ", silent", `, healthy ${row.healthy}`]
    : state.red && state.black ? "\u00a0" : "Name two pads to see what to expect.");
});

on("unexpected", (message) => fill($("expect"), h("span", { class: "bad" }, message)));
