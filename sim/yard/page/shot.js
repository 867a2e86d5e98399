// The front shot beside the view: through glass and water, with lens, guides and the concept picture over it.
import { dialogById, figure, h, segments, svg } from "./dom.js";
import { say } from "./doing.js";

const WELCOME_MS = 400; // in which a session tells the shot that it has
const SMALL_PX = 640;
const LARGE_PX = 1280;
const LENSES = [18, 24, 28, 35, 50, 70, 85];

export class Shot {
  /**
   * @param {import("./store.js").Store} store
   * @param {import("./doing.js").Doing} doing
   */
  constructor(store, doing) {
    this.store = store;
    this.doing = doing;
    this.flooded = true;
    /** @type {number | null} null: the scene's lens */
    this.focal = null;
    this.opacity = 0;
    this.asked = false;
    this.told = false;
    this.width = SMALL_PX;
    this.image = h("img", { alt: "The front shot, through glass and water", id: "shot", hidden: true });
    this.concept = h("img", { alt: "", style: { opacity: "0" }, hidden: true });
    this.lines = svg("svg", { viewBox: "0 0 1 1", preserveAspectRatio: "none", "aria-hidden": "true" });
    this.old = h("span", { className: "old" }, "taking the shot…");
    this.figure = h("figure", { className: "shot" }, this.image, this.concept, this.lines, this.old);
    this.warnings = h("div");
    this.lens = h("select", { "aria-label": "Lens of the shot", on: { change: () => this.changeLens() } });
    this.guides = h("select", { "aria-label": "Guides over the shot", on: { change: () => this.draw() } });
    this.slider = h("input", { type: "range", min: "0", max: "100", value: "0", style: { width: "92px" }, "aria-label": "Opacity of the concept picture", on: { input: () => this.fade(Number(this.slider.value) / 100) } });
    /** @type {(value: string) => void} */
    this.pressWet = () => {};
    this.bar = h("div", { className: "shotbar" });
    this.bar2 = h("div", { className: "shotbar" });
    this.panel = h("section", { "aria-label": "The shot" }, this.figure, this.bar, this.bar2, this.warnings);
    this.controls();
    store.on(["shot", "state"], () => this.show());
  }

  /** Water, lens, guides, concept. */
  controls() {
    const wet = h("div", { className: "seg", role: "group", "aria-label": "Water in the shot" });
    this.pressWet = segments(wet, [{ value: "wet", words: "Flooded" }, { value: "dry", words: "Dry" }], (value) => {
      this.flooded = value === "wet";
      this.pressWet(value);
      void this.shoot();
    });
    this.pressWet("wet");
    this.fillGuides([]);
    const file = h("input", { type: "file", accept: "image/png,image/jpeg", hidden: true, on: { change: () => void this.upload(file) } });
    const concept = h("button", { type: "button", className: "small", title: "A PNG or JPEG picture to build after", on: { click: () => file.click() } }, "Concept…");
    this.bar.append(wet, this.lens);
    this.bar2.append(this.guides, h("button", { type: "button", className: "small", on: { click: () => this.enlarge() } }, "Larger"), h("span", { className: "grow" }), concept, file, this.slider);
  }

  changeLens() {
    this.focal = this.lens.value ? Number(this.lens.value) : null;
    void this.shoot();
  }

  /** A new connection: whether the session takes shots already is not known yet. */
  begin() {
    this.asked = this.told = false;
  }

  /** Ask for the shot once, unless the session tells one by itself. */
  ask() {
    if (this.asked) return;
    this.asked = true;
    setTimeout(() => {
      if (!this.told) void this.shoot();
    }, WELCOME_MS);
  }

  /**
   * All windows show the same shot: the settings are those that it was taken with.
   * @param {import("./messages.js").ShotTold} shot
   */
  follow(shot) {
    this.told = true;
    this.flooded = shot.flooded;
    this.pressWet(shot.flooded ? "wet" : "dry");
    const own = this.store.state?.camera.focal_mm;
    this.focal = own === undefined || Math.abs(shot.focal_mm - own) < 0.01 ? null : shot.focal_mm;
    const listed = this.focal === null || LENSES.includes(this.focal);
    if (listed) this.lens.value = this.focal === null ? "" : String(this.focal);
  }

  /** Take it, and from now on after every change. */
  async shoot() {
    this.old.hidden = false;
    await this.doing.do("shoot", { flooded: this.flooded, focal_mm: this.focal, width_px: this.width, fine: false });
  }

