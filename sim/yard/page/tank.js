// The tank around the stones: bench, base, panes, water, ground.
import * as THREE from "three";

/** @typedef {import("./messages.js").TankState} TankState */

// clear things are drawn without light of their own: cheap, and calm
const EDGE = { color: "#8fbcb5", transparent: true, opacity: 0.62, depthWrite: false, toneMapped: false };
const GLASS = { color: "#cfe6e1", transparent: true, opacity: 0.1, depthWrite: false, toneMapped: false };

export class Tank {
  /** @param {import("./view.js").View} view */
  constructor(view) {
    this.view = view;
    this.group = new THREE.Group();
    this.ground = new THREE.Group();
    view.scene.add(this.group);
    this.drawn = "";
    this.size = new THREE.Vector3(600, 300, 300);
  }

  /**
   * Draw it, unless it is drawn already.
   * @param {TankState} tank
   * @returns {boolean} whether it changed
   */
  show(tank) {
    const wanted = JSON.stringify(tank);
    if (wanted === this.drawn) return false;
    this.drawn = wanted;
    this.group.traverse((thing) => {
      if (thing instanceof THREE.Mesh) thing.geometry.dispose();
    });
    this.group.clear();
    this.size.set(...tank.inner_mm);
    this.bench(tank);
    this.panes(tank);
    if (tank.water_mm > 0) this.water(tank);
    this.bed(tank);
    this.view.fit(this.size);
    return true;
  }

  /**
   * A box by its middle, in front of what is behind it by `order`.
   * @param {[number, number, number]} size
   * @param {[number, number, number]} at
   * @param {THREE.Material} material
   * @param {number} [order]
   */
  box(size, at, material, order = 0) {
    const made = new THREE.Mesh(new THREE.BoxGeometry(...size), material);
    made.position.set(...at);
    made.renderOrder = order;
    this.group.add(made);
    return made;
  }

  /** @param {TankState} tank */
  bench(tank) {
    const [long, deep] = tank.inner_mm;
    const [side, base] = [tank.side_mm, tank.base_mm];
    const shade = new THREE.Mesh(new THREE.CircleGeometry(this.size.length() * 2.4, 64), new THREE.ShadowMaterial({ opacity: 0.3, color: "#4a4032" }));
    shade.position.set(long / 2, deep / 2, -base - 8.5);
    shade.receiveShadow = true;
    this.group.add(shade);
    const pane = this.box([long + 2 * side, deep + 2 * side, base], [long / 2, deep / 2, -base / 2 - 0.5], new THREE.MeshLambertMaterial({ color: "#8fb5ae" }));
    const mat = this.box([long + 50, deep + 50, 8], [long / 2, deep / 2, -base - 4.5], new THREE.MeshLambertMaterial({ color: "#59605b" }));
    pane.castShadow = mat.castShadow = true;
  }

  /** @param {TankState} tank */
  panes(tank) {
    const [long, deep, high] = tank.inner_mm;
    const side = tank.side_mm;
    const glass = new THREE.MeshBasicMaterial(GLASS);
    const edge = new THREE.MeshBasicMaterial(EDGE);
    for (const y of [-side / 2, deep + side / 2]) {
      this.box([long, side, high], [long / 2, y, high / 2], glass, 3);
      this.box([long + 2 * side, side, 4], [long / 2, y, high], edge, 3);
    }
    for (const x of [-side / 2, long + side / 2]) {
      this.box([side, deep, high], [x, deep / 2, high / 2], glass, 3);
      this.box([side, deep, 4], [x, deep / 2, high], edge, 3);
      for (const y of [-side / 2, deep + side / 2]) this.box([side * 0.55, side * 0.55, high], [x, y, high / 2], edge, 3);
    }
    const film = new THREE.MeshBasicMaterial({ color: tank.background[1], transparent: true, opacity: 0.34, depthWrite: false, side: THREE.FrontSide, toneMapped: false });
    const backs = { back: [[long, 0.5, high], [long / 2, deep + side + 0.5, high / 2]], left: [[0.5, deep, high], [-side - 0.5, deep / 2, high / 2]], right: [[0.5, deep, high], [long + side + 0.5, deep / 2, high / 2]] };
    for (const name of tank.film) {
      const where = backs[/** @type {keyof typeof backs} */ (name)];
      if (where) this.box(/** @type {[number, number, number]} */ (where[0]), /** @type {[number, number, number]} */ (where[1]), film, 1);
    }
  }

