// The board as text, with its faults as it is typed; a form for a part; boards to begin with.

import { $, fill, h } from "./dom.js";
import { post, get } from "./api.js";
import { kept, on, state, sync, tell } from "./state.js";

const view = $("view-describe");
const PAUSE = 200; // ms after the last key before the text is checked
let base = ""; // digest of the text as it was read
let saved = ""; // that text
let problems = [];
let sound = true;
let timer = 0;
let checks = 0;

fill(view,
  h("div", { class: "card" },
    h("h2", { id: "h-describe" }, "Describe"),
    h("div", { class: "editor" },
      h("div", { id: "gutter", "aria-hidden": "true" }),
      h("textarea", { id: "text", spellcheck: "false", wrap: "off", autocapitalize: "off", autocomplete: "off",
        "aria-label": "Board file", "aria-describedby": "state", rows: "18", oninput: typed, onscroll: scrolled,
        onkeydown: keys, onkeyup: whereAmI, onclick: whereAmI })),
    h("p", { id: "here", class: "bad", "aria-live": "polite" }),
    h("div", { class: "row" },
      h("button", { type: "button", class: "main", id: "save-board", onclick: () => save() }, "Save"),
      h("button", { type: "button", id: "discard", onclick: discard }, "Discard changes"),
      h("span", { id: "state", role: "status" })),
    h("div", { id: "conflict", role: "alert" }),
    h("ol", { id: "problems" })),
  h("details", { class: "card", id: "add" }, h("summary", {}, "Add a part by a form"), h("div", { id: "form" })),
  h("details", { class: "card", id: "begin" }, h("summary", {}, "Begin a new board"), h("div", { id: "starts" })));

/** Whether the editor holds what is not on the disk. */
export const unsaved = () => Boolean(state.board) && $("text").value !== saved;
const draftKey = () => `draft ${state.folder}/${state.board}`;

on("opened", open);
on("leaving", () => { if (unsaved() && sound) save(); });
on("view", (name) => { if (name === "describe") { gutter(); begin(); part(); } });
on("story", () => {
  if (state.story.board_digest !== base && !unsaved() && state.board) open(); // changed elsewhere
});

async function open() {
  $("conflict").replaceChildren();
  $("begin").open = !state.board;
  if (!state.board) { setText("", ""); note(""); return; }
  try {
    const found = await get("/api/board", { file: state.board });
    const draft = kept.get(draftKey());
    setText(found.text, found.digest);
    if (draft && draft.text !== found.text) {
      $("text").value = draft.text;
      base = draft.base;
      note(`not saved yet: your text of ${draft.at} is kept here`);
      check();
    } else {
      if (draft) kept.set(draftKey(), null);
      took(found);
    }
  } catch (error) {
    setText("", "");
    note("not read");
    $("here").textContent = error.body?.problems?.[0]?.message ? `${state.board} ${error.body.problems[0].message}`
      : error.message;
  }
}

function setText(text, digest) {
  $("text").value = text;
  saved = text;
  base = digest;
  problems = [];
  gutter();
  list();
}

function typed() {
  kept.set(draftKey(), unsaved() ? { text: $("text").value, base, at: new Date().toLocaleTimeString() } : null);
  gutter();
  note("");
  clearTimeout(timer);
  timer = setTimeout(check, PAUSE);
}

async function check() {
  const mine = ++checks;
  if (!state.board) return;
  try {
    const found = await post("/api/check", { file: state.board, text: $("text").value });
    if (mine === checks) took(found);
  } catch (error) {
    if (mine === checks) note(error.message);
  }
}

function took(found) {
  problems = found.problems;
  sound = found.sound;
  gutter();
  list();
  whereAmI();
  note("");
  tell("checked", { sound, text: $("text").value, same: !unsaved() });
}

function note(text) {
  const errors = problems.filter((p) => !p.warning).length;
  const said = errors ? `${errors} error${errors > 1 ? "s" : ""}` : "";
  $("state").textContent = text || [said, !state.board ? "" : unsaved() ? "not saved" : "saved"].filter(Boolean).join(", ");
  $("save-board").disabled = !state.board;
  $("discard").disabled = !unsaved();
}

function list() {
  fill($("problems"), problems.map((p) => h("li", { class: p.warning ? "warning" : "error" },
    h("button", { type: "button", class: "link", onclick: () => go(p) },
      `${p.here ? "" : `${p.file}, `}line ${p.line}`), h("span", {}, `${p.warning ? "looks odd: " : ""}${p.message}`,
      p.hint ? h("em", {}, p.hint) : null))));
}

