// The verdict under the reading just typed: what failed, every reading, every part.

import { $, bar, fill, h, table, working } from "./dom.js";
import { work } from "./api.js";
import { compareWith, judging, on, state, tell } from "./state.js";
import { refuse } from "./read.js";
import { partDialog } from "./parts.js";

const SIGNS = { healthy: "✓", explained: "≈", failed: "✕", undecided: "?", unlisted: "!" };
let verdict = null;
let glimpse = null; // the newest reading's mark, ahead of the verdict
let charge = null; // what the board may hold, said while nothing has been read yet
let judged = "";
let quick = false; // whether verdicts on this board take no time worth speaking of
on("story view opened", () => {
  if (state.view !== "read" || !state.story) { if (!state.story) { verdict = null; judged = ""; show(); } return; }
  judgeNow(); // asked first: the tables are filled while it is worked out
  show();
});

function judgeNow() {
  if (state.version === judged) return;
  judged = state.version;
  glimpse = null;
  if (state.story.problems.length) { showVerdict({ state: "problems" }); return; }
  const began = performance.now();
  work("verdict", "verdict", judging(), (said) => {
    quick = said.state === "done" && performance.now() - began < 1000;
    if (said.state === "done") { verdict = said.result; glimpse = null; }
    if (said.early) { glimpse = said.early; show(); performance.mark("glimpsed"); }
    if (said.state === "error") judged = "";
    showVerdict(said);
    if (said.state === "done") { show(); tell("judged", verdict); }
  });
}

function show() {
  const story = state.story;
  if (!story) { fill($("lines")); fill($("parts")); fill($("verdict")); return; }
  const marks = new Map((verdict?.lines || []).map((line) => [line.line, line]));
  if (glimpse) marks.set(glimpse.line, glimpse);
  const good = state.good ? ["good board"] : [];
  fill($("lines"), h("div", { class: "row" }, h("h2", { class: "grow" }, "Readings and what was done"), goodBoard()),
    verdict && state.good ? h("p", { class: "quiet" }, verdict.good || "No reading was taken on both boards alike.") : null,
    story.entries.length
      ? table("Readings and what was done", ["reading", "you read", "found", "healthy boards", ...good],
        story.entries.map((e) => line(e, marks.get(e.line), good.length)).reverse(), { class: "lines" })
      : h("p", {}, "None yet."));
  showParts();
}

/** A row of the table: what was done, or a reading with what it was found to be. */
function line(e, found, good) {
  if (e.word) return [h("span", { class: "done" }, `${e.word} ${e.args.join(" ")}`), "", "", e.remark, ...(good ? [""] : [])];
  const beside = !good ? [] : [found?.good ? h("span", { class: found.differs ? "off" : "" }, found.good,
    found.differs ? h("small", { class: "under" }, "differs") : null) : ""];
  return [h("code", {}, `${e.red} ${e.black} ${e.mode}`), `${e.shown}${e.when ? ` ${e.when}` : ""}`,
    mark(found?.mark), found?.healthy || "", ...beside];
}

/** Readings of a known-good board to compare with, chosen among the files of the folder. */
function goodBoard() {
  const files = state.files.filter((name) => name !== state.readings);
  if (!files.length) return null;
  return h("label", { class: "meter" }, "Good board ", h("select", { id: "good", value: state.good,
    onchange: (event) => compareWith(event.target.value).catch((error) => refuse(error.message)) },
  h("option", { value: "" }, "none"), files.map((name) => h("option", { value: name, selected: name === state.good },
    name.replace(/\.readings$/, "")))));
}

const plain = (word) => (word === "undecided" ? "not decided" : word);

function mark(text) {
  if (!text) return "";
  return h("span", { class: text === "as healthy" ? "fine" : "off" }, text);
}

