// The stones in the view: meshes in their places, colours by what is asked, an outline around what is picked.
import * as THREE from "three";
import { coarse, geometry } from "./meshes.js";
import { signFor } from "./signs.js";

/** @typedef {import("./store.js").PieceState} PieceState */
/** @typedef {{mesh: THREE.Mesh<THREE.BufferGeometry, THREE.MeshLambertMaterial>, rim: THREE.Mesh, sign: THREE.Sprite, key: string, fine: THREE.BufferGeometry}} Stone */

const PICK = "#ff7a1f";
const FAULT = "#a3322a";
const UNKNOWN = "#c9c5b9";
const LARGEST_SIGN = 0.019; // of the height of the view, roughly
const SMALLEST_SIGN = 0.011;
const RIM_WIDTH = 0.0024; // of the distance to the eye

export class Stones {
  /**
   * @param {import("./view.js").View} view
   * @param {import("./store.js").Store} store
   */
  constructor(view, store) {
    this.view = view;
    this.store = store;
    /** @type {Map<string, Stone>} */
    this.all = new Map();
    /** @type {Set<string>} under this window's hand: their places come from here, not from the session */
    this.held = new Set();
    this.group = new THREE.Group();
    view.scene.add(this.group);
    this.sample = buildAhead(view);
    view.detail = (fine) => this.detail(fine);
    view.before.push(() => this.turnSigns());
    store.on(["state"], () => void this.sync());
    store.on(["poses"], () => this.placeAll());
    store.on(["picked", "colouring", "verdict", "step", "faults"], () => this.paint());
  }

  /** Bring meshes and places in line with the state; resolves when all meshes are there. */
  async sync() {
    const pieces = this.store.state?.pieces ?? [];
    const wanted = new Set(pieces.map((piece) => piece.id));
    for (const [id, stone] of this.all) if (!wanted.has(id)) this.drop(id, stone);
    await Promise.all(pieces.map((piece) => this.bring(piece)));
    this.placeAll();
    this.paint();
  }

  /** @param {PieceState} piece */
  async bring(piece) {
    const old = this.all.get(piece.id);
    if (old && old.key === piece.mesh) return;
    const shape = await geometry(piece.mesh);
    const now = this.store.piece(piece.id);
    const there = this.all.get(piece.id);
    if (!now || now.mesh !== piece.mesh || there?.key === piece.mesh) return;
    if (there) this.drop(piece.id, there);
    const mesh = stoneOf(shape);
    mesh.name = piece.id;
    const rim = new THREE.Mesh(shape, rimMaterial());
    rim.visible = false;
    rim.raycast = () => {};
    mesh.add(rim);
    const sign = new THREE.Sprite(new THREE.SpriteMaterial({ sizeAttenuation: false, transparent: true, depthWrite: false, toneMapped: false }));
    sign.visible = false;
    sign.raycast = () => {};
    sign.renderOrder = 5;
    this.group.add(mesh, sign);
    this.all.set(piece.id, { mesh, rim, sign, key: piece.mesh, fine: shape });
  }

  /**
   * @param {string} id
   * @param {Stone} stone
   */
  drop(id, stone) {
    this.group.remove(stone.mesh, stone.sign);
    stone.mesh.material.dispose();
    stone.sign.material.dispose();
    this.all.delete(id);
  }

  /** Every stone to where the session says it is, but not those under the hand. */
  placeAll() {
    for (const piece of this.store.state?.pieces ?? []) {
      const stone = this.all.get(piece.id);
      if (!stone || this.held.has(piece.id)) continue;
      stone.mesh.position.set(...piece.position_mm);
      const [w, x, y, z] = piece.quaternion;
      stone.mesh.quaternion.set(x, y, z, w);
    }
    this.view.shadowsChanged();
  }

  /** Colours, outlines, ghosts and signs. */
  paint() {
    const { store } = this;
    const built = store.built;
    const faulty = new Set(store.faults.flatMap((fault) => (fault.fault === "hovers" ? [fault.piece] : [fault.piece, fault.other])));
    for (const piece of store.state?.pieces ?? []) {
      const stone = this.all.get(piece.id);
      if (!stone) continue;
      stone.mesh.visible = !piece.hidden && (!built || built.has(piece.id));
      const picked = store.picked.includes(piece.id);
      stone.rim.visible = picked || faulty.has(piece.id);
      const rim = /** @type {THREE.ShaderMaterial} */ (stone.rim.material);
      rim.uniforms.colour.value.set(picked ? PICK : FAULT);
      rim.uniforms.dash.value = faulty.has(piece.id) ? 1 : 0;
      this.tint(stone, piece, picked);
    }
    this.view.shadowsChanged();
  }

