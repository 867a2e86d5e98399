// What this window knows and shows. Everything that is kept lives in the session; a reload loses only the picking.

/** @typedef {import("./messages.js").State} State */
/** @typedef {import("./messages.js").PieceState} PieceState */
/** @typedef {"stone" | "margin" | "base"} Colouring */
/** @typedef {"state" | "poses" | "verdict" | "ordered" | "shot" | "picked" | "colouring" | "step" | "faults"} Topic */

export class Store {
  constructor() {
    /** @type {State | null} */
    this.state = null;
    /** @type {import("./messages.js").VerdictTold | null} */
    this.verdict = null;
    /** @type {import("./messages.js").Ordered | null} */
    this.ordered = null;
    /** @type {import("./messages.js").ShotTold | null} */
    this.shot = null;
    /** @type {string[]} ids; the last one carries the gizmo */
    this.picked = [];
    /** @type {Colouring} */
    this.colouring = "stone";
    /** @type {number | null} steps of the order shown; null: all */
    this.step = null;
    /** @type {import("./messages.js").FaultState[]} */
    this.faults = [];
    /** @type {Map<Topic, (() => void)[]>} */
    this.listeners = new Map();
  }

  /**
   * @param {Topic[]} topics
   * @param {() => void} listener called after any of them changed
   */
  on(topics, listener) {
    for (const topic of topics) this.listeners.set(topic, [...(this.listeners.get(topic) ?? []), listener]);
  }

  /** @param {Topic[]} topics */
  tell(...topics) {
    const all = new Set(topics.flatMap((topic) => this.listeners.get(topic) ?? []));
    for (const listener of all) listener();
  }

  /**
   * @param {string | null | undefined} id
   * @returns {PieceState | undefined}
   */
  piece(id) {
    return this.state?.pieces.find((piece) => piece.id === id);
  }

  /** The piece that carries the gizmo. */
  get first() {
    return this.piece(this.picked.at(-1));
  }

  /**
   * Pick a piece, or with `more` add it or take it out again.
   * @param {string | null} id
   * @param {boolean} [more]
   */
  pick(id, more = false) {
    if (id === null) this.picked = [];
    else if (!more) this.picked = [id];
    else this.picked = this.picked.includes(id) ? this.picked.filter((other) => other !== id) : [...this.picked, id];
    this.tell("picked");
  }

  /** Pick all that shows; the last one carries the gizmo. */
  pickAll() {
    this.picked = (this.state?.pieces ?? []).filter((piece) => !piece.hidden).map((piece) => piece.id);
    this.tell("picked");
  }

  /**
   * What the last quick verdict says about a piece; null where it says nothing.
   * @param {string} id
   */
  answer(id) {
    return this.verdict?.pieces.find((answer) => answer.piece === id) ?? null;
  }

  /**
   * The swatch of a piece's margin; null where it is not known.
   * @param {string} id
   */
  marginSwatch(id) {
    const at = this.answer(id)?.swatch ?? null;
    return at === null ? null : (this.state?.legends.margin[at] ?? null);
  }

  /** Whether the verdict shown is about the scene shown, and all of it. */
  get current() {
    return Boolean(this.verdict && this.state && this.verdict.version === this.state.version);
  }

  /** Pieces that are built at the step shown; null: all. */
  get built() {
    if (this.step === null || !this.ordered) return null;
    return new Set(this.ordered.steps.slice(0, this.step).flatMap((step) => step.pieces));
  }
}
