// Moving and turning by hand: handles on the picked stone, steps, what is sent while and after dragging.
import * as THREE from "three";
import { TransformControls } from "three/addons/controls/TransformControls.js";

/** @typedef {import("./messages.js").PoseTo} PoseTo */
/** @typedef {"move" | "turn"} Tool */
/** @typedef {"free" | "fine" | "coarse"} Step */

export const MOVE_MM = { free: 0, fine: 1, coarse: 5 };
export const TURN_DEG = { free: 0, fine: 1, coarse: 5 };
const SEND_EVERY_MS = 60;
const UNWANTED = new Set(["XYZ", "XYZE", "E", "XZ", "YZ"]); // they lie over small stones

export class Gizmo {
  /**
   * @param {import("./view.js").View} view
   * @param {import("./store.js").Store} store
   * @param {import("./stones.js").Stones} stones
   * @param {{drag: (poses: PoseTo[]) => void, place: (poses: PoseTo[]) => Promise<unknown>}} doing
   */
  constructor(view, store, stones, doing) {
    this.view = view;
    this.store = store;
    this.stones = stones;
    this.doing = doing;
    this.controls = new TransformControls(view.camera, view.renderer.domElement);
    this.controls.setColors("#b8432c", "#5f7f35", "#2f6f94", "#ff7a1f");
    this.helper = this.controls.getHelper();
    view.scene.add(this.helper);
    this.clear();
    /** @type {Map<string, THREE.Matrix4>} places of all picked stones when the hand took hold */
    this.started = new Map();
    this.moved = false;
    this.sent = 0;
    this.reach = 0; // of the handles, mm
    /** @type {Tool} */
    this.tool = "move";
    /** @type {Step} */
    this.step = "coarse";
    this.controls.addEventListener("dragging-changed", (event) => (event.value ? this.take() : this.leave()));
    this.controls.addEventListener("objectChange", () => this.follow());
    this.controls.addEventListener("change", () => view.draw());
    view.before.push(() => this.fitSize());
    store.on(["picked", "state", "step"], () => this.attach());
    this.use("move", "coarse");
  }

  /** Take out the handles that cover small stones. */
  clear() {
    /** @type {THREE.Object3D[]} */
    const out = [];
    this.helper.traverse((part) => {
      if (UNWANTED.has(part.name)) out.push(part);
    });
    for (const part of out) part.removeFromParent();
  }

  /** Handles reach just past a small stone, and never fill the view. */
  fitSize() {
    const held = this.controls.object;
    if (!(held instanceof THREE.Mesh)) return;
    const far = this.view.camera.position.distanceTo(held.position);
    const tall = 1.9 * far * Math.tan(THREE.MathUtils.degToRad(this.view.camera.fov / 2));
    const radius = held.geometry.boundingSphere?.radius ?? 50;
    const wanted = Math.min(Math.max(radius * 1.25, tall * 0.1), tall * 0.16);
    this.reach = wanted;
    this.controls.size = (wanted * 8) / tall;
  }

  /**
   * @param {Tool} tool
   * @param {Step} step
   */
  use(tool, step) {
    this.tool = tool;
    this.step = step;
    this.controls.setMode(tool === "move" ? "translate" : "rotate");
    this.controls.setSpace("world");
    this.controls.setTranslationSnap(MOVE_MM[step] || null);
    this.controls.setRotationSnap(TURN_DEG[step] ? THREE.MathUtils.degToRad(TURN_DEG[step]) : null);
    this.view.draw();
  }

  /** Hold on to what is picked, where it may be moved. */
  attach() {
    if (this.controls.dragging) return;
    const first = this.store.first;
    const stone = first && !first.locked && !first.hidden ? this.stones.all.get(first.id) : undefined;
    if (stone && stone.mesh.visible) this.controls.attach(stone.mesh);
    else this.controls.detach();
    this.view.draw();
  }

  take() {
    this.view.orbit.enabled = false;
    this.view.hold(true);
    this.moved = false;
    this.started.clear();
    for (const id of this.store.picked) {
      const stone = this.stones.all.get(id);
      if (!stone || this.store.piece(id)?.locked) continue;
      stone.mesh.updateMatrix();
      this.started.set(id, stone.mesh.matrix.clone());
      this.stones.held.add(id);
    }
  }

  /** The others go along with the first as if they were one. */
  follow() {
    const first = this.controls.object;
    const began = first && this.started.get(first.name);
    if (!first || !began) return;
    this.moved = true;
    first.updateMatrix();
    const by = first.matrix.clone().multiply(began.clone().invert());
    for (const [id, matrix] of this.started) {
      const stone = this.stones.all.get(id);
      if (id === first.name || !stone) continue;
      by.clone().multiply(matrix).decompose(stone.mesh.position, stone.mesh.quaternion, new THREE.Vector3());
    }
    this.view.shadowsChanged();
    const now = performance.now();
    if (now - this.sent < SEND_EVERY_MS) return;
    this.sent = now;
    this.doing.drag(this.poses());
  }

  /** @returns {PoseTo[]} */
  poses() {
    return [...this.started.keys()].flatMap((id) => {
      const mesh = this.stones.all.get(id)?.mesh;
      if (!mesh) return [];
      const { x, y, z } = mesh.position;
      const turn = mesh.quaternion;
      return [{ piece: id, position_mm: [x, y, z], quaternion: [turn.w, turn.x, turn.y, turn.z] }];
    });
  }

  /** Let go: what was dragged is now a change, which can be undone. */
  leave() {
    this.view.orbit.enabled = true;
    this.view.hold(false);
    const poses = this.poses();
    if (!this.moved || !poses.length) {
      this.stones.held.clear();
      return;
    }
    void this.doing.place(poses).finally(() => {
      this.stones.held.clear();
      this.stones.placeAll();
    });
  }
}
