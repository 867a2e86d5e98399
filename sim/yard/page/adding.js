// Another stone: a scan from a file, with the report of its import, or a stand-in from caliper sizes.
import { dialogById, figure, h, tabs } from "./dom.js";

/** @typedef {import("./messages.js").Imported} Imported */
/** @typedef {import("./messages.js").Problem} Problem */

export class Adding {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./doing.js").Doing} doing
   */
  constructor(store, doing) {
    this.store = store;
    this.doing = doing;
    this.dialog = dialogById("adding");
  }

  open() {
    const scan = this.scanForm();
    const standIn = this.standInForm();
    const { bar } = tabs("How", [{ id: "scan", words: "From a scan", panel: scan }, { id: "standin", words: "From caliper sizes", panel: standIn }]);
    this.dialog.replaceChildren(
      h("div", { className: "top" }, h("h2", { id: "adding-title" }, "Add a stone"), h("span", { className: "grow" }), h("button", { type: "button", className: "small", on: { click: () => this.dialog.close() } }, "Close")),
      bar, scan, standIn);
    if (!this.dialog.open) this.dialog.showModal();
  }

  /** Rock or wood, by name. */
  material() {
    const { rocks, woods } = this.store.state ?? { rocks: [], woods: [] };
    const group = (/** @type {string} */ label, /** @type {string} */ kind, /** @type {string[]} */ names) => h("optgroup", { label }, ...names.map((name) => h("option", { value: `${kind}:${name}` }, name)));
    return h("select", {}, group("rock", "rock", rocks), group("wood", "wood", woods));
  }

  scanForm() {
    const kinds = this.store.state?.upload_kinds ?? [];
    const file = h("input", { type: "file", accept: kinds.join(","), required: true });
    const units = h("select", {}, ...[["", "not known: ask me"], ["mm", "mm"], ["cm", "cm"], ["m", "m"], ["in", "inches"]].map(([value, words]) => h("option", { value }, words)));
    const longest = h("input", { type: "number", min: "1", step: "any", placeholder: "as in the file" });
    const material = this.material();
    const mass = h("input", { type: "number", min: "0.001", step: "any", placeholder: "from the density" });
    const place = h("input", { type: "checkbox", checked: true });
    const said = h("div", { "aria-live": "polite" });
    const go = h("button", { type: "submit", className: "main" }, "Bring it in");
    const send = async (/** @type {Event} */ event) => {
      event.preventDefault();
      const chosen = file.files?.[0];
      if (!chosen) return;
      const [kind, name] = material.value.split(":");
      const query = new URLSearchParams({ name: chosen.name, place: place.checked ? "1" : "0" });
      if (units.value) query.set("units", units.value);
      if (longest.value) query.set("longest_mm", longest.value);
      if (mass.value) query.set("mass_kg", mass.value);
      if (name) query.set(kind, name);
      go.disabled = true;
      said.replaceChildren(h("p", { className: "soft" }, "Reading and mending it…"));
      said.replaceChildren(await this.upload(chosen, query, units));
      go.disabled = false;
    };
    return h("form", { on: { submit: (/** @type {Event} */ event) => void send(event) } },
      h("div", { className: "form" },
        h("label", { className: "wide" }, `File: ${kinds.join(", ") || "a mesh"}, at most ${this.store.state?.upload_mb ?? "–"} MB`, file),
        h("label", {}, "Units of the file", units), h("label", {}, "Or its longest side, mm", longest),
        h("label", {}, "What it is", material), h("label", {}, "Weight, kg", mass),
        h("label", { className: "wide tick" }, place, "Put it into the tank at once")),
      h("div", { className: "row", style: { marginTop: "12px" } }, go), said);
  }

