// The keyboard: our own words' first letters, arrows for small steps.
import { MOVE_MM, TURN_DEG } from "./gizmo.js";

/** Keys and what they do, as the page lists them. */
export const KEYS = [
  ["M, T", "handles move, turn"],
  ["D", "set down"],
  ["arrows, Page up, Page down", "move the picked stone by a step; with T they turn it"],
  ["Shift with an arrow", "ten steps"],
  ["Ctrl D", "duplicate"],
  ["Delete", "take out of the tank"],
  ["H, L", "hide, lock"],
  ["Ctrl A", "pick everything"],
  ["N, P", "pick the next, the previous stone"],
  ["1, 2, 3", "colours: stone, margin, base load"],
  ["Ctrl Z, Ctrl Shift Z", "undo, redo"],
  ["Ctrl S", "save"],
  ["Escape", "pick nothing"],
];

/**
 * Whether a field uses this key itself; sliders, tabs and steps use only what moves along them.
 * @param {EventTarget | null} target
 * @param {string} key
 */
function typing(target, key) {
  if (!(target instanceof HTMLElement)) return false;
  if (target.matches("input[type=range], [role=tab], #bars button")) return /^(Arrow|Page|Home|End)/.test(key);
  return target.matches("input:not([type=checkbox]), select, textarea");
}

/**
 * @param {import("./store.js").Store} store
 * @param {import("./doing.js").Doing} doing
 * @param {import("./tools.js").Tools} tools
 */
export function listen(store, doing, tools) {
  addEventListener("keydown", (event) => {
    if (document.querySelector("dialog[open]")) return;
    const control = event.ctrlKey || event.metaKey;
    const todo = control ? withControl(event, store, doing) : typing(event.target, event.key) ? null : plain(event, store, doing, tools);
    if (!todo) return;
    event.preventDefault();
    todo();
  });
}

/**
 * @param {KeyboardEvent} event
 * @param {import("./store.js").Store} store
 * @param {import("./doing.js").Doing} doing
 * @returns {(() => void) | null}
 */
function withControl(event, store, doing) {
  const key = event.key.toLowerCase();
  if ((key === "z" || key === "a") && typing(event.target, event.key)) return null;
  if (key === "a") return () => store.pickAll();
  if (key === "z") return () => void doing.do(event.shiftKey ? "redo" : "undo", {});
  if (key === "y") return () => void doing.do("redo", {});
  if (key === "d") return () => void doing.duplicate();
  if (key === "s") return () => void doing.do("save", {});
  return null;
}

/**
 * @param {KeyboardEvent} event
 * @param {import("./store.js").Store} store
 * @param {import("./doing.js").Doing} doing
 * @param {import("./tools.js").Tools} tools
 * @returns {(() => void) | null}
 */
function plain(event, store, doing, tools) {
  if (event.altKey) return null;
  const step = stepOf(event, store, doing, tools);
  if (step) return step;
  const first = store.first;
  switch (event.key.toLowerCase()) {
    case "m": return () => tools.use("move", tools.step);
    case "t": return () => tools.use("turn", tools.step);
    case "d": return () => void doing.setDown();
    case "h": return first ? () => void doing.do("hide", { pieces: store.picked, hidden: !first.hidden }) : null;
    case "l": return first ? () => void doing.do("lock", { pieces: store.picked, locked: !first.locked }) : null;
    case "n": return () => next(store, 1);
    case "p": return () => next(store, -1);
    case "1": return () => tools.colour("stone");
    case "2": return () => tools.colour("margin");
    case "3": return () => tools.colour("base");
    case "delete": case "backspace": return store.picked.length ? () => void doing.remove() : null;
    case "escape": return () => store.pick(null);
    default: return null;
  }
}

/**
 * Arrows move or turn by the step that the handles have.
 * @param {KeyboardEvent} event
 * @param {import("./store.js").Store} store
 * @param {import("./doing.js").Doing} doing
 * @param {import("./tools.js").Tools} tools
 */
function stepOf(event, store, doing, tools) {
  /** @type {Record<string, [number, number, number]>} */
  const ways = { ArrowLeft: [-1, 0, 0], ArrowRight: [1, 0, 0], ArrowUp: [0, 1, 0], ArrowDown: [0, -1, 0], PageUp: [0, 0, 1], PageDown: [0, 0, -1] };
  const way = ways[event.key];
  if (!way || !store.picked.length) return null;
  const times = event.shiftKey ? 10 : 1;
  if (tools.tool === "move") {
    const by = (MOVE_MM[tools.step] || MOVE_MM.fine) * times;
    return () => void doing.nudge([way[0] * by, way[1] * by, way[2] * by]);
  }
  // left and right turn about the upright, up and down tip to the back and front, page keys roll sideways
  const by = (TURN_DEG[tools.step] || TURN_DEG.fine) * times;
  if (way[0]) return () => void doing.turn("z", -way[0] * by);
  if (way[1]) return () => void doing.turn("x", -way[1] * by);
  return () => void doing.turn("y", way[2] * by);
}

/**
 * @param {import("./store.js").Store} store
 * @param {number} by
 */
function next(store, by) {
  const all = (store.state?.pieces ?? []).filter((piece) => !piece.hidden);
  if (!all.length) return;
  const at = all.findIndex((piece) => piece.id === store.picked.at(-1));
  store.pick(all[(at + by + all.length) % all.length].id);
}