function showVerdict(said) {
  const box = $("verdict");
  const head = (...more) => h("div", { class: "head" }, h("h2", {}, "Verdict"), ...more);
  if (said.state !== "working") box.classList.remove("stale");
  if (said.state === "problems") {
    fill(box, head(), h("p", { class: "bad" }, "The readings file has lines that cannot be used:"),
      h("ul", {}, state.story.problems.map((p) => h("li", {}, `line ${p.line}: ${p.message}`,
        p.hint ? ` (${p.hint})` : "", h("br"), h("code", {}, p.text)))));
  } else if (said.state === "error") {
    fill(box, head(), h("p", { class: "bad" }, said.message));
  } else if (said.state === "working") { // the verdict before stays where it is
    box.classList.add("stale");
    if (!verdict) fill(box, head());
    for (const old of box.querySelectorAll(".head .working")) old.remove();
    box.querySelector(".head").append(working(said, "judging"), glimpse ? h("span", { class: "working" },
      "the reading: ", mark(glimpse.mark)) : "");
    if (glimpse) fill($("short"), mark(glimpse.mark), " · judging …");
  } else if (said.state === "done") {
    box.dataset.count = said.result.count;
    const v = said.result;
    fill($("short"), h("span", { class: `tag ${v.word}` }, `${SIGNS[v.word]} ${v.word} ${v.failed}`));
    fill(box, v.count || !charge?.banks.length ? [head(),
      h("p", { class: `word ${v.word}` }, h("span", { "aria-hidden": "true" }, SIGNS[v.word]), ` ${v.word} `,
        v.failed),
      h("p", {}, v.why),
      v.candidates.length ? table("What explains all readings", ["explains all readings", "odds"],
        v.candidates.map((c) => [c.says, [h("span", {}, c.percent), bar(c.odds)]]), { class: "odds" }) : null] : before());
    requestAnimationFrame(() => performance.mark("judged"));
  }
}

/** What stands where the verdict will be, before the first reading. */
function before() {
  return [h("div", { class: "head" }, h("h2", {}, "Before the first reading")),
    charge.banks.slice(0, 3).map((b) => [h("h3", {}, `${b.parts.join(", ")}, ${b.plus} to ${b.minus}: ${b.says}`),
      b.hurt ? h("p", { class: "bad" }, b.hurt) : null, h("p", {}, b.resistor)]),
    charge.banks.length > 3 ? h("p", {}, `${charge.banks.length - 3} more may hold a charge.`) : null,
    h("p", {}, "How long it takes by itself, and what to note as done: ", h("a", { href: "#power" }, "Power"), ".")];
}

on("charge opened", (found) => {
  charge = found || null;
  if (verdict && !verdict.count) showVerdict({ state: "done", result: verdict });
});

function showParts() {
  const words = new Map((verdict?.parts || []).map((p) => [p.part, p]));
  const bench = state.story.bench;
  const rest = [...bench.power.map(([a, b, v]) => `${v} V on ${a} and ${b}`), ...bench.wires.map(([a, b]) =>
    `wire ${a} to ${b}`), bench.celsius === 25 ? "" : `board at ${bench.celsius} °C`].filter(Boolean);
  fill($("parts"), h("h2", {}, "Parts"), h("p", { class: "quiet" }, "Choose a part to say what you did to it: "
    + "lifted, removed, new, charged, powered."), rest.length ? h("p", { class: "note" }, rest.join("; ")) : null,
  table("Parts and what is known of them", ["part and what was done", "verdict"], (state.info?.parts || []).map((part) =>
    [named(part, done(part.ref, bench)), ruling(words.get(part.ref))])));
}

/** What was done to a part and stands so now. */
function done(ref, bench) {
  return [...bench.lifted.filter((pin) => pin.startsWith(`${ref}.`)).map((pin) => `${pin} lifted`),
    bench.removed.includes(ref) ? "off the board" : "", bench.replaced.includes(ref) ? "new part" : "",
    ...bench.charge.filter(([each]) => each === ref).map(([, volts]) => `charged to ${volts} V`),
    ...bench.hot.filter(([each]) => each === ref).map(([, c]) => `${c} °C`)].filter(Boolean).join(", ");
}

const named = (part, text) => [h("button", { type: "button", class: "link", "data-key": `part ${part.ref}`,
  onclick: () => partDialog(part.ref) }, part.ref), h("small", {}, ` ${part.kind} ${part.value}`),
text ? h("small", { class: "under done" }, text) : null];

function ruling(p) {
  if (!p) return "";
  return [h("span", { class: `tag ${p.word}` }, h("span", { "aria-hidden": "true" }, SIGNS[p.word]),
    ` ${plain(p.word)}${p.fitted || p.replaced ? ", the old one" : ""}`),
  p.unseen.length && p.word !== "failed" ? h("small", { class: "under" }, `not seen yet: ${p.unseen.join(", ")}`) : null,
  p.fitted ? h("small", { class: "under" }, `the new one: ${plain(p.fitted.word)}`) : null];
}

/** While the display is being read, what its verdict will need is worked out already. */
let soon = 0;
on("expected", (r) => {
  clearTimeout(soon);
  if (r && quick) soon = setTimeout(prepare, 300); // not for pads that are passed over
});

function prepare() {
  if (state.view !== "read" || judged !== state.version || !state.story.typed.includes(state.mode)) return;
  work("ready", "ready", { ...judging(), red: state.red, black: state.black, mode: state.mode }, () => {});
}

