// The foot of the page: the order of building, a bar per step, and a slider through it.
import { byId, figure, h, onColour } from "./dom.js";

/** @typedef {import("./messages.js").OrderStep} OrderStep */

const FULL_DEG = 30; // a bar is full from here on; its height goes with the root, so that small margins differ too

export class Order {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./doing.js").Doing} doing
   */
  constructor(store, doing) {
    this.store = store;
    this.doing = doing;
    this.working = "";
    /** @type {string | null} the unit in the hand */
    this.lifted = null;
    this.back = h("button", { type: "button", "aria-label": "One step back", on: { click: () => this.go(-1) } }, "◀");
    this.on = h("button", { type: "button", "aria-label": "One step on", on: { click: () => this.go(1) } }, "▶");
    this.said = h("div", { className: "said", "aria-live": "polite" });
    this.bars = h("ol", { id: "bars", "aria-label": "Steps; drag one, or press Alt with an arrow key, to change the order" });
    this.slider = h("input", { type: "range", id: "step", min: "0", max: "1", value: "1", "aria-label": "Step of building that is shown", on: { input: () => this.jump(Number(this.slider.value)) } });
    this.find = h("button", { type: "button", on: { click: () => this.search() } }, "Find an order");
    this.hint = h("span", { className: "soft" }, "Each step gets a bar as high as its margin, once there is an order.");
    this.track = h("div", { id: "track" }, this.hint, this.bars, this.slider);
    byId("order").append(this.back, this.said, this.track, this.on, this.find);
    this.card = byId("stepcard");
    store.on(["state", "ordered", "step", "verdict"], () => this.show());
    this.dragging();
  }

  get steps() {
    return this.store.ordered?.steps ?? [];
  }

  search() {
    void this.doing.do(this.working ? "stop" : "order", this.working ? { job: "order" } : /** @type {any} */ ({}));
  }

  /** @param {import("./messages.js").Progress | null} progress */
  tell(progress) {
    this.working = progress ? progress.what : "";
    this.find.textContent = progress ? `Stop (${progress.of > 0 ? Math.round((100 * progress.done) / progress.of) : 0} %)` : "Find an order";
    this.show();
  }

  /** @param {number} by */
  go(by) {
    this.jump((this.store.step ?? this.steps.length) + by);
  }

  /** @param {number} to steps built; all of them shows everything */
  jump(to) {
    const many = this.steps.length;
    const step = Math.max(0, Math.min(many, to));
    this.store.step = step === many ? null : step;
    this.store.tell("step");
  }

  show() {
    const { ordered, state, step } = this.store;
    const many = this.steps.length;
    const at = step ?? many;
    this.slider.max = String(Math.max(1, many));
    this.slider.value = String(many ? at : 1);
    this.slider.disabled = this.back.disabled = this.on.disabled = !many;
    this.hint.hidden = many > 0;
    this.bars.hidden = this.slider.hidden = !many;
    this.track.classList.toggle("empty", !many);
    const old = ordered && state && ordered.version !== state.version ? " (before the last change)" : "";
    if (!ordered) this.saying(this.working || "Order of building", this.working ? "searching…" : "not searched yet");
    else if (!many) this.saying(ordered.verdict, ordered.reason);
    else this.saying(step === null ? `All ${many} steps` : `Step ${at} of ${many}`, `${ordered.given ? "your order" : ordered.proved ? "best order" : "best found"}: ${ordered.verdict}${old}`);
    this.said.title = ordered?.reason ?? "";
    this.drawBars(at);
    this.tellStep(at);
  }

  /**
   * @param {string} title
   * @param {string} words
   */
  saying(title, words) {
    this.said.replaceChildren(h("b", {}, title), h("span", { className: "soft" }, words));
  }