  show() {
    const { state, shot } = this.store;
    if (!state) return;
    this.fillLens(state.camera.focal_mm);
    if (state.concept && this.concept.hidden) {
      this.concept.src = `/concept?${state.version}`;
      this.slider.value = String(state.opacity * 100);
      this.fade(state.opacity);
    }
    this.concept.hidden = !state.concept;
    this.slider.hidden = !state.concept;
    this.old.hidden = Boolean(shot && shot.version === state.version);
    if (!shot) return;
    this.figure.style.aspectRatio = `${shot.width_px} / ${shot.height_px}`;
    const source = `/shot/${encodeURIComponent(shot.key)}.png`;
    if (!this.image.src.endsWith(source)) this.image.src = source;
    this.image.hidden = false;
    this.image.alt = `The front shot ${shot.flooded ? "through glass and water" : "without water"}, ${figure(shot.focal_mm)} mm lens`;
    this.fillGuides(shot.guides.map((guide) => guide.name));
    this.draw();
    const larger = dialogById("larger");
    if (larger.open) this.fillLarger(larger);
    this.warnings.replaceChildren(...shot.warnings.map((words) => h("div", { className: "warn" }, words)));
  }

  /** @param {number} own the scene's */
  fillLens(own) {
    const label = `${figure(own)} mm (scene)`;
    if (this.lens.options[0]?.textContent === label) return;
    this.lens.replaceChildren(h("option", { value: "" }, label), ...LENSES.map((focal) => h("option", { value: String(focal) }, `${focal} mm`)));
    if (this.focal !== null) this.lens.value = String(this.focal);
  }

  /** @param {string[]} names */
  fillGuides(names) {
    const wanted = ["", ...names];
    const chosen = this.guides.value;
    const now = [...this.guides.options].map((option) => option.value);
    if (wanted.length === now.length && wanted.join("\n") === now.join("\n")) return;
    this.guides.replaceChildren(...wanted.map((name) => h("option", { value: name }, name || "no guides")));
    if (wanted.includes(chosen)) this.guides.value = chosen;
  }

  /** Guides over the picture. */
  draw() {
    const guide = this.store.shot?.guides.find((one) => one.name === this.guides.value);
    this.lines.replaceChildren(...(guide?.lines ?? []).map(([from, to]) => svg("line", { x1: from[0], y1: from[1], x2: to[0], y2: to[1] })));
  }

  /** @param {number} opacity */
  fade(opacity) {
    this.opacity = opacity;
    this.concept.style.opacity = String(opacity);
  }

  /** @param {HTMLInputElement} file */
  async upload(file) {
    const picture = file.files?.[0];
    if (!picture) return;
    try {
      const answer = await fetch(`/concept?name=${encodeURIComponent(picture.name)}`, { method: "POST", body: picture });
      if (!answer.ok) {
        const problem = await answer.json().catch(() => ({ problem: `It was refused with status ${answer.status}.` }));
        say(problem.problem, "warning");
        return;
      }
      this.concept.src = `/concept?${Date.now()}`;
    } catch {
      say("There is no connection to bedjoint: the picture was not taken.", "warning");
    } finally {
      file.value = "";
    }
  }

  /** As large as the window, and taken with as many more pixels for as long as it is open. */
  enlarge() {
    if (!this.store.shot) return;
    const dialog = dialogById("larger");
    this.fillLarger(dialog);
    dialog.showModal();
    this.width = LARGE_PX;
    void this.shoot();
    dialog.onclose = () => {
      this.width = SMALL_PX;
      void this.shoot();
    };
  }

  /** @param {HTMLDialogElement} dialog */
  fillLarger(dialog) {
    const shot = this.store.shot;
    if (!shot) return;
    const copy = /** @type {HTMLElement} */ (this.figure.cloneNode(true));
    for (const part of copy.querySelectorAll("[id]")) part.removeAttribute("id");
    Object.assign(copy.style, { margin: "0", width: "100%" });
    Object.assign(dialog.style, { width: `min(92vw, ${((76 * shot.width_px) / shot.height_px).toFixed(0)}vh)` });
    dialog.replaceChildren(
      h("div", { className: "top" }, h("h2", { id: "larger-title" }, "The shot"), h("span", { className: "soft" }, this.image.alt), h("span", { className: "grow" }),
        h("a", { className: "button small", href: this.image.src, download: "shot.png" }, "Download"),
        h("button", { type: "button", className: "small", on: { click: () => dialog.close() } }, "Close")), copy);
  }
}
