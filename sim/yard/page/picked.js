// The panel of what is picked: where it is to the millimetre, and what can be done with it.
import { figure, h } from "./dom.js";

/** @typedef {import("./store.js").PieceState} PieceState */
/** @typedef {[number, number, number]} Triple */

const TARGETS = ["base", "left pane", "right pane", "front pane", "back pane"];

export class Picked {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./doing.js").Doing} doing
   */
  constructor(store, doing) {
    this.store = store;
    this.doing = doing;
    this.panel = h("div", { className: "pad" });
    this.built = "";
    /** @type {Record<"at_mm" | "turn_deg", HTMLInputElement[]>} */
    this.fields = { at_mm: [], turn_deg: [] };
    this.said = h("div");
    store.on(["state", "picked"], () => this.show());
    store.on(["poses"], () => this.fill());
    store.on(["verdict", "faults"], () => this.tell());
  }

  /** Built anew only when what can be done has changed, so that a field keeps the hand that types in it. */
  show() {
    const { state, picked } = this.store;
    this.store.picked = picked.filter((id) => this.store.piece(id));
    const first = this.store.first;
    const about = JSON.stringify([picked, first?.mesh, first?.mass_kg, first?.hidden, first?.locked, first?.fixed, first?.module, state?.glues, state?.pieces.map((piece) => piece.id), state?.joints]);
    if (about !== this.built) {
      this.built = about;
      this.panel.replaceChildren(...(first ? this.parts(first) : this.nothing()));
    }
    this.fill();
    this.tell();
  }

  nothing() {
    return [h("h3", {}, "Nothing picked"), h("p", { className: "soft" }, "Click a stone, or press N for the next one. Shift and click picks several.")];
  }

  /** @param {PieceState} piece */
  parts(piece) {
    const many = this.store.picked.length > 1;
    const title = many ? `${piece.id} and ${this.store.picked.length - 1} more` : piece.id;
    const facts = `${figure(piece.mass_kg, 2)} kg${piece.material ? ` · ${piece.material}` : ""} · ${piece.size_mm.map((side) => side.toFixed(0)).join(" × ")} mm`;
    return [h("h3", {}, title), h("div", { className: "soft" }, facts), this.said,
      this.triple("at_mm", "Place", "mm", ["x, middle", "y, middle", "z, lowest point"], piece.locked),
      this.triple("turn_deg", "Turn", "°", ["about x", "about y", "about z"], piece.locked),
      this.acts(piece), this.snap(piece), this.grouping(piece), many ? this.joining() : null].filter((part) => part !== null);
  }

  /**
   * @param {"at_mm" | "turn_deg"} what
   * @param {string} words
   * @param {string} unit
   * @param {string[]} names
   * @param {boolean} locked
   */
  triple(what, words, unit, names, locked) {
    this.fields[what] = names.map((name, k) => h("input", {
      type: "number", step: "any", id: `${what}-${k}`, "aria-label": `${words} ${name}, ${unit === "°" ? "degrees" : unit}`, title: name, disabled: locked,
      on: { change: () => this.typed(what) },
    }));
    return h("div", { className: "triple" }, h("label", { for: `${what}-0` }, words), ...this.fields[what], h("span", { className: "soft" }, unit));
  }

  /** @param {"at_mm" | "turn_deg"} what */
  typed(what) {
    const first = this.store.first;
    const values = this.fields[what].map((field) => field.valueAsNumber);
    if (!first || values.some((value) => !Number.isFinite(value))) {
      this.fill(true);
      return;
    }
    const triple = /** @type {Triple} */ (values);
    // a turn keeps the place, and a place the turn
    const pose = what === "at_mm" ? { piece: first.id, at_mm: triple } : { piece: first.id, at_mm: first.at_mm, turn_deg: triple };
    void this.doing.place([pose]).then(() => this.fill(true));
  }

  /** @param {boolean} [also_typed] also the field that has the hand */
  fill(also_typed = false) {
    const first = this.store.first;
    if (!first) return;
    for (const what of /** @type {("at_mm" | "turn_deg")[]} */ (["at_mm", "turn_deg"])) {
      this.fields[what].forEach((field, k) => {
        if (also_typed || field !== document.activeElement) field.value = String(Number(first[what][k].toFixed(2)));
      });
    }
  }