  /** @param {number} at */
  drawBars(at) {
    const had = document.activeElement instanceof HTMLElement && this.bars.contains(document.activeElement) ? document.activeElement.dataset.unit : undefined;
    const legend = this.store.state?.legends.margin ?? [];
    const fails = this.store.ordered?.fails_at ?? null;
    this.bars.replaceChildren(...this.steps.map((step, k) => {
      const swatch = step.swatch === null ? null : legend[step.swatch];
      const marks = `${step.holds.length ? "✋" : ""}${step.joints.length ? "●" : ""}${fails === step.number ? "✕" : ""}`;
      const height = step.margin_deg === null ? 16 : 14 + 86 * Math.sqrt(Math.min(1, step.margin_deg / FULL_DEG));
      const words = `Step ${step.number}, ${step.unit}: ${step.margin_deg === null ? "held" : `margin ${figure(step.margin_deg, 1)} degrees`}${step.holds.length ? ", needs a hold" : ""}${step.joints.length ? ", glue" : ""}`;
      const bar = h("span", { className: `bar${swatch ? "" : " swatch none"}`, style: { height: `${height * 0.66}%`, background: swatch?.colour, color: onColour(swatch?.colour ?? "#ffffff"), borderRadius: "3px 3px 0 0" } });
      const button = h("button", { type: "button", "aria-label": words, title: words, data: { unit: step.unit }, on: { click: () => this.jump(k + 1), keydown: (/** @type {KeyboardEvent} */ event) => this.key(event, k) } }, h("span", { className: "marks", "aria-hidden": "true" }, marks), bar);
      return h("li", { className: k >= at ? "later" : k === at - 1 && this.store.step !== null ? "here" : "" }, button);
    }));
    if (had) for (const button of this.bars.querySelectorAll("button")) if (button.dataset.unit === had) button.focus();
  }

  /** What the step shown asks for. @param {number} at */
  tellStep(at) {
    const step = this.store.step === null ? null : this.steps[at - 1];
    this.card.hidden = !step;
    if (!step) return;
    const asks = [...step.holds.map((words) => `✋ ${words}`), ...step.joints.map((pair) => `● glue ${pair.join(" to ")}`), ...(step.wait_h > 0 ? [`wait ${figure(step.wait_h, step.wait_h < 10 ? 1 : 0)} h before, for the glue`] : [])];
    this.card.replaceChildren(
      h("b", {}, `${step.number}. ${step.unit}`), " ", h("span", { className: "soft" }, `${step.rests_on.length ? `on ${step.rests_on.join(", ")}` : ""}${step.way_in ? ` · ${step.way_in}` : ""}`),
      h("div", {}, step.margin_deg === null ? "Held while this step ends." : `Stands up to a tilt of ${figure(step.margin_deg, 1)}°.`),
      h("ul", { className: "holds" }, ...asks.map((words) => h("li", {}, words))));
  }

  /**
   * Alt and an arrow carry a step along the order.
   * @param {KeyboardEvent} event
   * @param {number} from
   */
  key(event, from) {
    const by = event.key === "ArrowRight" ? 1 : event.key === "ArrowLeft" ? -1 : 0;
    if (!by) return;
    event.preventDefault();
    if (event.altKey) this.carry(from, from + by);
    else this.bars.querySelectorAll("button")[from + by]?.focus();
  }

  /**
   * @param {number} from
   * @param {number} to
   */
  carry(from, to) {
    const units = this.steps.map((step) => step.unit);
    if (to < 0 || to >= units.length || from === to) return;
    const [moved] = units.splice(from, 1);
    units.splice(to, 0, moved);
    void this.doing.do("order", { given: units });
  }

  /** Bars are carried with the pointer; a line shows where they would go. */
  dragging() {
    let from = -1;
    let began = 0;
    const place = (/** @type {number} */ x) => {
      const all = [...this.bars.children];
      const at = all.findIndex((bar) => x < bar.getBoundingClientRect().right);
      return at < 0 ? all.length - 1 : at;
    };
    const clear = () => {
      for (const bar of this.bars.children) bar.classList.remove("before", "after", "lifted");
    };
    this.bars.addEventListener("pointerdown", (event) => {
      from = place(event.clientX);
      began = event.clientX;
    });
    addEventListener("pointermove", (event) => {
      if (from < 0 || Math.abs(event.clientX - began) < 5) return;
      clear();
      const to = place(event.clientX);
      this.bars.children[from]?.classList.add("lifted");
      if (to !== from) this.bars.children[to]?.classList.add(to < from ? "before" : "after");
    });
    addEventListener("pointerup", (event) => {
      if (from < 0) return;
      const start = from;
      from = -1;
      clear();
      if (Math.abs(event.clientX - began) >= 5) this.carry(start, place(event.clientX));
    });
  }
}
