// The tank as a whole: sums, water level, and where the camera stands.
import { figure, h } from "./dom.js";

/** @typedef {[number, number, number]} Triple */

export class TankPanel {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./doing.js").Doing} doing
   */
  constructor(store, doing) {
    this.store = store;
    this.doing = doing;
    this.sums = h("div");
    this.forms = h("div");
    this.panel = h("div", { className: "pad" }, this.sums, this.forms);
    this.built = "";
    store.on(["state", "verdict"], () => this.show());
  }

  show() {
    this.showSums();
    const state = this.store.state;
    const about = JSON.stringify([state?.tank.water_mm, state?.tank.inner_mm, state?.camera]);
    if (!state || about === this.built) return;
    this.built = about;
    this.forms.replaceChildren(this.water(state.tank.water_mm), ...this.camera(state.camera));
  }

  showSums() {
    const totals = this.store.verdict?.totals;
    if (!totals) {
      this.sums.replaceChildren(h("p", { className: "soft" }, "Sums are not known yet."));
      return;
    }
    const facts = [["Pieces", String(totals.pieces)], ["Stones and wood", figure(totals.mass_kg, 2, "kg")],
      ["Centre of mass", totals.centre_mm ? `${totals.centre_mm.map((value) => value.toFixed(0)).join(" · ")} mm` : "–"],
      ["Water displaced", figure(totals.displaced_ml / 1000, 2, "l")], ["Tank when full", figure(totals.tank_full_kg, 1, "kg")], ["On the floor", figure(totals.floor_kpa, 2, "kPa")],
      ...totals.glue_g.map(([glue, grams]) => [glue, figure(grams, 1, "g")]),
      ["Cost", totals.cost === null ? "no prices given" : `${figure(totals.cost, 2)} ${totals.currency}`]];
    this.sums.replaceChildren(h("h3", {}, "Sums"), h("dl", { style: { marginTop: "6px" } }, ...facts.flatMap(([name, value]) => [h("dt", {}, name), h("dd", {}, value)])));
  }

  /** @param {number} level_mm */
  water(level_mm) {
    const field = h("input", { type: "number", min: "0", step: "any", value: String(Math.round(level_mm * 10) / 10), required: true });
    return h("form", { className: "line", on: { submit: (/** @type {Event} */ event) => {
      event.preventDefault();
      void this.doing.do("water", { level_mm: field.valueAsNumber });
    } } }, h("label", {}, "Water level when full, mm; 0 stays dry", field), h("button", { type: "submit" }, "Fill"));
  }

  /** @param {import("./messages.js").CameraState} camera */
  camera(camera) {
    const fields = (/** @type {string} */ words, /** @type {Triple} */ values) => values.map((value, k) => h("input", { type: "number", step: "any", value: String(Math.round(value * 10) / 10), required: true, "aria-label": `${words} ${"xyz"[k]}, mm` }));
    const position = fields("Camera", camera.position_mm);
    const look = fields("Looks at", camera.look_at_mm);
    const focal = h("input", { type: "number", min: "1", step: "any", value: String(camera.focal_mm), required: true });
    const triple = (/** @type {HTMLInputElement[]} */ all) => /** @type {Triple} */ (all.map((field) => field.valueAsNumber));
    const row = (/** @type {string} */ words, /** @type {HTMLInputElement[]} */ all) => h("div", { className: "triple" }, h("span", { className: "soft" }, words), ...all, h("span", { className: "soft" }, "mm"));
    const submit = (/** @type {Event} */ event) => {
      event.preventDefault();
      void this.doing.do("camera", { position_mm: triple(position), look_at_mm: triple(look), focal_mm: focal.valueAsNumber });
    };
    return [h("h3", { style: { marginTop: "14px" } }, "Camera"),
      h("p", { className: "soft", style: { margin: "2px 0 0" } }, camera.given ? "As the scene has it." : "Not in the scene yet: it stands where the front pane fills the frame."),
      h("form", { on: { submit } }, row("Stands", position), row("Looks", look),
        h("div", { className: "line" }, h("label", {}, "Lens, mm", focal), h("span", { className: "row" }, h("button", { type: "submit" }, "Set"),
          h("button", { type: "button", title: "Stand where the front pane fills the frame", on: { click: () => void this.doing.do("camera", { fill: true }) } }, "Fill the frame"))))];
  }
}
