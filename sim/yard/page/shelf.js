// The shelf: every stone at hand, with its picture, sizes and weight, used or not.
import { figure, h, segments } from "./dom.js";

/** @typedef {import("./messages.js").ShelfItem} ShelfItem */

export class Shelf {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./doing.js").Doing} doing
   */
  constructor(store, doing) {
    this.store = store;
    this.doing = doing;
    this.which = "all";
    const bar = h("div", { className: "seg", role: "group", "aria-label": "Which stones", style: { margin: "10px 12px 0" } });
    this.press = segments(bar, [{ value: "all", words: "All" }, { value: "unused", words: "Unused" }, { value: "used", words: "Used" }], (value) => {
      this.which = value;
      this.show();
    });
    this.items = h("div", { className: "shelf", role: "list", "aria-label": "Stones at hand" });
    this.panel = h("div", {}, bar, this.items);
    store.on(["state"], () => this.show());
  }

  show() {
    this.press(this.which);
    const all = this.store.state?.shelf ?? [];
    const shown = all.filter((item) => this.which === "all" || (item.used_by.length > 0) === (this.which === "used"));
    this.items.replaceChildren(...shown.map((item) => this.card(item)));
    if (!shown.length) this.items.append(h("p", { className: "soft" }, all.length ? "None of these." : "The shelf is empty: add a stone."));
  }

  /** @param {ShelfItem} item */
  card(item) {
    const unused = item.used_by.length === 0;
    const picture = h("img", { src: `/thumb/${encodeURIComponent(item.mesh)}.png`, alt: "", loading: "lazy", width: 74, height: 56 });
    const about = h("div", { className: "soft" }, h("b", { style: { color: "var(--ink)" } }, item.item),
      `${item.size_mm.map((side) => side.toFixed(0)).join(" × ")} mm`, h("br"), `${figure(item.mass_kg, 2, "kg")}${item.material ? ` ${item.material}` : ""} · ${item.source}`);
    const acts = unused
      ? [h("button", { type: "button", className: "small main", "aria-label": `Put ${item.item} into the tank`, on: { click: () => void this.doing.make("take", { item: item.item }) } }, "Into the tank"),
        h("button", { type: "button", className: "small", "aria-label": `Take ${item.item} off the shelf`, on: { click: () => void this.doing.do("discard", { item: item.item }) } }, "Discard")]
      : [h("button", { type: "button", className: "small", "aria-label": `Show where ${item.item} is used`, on: { click: () => this.store.pick(item.used_by[0]) } }, `Used ${item.used_by.length > 1 ? `${item.used_by.length} times` : "once"}`)];
    return h("div", { className: "item", role: "listitem" }, picture, about, h("div", { className: "row" }, ...acts));
  }
}
