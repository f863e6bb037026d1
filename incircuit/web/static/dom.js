// Elements from data. Text is only ever set as text, so nothing a file says can become markup.

export const $ = (id) => document.getElementById(id);

/** An element: h("p", {class: "x", onclick: f}, "text", child, …). Null and false children are left out. */
export function h(tag, props = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked") element[name] = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...children.flat(9).filter((c) => c !== null && c !== undefined && c !== false));
  return element;
}

/** Put children in the place of what is there, keeping the focus on the element with the same id or data-key. */
export function fill(element, ...children) {
  const active = document.activeElement;
  const key = element.contains(active) ? active.id || active.dataset.key : "";
  element.replaceChildren(...children.flat(9).filter((c) => c !== null && c !== undefined && c !== false));
  if (!key) return;
  const again = document.getElementById(key) || element.querySelector(`[data-key="${CSS.escape(key)}"]`);
  again?.focus();
}

/** A table with a caption for those who do not see it. Rows are lists of cells. */
export function table(caption, head, rows, props = {}) {
  return h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption },
    h("table", props,
      h("caption", { class: "unseen" }, caption),
      h("thead", {}, h("tr", {}, head.map((text) => h("th", { scope: "col" }, text)))),
      h("tbody", {}, rows.map((row) => h("tr", {}, row.map((cell, k) =>
        k === 0 ? h("th", { scope: "row" }, cell || "") : h("td", {}, cell || "")))))));
}

/** A bar as long as a share of 1. */
export function bar(share) {
  const inner = h("i");
  inner.style.width = `${Math.max(1, Math.round(100 * share))}%`;
  return h("span", { class: "bar", "aria-hidden": "true" }, inner);
}

/** Progress of work under way, with words. */
export function working(said, what) {
  const share = said.of ? said.done / said.of : null;
  const text = share === null ? `${what} …` : `${what}: ${Math.floor(100 * share)} %`;
  return h("p", { class: "working" }, text, " ",
    share === null ? h("progress", { "aria-label": what }) : h("progress", { "aria-label": what, max: 1, value: share }));
}

/** A picture the server drew, as an element; null where it is none. Its texts were escaped when it was drawn. */
export function picture(text) {
  const svg = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  return svg.tagName === "svg" ? document.importNode(svg, true) : null;
}