  /**
   * @param {Stone} stone
   * @param {PieceState} piece
   * @param {boolean} picked
   */
  tint(stone, piece, picked) {
    const { colouring } = this.store;
    const swatch = this.store.marginSwatch(piece.id);
    const margin = colouring === "margin";
    const ghost = colouring === "base";
    const material = stone.mesh.material;
    const rebuilt = material.vertexColors === margin || material.transparent !== ghost;
    material.vertexColors = !margin;
    material.color.set(margin ? (swatch?.colour ?? UNKNOWN) : "#ffffff");
    material.transparent = ghost;
    material.opacity = ghost ? (picked ? 0.45 : 0.16) : 1;
    material.depthWrite = !ghost;
    if (rebuilt) material.needsUpdate = true;
    stone.mesh.castShadow = !ghost;
    stone.sign.visible = margin && stone.mesh.visible;
    if (margin) {
      stone.sign.material.map = signFor(swatch?.mark ?? "?");
      stone.sign.material.needsUpdate = true;
    }
  }

  /**
   * Whole meshes, or coarse ones while something moves on a computer without a graphics card.
   * @param {boolean} fine
   */
  detail(fine) {
    for (const stone of this.all.values()) {
      const wanted = fine ? stone.fine : coarse(stone.fine);
      if (stone.mesh.geometry === wanted) continue;
      stone.mesh.geometry = wanted;
      stone.rim.geometry = wanted;
    }
  }

  /** Signs stand in front of their stones, whatever way one looks. */
  turnSigns() {
    const eye = this.view.camera.position;
    for (const { mesh, sign } of this.all.values()) {
      if (!sign.visible) continue;
      const reach = (mesh.geometry.boundingSphere?.radius ?? 0) * 0.9;
      // never larger than its stone
      const shown = (0.8 * reach) / eye.distanceTo(mesh.position);
      sign.scale.setScalar(Math.min(LARGEST_SIGN, Math.max(SMALLEST_SIGN, shown)));
      sign.position.copy(mesh.position).addScaledVector(eye.clone().sub(mesh.position).normalize(), reach);
    }
  }

  /**
   * The stone under a place on the page.
   * @param {number} clientX
   * @param {number} clientY
   * @returns {string | null}
   */
  at(clientX, clientY) {
    const shown = [...this.all.values()].map((stone) => stone.mesh).filter((mesh) => mesh.visible);
    return this.view.rayAt(clientX, clientY).intersectObjects(shown, false)[0]?.object.name ?? null;
  }
}

/** @param {THREE.BufferGeometry} shape */
function stoneOf(shape) {
  const mesh = new THREE.Mesh(shape, new THREE.MeshLambertMaterial({ vertexColors: true }));
  mesh.castShadow = mesh.receiveShadow = true;
  return mesh;
}

/**
 * Has the shader of stones built while their meshes are still on the way: without a graphics card that takes a good part
 * of a second. It lasts as long as the sample does.
 * @param {import("./view.js").View} view
 */
function buildAhead(view) {
  const shape = new THREE.BufferGeometry();
  for (const name of ["position", "normal", "color"]) shape.setAttribute(name, new THREE.BufferAttribute(new Float32Array(9), 3));
  const sample = stoneOf(shape);
  view.renderer.compile(sample, view.camera, view.scene);
  return sample;
}

/** Back faces pushed out: an outline of even width; dashed along the screen where something is wrong. */
function rimMaterial() {
  return new THREE.ShaderMaterial({
    side: THREE.BackSide,
    uniforms: { colour: { value: new THREE.Color(PICK) }, dash: { value: 0 } },
    vertexShader: `void main() {
      vec4 p = modelViewMatrix * vec4(position, 1.0);
      p.xyz += normalize(normalMatrix * normal) * ${RIM_WIDTH.toFixed(4)} * -p.z;
      gl_Position = projectionMatrix * p;
    }`,
    fragmentShader: `uniform vec3 colour; uniform float dash;
    void main() {
      if (dash > 0.5 && mod(gl_FragCoord.x + gl_FragCoord.y, 12.0) > 7.0) discard;
      gl_FragColor = vec4(colour, 1.0);
      #include <colorspace_fragment>
    }`,
  });
}