function go(p) {
  if (!p.here) return;
  const lines = $("text").value.split("\n");
  const at = lines.slice(0, p.line - 1).reduce((sum, line) => sum + line.length + 1, 0) + p.column - 1;
  const word = /^\S*/.exec($("text").value.slice(at))[0].length;
  $("text").focus();
  $("text").setSelectionRange(at, at + word);
  whereAmI();
}

function whereAmI() {
  const line = $("text").value.slice(0, $("text").selectionStart).split("\n").length;
  const here = problems.filter((p) => p.here && p.line === line);
  $("here").textContent = here.map((p) => `${p.message}${p.hint ? ` (${p.hint})` : ""}`).join(" · ");
}

function gutter() {
  const count = $("text").value.split("\n").length;
  const worst = new Map();
  for (const p of problems) if (p.here && worst.get(p.line) !== "error") worst.set(p.line, p.warning ? "warning" : "error");
  const rows = [];
  for (let n = 1; n <= count; n++) rows.push(h("div", { class: worst.get(n) || "" }, String(n)));
  $("gutter").replaceChildren(...rows);
  $("text").setAttribute("aria-invalid", problems.some((p) => !p.warning));
  scrolled();
}

on("begin", (name) => {
  begin();
  $("begin").open = true;
  $("new-name").value = name;
  $("new-name").focus();
});

on("find", (ref) => {
  const line = $("text").value.split("\n").findIndex((text) => text.trimStart().startsWith(`${ref} `));
  if (line >= 0) go({ here: true, line: line + 1, column: 1 });
});

function scrolled() {
  $("gutter").scrollTop = $("text").scrollTop;
}

function keys(event) {
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s") {
    event.preventDefault();
    save();
  }
}

/** Put the text on the disk, unless somebody else did meanwhile. */
export async function save(over = base) {
  const text = $("text").value;
  $("conflict").replaceChildren();
  try {
    const found = await post("/api/save", { file: state.board, text, base: over });
    saved = text;
    base = found.digest;
    kept.set(draftKey(), null);
    took(found);
    await sync().catch(() => {});
    return true;
  } catch (error) {
    if (error.status === 409) conflict(error.message);
    else note(error.message);
    return false;
  }
}

async function conflict(message) {
  const theirs = await get("/api/board", { file: state.board }).catch(() => ({ text: "", digest: "" }));
  fill($("conflict"), h("p", { class: "bad" }, message), h("div", { class: "row" },
    h("button", { type: "button", onclick: () => { kept.set(draftKey(), null); setText(theirs.text, theirs.digest);
      $("conflict").replaceChildren(); check(); } }, "Take the other text"),
    h("button", { type: "button", onclick: () => save(theirs.digest) }, "Save mine over it")));
}

function discard() {
  kept.set(draftKey(), null);
  open();
}

function begin() {
  if ($("starts").firstChild || !state.kinds) return;
  const starts = [{ name: "", line: "an empty board", text: "" }, ...state.kinds.starts];
  fill($("starts"), h("form", { onsubmit: create },
    h("label", {}, "Begin with ", h("select", { id: "start" }, starts.map((s) =>
      h("option", { value: s.name }, s.name ? `${s.name}: ${s.line}` : s.line)))),
    h("div", { class: "row" }, h("label", { class: "grow" }, "Name ", h("input", { id: "new-name", required: true,
      maxlength: "80", spellcheck: "false" })), h("button", {}, "Begin")),
    h("p", { id: "new-refused", class: "bad", role: "alert" })));
}

async function create(event) {
  event.preventDefault();
  const typedName = $("new-name").value.trim();
  const name = typedName.endsWith(".board") ? typedName : `${typedName}.board`;
  const start = state.kinds.starts.find((s) => s.name === $("start").value);
  const text = start ? start.text : `board "${typedName.replace(/\.board$/, "").replace(/["\\]/g, "")}"\n`;
  try {
    await post("/api/save", { file: name, text, base: "" });
    $("new-name").value = "";
    $("new-refused").textContent = "";
    $("begin").open = false;
    tell("newboard", name);
  } catch (error) {
    $("new-refused").textContent = error.status === 409 ? `${name} is there already: take another name` : error.message;
  }
}

