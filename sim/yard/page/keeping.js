// Keep: save, save as, versions to compare with, what to take away, and the list of keys.
import { byId, dialogById, figure, h } from "./dom.js";
import { KEYS } from "./keys.js";

export class Keeping {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./doing.js").Doing} doing
   */
  constructor(store, doing) {
    this.store = store;
    this.doing = doing;
    this.dialog = dialogById("keeping");
    this.compared = h("div", { "aria-live": "polite" });
    this.choice = h("select", {});
    byId("keep").addEventListener("click", () => this.open());
    store.on(["state"], () => this.fill());
  }

  fill() {
    const kept = this.store.state?.kept ?? [];
    const now = this.choice.value;
    this.choice.replaceChildren(...kept.map((name) => h("option", { value: name }, name === "saved" ? "as it was saved" : name === "opened" ? "as it was opened" : name)));
    if (kept.includes(now)) this.choice.value = now;
  }

  open() {
    const { doing } = this;
    this.fill();
    const file = h("input", { type: "text", value: this.store.state?.file ?? "", required: true });
    const over = h("input", { type: "checkbox" });
    const name = h("input", { type: "text", required: true, placeholder: "such as: wider arch" });
    const form = (/** @type {() => void} */ todo, /** @type {(Node | null)[]} */ ...parts) => h("form", { className: "line", on: { submit: (/** @type {Event} */ event) => {
      event.preventDefault();
      todo();
    } } }, ...parts);
    this.dialog.replaceChildren(
      h("div", { className: "top" }, h("h2", { id: "keeping-title" }, "Keep"), h("span", { className: "grow" }), h("button", { type: "button", className: "small", on: { click: () => this.dialog.close() } }, "Close")),
      h("div", { className: "row" }, h("button", { type: "button", className: "main", on: { click: () => void doing.do("save", {}) } }, "Save"), h("span", { className: "soft" }, "Until then every change is in a journal beside the file, and comes back after a crash.")),
      form(() => void doing.do("save_as", { name: file.value.trim(), replace: over.checked }), h("label", {}, "Save as, beside the present file", file, h("span", { className: "row" }, over, "replace a file of this name")), h("button", { type: "submit" }, "Save as")),
      h("h3", { style: { marginTop: "16px" } }, "Compare"),
      form(() => void doing.do("keep", { name: name.value.trim() }), h("label", {}, "Remember this version as", name), h("button", { type: "submit" }, "Remember")),
      form(() => void this.compare(), h("label", {}, "Compare the present with", this.choice), h("button", { type: "submit" }, "Compare")),
      this.compared,
      h("h3", { style: { margin: "16px 0 6px" } }, "Take away"),
      h("div", { className: "row" }, ...[["/scene.toml", "Scene"], ["/scene.glb", "GLB"], ["/export.zip", "Everything: scene, pictures, report, GLB"]].map(([href, words]) => h("a", { className: "button", href, download: "" }, words))),
      h("h3", { style: { margin: "16px 0 6px" } }, "Keys"),
      h("dl", { style: { gridTemplateColumns: "auto 1fr" } }, ...KEYS.flatMap(([keys, words]) => [h("dt", {}, keys), h("dd", { style: { textAlign: "left" } }, words)])));
    this.dialog.showModal();
  }

  async compare() {
    this.compared.replaceChildren(h("p", { className: "soft" }, "Judging both versions…"));
    const done = await this.doing.do("compare", { with: this.choice.value });
    if (!done) this.compared.replaceChildren();
  }

  /** @param {import("./messages.js").Compared} told */
  show(told) {
    const pair = (/** @type {[number | null, number | null]} */ [then, now], /** @type {number} */ digits, /** @type {string} */ unit) => [figure(then, digits, unit), figure(now, digits, unit)];
    const rows = [["verdict", ...told.verdict], ["tilt to fall", ...pair(told.tilt_deg, 1, "°")], ["weight", ...pair(told.mass_kg, 2, "kg")], ["glue", ...pair(told.glue_g, 1, "g")], ["cost", ...pair(told.cost, 2, "")]];
    const moved = told.pieces.map((piece) => h("li", {}, piece.what === "moved" ? `${piece.piece} moved by ${figure(piece.by_mm, 1)} mm and turned by ${figure(piece.by_deg, 1)}°` : `${piece.piece} ${piece.what}`));
    const joints = [...told.joints_added.map((both) => h("li", {}, `joint added: ${both.join(" + ")}`)), ...told.joints_removed.map((both) => h("li", {}, `joint removed: ${both.join(" + ")}`))];
    this.compared.replaceChildren(h("div", { className: "result" },
      h("table", { "aria-label": "Comparison" }, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, ""), h("th", { scope: "col" }, told.then), h("th", { scope: "col" }, "now"))),
        h("tbody", {}, ...rows.map(([name, then, now]) => h("tr", {}, h("td", {}, name), h("td", {}, then), h("td", {}, then === now ? "the same" : h("b", {}, now)))))),
      h("ul", {}, ...moved, ...joints, moved.length + joints.length ? null : h("li", {}, "Nothing has moved."))));
  }
}
