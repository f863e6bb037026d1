// What the meter should show, and why.

import { $, fill, h, picture, table, working } from "./dom.js";
import { drop, work } from "./api.js";
import { about, on, state, tell } from "./state.js";

const view = $("view-see");
let asked = "";

fill(view, h("div", { class: "card", id: "expected" }), h("div", { class: "card figures", id: "figures" }),
  h("div", { class: "card", id: "why" }));

/** Both probes named and different. */
export const ready = () => state.red && state.black && state.red !== state.black && state.info;

on("probes story view opened", () => {
  if (!["see", "read"].includes(state.view)) return;
  // a reading more changes nothing here: only what was done, the meter and the board do
  const key = JSON.stringify([about(), state.red, state.black, state.mode, state.story?.stand,
    state.story?.bench, state.story?.meter]);
  if (key === asked) return;
  asked = key;
  tell("expected", null);
  if (!ready()) {
    drop("see");
    show({ state: "idle" });
    return;
  }
  work("see", "see", { ...about(), red: state.red, black: state.black, mode: state.mode, part: "" }, (said) => {
    show(said);
    if (said.state === "done") tell("expected", said.result);
  });
});

let pictured = "";
on("expected view story", () => {
  if (state.view !== "see") return;
  if (!ready() || !["diode", "ohms", "continuity"].includes(state.mode)) {
    drop("figures");
    fill($("figures"));
    pictured = "";
    return;
  }
  if (asked + state.version === pictured) return;
  pictured = asked + state.version;
  work("figures", "figures", { ...about(), red: state.red, black: state.black, mode: state.mode }, (said) => {
    if (said.state === "done") figures(said.result);
    else if (said.state === "working") fill($("figures"), working(said, "drawing the bands"));
    else { fill($("figures")); pictured = ""; }
  });
});

function figures(r) {
  fill($("figures"), h("h2", {}, "Bands"), h("p", { class: "quiet" }, "Where bands overlap, the reading cannot tell them "
    + "apart."), h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Bands" }, picture(r.bands)),
  r.course ? [h("h2", {}, "From the first touch on"), h("p", {}, `${r.sentence[0].toUpperCase()}${r.sentence.slice(1)}.`),
    h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Course of the display" }, picture(r.course))]
    : null);
}

function show(said) {
  if (said.state === "working") {
    fill($("expected"), heading(), working(said, "working out what to expect"));
  } else if (said.state === "error") {
    asked = "";
    tell("unexpected", said.message);
    fill($("expected"), heading(), h("p", { class: "bad" }, said.message));
    fill($("why"));
  } else if (said.state === "idle") {
    fill($("expected"), heading(), h("p", {}, state.board
      ? "Name two pads: click them in the drawing, choose them from the list, or type them."
      : "Begin with a board under Describe."));
    fill($("why"));
  } else result(said.result);
}

const heading = () => h("h2", { id: "h-see" }, "Expect");

function result(r) {
  const main = r.rows.find((row) => row.mode === r.mode && row.red === state.red) || r.rows[0];
  fill($("expected"), heading(),
    h("p", { class: "display", id: "display" }, h("b", {}, main.digits), " ", h("span", {}, main.unit),
      main.beep === null ? null : h("em", {}, main.beep ? " beeps" : " silent")),
    h("p", {}, `${r.mode}, red on ${main.red}, black on ${main.black}. Healthy boards show `,
      h("strong", {}, main.healthy), ".", r.part && main.alone
        ? [` ${r.part} alone, out of the board: `, h("strong", {}, main.alone), "."] : null),
    r.slow.length ? h("p", { class: "note" }, `The meter charges ${r.slow.join(", ")} first: wait until the display `
      + "stands still.") : null,
    r.gates.length ? h("p", { class: "note" }, `No gate resistor in sight for ${r.gates.join(", ")}: taken as `
      + "uncharged. Short gate to source or emitter before you read.") : null,
    table("Every mode, both ways round", ["mode", "red, black", "expect", "healthy boards",
      ...(r.part ? [`${r.part} alone`] : [])], r.rows.map((row) => [row.mode, `${row.red} ${row.black}`,
      h("span", { class: "nowrap" }, `${row.digits} ${row.unit}`.trim(), row.beep === null ? "" : row.beep ? ", beeps"
        : ", silent"), row.healthy, ...(r.part ? [row.alone] : [])])),
    h("p", { class: "quiet" }, `Meter ${r.meter}.`, r.others.length
      ? ` Also between these pads: ${r.others.join(", ")}.` : ""));
  fill($("why"), Object.keys(r.why).length ? h("h2", {}, "Why") : null, r.why.drive ? h("p", {}, r.why.drive) : null,
    r.why.beside ? h("p", {}, `In this ${r.mode} reading too: ${r.why.beside}. Lift a lead to read ${r.part || "it"} alone.`)
      : null,
    r.why.paths?.length ? h("ul", { class: "paths" }, r.why.paths.map((path) => h("li", {}, path))) : null,
    r.why.told ? h("p", {}, `One fault that this reading would show: ${r.why.told}.`) : null,
    r.why.blind ? h("p", {}, h("strong", {}, "Blind to"), ` (such a board can still read as healthy): ${r.why.blind}.`)
      : null,
    r.why.unseen ? h("p", {}, `No open or short of these would move the display: ${r.why.unseen}.`) : null,
    r.why.cannot ? h("p", { class: "quiet" }, `Cannot matter here: ${r.why.cannot}.`) : null);
}
