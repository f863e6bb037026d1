// What to do next, the worksheet that ticks itself off, the report.

import { $, fill, h, working } from "./dom.js";
import { work } from "./api.js";
import { about, on, state } from "./state.js";
import { record, takeProbes } from "./read.js";

const view = $("view-next");
let asked = "";
let sheetOf = "";
let sheet = null;

fill(view, h("div", { class: "card", id: "advice", role: "status" }), h("div", { class: "card", id: "sheet" }),
  h("div", { class: "card", id: "papers" }));

on("opened", () => {
  const about = new URLSearchParams({ board: state.board, readings: state.readings });
  const link = (path, text) => h("a", { class: "button", href: `/${path}?${about}`, target: "_blank" }, text);
  fill($("papers"), state.board ? [h("h2", {}, "On paper"), h("div", { class: "row" },
    link("report", "Job record"), link("paper", "Worksheet to print"))] : null);
});

on("did", ({ word, args }) => record({ word, args }));

on("opened", () => { asked = sheetOf = ""; sheet = null; });

/** Advice is worked out while Next is open, and while Read is, after the verdict. */
on("story view", () => { if (state.view === "next") advise(); });
on("judged", () => advise());

function advise() {
  if (!state.story || !["next", "read"].includes(state.view)) return;
  if (state.story.problems.length) {
    fill($("advice"), heading(), h("p", { class: "bad" }, "The readings file has lines that cannot be used; Read shows "
      + "them."));
    return;
  }
  if (state.version !== asked) {
    asked = state.version;
    state.acts = [];
    state.lift = "";
    showAdvice({ state: "working" }); // what was advised before is not to be followed any more
    work("next", "next", about(), showAdvice);
  }
  askSheet();
}

function askSheet(done = false) {
  const key = JSON.stringify([state.board, state.story.stand, state.story.meter]);
  if (key === sheetOf) { showSheet(); return; }
  if (state.view !== "next" && !done) return; // in Read it comes after the advice
  sheetOf = key;
  work("sheet", "worksheet", about(), (said) => {
    if (said.state === "done") {
      sheet = said.result;
      state.steps = sheet.steps;
      showSheet();
    } else if (said.state === "error") {
      sheetOf = "";
      fill($("sheet"), h("h2", {}, "Worksheet"), h("p", { class: "bad" }, said.message));
    } else fill($("sheet"), h("h2", {}, "Worksheet"), working(said, "looking for the shortest list"));
  });
}

const heading = () => h("h2", { id: "h-next" }, "Next");

function showAdvice(said) {
  if (said.state === "error") {
    asked = "";
    fill($("advice"), heading(), h("p", { class: "bad" }, said.message));
  } else if (said.state === "working") {
    fill($("advice"), heading(), working(said, "weighing readings"));
  } else {
    const a = said.result;
    state.acts = a.acts;
    state.lift = a.lift?.statements.join(", ") || "";
    askSheet(true);
    fill($("advice"), heading(), h("p", { class: "says" }, a.says),
      a.lift ? lift(a.lift) : null,

      a.again.length ? h("div", { class: "row" }, "Read again after the repair:", a.again.map((step) =>
        h("button", { type: "button", onclick: () => takeProbes(step) }, words(step)))) : null,
      a.stop ? h("p", {}, "Then ", h("a", { href: "#power" }, "the first power-up, step by step"), ".") : null,
      a.acts.length ? h("ol", { class: "steps" }, a.acts.map((act, k) => h("li", {}, h("div", { class: "row" },
        h("span", { class: "grow" }, h("strong", {}, words(act)), act.also ? h("small", {}, ` ${act.also}`) : null),
        h("button", { type: "button", "data-key": `act${k}`,
          class: k ? "" : "main", onclick: () => takeProbes(act) }, "Take it",
        h("span", { class: "unseen" }, ` ${words(act)}`))), k === 0 ? outcomes(act.outcomes)
        : h("details", {}, h("summary", {}, "What it would mean"), outcomes(act.outcomes))))) : null,
      h("p", { class: "quiet" }, a.caution));
  }
}

const words = (step) => `${step.red} ${step.black} ${step.mode}`;

function outcomes(list) {
  return h("dl", { class: "outcomes" }, list.map((o) => [h("dt", {}, o.band), h("dd", {}, o.means,
    o.percent ? h("small", {}, ` ${o.percent}`) : null)]));
}

function lift(l) {
  return h("div", { class: "liftcard" }, h("p", {}, `No reading in place tells ${l.one} from ${l.other}. The cheapest `
    + "way: ", h("strong", {}, l.statements.join(", ")), ` (about ${Math.max(1, Math.round(l.seconds / 60))} min), then read `,
  h("strong", {}, words(l)), "."), outcomes(l.outcomes),
  h("button", { type: "button", class: "main", "data-key": "lift", onclick: async () => {
    for (const statement of l.statements) {
      const [word, ...args] = statement.split(" ");
      await record({ word, args });
    }
    takeProbes(l);
  } }, `Done: ${l.statements.join(", ")}`));
}

function showSheet() {
  if (!sheet || !state.story) return;
  const read = new Map(state.story.entries.filter((e) => e.red).map((e) => [words(e), e.shown]));
  const done = sheet.steps.filter((step) => read.has(words(step))).length;
  fill($("sheet"), h("h2", {}, "Worksheet"),
    h("p", {}, `${sheet.steps.length} readings show ${sheet.shown} faults; `, sheet.gap
      ? `at most ${sheet.gap} more than the shortest list. ` : "no shorter list does. ",
    h("strong", {}, `${done} of ${sheet.steps.length} read.`)),
    h("ol", { class: "steps sheet" }, sheet.steps.map((step, k) => {
      const shown = read.get(words(step));
      return h("li", { class: shown ? "ticked" : "" }, h("div", { class: "row" },
        h("span", { class: "tick", "aria-hidden": "true" }, shown ? "✓" : ""),
        h("strong", {}, words(step)), h("span", { class: "grow" }, ` healthy ${step.healthy}`),
        shown ? h("span", { class: "done" }, `read ${shown}`) : h("button", { type: "button", "data-key": `step${k}`,
          onclick: () => takeProbes(step) }, "Take it", h("span", { class: "unseen" }, ` ${words(step)}`))),
      h("details", {}, h("summary", {}, "What if it is off?"), h("dl", { class: "outcomes" }, step.hints.map((hint) =>
        [h("dt", {}, hint.band), h("dd", {}, hint.faults)]))));
    })),
    sheet.hidden ? h("p", { class: "quiet" }, `No reading in place shows: ${sheet.hidden}.`) : null);
}
