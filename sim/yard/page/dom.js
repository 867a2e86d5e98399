// Building the page's elements. Data only ever becomes text: there is no way here to write markup.

/**
 * The element of index.html with this id.
 * @param {string} id
 * @returns {HTMLElement}
 */
export function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`index.html has no #${id}`);
  return found;
}

/**
 * The dialog of index.html with this id.
 * @param {string} id
 * @returns {HTMLDialogElement}
 */
export function dialogById(id) {
  const found = byId(id);
  if (!(found instanceof HTMLDialogElement)) throw new Error(`#${id} is no dialog`);
  return found;
}

/**
 * A new element. `with_`: properties of the element; `data` and `aria` and `style` are spread; `on` adds listeners.
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Record<string, any>} [with_]
 * @param {...(Node | string | number | null | undefined | false)} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function h(tag, with_ = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(with_)) {
    if (value === undefined || value === null) continue;
    if (name === "data") Object.assign(made.dataset, value);
    else if (name === "style") Object.assign(made.style, value);
    else if (name === "on") for (const [what, heard] of Object.entries(value)) made.addEventListener(what, heard);
    else if (name === "role" || name === "for" || name.startsWith("aria-")) made.setAttribute(name, String(value));
    else Reflect.set(made, name, value);
  }
  for (const child of children) {
    if (child !== null && child !== undefined && child !== false) made.append(typeof child === "number" ? String(child) : child);
  }
  return made;
}

/**
 * A new SVG element with attributes.
 * @param {string} tag
 * @param {Record<string, string | number>} [attributes]
 * @param {...(Node | string)} children
 * @returns {SVGElement}
 */
export function svg(tag, attributes = {}, ...children) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  made.append(...children);
  return made;
}

/**
 * A row of buttons of which one is pressed.
 * @param {HTMLElement} into
 * @param {{value: string, words: string, key?: string, title?: string}[]} choices
 * @param {(value: string) => void} chosen
 * @returns {(value: string) => void} shows which one is pressed
 */
export function segments(into, choices, chosen) {
  const buttons = choices.map((choice) =>
    h("button", { type: "button", data: { value: choice.value }, title: choice.title, on: { click: () => chosen(choice.value) } },
      choice.words, choice.key ? h("kbd", { "aria-hidden": "true" }, choice.key) : null));
  into.replaceChildren(...buttons);
  return (value) => {
    for (const button of buttons) button.setAttribute("aria-pressed", String(button.dataset.value === value));
  };
}

/**
 * Tabs over panels; arrow keys walk along them.
 * @param {string} label
 * @param {{id: string, words: string, panel: HTMLElement}[]} entries
 * @returns {{bar: HTMLElement, show: (id: string) => void, shown: () => string}}
 */
export function tabs(label, entries) {
  let shown = entries[0].id;
  const buttons = entries.map(({ id, words, panel }) => {
    panel.id = `panel-${id}`;
    panel.setAttribute("role", "tabpanel");
    panel.setAttribute("aria-labelledby", `tab-${id}`);
    return h("button", { id: `tab-${id}`, type: "button", role: "tab", "aria-controls": panel.id, on: { click: () => show(id) } }, words);
  });
  const bar = h("div", { className: "tabs", role: "tablist", "aria-label": label }, ...buttons);
  bar.addEventListener("keydown", (event) => {
    const by = event.key === "ArrowRight" ? 1 : event.key === "ArrowLeft" ? -1 : 0;
    if (!by) return;
    event.preventDefault();
    event.stopPropagation();
    const at = entries.findIndex((entry) => entry.id === shown);
    const next = (at + by + entries.length) % entries.length;
    show(entries[next].id);
    buttons[next].focus();
  });
  /** @param {string} id */
  function show(id) {
    shown = id;
    entries.forEach((entry, k) => {
      const on = entry.id === id;
      entry.panel.hidden = !on;
      buttons[k].setAttribute("aria-selected", String(on));
      buttons[k].tabIndex = on ? 0 : -1;
    });
  }
  show(shown);
  return { bar, show, shown: () => shown };
}

/**
 * A number for people: fixed digits, a true minus, a dash where it is not known.
 * @param {number | null | undefined} value
 * @param {number} [digits]
 * @param {string} [unit]
 */
export function figure(value, digits = 0, unit = "") {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const text = value.toFixed(digits).replace(/^-0(\.0*)?$/, "0$1").replace("-", "−");
  return unit ? `${text}${unit === "°" ? "" : "\u00a0"}${unit}` : text;
}

/**
 * A colour with its sign.
 * @param {import("./messages.js").Swatch | null | undefined} swatch
 */
export function swatchOf(swatch) {
  if (!swatch) return h("span", { className: "swatch none", title: "not known yet", "aria-label": "not known yet", role: "img" });
  return h("span", { className: "swatch", style: { background: swatch.colour, color: onColour(swatch.colour) }, title: swatch.words, "aria-label": swatch.words, role: "img" }, swatch.mark);
}

/**
 * Black or white, whichever reads better on a colour.
 * @param {string} colour #rrggbb
 */
export function onColour(colour) {
  const [r, g, b] = [1, 3, 5].map((at) => (parseInt(colour.slice(at, at + 2), 16) / 255) ** 2.2);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b > 0.22 ? "#1c2423" : "#ffffff";
}
