// The page: every part made once and told what it needs. The session at the other end has all that is kept.
import { Adding } from "./adding.js";
import { Answers } from "./answers.js";
import { Looking } from "./camera.js";
import { Checking } from "./checking.js";
import { Doing, say } from "./doing.js";
import { byId, h } from "./dom.js";
import { Gizmo } from "./gizmo.js";
import { Keeping } from "./keeping.js";
import { listen } from "./keys.js";
import { Link } from "./link.js";
import { List } from "./list.js";
import { Order } from "./order.js";
import { Overlay } from "./overlay.js";
import { Picked } from "./picked.js";
import { Pressing } from "./pressing.js";
import { Shelf } from "./shelf.js";
import { Shot } from "./shot.js";
import { Stones } from "./stones.js";
import { Store } from "./store.js";
import { Tank } from "./tank.js";
import { TankPanel } from "./tankpanel.js";
import { Tools } from "./tools.js";
import { View } from "./view.js";

const CLICK_PX = 4; // a pointer that moves farther has dragged

const link = new Link();
const store = new Store();
const doing = new Doing(link, store);
const picked = new Picked(store, doing);
const answers = new Answers(store, picked.panel, new TankPanel(store, doing).panel);
const shot = new Shot(store, doing);
byId("right").append(shot.panel, answers.card, answers.tabs.bar, answers.body);
const adding = new Adding(store, doing);
new List(store, new Shelf(store, doing).panel, () => adding.open());
const order = new Order(store, doing);
const keeping = new Keeping(store, doing);
const checking = new Checking(store, doing);
const drawn = draw3d();
const tools = new Tools(store, doing, drawn?.gizmo ?? null);
listen(store, doing, tools);
hear();
link.connect();

/** The view with everything in it; without WebGL the panels still work. */
function draw3d() {
  try {
    const view = new View(byId("gl"));
    const tank = new Tank(view);
    const stones = new Stones(view, store);
    const gizmo = new Gizmo(view, store, stones, { drag: (poses) => link.drag({ poses }), place: (poses) => doing.place(poses) });
    const looking = new Looking(view, store, tank);
    new Overlay(view, store, stones, gizmo);
    new Pressing(view, store);
    store.on(["state"], () => {
      if (store.state && tank.show(store.state.tank)) looking.look("corner");
    });
    store.on(["colouring"], () => {
      tank.ground.visible = store.colouring !== "base";
      view.draw();
    });
    pickByPointer(view, stones, gizmo);
    return { view, stones, gizmo };
  } catch (trouble) {
    byId("gl").append(h("p", { className: "pad" }, `This browser cannot draw in 3D (${trouble instanceof Error ? trouble.message : trouble}). Everything beside the view works.`));
    return null;
  }
}

/**
 * A click picks, a drag turns the view, a drag on a handle moves the stone.
 * @param {View} view
 * @param {Stones} stones
 * @param {Gizmo} gizmo
 */
function pickByPointer(view, stones, gizmo) {
  /** @type {[number, number] | null} */
  let down = null;
  const canvas = view.renderer.domElement;
  canvas.addEventListener("pointerdown", (event) => {
    down = event.button === 0 && !gizmo.controls.dragging && !gizmo.controls.axis ? [event.clientX, event.clientY] : null;
  });
  canvas.addEventListener("pointerup", (event) => {
    if (!down || Math.hypot(event.clientX - down[0], event.clientY - down[1]) > CLICK_PX) return;
    store.pick(stones.at(event.clientX, event.clientY), event.shiftKey || event.ctrlKey || event.metaKey);
  });
}

/** What comes from the session goes into the store, and the store tells everybody. */
function hear() {
  link.onopen = (open) => {
    byId("lost").hidden = open;
    if (open) {
      // answers come with the new connection; old ones may be about a session that has ended
      store.verdict = store.ordered = null;
      shot.begin();
    }
    byId("lost").textContent = open ? "" : "The connection to bedjoint is lost. Trying again by itself; nothing that you did is gone.";
  };
  link.hear("state", (state) => {
    store.state = state;
    store.faults = state.faults;
    store.picked = store.picked.filter((id) => store.piece(id));
    store.tell("state", "faults", "picked");
    shot.ask();
  });
  link.hear("dragged", (told) => {
    if (!store.state) return;
    const moved = new Map(told.poses.map((pose) => [pose.id, pose]));
    store.state = { ...store.state, pieces: store.state.pieces.map((piece) => moved.get(piece.id) ?? piece) };
    store.faults = told.faults;
    store.tell("poses", "faults");
  });
  link.hear("verdict", (told) => {
    store.verdict = told;
    store.tell("verdict");
  });
  link.hear("shot", (told) => {
    store.shot = told;
    shot.follow(told);
    store.tell("shot");
  });
  link.hear("ordered", (told) => {
    store.ordered = told;
    if (store.step !== null && store.step > told.steps.length) store.step = null;
    order.tell(null);
    store.tell("ordered", "step");
  });
  link.hear("progress", (told) => (told.job === "check" ? checking.progress(told) : order.tell(told)));
  link.hear("stopped", (told) => {
    if (told.job === "check") checking.stop(told.reason);
    if (told.job === "order") order.tell(null);
    if (told.reason && told.job !== "check") say(told.reason, "warning");
  });
  link.hear("checked", (told) => checking.finish(told));
  link.hear("compared", (told) => keeping.show(told));
  link.hear("notice", (told) => say(told.words, told.level));
  link.hear("refused", (told) => {
    if (told.id === null) say(told.reason, "warning");
  });
}

// For tests and the curious: where a piece, or any point of the tank, is in the window.
Reflect.set(window, "yard", { store, link, view: drawn?.view, stones: drawn?.stones, gizmo: drawn?.gizmo });
