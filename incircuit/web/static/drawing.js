// The drawing: of what is being typed, or of the bench with probes, current and suspects.

import { $, fill, h, picture, working } from "./dom.js";
import { work } from "./api.js";
import { about, kept, on, point, state, tell } from "./state.js";
import { partDialog } from "./parts.js";

const HINTS = {
  describe: "The text as it is drawn. Click a part to find its line.",
  see: "Click two pads: red, then black.",
  read: "Click two pads: red, then black. Click a part: what you did to it.",
  next: "Suspects are marked. Click a part for what you did to it.",
  power: "What may hold a charge is marked with its voltage.",
};
let asked = "";
let typed = null; // the text in the editor, where it differs from the file
let suspects = {};
let charges = {}; // volts by part, for the view where that is what matters
let faulty = false; // whether the text in the editor has errors
let refs = []; // parts of a board too large to be drawn whole that are in the drawing

on("checked", ({ sound, text, same }) => {
  typed = same ? null : text;
  faulty = !sound;
  hint();
  if (sound || same) ask();
});
on("judged", (verdict) => {
  suspects = {};
  for (const c of verdict.candidates.filter((each) => each.odds >= 0.05)) for (const part of c.parts) suspects[part] ??= c.percent;
  ask();
});
on("charge", (c) => { charges = c.marks; ask(); });
on("opened", () => { typed = null; suspects = {}; charges = {}; refs = []; faulty = false; asked = ""; fill($("picture")); });
on("probes board story view", () => ask());

function hint() {
  $("drawing-hint").textContent = state.view === "describe" && faulty ? "Drawn again once the errors are mended."
    : HINTS[state.view] || "";
}

function ask() {
  hint();
  $("padlist").hidden = !["see", "read"].includes(state.view);
  if (!state.board || state.view === "practice") return;
  const describing = state.view === "describe";
  const probing = ["see", "read", "next"].includes(state.view);
  const marks = describing ? null : state.view === "power" ? charges : suspects;
  if (!state.info && !(describing && typed)) return;
  const fields = { ...about(), red: probing ? state.red : "", black: probing ? state.black : "",
    mode: state.mode, shown: refs.join(" "), marks: marks ? JSON.stringify(marks) : "", text: describing ? typed || "" : "" };
  const key = JSON.stringify([{ ...fields, shown: "" }, describing && typed ? 0 : state.story?.stand, bench()]);
  if (key === asked) return;
  asked = key;
  work("drawing", "drawing", fields, (said) => {
    if (said.state === "done") draw(said.result);
    else if (said.state === "working" && !$("picture").querySelector("svg")) fill($("picture"), working(said, "drawing"));
    else if (said.state === "error") {
      asked = "";
      fill($("picture"), h("p", { class: "bad" }, said.message));
    }
  });
}

/** A probe outside of what is seen of a large drawing is brought in; the page itself stays where it is. */
function bringIn(svg) {
  const box = $("picture").getBoundingClientRect();
  const at = svg.querySelector(".probe, .marked")?.getBoundingClientRect();
  if (!at) return;
  if (at.left < box.left || at.right > box.right) $("picture").scrollLeft += at.left + at.width / 2 - box.left - box.width / 2;
  if (at.top < box.top || at.bottom > box.bottom) $("picture").scrollTop += at.top + at.height / 2 - box.top - box.height / 2;
}

/** What the drawing shows of the bench. */
const bench = () => state.story && [state.story.bench.lifted, state.story.bench.removed, state.story.bench.wires,
  state.story.meter];

function draw(r) {
  const svg = picture(r.svg);
  if (!svg) return;
  refs = r.parts < r.of ? [...new Set([...svg.querySelectorAll("[data-part]")].map((g) => g.dataset.part))] : [];
  svg.style.maxWidth = `${1.6 * svg.width.baseVal.value}px`; // as large as fits, but no poster of three parts
  svg.style.minWidth = `${0.8 * svg.width.baseVal.value}px`; // and its names stay legible
  fill($("picture"), svg, r.parts < r.of
    ? h("p", { class: "quiet" }, `${r.parts} of ${r.of} parts: those around ${state.red || state.black ? "the probes"
      : "what is marked, or what the board begins with; name pads to see the others"}.`) : null);
  bringIn(svg);
}

/** The drawing across the whole page, or beside what is read. */
function large(on) {
  document.body.dataset.large = on ? "yes" : "";
  $("larger").setAttribute("aria-pressed", on);
  $("larger").textContent = on ? "Smaller" : "Larger";
  kept.set("large drawing", on || null);
}
$("larger").addEventListener("click", () => large(!document.body.dataset.large));
large(Boolean(kept.get("large drawing")));

$("picture").addEventListener("click", (event) => {
  const at = (name) => event.target.closest(`[data-${name}]`)?.getAttribute(`data-${name}`);
  const part = at("part");
  if (state.view === "describe") { if (part) tell("find", part); return; }
  const pin = at("pin");
  const net = at("net") || (pin && padOf(pin));
  if (net) point(net);
  else if (part) partDialog(part);
});

/** The pad a pin is: its own once it is lifted, else its net. */
function padOf(pin) {
  if (state.story?.bench.lifted.includes(pin)) return pin;
  const part = state.info.parts.find((p) => pin.startsWith(`${p.ref}.`) && p.pins.some(([n]) => `${p.ref}.${n}` === pin));
  const net = part?.pins.find(([n]) => `${part.ref}.${n}` === pin)?.[1];
  return state.info.nets.find((n) => n.name === net && !n.hidden)?.name;
}
