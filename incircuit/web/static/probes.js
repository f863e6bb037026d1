// Where the probes are and what the meter is set to: shared by See and Read.

import { $, fill, h } from "./dom.js";
import { on, pads, point, setProbes, state, tell } from "./state.js";

let modes = [];

/** The modes of the meter in force; in Read those a readings file takes. */
function listModes() {
  const found = state.story?.[state.view === "read" ? "typed" : "modes"] || ["diode", "ohms", "continuity"];
  if (found.join() === modes.join()) return;
  modes = found;
  fill($("modes"), h("legend", { class: "unseen" }, "Mode of the meter"), modes.map((mode) =>
    h("label", {}, h("input", { type: "radio", name: "mode", value: mode, id: `mode-${mode}`,
      onchange: () => setProbes({ mode }) }), h("span", {}, mode))));
  if (!modes.includes(state.mode)) setProbes({ mode: modes[0] });
  else show();
}
listModes();
on("story view opened", listModes);

for (const lead of ["red", "black"]) {
  $(lead).addEventListener("change", () => setProbes({ [lead]: $(lead).value.trim() }));
  $(lead).addEventListener("input", () => {
    if (pads().some((pad) => pad.name === $(lead).value.trim())) setProbes({ [lead]: $(lead).value.trim() });
  });
  $(lead).addEventListener("focus", () => { state.turn = lead; $(lead).select(); });
  $(lead).addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    setProbes({ [lead]: $(lead).value.trim() });
    (lead === "red" ? $("black") : $("reading") && state.view === "read" ? $("reading") : $("black")).focus();
  });
}
$("swap").addEventListener("click", swap);
$("probes").addEventListener("submit", (event) => event.preventDefault());

$("meter").addEventListener("change", () => tell("did", { word: "meter", args: [$("meter").value] }));

on("story opened", () => {
  const names = [...new Set([...(state.kinds?.meters || []), ...state.profiles, state.story?.meter].filter(Boolean))];
  fill($("meter"), names.map((name) => h("option", { value: name }, name)));
  $("meter").value = state.story?.meter || "handheld";
});

/** Red where black was. */
export function swap() {
  setProbes({ red: state.black, black: state.red });
}

/** The next mode. */
export function nextMode() {
  setProbes({ mode: modes[(modes.indexOf(state.mode) + 1) % modes.length] });
}

function show() {
  for (const lead of ["red", "black"]) if ($(lead).value.trim() !== state[lead]) $(lead).value = state[lead];
  if ($(`mode-${state.mode}`)) $(`mode-${state.mode}`).checked = true;
  for (const button of $("padbuttons").querySelectorAll("button")) {
    const lead = ["red", "black"].find((l) => state[l] === button.value);
    button.dataset.lead = lead || "";
    button.setAttribute("aria-pressed", Boolean(lead));
  }
}

function list() {
  fill($("pads"), pads().map((pad) => h("option", { value: pad.name }, pad.also)));
  fill($("padbuttons"), pads().map((pad) => h("button", { type: "button", value: pad.name, "data-key": `pad ${pad.name}`,
    onclick: () => point(pad.name) }, pad.name, pad.also ? h("small", {}, ` ${pad.also}`) : null)));
  show();
}

on("probes", show);
on("board story", list);