  /** Faults and margin. */
  tell() {
    const first = this.store.first;
    if (!first) return;
    const answer = this.store.answer(first.id);
    const faults = this.store.faults.filter((fault) => fault.piece === first.id || fault.other === first.id);
    const push = answer?.push_n === null || answer?.push_n === undefined ? "Its margin is not known yet." : `A push of ${figure(answer.push_n, 1)} N${answer.towards ? ` towards the ${answer.towards}` : ""} at its top moves it.`;
    this.said.replaceChildren(
      faults.length ? h("ul", { className: "faults" }, ...faults.map((fault) => h("li", {}, fault.words))) : h("div", { style: { marginTop: "3px", fontSize: "13px" } }, push));
  }

  /** @param {PieceState} piece */
  acts(piece) {
    const { doing, store } = this;
    const pieces = store.picked;
    const down = h("button", { type: "button", className: "main wide", title: "Free it of overlaps and drop it until it rests (D)", disabled: piece.locked, on: { click: () => void doing.setDown() } }, "Set down");
    /** @type {[string, string, () => void, boolean?][]} */
    const acts = [
      ["Level", "Lay its strata level", () => void doing.onLoose((loose) => doing.do("level", { pieces: loose }))],
      ["Duplicate", "A copy beside it (Ctrl D)", () => void doing.duplicate()],
      ["Hide", "Do not draw it; it still counts (H)", () => void doing.do("hide", { pieces, hidden: !piece.hidden }), piece.hidden],
      ["Lock", "Keep it where it is (L)", () => void doing.do("lock", { pieces, locked: !piece.locked }), piece.locked],
      ["Fix", "An immovable support, as if bolted down", () => void doing.do("fix", { pieces, fixed: !piece.fixed }), piece.fixed],
      ["Take out", "Out of the tank, onto the shelf (Delete)", () => void doing.remove()],
    ];
    return h("div", { className: "acts" }, down, ...acts.map(([words, title, click, pressed]) => h("button", { type: "button", title, on: { click }, "aria-pressed": pressed === undefined ? undefined : String(pressed) }, words)));
  }

  /** @param {PieceState} piece */
  snap(piece) {
    const others = (this.store.state?.pieces ?? []).filter((other) => other.id !== piece.id);
    const choice = h("select", {}, ...TARGETS.map((target) => h("option", { value: target }, target)), ...others.map((other) => h("option", { value: `top:${other.id}` }, `top of ${other.id}`)));
    const go = () => {
      const on_top = choice.value.startsWith("top:");
      void this.doing.do("snap", { piece: piece.id, to: on_top ? "top" : /** @type {any} */ (choice.value), other: on_top ? choice.value.slice(4) : null });
    };
    return h("div", { className: "line" }, h("label", {}, "Move it straight until it touches", choice), h("button", { type: "button", on: { click: go } }, "Snap"));
  }

  /** @param {PieceState} piece */
  grouping(piece) {
    const own = piece.module;
    if (own) return h("div", { className: "line" }, h("span", {}, `Lifted in with module ${own}`), h("button", { type: "button", on: { click: () => void this.doing.do("ungroup", { module: own }) } }, "Take apart"));
    if (this.store.picked.length < 2) return null;
    const name = h("input", { type: "text", placeholder: "made up if empty" });
    const go = () => void this.doing.do("group", { pieces: this.store.picked, name: name.value.trim() });
    return h("div", { className: "line" }, h("label", {}, "Name of the module, glued outside the tank", name), h("button", { type: "button", on: { click: go } }, "Group"));
  }

  /** Glue between two picked pieces. */
  joining() {
    if (this.store.picked.length !== 2) return null;
    const between = /** @type {[string, string]} */ ([...this.store.picked]);
    const joined = this.store.state?.joints.some((joint) => between.every((id) => joint.between.includes(id)));
    if (joined) return h("div", { className: "line" }, h("span", {}, "These two are joined."), h("button", { type: "button", on: { click: () => void this.doing.do("unjoin", { between }) } }, "Unjoin"));
    const glue = h("select", {}, ...(this.store.state?.glues ?? []).map((name) => h("option", { value: name }, name)));
    return h("div", { className: "line" }, h("label", {}, "Glue between the two", glue), h("button", { type: "button", on: { click: () => void this.doing.do("join", { between, kind: "glue", glue: glue.value }) } }, "Join"));
  }
}
