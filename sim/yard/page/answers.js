// The answers: the verdict, what would move first, states, base, joints.
import { figure, h, swatchOf, tabs } from "./dom.js";
import { plan } from "./pressing.js";

/** @typedef {import("./messages.js").VerdictTold["verdict"]} Verdict */
/** @typedef {import("./messages.js").VerdictTold} VerdictTold */

/** @type {Record<Verdict, [string, string]>} class and sign of each verdict */
export const LOOKS = {
  "stands": ["stands", "✓"],
  "stands (quick)": ["stands", "✓"],
  "falls": ["falls", "✕"],
  "doubtful": ["doubtful", "≈"],
  "undetermined": ["undetermined", "?"],
};
const WATER = { air: "in air", partial: "partly filled", flooded: "flooded", drained: "drained, wet" };

export class Answers {
  /**
   * @param {import("./store.js").Store} store
   * @param {HTMLElement} picked the panel of what is picked
   * @param {HTMLElement} whole the panel of the tank as a whole
   */
  constructor(store, picked, whole) {
    this.store = store;
    this.card = h("section", { className: "verdict undetermined", "aria-live": "polite", "aria-label": "Quick verdict", id: "verdict" });
    this.states = h("div", { className: "pad" });
    this.base = h("div", { className: "pad" });
    this.joints = h("div", { className: "pad" });
    this.tabs = tabs("Answers", [
      { id: "piece", words: "Piece", panel: picked },
      { id: "states", words: "States", panel: this.states },
      { id: "base", words: "Base", panel: this.base },
      { id: "joints", words: "Joints", panel: this.joints },
      { id: "whole", words: "Tank", panel: whole },
    ]);
    this.body = h("div", { className: "scroll" }, picked, this.states, this.base, this.joints, whole);
    store.on(["state", "verdict", "faults"], () => this.show());
    store.on(["picked"], () => this.showBase());
    let colour = store.colouring;
    store.on(["colouring"], () => {
      if (store.colouring === "base" && colour !== "base") this.tabs.show("base");
      colour = store.colouring;
    });
  }

  show() {
    this.showVerdict();
    this.showStates();
    this.showBase();
    this.showJoints();
  }

  showVerdict() {
    const { verdict, state, current, faults } = this.store;
    const [look, sign] = verdict ? LOOKS[verdict.verdict] : LOOKS.undetermined;
    this.card.className = `verdict ${look}${current ? "" : " old"}`;
    this.card.setAttribute("aria-busy", String(!current || !verdict?.complete));
    this.card.dataset.version = String(verdict?.version ?? "");
    const word = verdict ? verdict.verdict : "not judged yet";
    /** @type {HTMLElement[]} */
    const parts = [h("div", { className: "word" }, h("span", { className: "sign", "aria-hidden": "true" }, sign), word[0].toUpperCase() + word.slice(1), h("span", { className: "grow" }), h("span", { className: "soft" }, this.progress()))];
    // each thing once, in its longest words
    const whole = faults.map((fault) => fault.words);
    const said = (/** @type {string} */ words) => current && whole.some((fault) => fault.startsWith(words));
    if (verdict?.reason && !said(verdict.reason)) parts.push(h("p", { className: "clamp", title: verdict.reason }, verdict.reason));
    if (verdict?.first && current && verdict.first.words !== verdict.reason && !said(verdict.first.words)) parts.push(h("p", {}, h("button", { type: "button", className: "link", on: { click: () => this.store.pick(verdict.first?.piece ?? null) } }, `↷ ${verdict.first.words}`)));
    const others = faults.filter((fault) => !current || !verdict?.reason.includes(fault.words));
    if (others.length && state) parts.push(h("ul", { className: "faults" }, ...others.slice(0, 2).map((fault) => h("li", {}, fault.words)), others.length > 2 ? h("li", {}, `and ${others.length - 2} more`) : null));
    this.card.replaceChildren(...parts);
  }

  progress() {
    const { verdict, current } = this.store;
    if (!current) return "judging…";
    if (!verdict?.complete) return verdict?.step === "verdict" ? "loads…" : "margins…";
    return `${figure(verdict.took_s, verdict.took_s < 1 ? 2 : 1)} s`;
  }

