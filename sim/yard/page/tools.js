// The bar over the view (move, turn, steps, set down) and the header's buttons.
import { byId, h, segments } from "./dom.js";
import { MOVE_MM, TURN_DEG } from "./gizmo.js";

/** @typedef {import("./store.js").Colouring} Colouring */

export class Tools {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./doing.js").Doing} doing
   * @param {import("./gizmo.js").Gizmo | null} gizmo null where the browser cannot draw in 3D
   */
  constructor(store, doing, gizmo) {
    this.store = store;
    this.gizmo = gizmo;
    /** @type {import("./gizmo.js").Tool} */
    this.tool = "move";
    /** @type {import("./gizmo.js").Step} */
    this.step = "coarse";
    const toolBar = h("div", { className: "seg", role: "group", "aria-label": "What the handles do" });
    this.stepBar = h("div", { className: "seg", role: "group", "aria-label": "Steps of the handles and the arrow keys" });
    const down = h("button", { type: "button", title: "Free it of overlaps and drop it until it rests", "aria-keyshortcuts": "D", on: { click: () => void doing.setDown() } }, "Set down", h("kbd", { "aria-hidden": "true" }, "D"));
    byId("tools").append(toolBar, this.stepBar, down);
    this.pressTool = segments(toolBar, [{ value: "move", words: "Move", key: "M" }, { value: "turn", words: "Turn", key: "T" }], (value) => this.use(value === "turn" ? "turn" : "move", this.step));
    /** @type {(value: string) => void} */
    this.pressStep = () => {};
    this.use("move", "coarse");
    this.pressColouring = segments(byId("colouring"), [{ value: "stone", words: "Stone", key: "1" }, { value: "margin", words: "Margin", key: "2" }, { value: "base", words: "Base load", key: "3" }], (value) => this.colour(/** @type {Colouring} */ (value)));
    this.colour("stone");
    byId("undo").addEventListener("click", () => void doing.do("undo", {}));
    byId("redo").addEventListener("click", () => void doing.do("redo", {}));
    store.on(["state", "picked"], () => {
      down.disabled = doing.loose.length === 0;
      this.tellHistory();
    });
  }

  /**
   * @param {import("./gizmo.js").Tool} tool
   * @param {import("./gizmo.js").Step} step
   */
  use(tool, step) {
    this.tool = tool;
    this.step = step;
    const [table, unit] = tool === "move" ? [MOVE_MM, " mm"] : [TURN_DEG, "°"];
    this.pressStep = segments(this.stepBar, [{ value: "free", words: "free" }, { value: "fine", words: `${table.fine}${unit}` }, { value: "coarse", words: `${table.coarse}${unit}` }],
      (value) => this.use(this.tool, /** @type {import("./gizmo.js").Step} */ (value)));
    this.pressTool(tool);
    this.pressStep(step);
    this.gizmo?.use(tool, step);
  }

  /** @param {Colouring} colouring */
  colour(colouring) {
    this.store.colouring = colouring;
    this.pressColouring(colouring);
    this.store.tell("colouring");
  }

  tellHistory() {
    const state = this.store.state;
    const say = { undo: state?.undo ?? null, redo: state?.redo ?? null };
    for (const [id, what] of Object.entries(say)) {
      const button = byId(id);
      if (!(button instanceof HTMLButtonElement)) continue;
      button.disabled = what === null;
      button.title = what === null ? `Nothing to ${id}` : `${id === "undo" ? "Undo" : "Redo"}: ${what}`;
    }
    byId("title").textContent = state?.title || "Untitled";
    byId("title").title = state?.title ?? "";
    byId("file").textContent = state ? `${state.file}${state.saved ? "" : " · not saved yet"}` : "";
    if (state) document.title = `${state.saved ? "" : "• "}${state.title} · bedjoint`;
  }
}