  /** @param {TankState} tank */
  water(tank) {
    const [long, deep] = tank.inner_mm;
    const top = tank.water_mm;
    const body = new THREE.MeshBasicMaterial({ color: "#5fa8a4", transparent: true, opacity: 0.06, depthWrite: false, toneMapped: false });
    this.box([long - 2, deep - 2, top], [long / 2, deep / 2, top / 2], body, 2);
    const skin = new THREE.Mesh(new THREE.PlaneGeometry(long, deep), new THREE.MeshBasicMaterial({ color: "#bfe3df", transparent: true, opacity: 0.2, side: THREE.DoubleSide, depthWrite: false, toneMapped: false, forceSinglePass: true }));
    skin.position.set(long / 2, deep / 2, top);
    skin.renderOrder = 2;
    this.group.add(skin);
    const line = new THREE.MeshBasicMaterial({ color: "#3f9aa0", transparent: true, opacity: 0.9 });
    for (const y of [0, deep]) this.box([long, 2.2, 2.2], [long / 2, y, top], line, 4);
    for (const x of [0, long]) this.box([2.2, deep, 2.2], [x, deep / 2, top], line, 4);
  }

  /**
   * What the stones lie on: sand that rises to the back, or the mat or glass itself.
   * @param {TankState} tank
   */
  bed(tank) {
    const [long, deep] = tank.inner_mm;
    const [front, back] = tank.ground_mm;
    const sandy = front > 0 || back > 0;
    this.ground = new THREE.Group();
    const floor = new THREE.Mesh(new THREE.PlaneGeometry(long, deep), new THREE.MeshLambertMaterial({ color: "#d9ddd3" }));
    floor.position.set(long / 2, deep / 2, tank.floor_mm - 0.2);
    floor.receiveShadow = true;
    this.group.add(floor);
    if (sandy) this.ground.add(sand(long, deep, front, back));
    this.group.add(this.ground);
  }
}

/**
 * A wedge of sand with a speckled top.
 * @param {number} long
 * @param {number} deep
 * @param {number} front depth along the front pane
 * @param {number} back depth along the back pane
 */
function sand(long, deep, front, back) {
  const shape = new THREE.BoxGeometry(long - 0.6, deep - 0.6, 1, 1, 1, 1);
  const at = shape.getAttribute("position");
  for (let k = 0; k < at.count; k++) at.setZ(k, at.getZ(k) > 0 ? (at.getY(k) < 0 ? front : back) : 0.2);
  shape.computeVertexNormals();
  const made = new THREE.Mesh(shape, new THREE.MeshLambertMaterial({ map: grains(long / deep) }));
  made.position.set(long / 2, deep / 2, 0);
  made.receiveShadow = true;
  return made;
}

/**
 * Grains as a texture; the same ones each time.
 * @param {number} ratio
 */
function grains(ratio) {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [Math.round(384 * ratio), 384];
  const pen = canvas.getContext("2d");
  if (pen) {
    pen.fillStyle = "#dcceac";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    let seed = 7;
    const next = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
    const tones = ["#c8b78f", "#e9dfc4", "#b8a67e", "#d4c39d", "#f0e8d2", "#a8997a"];
    for (let k = 0; k < 9000 * ratio; k++) {
      pen.fillStyle = tones[Math.floor(next() * tones.length)];
      pen.globalAlpha = 0.25 + 0.5 * next();
      pen.fillRect(next() * canvas.width, next() * canvas.height, 1 + next() * 1.8, 1 + next() * 1.8);
    }
  }
  const texture = new THREE.CanvasTexture(canvas);
  texture.colorSpace = THREE.SRGBColorSpace;
  texture.anisotropy = 8;
  return texture;
}