function part() {
  if ($("form").firstChild || !state.kinds) return;
  fill($("form"), h("form", { id: "part", autocomplete: "off", onsubmit: add, oninput: preview },
    h("div", { class: "fields" },
      h("label", {}, "Kind ", h("select", { id: "p-kind", onchange: pins }, state.kinds.kinds.map((k) =>
        h("option", { value: k.name }, k.name)))),
      h("label", {}, "Reference ", h("input", { id: "p-ref", maxlength: "20", spellcheck: "false" })),
      h("label", {}, h("span", { id: "p-valued" }), h("input", { id: "p-value", maxlength: "60", spellcheck: "false" }))),
    h("p", { id: "p-doc", class: "quiet" }),
    h("div", { id: "p-pins", class: "fields" }),
    h("datalist", { id: "p-nets" }),
    h("p", {}, "Line: ", h("code", { id: "p-line" })),
    h("div", { id: "p-choices" }),
    h("p", { id: "p-refused", class: "bad", role: "alert" }),
    h("button", {}, "Add")));
  pins();
}

const LETTERS = { capacitor: "C", diode: "D", led: "D", zener: "D", tvs: "D", "dual-diode": "D", bridge: "BR", npn: "Q",
  pnp: "Q", darlington: "Q", nmos: "Q", pmos: "Q", igbt: "Q", inductor: "L", choke: "L", transformer: "T", relay: "K",
  fuse: "F", connector: "J", chip: "U", optocoupler: "U", varistor: "RV", "spark-gap": "RV", triac: "Q", thyristor: "Q", diac: "D", thermistor: "RT", switch: "S", crystal: "Y" };

function pins() {
  const kind = state.kinds.kinds.find((k) => k.name === $("p-kind").value);
  const names = kind.pins.length ? [...kind.pins, ...kind.optional] : ["1", "2", "3", "4"];
  const used = $("text").value;
  const letter = LETTERS[kind.name] || (kind.unit === "Ω" ? "R" : "X");
  let n = 1;
  while (new RegExp(`(^|\\n)\\s*${letter}${n}\\s`).test(used)) n++;
  $("p-ref").value = `${letter}${n}`;
  $("p-doc").textContent = `${kind.doc}${kind.unit ? "; its value is in " + kind.unit : ""}`;
  $("p-valued").textContent = kind.unit ? "Value, as printed on it " : "Rating, if you know it (4A, 600V) ";
  fill($("p-nets"), (state.info?.nets || []).map((net) => h("option", { value: net.name })));
  fill($("p-pins"), names.map((pin) => h("label", {}, kind.style === "bare" ? `Net at end ${pin} ` : `Net of ${pin}`
    + `${kind.optional.includes(pin) ? " (may stay empty)" : ""} `, h("input", { class: "p-net", "data-pin": pin,
    list: "p-nets", maxlength: "60", spellcheck: "false" }))),
  kind.words.map((group) => h("label", {}, "Which ", h("select", { class: "p-word" }, h("option", { value: "" },
    `${group[0] || "plain"} (usual)`), group.slice(group[0] ? 1 : 1).map((w) => h("option", { value: w }, w))))));
  preview();
}

let previews = 0;
async function preview() {
  const mine = ++previews;
  const found = await composed().catch((error) => ({ line: "", problems: [{ message: error.message }], choices: [] }));
  if (mine !== previews) return found;
  $("p-line").textContent = found.line;
  fill($("p-choices"), found.choices.length ? [h("p", { class: "quiet" }, "The mark can mean:"), found.choices.map((c) =>
    h("button", { type: "button", onclick: () => { $("p-value").value = c.value; preview(); } }, c.says))] : null);
  return found;
}

const composed = () => post("/api/part", {
  kind: $("p-kind").value, ref: $("p-ref").value, value: $("p-value").value,
  pins: [...document.querySelectorAll(".p-net")].map((input) => [input.dataset.pin, input.value]),
  words: [...document.querySelectorAll(".p-word")].map((select) => select.value),
});

async function add(event) {
  event.preventDefault();
  const found = await preview();
  const wrong = found.problems.filter((p) => !p.warning);
  $("p-refused").textContent = wrong.map((p) => `${p.message}${p.hint ? ` (${p.hint})` : ""}`).join(" · ");
  if (wrong.length || !state.board) {
    if (!state.board) $("p-refused").textContent = "begin a new board first";
    return;
  }
  const text = $("text");
  text.value = `${text.value.replace(/\n*$/, "")}\n${found.line}\n`.replace(/^\n/, "");
  text.scrollTop = text.scrollHeight;
  $("p-value").value = "";
  typed();
  pins();
  $("p-ref").focus();
}
