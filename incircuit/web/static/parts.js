// What was done to a part: one button for each thing, in a dialog.

import { $, fill, h } from "./dom.js";
import { on, state, tell } from "./state.js";

const CHARGED = ["capacitor", "igbt", "nmos", "pmos"];
const box = $("dialog");
let shown = "";

/** Open the dialog of a part. */
export function partDialog(ref) {
  if (!state.info?.parts.some((part) => part.ref === ref)) return;
  shown = ref;
  draw();
  if (!box.open) box.showModal();
}

function draw() {
  const part = state.info.parts.find((p) => p.ref === shown);
  const bench = state.story.bench;
  const off = bench.removed.includes(part.ref);
  const lifted = (pin) => bench.lifted.includes(`${part.ref}.${pin}`);
  const act = (label, word, ...args) => h("button", { type: "button", "data-key": `${word} ${args[0]}`,
    onclick: () => say(word, args) }, label);
  fill(box, h("h2", { id: "dialog-title" }, `${part.ref}, ${part.kind} ${part.value}`),
    h("p", { class: "caution" }, "Unplugged, discharged, verified? Then:"),
    h("div", { class: "acts" },
      off ? null : part.pins.map(([pin, net]) => (lifted(pin)
        ? act(`Solder ${part.ref}.${pin} back to ${net}`, "resolder", `${part.ref}.${pin}`)
        : act(`Lift ${part.ref}.${pin} from ${net}`, "lift", `${part.ref}.${pin}`))),
      off ? act(`Put the same ${part.ref} back`, "resolder", part.ref) : act(`Remove ${part.ref}`, "remove", part.ref),
      act(`Fit a new ${part.ref}`, "fit", part.ref),
      CHARGED.includes(part.kind) && !off ? [act(`${part.ref} discharged, verified`, "discharge", part.ref),
        number(`${part.ref} holds`, "V", "Charged", (volts) => say("charge", [part.ref, volts]))] : null,
      off ? null : number(`${part.ref} is at`, "°C", "Hot", (celsius) => say("hot", [part.ref, celsius])),
      part.pins.length > 1 && !off ? power(part) : null),
    h("p", { id: "dialog-refused", class: "bad", role: "alert" }),
    h("button", { type: "button", class: "main", onclick: () => box.close() }, "Done"));
}

function number(before, unit, label, f) {
  const id = `n-${label}`;
  return h("form", { class: "row", onsubmit: (event) => { event.preventDefault(); if ($(id).value) f($(id).value); } },
    h("label", { for: id }, before), h("input", { id, inputmode: "decimal", size: 6 }), h("span", {}, unit),
    h("button", {}, label));
}

function power(part) {
  const nets = [...new Set(part.pins.map(([, net]) => net))];
  if (nets.length < 2) return null;
  const choice = (id, value) => h("select", { id, value, "aria-label": id === "p-plus" ? "plus of the supply"
    : "minus of the supply" }, nets.map((net) => h("option", { value: net, selected: net === value }, net)));
  return h("form", { class: "row", onsubmit: (event) => {
    event.preventDefault();
    if ($("p-volts").value) say("power", [$("p-plus").value, $("p-minus").value, $("p-volts").value]);
  } }, h("label", { for: "p-volts" }, "Supply of"), h("input", { id: "p-volts", inputmode: "decimal", size: 6 }),
  h("span", {}, "V, plus on"), choice("p-plus", nets[0]), h("span", {}, "minus on"), choice("p-minus", nets[1]),
  h("button", {}, "Powered"), h("small", {}, "Only a current-limited bench supply, hands off while it is on. 0 V: off"));
}

function say(word, args) {
  $("dialog-refused").textContent = "";
  tell("did", { word, args });
}

on("story", () => { if (box.open && shown) draw(); });
box.addEventListener("close", () => { shown = ""; });
