// Where stones press on the glass: outlines on the base in the view, and the same as a plan.
import * as THREE from "three";
import { figure, svg } from "./dom.js";

/** @typedef {import("./messages.js").FootingState} FootingState */
/** @typedef {import("./messages.js").Swatch} Swatch */

const TOLD_N = 1;
const LEAST_MM = 9; // narrower contacts are drawn as wide as this, or nobody would see them

/**
 * An outline wide enough to be seen: contacts on a point or a line get a small square around them.
 * @param {FootingState} footing
 * @returns {[number, number][]}
 */
function visible(footing) {
  const at = footing.outline_mm;
  const xs = at.map((point) => point[0]);
  const ys = at.map((point) => point[1]);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  if (at.length >= 3 && x1 - x0 >= LEAST_MM && y1 - y0 >= LEAST_MM) return at;
  const [px, py] = [Math.max(0, LEAST_MM - (x1 - x0)) / 2, Math.max(0, LEAST_MM - (y1 - y0)) / 2];
  return [[x0 - px, y0 - py], [x1 + px, y0 - py], [x1 + px, y1 + py], [x0 - px, y1 + py]];
}

export class Pressing {
  /**
   * @param {import("./view.js").View} view
   * @param {import("./store.js").Store} store
   */
  constructor(view, store) {
    this.view = view;
    this.store = store;
    this.group = new THREE.Group();
    view.scene.add(this.group);
    store.on(["state", "verdict", "colouring"], () => this.show());
  }

  show() {
    for (const part of this.group.children) if (part instanceof THREE.Mesh) part.geometry.dispose();
    this.group.clear();
    const { state, verdict, colouring } = this.store;
    const wanted = colouring === "base" && state && verdict?.base;
    if (wanted && state && verdict?.base) for (const footing of verdict.base.footings) this.lay(footing, state.legends.pressure[footing.swatch], state.tank.floor_mm);
    this.view.draw();
  }

  /**
   * @param {FootingState} footing
   * @param {Swatch | undefined} swatch
   * @param {number} floor
   */
  lay(footing, swatch, floor) {
    const shape = new THREE.Shape(visible(footing).map(([x, y]) => new THREE.Vector2(x, y)));
    const paint = new THREE.MeshBasicMaterial({ color: swatch?.colour ?? "#c9c5b9", toneMapped: false, side: THREE.DoubleSide });
    const patch = new THREE.Mesh(new THREE.ShapeGeometry(shape), paint);
    patch.position.z = floor + 0.6;
    patch.renderOrder = 1;
    const edge = new THREE.LineLoop(new THREE.BufferGeometry().setFromPoints(shape.getPoints()), new THREE.LineBasicMaterial({ color: "#3a2a22" }));
    edge.position.z = floor + 0.8;
    this.group.add(patch, edge, this.halo(footing, swatch?.colour ?? "#c9c5b9", floor));
  }

  /**
   * A soft disc whose area goes with the force: so the load shows without its colour.
   * @param {FootingState} footing
   * @param {string} colour
   * @param {number} floor
   */
  halo(footing, colour, floor) {
    const radius = haloMm(footing.force_n);
    const disc = new THREE.Mesh(new THREE.CircleGeometry(radius, 40), new THREE.MeshBasicMaterial({ color: colour, map: softDisc(), transparent: true, depthWrite: false, toneMapped: false }));
    const [x, y] = middle(visible(footing));
    disc.position.set(x, y, floor + 0.4);
    disc.renderOrder = 1;
    return disc;
  }
}

/** Radius of the disc around a footprint, mm. @param {number} force_n */
function haloMm(force_n) {
  return 9 + 9 * Math.sqrt(Math.max(0, force_n));
}

/** @param {[number, number][]} outline */
function middle(outline) {
  const sum = outline.reduce((all, point) => [all[0] + point[0], all[1] + point[1]], [0, 0]);
  return [sum[0] / outline.length, sum[1] / outline.length];
}

/** @type {THREE.Texture | null} */
let disc = null;

/** White that fades out from the middle. */
function softDisc() {
  if (disc) return disc;
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 128;
  const pen = canvas.getContext("2d");
  if (pen) {
    const fade = pen.createRadialGradient(64, 64, 4, 64, 64, 64);
    fade.addColorStop(0, "#ffffffd0");
    fade.addColorStop(0.45, "#ffffff80");
    fade.addColorStop(1, "#ffffff00");
    pen.fillStyle = fade;
    pen.fillRect(0, 0, 128, 128);
  }
  disc = new THREE.CanvasTexture(canvas);
  return disc;
}

/**
 * The base seen from above, front at the bottom.
 * @param {import("./store.js").Store} store
 * @returns {SVGElement}
 */
export function plan(store) {
  const { state, verdict } = store;
  const [long, deep] = state ? state.tank.inner_mm : [600, 300];
  const base = verdict?.base;
  const drawn = svg("svg", { viewBox: `-6 -6 ${long + 12} ${deep + 12}`, class: "map", role: "img", "aria-label": "Plan of the base glass with the places where stones press on it" });
  drawn.append(svg("rect", { x: 0, y: 0, width: long, height: deep, fill: "#eef3ef", stroke: "#8fbcb5", "stroke-width": 5 }));
  const size = long / 34;
  for (const footing of base?.footings ?? []) {
    const swatch = state?.legends.pressure[footing.swatch];
    const outline = visible(footing);
    const points = outline.map(([x, y]) => `${x.toFixed(1)},${(deep - y).toFixed(1)}`).join(" ");
    const [x, y] = middle(outline);
    const colour = swatch?.colour ?? "#c9c5b9";
    const picked = store.picked.includes(footing.piece);
    const mark = svg("g", {},
      svg("title", {}, `${footing.piece}: ${figure(footing.force_n, 1)} N, ${footing.pressure_kpa === null ? "a point or a line" : `${figure(footing.pressure_kpa, 1)} kPa`}`),
      svg("circle", { cx: x, cy: deep - y, r: haloMm(footing.force_n), fill: colour, "fill-opacity": 0.28 }),
      svg("polygon", { points, fill: colour, stroke: picked ? "#ff7a1f" : "#3a2a22", "stroke-width": picked ? 6 : 1.4 }),
    );
    // the small ones would write over each other; their numbers are in the table below
    if (footing.force_n >= TOLD_N) mark.append(svg("text", { x, y: deep - y - haloMm(footing.force_n) - size * 0.2, "font-size": size * 0.9, "text-anchor": "middle", fill: "#26302f", stroke: "#eef3ef", "stroke-width": size / 6, "paint-order": "stroke", "font-weight": 600 }, figure(footing.force_n, 1)));
    drawn.append(mark);
  }
  if (base) {
    const [x, y] = base.at_mm;
    drawn.append(svg("g", { stroke: "#26302f", "stroke-width": 3, fill: "none" }, svg("title", {}, "Greatest tension"), svg("circle", { cx: x, cy: deep - y, r: size * 0.6 }), svg("path", { d: `M${x - size} ${deep - y}h${2 * size}M${x} ${deep - y - size}v${2 * size}` })));
  }
  return drawn;
}
