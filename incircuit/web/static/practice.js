// A bench with a hidden fault, or none. The page only keeps the lines; the server answers like the meter would.

import { $, fill, h, picture, table, working } from "./dom.js";
import { work } from "./api.js";
import { kept, on } from "./state.js";

const view = $("view-practice");
const KEY = "practice";
let game = kept.get(KEY) || { level: 1, seed: "", lines: [] };
let shown = null;
let turn = "red";

fill(view, h("div", { class: "card" }, h("h2", { id: "h-practice" }, "Practice"),
  h("p", {}, "A bench with a hidden fault, or none. Read, lift, remove; then say what is wrong. Every act costs bench "
    + "time, and in the end it is compared with the shortest way. This is a game; on a real board the cautions come first."),
  h("form", { class: "row", autocomplete: "off", onsubmit: begin },
    h("label", {}, "Level ", h("select", { id: "d-level" }, [1, 2, 3, 4, 5].map((n) => h("option", { value: n }, n)))),
    h("label", {}, "Number ", h("input", { id: "d-seed", inputmode: "numeric", size: 10, maxlength: 15,
      placeholder: "any", "aria-describedby": "d-about" })), h("button", { class: "main" }, "Deal a bench")),
  h("p", { class: "quiet", id: "d-about" }, "The same number gives the same bench: a class can be given one.")),
h("div", { id: "d-bench" }));

on("view", (name) => {
  if (name !== "practice" || shown) return;
  if (game.seed) ask(game.lines);
});

function begin(event) {
  event.preventDefault();
  const typed = $("d-seed").value.trim();
  game = { level: Number($("d-level").value), seed: typed || String(Math.floor(Math.random() * 1e6)), lines: [] };
  shown = null;
  ask([]);
}

function ask(lines, played = "") {
  const fields = { level: String(game.level), seed: game.seed, lines: JSON.stringify(lines), played };
  work("drill", "drill", fields, (said) => {
    if (said.state === "done") {
      game.lines = lines;
      kept.set(KEY, game);
      show(said.result);
    } else if (said.state === "working") {
      fill(shown ? $("d-refused") : $("d-bench"), working(said, shown ? "looking it up" : "dealing"));
    } else if (shown) fill($("d-refused"), said.message);
    else fill($("d-bench"), h("p", { class: "bad" }, said.message));
  });
}

function say(line) {
  if (!line.trim()) return;
  fill($("d-refused"));
  const last = line === "healthy" || line.startsWith("fault ");
  ask([...game.lines, line.trim()], last ? new Date().toISOString().replace(/\.\d+/, "") : "");
}

function show(r) {
  const before = shown?.seed === r.seed && shown.level === r.level ? values() : {};
  shown = r;
  $("d-level").value = r.level;
  const nets = r.board.nets.filter((n) => !n.hidden);
  fill($("d-bench"), h("div", { class: "split" },
    h("div", {}, r.over ? outcome(r) : bench(r, nets),
      h("div", { class: "card" }, h("h2", {}, "So far"), h("p", {}, `${minutes(r.spent)} of bench time.`),
        r.answers.length ? table("What you asked", ["you", "the bench"], r.answers.map((a) =>
          [h("code", {}, a.line), a.text]).reverse()) : h("p", {}, "Nothing read yet."))),
    h("div", { class: "card" }, h("h2", {}, r.title), h("p", {}, `Level ${r.level}, number ${r.seed}: ${r.line}`),
      h("div", { class: "scroll", id: "d-picture", tabindex: "0", role: "region", "aria-label": "Drawing of the bench",
        onclick: clicked }, picture(r.svg)))));
  for (const [id, value] of Object.entries(before)) if ($(id)) $(id).value = value;
}

const FIELDS = ["d-red", "d-black", "d-mode", "d-part"];
const values = () => Object.fromEntries(FIELDS.filter((id) => $(id)).map((id) => [id, $(id).value]));