  showStates() {
    const { verdict } = this.store;
    const rows = (verdict?.states ?? []).map((state, k) => {
      const [, sign] = LOOKS[state.verdict];
      return h("tr", { title: state.reason },
        h("td", {}, `${k === verdict?.governing ? "▸ " : ""}${state.laid === "dry" ? "dry-laid" : "glued"}, ${WATER[state.water]}${state.as_built ? "" : " (as information)"}`),
        h("td", { style: { whiteSpace: "nowrap" } }, `${sign} ${state.verdict}`),
        h("td", {}, figure(state.tilt_deg, 1, "°"), state.towards ? h("div", { className: "soft" }, state.towards) : null));
    });
    this.states.replaceChildren(
      h("table", { "aria-label": "Verdicts of all states" }, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "state"), h("th", { scope: "col" }, "verdict"), h("th", { scope: "col", title: "least tilt of the tank that brings anything down" }, "tilt"))), h("tbody", {}, ...rows)),
      h("p", { className: "soft" }, "▸ marks the state that governs. The quick verdict leaves trial and shifted copies out: the full check has them."));
  }

  showBase() {
    const base = this.store.verdict?.base;
    if (!base) {
      this.base.replaceChildren(h("h3", {}, "Base glass"), plan(this.store), h("p", { className: "soft" }, "Not known yet."));
      return;
    }
    const rows = [...base.footings].sort((a, b) => b.force_n - a.force_n).map((footing) => h("tr", { "aria-selected": String(this.store.picked.includes(footing.piece)) },
      h("td", {}, swatchOf(this.store.state?.legends.pressure[footing.swatch]), " ", h("button", { type: "button", className: "link", on: { click: () => this.store.pick(footing.piece) } }, footing.piece)),
      h("td", {}, figure(footing.force_n, 1)), h("td", {}, footing.pressure_kpa === null ? "point" : figure(footing.pressure_kpa, 1))));
    const facts = [["Glass", base.verdict], ["Of its limit", base.utilisation === null ? "–" : `${figure(base.utilisation * 100)} %`], ["Tension, at most", base.max_tension_mpa === null ? "–" : `${figure(base.max_tension_mpa, 2)} of ${figure(base.limit_mpa, 1)} MPa`], ["Sags by", figure(base.deflection_mm, 2, "mm")], ["In which state", WATER[base.water]]];
    this.base.replaceChildren(h("h3", {}, "Base glass, from above"), plan(this.store), h("div", { className: "soft" }, "Front at the bottom; numbers are newtons, discs grow with them. The cross marks the greatest tension."),
      h("dl", { style: { margin: "8px 0" } }, ...facts.flatMap(([name, value]) => [h("dt", {}, name), h("dd", {}, value)])),
      h("p", { className: "soft" }, base.reason),
      h("table", { "aria-label": "Footprints" }, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "piece"), h("th", { scope: "col" }, "N"), h("th", { scope: "col" }, "kPa"))), h("tbody", {}, ...rows)));
  }

  showJoints() {
    const { state, verdict } = this.store;
    const joints = state?.joints ?? [];
    if (!joints.length) {
      this.joints.replaceChildren(h("h3", {}, "No joints"), h("p", { className: "soft" }, "All is dry-laid. To glue, pick two stones that touch and choose Join."));
      return;
    }
    const rows = joints.map((joint) => {
      const answer = verdict?.joints.find((one) => one.between.every((id) => joint.between.includes(id)));
      const swatch = answer && answer.swatch !== null ? state?.legends.joint[answer.swatch] : null;
      const share = answer?.utilisation ?? null;
      const bar = h("div", { className: "util", title: answer?.reason ?? "" }, h("i", { style: { width: `${Math.min(100, (share ?? 0) * 100)}%`, background: swatch?.colour ?? "transparent" } }), h("b", {}, share === null ? "not known" : `${figure(share * 100)} %${answer?.broken ? " breaks" : ""}`));
      return h("tr", {}, h("td", {}, swatchOf(swatch), " ", h("button", { type: "button", className: "link", on: { click: () => this.pair(joint.between) } }, joint.between.join(" + ")), h("div", { className: "soft" }, joint.glue ?? joint.kind)), h("td", {}, bar));
    });
    this.joints.replaceChildren(h("table", { "aria-label": "Joints and how much of their strength they use" }, h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "joint"), h("th", { scope: "col" }, "of its strength"))), h("tbody", {}, ...rows)));
  }

  /** @param {[string, string]} both */
  pair(both) {
    this.store.picked = [...both];
    this.store.tell("picked");
    this.tabs.show("piece");
  }
}
