// The left column: what is in the tank, with weights and margins, and what lies on the shelf.
import { byId, figure, h, swatchOf, tabs } from "./dom.js";

/** @typedef {import("./store.js").PieceState} PieceState */

export class List {
  /**
   * @param {import("./store.js").Store} store
   * @param {HTMLElement} shelf the other tab
   * @param {() => void} add opens the form for another stone
   */
  constructor(store, shelf, add) {
    this.store = store;
    this.rows = h("tbody");
    const head = h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "piece"), h("th", { scope: "col" }, "kg"), h("th", { scope: "col", title: "least push at its top that moves anything, newton", style: { whiteSpace: "nowrap" } }, "push, N")));
    const tank = h("div", { className: "scroll" }, h("table", { className: "stones", "aria-label": "Pieces in the tank" }, head, this.rows));
    shelf.classList.add("scroll");
    this.tabs = tabs("Stones", [{ id: "tank", words: "In the tank", panel: tank }, { id: "shelf", words: "Shelf", panel: shelf }]);
    byId("left").append(this.tabs.bar, tank, shelf, h("div", { className: "foot" }, h("button", { type: "button", on: { click: add } }, "Add a stone")));
    store.on(["state", "verdict", "picked", "step", "faults"], () => this.show());
    store.on(["picked"], () => this.rows.querySelector('[aria-selected="true"]')?.scrollIntoView({ block: "nearest" }));
  }

  show() {
    const focused = document.activeElement instanceof HTMLElement && this.rows.contains(document.activeElement) ? document.activeElement.dataset.piece : undefined;
    const built = this.store.built;
    this.rows.replaceChildren(...(this.store.state?.pieces ?? []).map((piece) => this.row(piece, Boolean(built && !built.has(piece.id)))));
    if (!this.rows.children.length) this.rows.append(h("tr", {}, h("td", { colSpan: 3, className: "soft" }, "No stones yet: take one from the shelf, or add one.")));
    if (focused) for (const button of this.rows.querySelectorAll("button")) if (button.dataset.piece === focused) button.focus();
  }

  /**
   * @param {PieceState} piece
   * @param {boolean} later not built yet at the step shown
   */
  row(piece, later) {
    const { store } = this;
    const answer = store.answer(piece.id);
    const fault = store.faults.find((one) => one.piece === piece.id || (one.other === piece.id && one.fault !== "hovers"));
    const badges = [piece.hidden && "hidden", piece.locked && "locked", piece.fixed && "fixed", piece.module].filter(Boolean);
    const pick = (/** @type {MouseEvent} */ event) => {
      event.stopPropagation();
      store.pick(piece.id, event.shiftKey || event.ctrlKey || event.metaKey);
    };
    const name = h("span", { className: "name" }, swatchOf(store.marginSwatch(piece.id)),
      h("button", { type: "button", className: "link", data: { piece: piece.id }, title: piece.id, on: { click: pick } }, piece.id));
    const notes = badges.map((words) => h("span", { className: "badge" }, String(words)));
    if (fault) notes.push(h("span", { className: "badge bad", title: fault.words }, `▲ ${fault.fault}`));
    return h("tr", { "aria-selected": String(store.picked.includes(piece.id)), className: later ? "later" : "", on: { click: pick } },
      h("td", {}, name, notes.length ? h("div", { className: "row", style: { gap: "4px" } }, ...notes) : null),
      h("td", {}, figure(piece.mass_kg, 2)),
      h("td", { style: { whiteSpace: "nowrap" }, title: answer?.towards ? `towards ${answer.towards}` : "" }, answer?.moves ? `↷ ${push(answer.push_n)}` : push(answer?.push_n)));
  }
}

/**
 * A push in newtons: that of a pebble is not nothing.
 * @param {number | null | undefined} push_n
 */
function push(push_n) {
  return figure(push_n, push_n && push_n < 0.1 ? 2 : 1);
}
