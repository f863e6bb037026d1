// The page as a whole: files, views, and keeping up with what others do to the same files.

import { $, fill, h } from "./dom.js";
import { get } from "./api.js";
import { goodBefore, kept, on, setProbes, state, sync, tell } from "./state.js";
import { unsaved } from "./describe.js";
import "./probes.js";
import "./see.js";
import "./read.js";
import "./verdict.js";
import "./next.js";
import "./power.js";
import "./practice.js";
import "./drawing.js";

const OTHER = "\n"; // no file has that name
const VIEWS = ["describe", "see", "read", "next", "power", "practice"];

async function start() {
  try {
    Object.assign(state, { kinds: await get("/api/kinds") });
    await files();
  } catch (error) {
    trouble(error.message);
    setTimeout(start, 2000);
    return;
  }
  const last = kept.get(`bench ${state.folder}`) || {};
  const missing = Boolean(state.open) && !state.boards.includes(state.open);
  const board = missing ? "" : state.open || (state.boards.includes(last.board) ? last.board : state.boards[0] || "");
  await openBoard(board, last.board === board ? last.readings : "");
  window.addEventListener("hashchange", show);
  show();
  if (missing) {
    location.hash = "#describe";
    tell("begin", state.open);
  }
  setInterval(keepUp, 2000);
  document.addEventListener("visibilitychange", keepUp);
}

async function files() {
  const found = await get("/api/folder");
  Object.assign(state, { folder: found.folder, boards: found.boards, files: found.readings, profiles: found.meters,
    open: found.open, instrument: found.instrument });
  listFiles();
}

function listFiles() {
  fill($("board"), state.boards.length ? null : h("option", { value: "" }, "none yet"),
    state.boards.map((name) => h("option", { value: name }, name)));
  $("board").value = state.board;
  const own = state.board.replace(/\.board$/, ".readings");
  const names = [...new Set([own, ...state.files, state.readings])].filter(Boolean);
  fill($("readings"), names.map((name) =>
    h("option", { value: name }, state.files.includes(name) ? name : `${name} (new)`)), own
    ? h("option", { value: OTHER }, "begin another …") : null);
  $("readings").value = state.readings;
}

/** Make a board the one everything is about. */
export async function openBoard(name, readings = "") {
  state.board = name;
  state.readings = name ? readings || name.replace(/\.board$/, ".readings") : "";
  Object.assign(state, { info: null, story: null, version: "", steps: [], acts: [], lift: "" });
  setProbes({ red: "", black: "", turn: "red" });
  state.good = name ? goodBefore() : "";
  if (name) kept.set(`bench ${state.folder}`, { board: name, readings: state.readings });
  if (name && !state.boards.includes(name)) await files();
  listFiles();
  tell("opened");
  await keepUp();
}

$("board").addEventListener("change", () => openBoard($("board").value));
$("readings").addEventListener("change", () => {
  if ($("readings").value !== OTHER) openBoard(state.board, $("readings").value);
  else askName();
});

/** Readings in a file of another name: of a second board, or of a known-good one. */
function askName() {
  const box = $("dialog");
  $("readings").value = state.readings;
  fill(box, h("h2", { id: "dialog-title" }, "Readings of another board"), h("form", { onsubmit: async (event) => {
    event.preventDefault();
    const readings = `${$("other-name").value.trim().replace(/\.readings$/, "")}.readings`;
    try {
      await get("/api/story", { board: state.board, readings });
      box.close();
      await openBoard(state.board, readings);
    } catch (error) {
      $("other-refused").textContent = error.message;
    }
  } }, h("p", { class: "quiet" }, `Of the same type as ${state.board}, such as a known-good one.`),
  h("label", { class: "lead" }, "Name of the file ", h("input", { id: "other-name", required: true, maxlength: "80",
    spellcheck: "false" })),
  h("p", { id: "other-refused", class: "bad", role: "alert" }),
  h("div", { class: "row" }, h("button", { class: "main" }, "Begin"),
    h("button", { type: "button", onclick: () => box.close() }, "Leave it"))));
  box.showModal();
}
on("newboard", async (name) => { await openBoard(name); });

/** The view the address names. */
function show() {
  const asked = location.hash.slice(1);
  const view = VIEWS.includes(asked) ? asked : state.board ? "read" : "describe";
  if (state.view === "describe" && view !== "describe") tell("leaving");
  state.view = view;
  for (const name of VIEWS) $(`view-${name}`).hidden = name !== view;
  $("probes").hidden = !["see", "read"].includes(view);
  showDrawing();
  for (const link of document.querySelectorAll("nav a")) {
    if (link.hash === `#${view}`) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  document.body.dataset.view = view;
  document.title = `${view[0].toUpperCase()}${view.slice(1)} · ${state.board || "bench"}`;
  tell("view", view);
  if (faulty) trouble(unsaved() ? "" : faulty);
}

function showDrawing() {
  $("drawing").hidden = state.view === "practice" || !state.board;
}
on("opened", showDrawing);

let asking = false;
let faulty = ""; // what is said of a board with errors
async function keepUp() {
  if (asking || document.visibilityState !== "visible" || !state.board) return;
  asking = true;
  try {
    await sync();
    faulty = "";
    trouble("");
  } catch (error) {
    if (error.status === 422 && error.body.problems) {
      faulty = `${error.message}.`;
      trouble(unsaved() ? "" : faulty);
    } else trouble(error.message);
  }
  asking = false;
}

/** What stands in the way, for all views; errors of the board not where they are listed. */
export function trouble(said) {
  const text = said && said === faulty && ["", "describe"].includes(state.view) ? "" : said;
  if ($("trouble").textContent === text) return;
  $("trouble").textContent = text;
  $("trouble").hidden = !text;
}

on("trouble", trouble);
on("recorded", async () => {
  if (!state.files.includes(state.readings)) await files().catch(() => {});
});

start();