function bench(r, nets) {
  const part = h("select", { id: "d-part" }, r.board.parts.map((p) => h("option", { value: p.ref },
    `${p.ref}, ${p.kind} ${p.value}`)));
  return h("div", { class: "card" }, h("h2", {}, "The bench"),
    h("form", { class: "row", autocomplete: "off", onsubmit: (event) => {
      event.preventDefault();
      say(`${quoted($("d-red").value)} ${quoted($("d-black").value)} ${$("d-mode").value}`);
    } },
    h("label", { class: "lead red" }, "Red on ", h("input", { id: "d-red", list: "d-pads", spellcheck: "false" })),
    h("label", { class: "lead black" }, "Black on ", h("input", { id: "d-black", list: "d-pads", spellcheck: "false" })),
    h("label", {}, "Mode ", h("select", { id: "d-mode" }, r.modes.map((m) => h("option", { value: m }, m)))),
    h("button", { class: "main" }, "Read")),
    h("datalist", { id: "d-pads" }, [...nets.map((n) => n.name), ...r.lifted].map((name) => h("option", { value: name }))),
    h("div", { class: "row" }, h("label", {}, "Part ", part), ["Lift a lead", "Remove", "Put back", "Fit a new one"].map(
      (label, k) => h("button", { type: "button", "data-key": label, onclick: () => acts(r, k) }, label))),
    h("div", { class: "row", id: "d-leads" }),
    h("form", { class: "row", autocomplete: "off", onsubmit: (event) => { event.preventDefault();
      if ($("d-fault").value.trim()) say(`fault ${$("d-fault").value}`); } },
    h("label", {}, "Your verdict ", h("input", { id: "d-fault", list: "d-faults", spellcheck: "false",
      placeholder: r.faults[0] })),
    h("datalist", { id: "d-faults" }, r.faults.map((f) => h("option", { value: f }))),
    h("button", {}, "That is it"), h("button", { type: "button", onclick: () => say("healthy") }, "All is well")),
    h("p", { id: "d-refused", class: "bad", role: "alert" }));
}

function acts(r, k) {
  const ref = $("d-part").value;
  const part = r.board.parts.find((p) => p.ref === ref);
  if (k === 1) say(`remove ${ref}`);
  else if (k === 3) say(`fit ${ref}`);
  else if (k === 2 && r.removed.includes(ref)) say(`resolder ${ref}`);
  else {
    const pins = part.pins.map(([pin]) => `${ref}.${pin}`).filter((pin) => r.lifted.includes(pin) === (k === 2));
    if (pins.length === 1) say(`${k === 2 ? "resolder" : "lift"} ${pins[0]}`);
    else fill($("d-leads"), pins.length ? pins.map((pin) => h("button", { type: "button", onclick: () =>
      say(`${k === 2 ? "resolder" : "lift"} ${pin}`) }, pin)) : `no lead of ${ref} is ${k === 2 ? "lifted" : "left"}`);
  }
}

const quoted = (pad) => (/\s/.test(pad.trim()) ? `"${pad.trim()}"` : pad.trim());
const minutes = (s) => (s < 90 ? `${s} s` : `${Math.round(s / 60)} min`);

function outcome(r) {
  const o = r.review;
  const lines = (title, list) => (list.length ? [h("h3", {}, title), h("ul", {}, list.map((line) =>
    h("li", {}, h("code", {}, line))))] : null);
  return h("div", { class: "card", id: "d-outcome", role: "status" }, h("h2", {}, "Outcome"),
    h("p", { class: `word ${o.right ? "healthy" : "failed"}` }, `${o.right ? "✓ right" : "✕ wrong"}: ${o.truth}`),
    h("p", {}, `${o.points} points. You spent ${minutes(o.spent)} of bench work, the shortest way takes `
      + `${minutes(o.shortest)}.`, o.right ? "" : ` A wrong verdict costs about ${minutes(o.wrong)} more: a part changed `
      + "in vain, the fault still there at power-up."),
    o.way.length ? [h("h3", {}, "The shortest way"), table("The shortest way", ["do", "healthy", "here", "time"],
      o.way.map((s) => [h("code", {}, s.text), s.healthy, s.here, minutes(s.seconds)]))] : null,
    o.left ? h("p", {}, `It cannot tell this from: ${o.left}.`) : null,
    lines("Blind: a healthy board reads the same", o.blind), lines("Lifted or removed needlessly", o.needless),
    h("p", {}, h("strong", {}, "The lesson: "), o.lesson),
    r.before.length ? h("p", { class: "quiet" }, r.before.map((p) => `Level ${p.level}: ${p.right} of ${p.played} right, `
      + `${p.lately} points on average lately`).join(". "), ".") : null,
    h("button", { type: "button", class: "main", onclick: () => { $("d-seed").value = ""; $("d-level").focus(); } },
      "Another one"));
}

function clicked(event) {
  const at = (name) => event.target.closest(`[data-${name}]`)?.getAttribute(`data-${name}`);
  if (!$("d-red")) return;
  const pin = at("pin");
  const part = at("part");
  const net = at("net") || (pin && netOf(pin));
  if (net) {
    $(`d-${turn}`).value = net;
    turn = turn === "red" ? "black" : "red";
  } else if (part) $("d-part").value = part;
}

function netOf(pin) {
  if (shown.lifted.includes(pin)) return pin;
  for (const p of shown.board.parts) for (const [name, net] of p.pins) if (`${p.ref}.${name}` === pin) return net;
  return null;
}
