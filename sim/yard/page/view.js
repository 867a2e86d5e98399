// The 3D view: renderer, light, camera. All lengths are millimetres in the tank's own frame, z up.
import * as THREE from "three";
import { OrbitControls } from "three/addons/controls/OrbitControls.js";

const STILL_MS = 500;
const FINE_RATIO = 2;
const HELD_RATIO = 0.6; // a third less time to the next picture while a stone is in the hand
const SUN_FROM = new THREE.Vector3(-0.55, -0.75, 1.35);

/**
 * A canvas to draw on, and whether its pictures are computed without a graphics card: then they are drawn a little
 * plainer. Without a card a context takes a good part of a second to make, so this one serves; with one it is made anew
 * with smooth edges.
 */
function drawingCanvas() {
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("webgl2", { alpha: true, antialias: false, stencil: false, depth: true });
  const names = context?.getExtension("WEBGL_debug_renderer_info");
  const name = context && names ? String(context.getParameter(names.UNMASKED_RENDERER_WEBGL)) : "";
  if (context && /swiftshader|llvmpipe|software|basic render/i.test(name)) return { canvas, context };
  context?.getExtension("WEBGL_lose_context")?.loseContext();
  return null;
}

export class View {
  /** @param {HTMLElement} into */
  constructor(into) {
    THREE.Object3D.DEFAULT_UP.set(0, 0, 1);
    this.into = into;
    const own = drawingCanvas();
    this.plain = own !== null;
    this.renderer = new THREE.WebGLRenderer({ ...own, antialias: !this.plain, alpha: true });
    this.renderer.setPixelRatio(this.plain ? 1 : Math.min(devicePixelRatio, 2));
    this.renderer.shadowMap.enabled = true;
    this.renderer.shadowMap.autoUpdate = false;
    this.renderer.toneMapping = THREE.NeutralToneMapping;
    this.renderer.setClearColor(0, 0);
    into.append(this.renderer.domElement);
    this.scene = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(32, 1, 10, 30000);
    this.orbit = new OrbitControls(this.camera, this.renderer.domElement);
    this.orbit.maxPolarAngle = Math.PI * 0.52;
    this.orbit.addEventListener("change", () => this.draw());
    /** @type {(() => void)[]} called after each picture, for what is laid over it */
    this.after = [];
    /** @type {(() => void)[]} called before each picture */
    this.before = [];
    this.resized = () => {};
    /** @type {(fine: boolean) => void} */
    this.detail = () => {};
    this.waiting = false;
    this.stillness = 0;
    this.held = false;
    this.sun = this.light();
    new ResizeObserver(() => this.resize()).observe(into);
  }

  /** A bright sky over a warm bench, one sun with a soft shadow, a little light from the other side. */
  light() {
    // no reflected room: to filter one takes a computer without a graphics card most of a minute
    this.scene.add(new THREE.HemisphereLight("#fffdf6", "#a8977a", 1.25));
    const fill = new THREE.DirectionalLight("#dfeaf0", 0.55);
    fill.position.set(0.9, -0.4, 0.5);
    this.scene.add(fill);
    const sun = new THREE.DirectionalLight("#fff0d8", 3.1);
    sun.castShadow = true;
    sun.shadow.mapSize.setScalar(this.plain ? 1024 : 2048);
    sun.shadow.bias = -4e-4;
    sun.shadow.normalBias = 2;
    sun.shadow.radius = 5;
    this.scene.add(sun, sun.target);
    return sun;
  }

  /**
   * Put light and reach of the camera to the size of the tank.
   * @param {THREE.Vector3} size inner, mm
   */
  fit(size) {
    const middle = size.clone().multiplyScalar(0.5);
    const reach = size.length() * 0.72;
    this.sun.target.position.copy(middle);
    this.sun.position.copy(middle).addScaledVector(SUN_FROM.clone().normalize(), reach * 2.2);
    Object.assign(this.sun.shadow.camera, { left: -reach, right: reach, top: reach, bottom: -reach, near: reach * 0.4, far: reach * 4.5 });
    this.sun.shadow.camera.updateProjectionMatrix();
    this.orbit.minDistance = size.length() * 0.08;
    this.orbit.maxDistance = size.length() * 6;
    this.camera.near = size.length() * 0.01;
    this.camera.far = size.length() * 30;
    this.camera.updateProjectionMatrix();
    this.shadowsChanged();
  }

  /** Stones or their light have changed: shadows are drawn anew with the next picture. */
  shadowsChanged() {
    this.renderer.shadowMap.needsUpdate = !(this.plain && this.held);
    this.draw();
  }

  /** Ask for a picture; however often it is asked, there is one per frame. */
  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      if (this.plain) {
        this.detail(false);
        this.refineLater();
      }
      for (const todo of this.before) todo();
      this.renderer.render(this.scene, this.camera);
      for (const todo of this.after) todo();
    });
  }

  /** Without a graphics card moving pictures are coarse; when all is still for a moment, a fine one follows. */
  refineLater() {
    clearTimeout(this.stillness);
    const began = performance.now();
    const ratio = this.held ? HELD_RATIO : 1;
    if (this.renderer.getPixelRatio() !== ratio) this.renderer.setPixelRatio(ratio);
    // a slow machine gets more time before the fine picture, or it would come between two steps of a hand
    requestAnimationFrame(() => {
      const frame = performance.now() - began;
      clearTimeout(this.stillness);
      this.stillness = setTimeout(() => this.refine(), STILL_MS + 4 * frame);
    });
  }

  resize() {
    const { clientWidth, clientHeight } = this.into;
    if (!clientWidth || !clientHeight) return;
    this.renderer.setSize(clientWidth, clientHeight);
    this.camera.aspect = clientWidth / clientHeight;
    this.camera.updateProjectionMatrix();
    this.resized();
    this.draw();
  }

  refine() {
    if (this.held || this.waiting) return;
    this.detail(true);
    this.renderer.shadowMap.needsUpdate = true;
    this.renderer.setPixelRatio(FINE_RATIO);
    this.renderer.render(this.scene, this.camera);
  }

  /** A hand takes hold of a stone, or lets go: without a graphics card shadows wait until then. @param {boolean} held */
  hold(held) {
    this.held = held;
    if (!held) this.shadowsChanged();
  }

  /**
   * Where a point of the tank is in the view, px from its upper left corner.
   * @param {THREE.Vector3} point
   */
  onScreen(point) {
    const seen = point.clone().project(this.camera);
    return { x: ((seen.x + 1) / 2) * this.into.clientWidth, y: ((1 - seen.y) / 2) * this.into.clientHeight, behind: seen.z > 1 };
  }

  /**
   * The ray through a place on the page.
   * @param {number} clientX
   * @param {number} clientY
   */
  rayAt(clientX, clientY) {
    const box = this.renderer.domElement.getBoundingClientRect();
    const ray = new THREE.Raycaster();
    ray.setFromCamera(new THREE.Vector2(((clientX - box.left) / box.width) * 2 - 1, 1 - ((clientY - box.top) / box.height) * 2), this.camera);
    return ray;
  }
}
