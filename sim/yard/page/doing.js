// Commands as the page gives them: what was refused is said, what was made is picked.
import { byId, h } from "./dom.js";

/** @typedef {import("./messages.js").Commands} Commands */

const SHOWN_MS = 5200;

/**
 * A sentence that goes away by itself.
 * @param {string} words
 * @param {"note" | "warning"} [level]
 */
export function say(words, level = "note") {
  const toast = h("div", { className: `toast ${level}`, role: level === "warning" ? "alert" : undefined }, words);
  const all = byId("toasts");
  all.append(toast);
  while (all.children.length > 3) all.firstElementChild?.remove();
  setTimeout(() => toast.remove(), SHOWN_MS);
}

export class Doing {
  /**
   * @param {import("./link.js").Link} link
   * @param {import("./store.js").Store} store
   */
  constructor(link, store) {
    this.link = link;
    this.store = store;
  }

  /**
   * Carry out a command; a refusal is said and answered with null.
   * @template {keyof Commands} K
   * @param {K} name
   * @param {Commands[K]} fields
   */
  async do(name, fields) {
    try {
      const done = await this.link.ask(name, fields);
      if (done.note) say(done.note);
      return done;
    } catch (trouble) {
      say(trouble instanceof Error ? trouble.message : String(trouble), "warning");
      return null;
    }
  }

  /**
   * The same for what makes pieces: they are picked afterwards.
   * @template {keyof Commands} K
   * @param {K} name
   * @param {Commands[K]} fields
   */
  async make(name, fields) {
    const done = await this.do(name, fields);
    if (done && done.pieces.length) {
      this.store.picked = done.pieces.filter((id) => this.store.piece(id));
      this.store.tell("picked");
    }
    return done;
  }

  /** What is picked and may be moved. */
  get loose() {
    return this.store.picked.filter((id) => this.store.piece(id) && !this.store.piece(id)?.locked);
  }

  /** @param {import("./messages.js").PoseTo[]} poses */
  place(poses) {
    return this.do("place", { poses });
  }

  setDown() {
    return this.onLoose((pieces) => this.do("set_down", { pieces }));
  }

  duplicate() {
    return this.onLoose((pieces) => this.make("duplicate", { pieces }));
  }

  async remove() {
    await this.onLoose((pieces) => this.do("delete", { pieces }));
  }

  /** @param {[number, number, number]} by_mm */
  nudge(by_mm) {
    return this.onLoose((pieces) => this.do("move", { pieces, by_mm }));
  }

  /**
   * @param {"x" | "y" | "z"} axis
   * @param {number} by_deg
   */
  turn(axis, by_deg) {
    return this.onLoose((pieces) => this.do("turn", { pieces, axis, by_deg, together: pieces.length > 1 }));
  }

  /**
   * @template T
   * @param {(pieces: string[]) => Promise<T>} todo
   */
  async onLoose(todo) {
    const pieces = this.loose;
    if (!pieces.length) {
      say(this.store.picked.length ? "This piece is locked. Free it first." : "Pick a stone first.", "warning");
      return null;
    }
    return todo(pieces);
  }
}
