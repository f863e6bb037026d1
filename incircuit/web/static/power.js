// What the board may hold before it is touched, and how it is powered first after the repair.

import { $, fill, h, table, working } from "./dom.js";
import { work } from "./api.js";
import { about, on, state, tell } from "./state.js";
import { record, takeProbes } from "./read.js";

const view = $("view-power");
let charged = ""; // the stand of the board the charge was asked for
let planned = "";
let charge = null;

fill(view, h("div", { class: "card", id: "charge" }), h("div", { class: "card", id: "powerup" }));

on("opened", () => { charged = planned = ""; charge = null; brief(null); });
on("story view", () => {
  if (!state.story) return;
  if (state.story.stand !== charged) askCharge();
  else if (charge && state.view === "power") showCharge();
  if (state.view === "power") askPowerup();
});

function askCharge() {
  charged = state.story.stand;
  work("charge", "charge", { board: state.board }, (said) => {
    if (said.state === "done") {
      charge = said.result;
      brief(charge);
      showCharge();
      tell("charge", charge);
    } else if (said.state === "working") fill($("charge"), touch(), working(said, "working out what it may hold"));
    else { charged = ""; fill($("charge"), touch(), h("p", { class: "bad" }, said.message)); }
  });
}

/** The line on top of every view. */
function brief(c) {
  $("may-hold").textContent = c?.brief || "What it may hold";
}

const touch = () => h("h2", { id: "h-power" }, "Before you touch it");

function showCharge() {
  const c = charge;
  const verified = new Set(state.story.entries.filter((e) => e.word === "discharge").map((e) => e.args[0]));
  fill($("charge"), touch(),
    h("p", {}, "Unplug and lock out first. ", h("strong", {}, "Nothing here says that the board is empty"),
      ": only the meter on volts does."),
    c.nothing ? h("p", {}, c.nothing) : null,
    c.banks.map((b) => bank(b, c.head, b.parts.every((ref) => verified.has(ref)))),
    c.stacks.map((text) => h("p", { class: "note" }, text)),
    c.slight.length ? [h("p", {}, c.slight_head), h("ul", {}, c.slight.map((text) => h("li", {}, text)))] : null,
    c.unknown ? h("p", { class: "note" }, c.unknown) : null,
    h("h3", {}, "Always"), h("ol", {}, c.cautions.map((each) => h("li", {}, each.text,
      each.source ? h("small", { class: "quiet" }, ` (${each.source})`) : null))),
    h("details", {}, h("summary", {}, "Where the limits come from"), h("ul", {}, c.limits.map((text) => h("li", {}, text)))));
}

function bank(b, head, done) {
  const refs = b.parts.join(", ");
  return h("section", { class: "bank", "aria-label": refs }, h("h3", {}, `${refs}, ${b.plus} to ${b.minus}`),
    b.hurt ? h("p", { class: "bad" }, b.hurt) : null, h("p", {}, `${b.says}. ${b.bleeds}`),
    b.rows.length ? table(`How long ${refs} takes by itself`, head, b.rows) : null, h("p", {}, b.resistor),
    done ? h("p", { class: "fine" }, `✓ ${refs} discharged and verified`)
      : h("button", { type: "button", "data-key": `empty ${refs}`, onclick: async () => {
        for (const ref of b.parts) await record({ word: "discharge", args: [ref] });
      } }, `${refs} discharged, verified on volts`));
}

/** Asked only here: it takes a while, and only a repaired board is powered. */
function askPowerup() {
  const key = JSON.stringify([state.board, state.story.stand, state.story.meter]);
  if (key === planned) { undone(); return; }
  planned = key;
  work("powerup", "powerup", about(), (said) => {
    if (said.state === "done") showPowerup(said.result);
    else if (said.state === "working") fill($("powerup"), first(), working(said, "solving the powered board"));
    else { planned = ""; fill($("powerup"), first(), h("p", {}, said.message)); }
  });
}

const first = () => h("h2", {}, "The first power-up, step by step");

function showPowerup(r) {
  fill($("powerup"), first(),
    h("p", { class: "caution" }, "Only for who may work on live equipment: local codes and licensed practice come first."),
    h("p", { class: "note bad", id: "undone" }),
    h("ol", { class: "steps" }, r.steps.map((step, k) => h("li", {}, h("h3", {}, `${k + 1}. ${step.title}`),
      h("p", {}, step.do), step.limit ? h("p", {}, h("strong", {}, step.limit)) : null,
      step.readings.length ? table(`Readings of step ${k + 1}`, ["take", "expect", "healthy boards"],
        step.readings.map((x) => [h("button", { type: "button", class: "link", "data-key": `${k} ${words(x)}`,
          onclick: () => takeProbes(x) }, words(x)), h("span", { class: "nowrap" }, x.expect), x.healthy])) : null,
      step.expected.length ? table(`Voltages of step ${k + 1}`, ["red", "black", "expect", "healthy boards"],
        step.expected.map((x) => [x.red, x.black, x.expect, x.healthy])) : null,
      step.open ? h("p", { class: "quiet" }, step.open) : null,
      h("p", {}, h("strong", {}, "Stop if: "), step.stop), h("p", { class: "caution" }, step.caution)))));
  undone();
}

const words = (x) => `${x.red} ${x.black} ${x.mode}`;

/** What is to be put back before any power. */
function undone() {
  const now = state.story.bench;
  const left = [...now.lifted.map((pin) => `${pin} is lifted`), ...now.removed.map((ref) => `${ref} is off the board`),
    ...now.wires.map(([a, b]) => `a wire lies from ${a} to ${b}`)];
  if ($("undone")) $("undone").textContent = left.length ? `Not yet: ${left.join(", ")}.` : "";
}
