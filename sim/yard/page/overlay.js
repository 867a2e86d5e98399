// What is laid over the view: names on picked stones, faults, the first mover's arrow, the camera's frame, the legend.
import * as THREE from "three";
import { byId, figure, h, swatchOf } from "./dom.js";

const ARROW = "#26302f";

export class Overlay {
  /**
   * @param {import("./view.js").View} view
   * @param {import("./store.js").Store} store
   * @param {import("./stones.js").Stones} stones
   * @param {{reach: number}} handles how far the gizmo's handles reach, mm
   */
  constructor(view, store, stones, handles) {
    this.handles = handles;
    this.view = view;
    this.store = store;
    this.stones = stones;
    this.tags = byId("tags");
    this.legend = byId("legend");
    this.picked = h("div", { className: "tag", hidden: true });
    this.fault = h("div", { className: "tag fault", hidden: true });
    this.first = h("div", { className: "tag first", hidden: true });
    this.tags.append(this.first, this.picked, this.fault);
    this.arrow = new THREE.Group();
    view.scene.add(this.arrow);
    view.after.push(() => this.follow());
    store.on(["state", "poses", "picked", "faults"], () => this.name());
    store.on(["state", "verdict", "colouring", "step"], () => this.point());
    store.on(["state", "verdict", "colouring"], () => this.explain());
  }

  /** The picked stone's name, and the worst fault of it or of any stone. */
  name() {
    const piece = this.store.first;
    const more = this.store.picked.length - 1;
    this.picked.hidden = !piece;
    if (piece) this.picked.textContent = `${piece.id} · ${figure(piece.mass_kg, 2)} kg${more > 0 ? ` and ${more} more` : ""}`;
    const faults = this.store.faults;
    const own = faults.find((fault) => this.store.picked.includes(fault.piece) || this.store.picked.includes(fault.other));
    this.fault.hidden = !own;
    if (own) this.fault.textContent = own.words;
    this.view.draw();
  }

  /** An arrow on the stone that would move first. */
  point() {
    this.arrow.clear();
    const first = this.store.current ? this.store.verdict?.first : null;
    const stone = first && this.stones.all.get(first.piece);
    const shown = Boolean(stone?.mesh.visible) && this.store.colouring === "margin";
    this.first.hidden = !shown;
    if (first && stone && shown) {
      const radius = stone.mesh.geometry.boundingSphere?.radius ?? 40;
      const long = Math.max(50, radius * 1.1);
      const along = new THREE.Vector3(...first.direction).normalize();
      const paint = new THREE.MeshBasicMaterial({ color: ARROW, depthTest: false, transparent: true, opacity: 0.92, toneMapped: false });
      const shaft = new THREE.Mesh(new THREE.CylinderGeometry(long / 44, long / 44, long, 14), paint);
      shaft.position.y = long / 2;
      const head = new THREE.Mesh(new THREE.ConeGeometry(long / 12, long / 4, 20), paint);
      head.position.y = long * 1.1;
      this.arrow.add(shaft, head);
      this.arrow.quaternion.setFromUnitVectors(new THREE.Vector3(0, 1, 0), along);
      this.arrow.position.copy(stone.mesh.position);
      this.arrow.traverse((part) => (part.renderOrder = 8));
      this.first.textContent = first.falls ? `${first.piece} comes down` : `${first.piece} would move first`;
    }
    this.view.draw();
  }

  /** Tags stand above their stones, beside and not over them. */
  follow() {
    const piece = this.store.first;
    const stone = piece && this.stones.all.get(piece.id);
    this.tags.hidden = false;
    if (stone) {
      // above the stone and above the tip of the upright handle
      const { x, y, z } = stone.mesh.position;
      const box = new THREE.Box3().setFromObject(stone.mesh);
      const top = this.view.onScreen(new THREE.Vector3(x, y, Math.max(box.max.z, z + this.handles.reach)));
      this.put(this.picked, top.x, top.y - 14);
      this.put(this.fault, top.x, top.y - 40);
    }
    const first = this.store.verdict?.first;
    const mover = first && this.stones.all.get(first.piece);
    if (mover && first) {
      const tip = mover.mesh.position.clone().addScaledVector(new THREE.Vector3(...first.direction).normalize(), (mover.mesh.geometry.boundingSphere?.radius ?? 40) * 1.5);
      const at = this.view.onScreen(tip);
      this.put(this.first, at.x, at.y - 8);
    }
  }

  /**
   * @param {HTMLElement} tag
   * @param {number} x middle, px
   * @param {number} y lower edge, px
   */
  put(tag, x, y) {
    if (tag.hidden) return;
    const { clientWidth, clientHeight } = this.view.into;
    const half = tag.offsetWidth / 2;
    const left = Math.min(Math.max(x, half + 6), clientWidth - half - 6);
    const low = Math.min(Math.max(y, 80), clientHeight - 6);
    tag.style.transform = `translate(calc(${left.toFixed(1)}px - 50%), calc(${low.toFixed(1)}px - 100%))`;
  }

  /** The legend of what the colours say now: colour, sign and words. */
  explain() {
    const { state, colouring, verdict } = this.store;
    this.legend.hidden = !state || colouring === "stone";
    if (!state || colouring === "stone") return;
    const margin = colouring === "margin";
    const highest = Math.max(0, ...(verdict?.base?.footings ?? []).map((footing) => footing.pressure_kpa ?? 0));
    const title = margin ? "Least push that moves it, as a share of its weight" : `Pressure on the glass${highest ? `, highest ${figure(highest, 0)} kPa` : ""}`;
    const rows = state.legends[margin ? "margin" : "pressure"].map((swatch) => h("li", {}, swatchOf(swatch), swatch.words));
    this.legend.replaceChildren(h("b", {}, title), h("ul", {}, ...rows));
  }
}