  /**
   * @param {File} chosen
   * @param {URLSearchParams} query
   * @param {HTMLSelectElement} units
   */
  async upload(chosen, query, units) {
    const most = (this.store.state?.upload_mb ?? 0) * 1e6;
    if (most && chosen.size > most) return problem(`This file has ${figure(chosen.size / 1e6, 1)} MB; at most ${figure(most / 1e6)} MB are taken.`);
    try {
      const answer = await fetch(`/scan?${query}`, { method: "POST", body: chosen });
      const told = await answer.json().catch(() => null);
      if (answer.ok && told) return this.imported(told);
      const trouble = /** @type {Problem | null} */ (told);
      const box = problem(trouble?.problem ?? `It was refused with status ${answer.status}.`);
      for (const [unit, side] of Object.entries(trouble?.candidates ?? {})) {
        box.append(h("button", { type: "button", className: "small", style: { margin: "6px 6px 0 0" }, on: { click: () => {
          units.value = unit;
          units.form?.requestSubmit();
        } } }, `In ${unit} its longest side is ${figure(side)} mm`));
      }
      return box;
    } catch {
      return problem("There is no connection to bedjoint: nothing was brought in.");
    }
  }

  /** The report of an import. @param {Imported} told */
  imported(told) {
    if (told.piece && this.store.piece(told.piece)) this.store.pick(told.piece);
    const facts = [["Size", `${told.size_mm.map((side) => side.toFixed(0)).join(" × ")} mm`], ["Volume", figure(told.volume_ml, 0, "ml")], ["Weight", figure(told.mass_kg, 2, "kg")],
      ["Units", `${told.units}, ${told.units_because}`], ["Triangles", String(told.triangles)], ["Volume moved by mending", `${figure(told.volume_moved_percent, 2)} %`]];
    return h("div", { className: "result" }, h("h3", {}, `✓ ${told.item}`), h("p", { className: "soft" }, told.piece ? `It is in the tank as ${told.piece}.` : "It lies on the shelf."),
      h("dl", {}, ...facts.flatMap(([name, value]) => [h("dt", {}, name), h("dd", {}, value)])),
      told.repaired.length ? h("p", { className: "soft" }, `Mended: ${told.repaired.join("; ")}`) : null,
      ...told.warnings.map((words) => h("div", { className: "warn", style: { padding: "0" } }, words)));
  }

  standInForm() {
    const name = h("input", { type: "text", required: true, value: "stand-in" });
    const sides = ["Length", "Width", "Height"].map((words, k) => h("input", { type: "number", min: "1", step: "any", required: true, value: String([160, 110, 50][k]), "aria-label": `${words}, mm` }));
    const mass = h("input", { type: "number", min: "0.001", step: "any", required: true, value: "1.5" });
    const material = this.material();
    const habit = h("select", {}, ...["slab", "block", "cobble", "shard"].map((value) => h("option", { value }, value)));
    const said = h("div", { "aria-live": "polite" });
    const send = async (/** @type {Event} */ event) => {
      event.preventDefault();
      const [kind, what] = material.value.split(":");
      const done = await this.doing.make("stand_in", { name: name.value, size_mm: /** @type {[number, number, number]} */ (sides.map((side) => side.valueAsNumber)), mass_kg: mass.valueAsNumber, rock: kind === "rock" ? what : null, wood: kind === "wood" ? what : null, habit: /** @type {any} */ (habit.value), place: true });
      if (done) this.dialog.close();
    };
    return h("form", { on: { submit: (/** @type {Event} */ event) => void send(event) } },
      h("div", { className: "form" },
        h("label", { className: "wide" }, "Name", name),
        h("label", { className: "wide" }, "Caliper sizes: length, width, height, mm", h("span", { style: { display: "grid", gridTemplateColumns: "1fr 1fr 1fr", gap: "8px" } }, ...sides)),
        h("label", {}, "Weight, kg", mass), h("label", {}, "What it is", material), h("label", {}, "Habit", habit)),
      h("div", { className: "row", style: { marginTop: "12px" } }, h("button", { type: "submit", className: "main" }, "Make it")), said);
  }
}

/** @param {string} words */
function problem(words) {
  return h("div", { className: "problem", role: "alert" }, h("div", {}, words));
}
