// What the page knows, in one place. Views listen for what concerns them.

import { get } from "./api.js";

export const state = {
  folder: "", instrument: "", boards: [], files: [], profiles: [], kinds: null,
  board: "", readings: "", good: "", view: "", // good: readings of a known-good board
  red: "", black: "", mode: "diode", turn: "red",
  info: null, // title, nets, parts of the saved board
  story: null, version: "",
  steps: [], acts: [], lift: "", // of worksheet and advice, for "the next reading to take"
};

const listeners = new Map();

/** Call `f` when something of that name happens: probes, story, board, view, files. */
export function on(names, f) {
  for (const name of names.split(" ")) listeners.set(name, [...(listeners.get(name) || []), f]);
}

export function tell(name, detail) {
  for (const f of listeners.get(name) || []) f(detail);
}

/** The fields every question about the board carries. */
export const about = () => ({ board: state.board, readings: state.readings });

/** The fields of a question in which a known-good board counts too. */
export const judging = () => ({ ...about(), good: state.good });

/** Compare with the readings of a known-good board from now on; empty: with none. */
export async function compareWith(name) {
  state.good = name;
  kept.set(goodKey(), name || null);
  state.version = "";
  await sync();
}

const goodKey = () => `good ${state.folder}/${state.board}`;
/** The known-good board last compared with, if its readings are there still. */
export const goodBefore = () => state.files.find((name) => name === kept.get(goodKey()) && name !== state.readings) || "";

/** Take in a story the server sent; say so where it is another one. */
export function take(story) {
  if (!story || story.same || story.version === state.version) return;
  const board = JSON.stringify(story.board) !== JSON.stringify(state.info);
  state.version = story.version;
  state.story = story;
  state.info = story.board;
  if (board) tell("board");
  tell("story");
}

/** Ask whether board or readings changed, here or elsewhere. */
export async function sync() {
  if (!state.board || !state.readings) return;
  const asked = JSON.stringify(judging());
  const story = await get("/api/story", { ...judging(), known: state.version });
  if (asked === JSON.stringify(judging())) take(story);
}

export function setProbes(change) {
  Object.assign(state, change);
  tell("probes");
}

/** A pad was pointed at: first red, then black, then a new pair. */
export function point(pad) {
  if (state.turn === "red") setProbes({ red: pad, black: "", turn: "black" });
  else if (pad !== state.red) setProbes({ black: pad, turn: "red" });
}

/** Pads a probe can touch: nets with their test points, and lifted pins. */
export function pads() {
  if (!state.info) return [];
  const nets = state.info.nets.filter((net) => !net.hidden);
  const lifted = state.story ? state.story.bench.lifted : [];
  return [...nets.map((net) => ({ name: net.name, also: [net.pad, net.text].filter(Boolean).join(", ") })),
    ...lifted.map((pin) => ({ name: pin, also: "lifted" }))];
}

/** What localStorage keeps; a browser that refuses it only forgets sooner. */
export const kept = {
  /** [key, value] of every key that begins so. */
  all(prefix) {
    try {
      return Object.keys(localStorage).filter((key) => key.startsWith(prefix)).map((key) => [key, kept.get(key)]);
    } catch { return []; }
  },
  get(key) {
    try { return JSON.parse(localStorage.getItem(key)); } catch { return null; }
  },
  set(key, value) {
    try {
      if (value === null) localStorage.removeItem(key);
      else localStorage.setItem(key, JSON.stringify(value));
    } catch { /* private windows */ }
  },
};
