// Where one looks from: front, corner, above, and exactly where the scene's camera stands.
import * as THREE from "three";
import { byId, h, segments } from "./dom.js";

const FREE_ANGLE = 32;
const FROM = { front: [0, -1, 0.05], corner: [0.48, -1, 0.42], top: [0, -0.001, 1] };

export class Looking {
  /**
   * @param {import("./view.js").View} view
   * @param {import("./store.js").Store} store
   * @param {import("./tank.js").Tank} tank
   */
  constructor(view, store, tank) {
    this.view = view;
    this.store = store;
    this.tank = tank;
    this.now = "";
    this.frame = byId("frame");
    this.edge = h("div");
    this.frame.append(this.edge);
    this.press = segments(byId("views"), [
      { value: "front", words: "Front", title: "Look from the front" },
      { value: "corner", words: "Corner", title: "Look from the front right corner" },
      { value: "top", words: "Above", title: "Look from above" },
      { value: "camera", words: "Camera", title: "Stand where the camera stands" },
    ], (value) => this.look(value));
    byId("views").classList.add("seg");
    let turning = false;
    view.orbit.addEventListener("start", () => (turning = true));
    view.orbit.addEventListener("end", () => (turning = false));
    view.orbit.addEventListener("change", () => {
      if (turning && this.now) this.free();
    });
    view.resized = () => {
      if (this.now) this.look(this.now);
    };
    view.after.push(() => this.fitFrame());
    store.on(["state"], () => {
      if (this.now === "camera") this.look("camera");
    });
  }

  /** The hand has turned the view: it is none of the set ones any more. */
  free() {
    this.now = "";
    this.press("");
    this.frame.hidden = true;
    if (this.view.camera.fov !== FREE_ANGLE) {
      // keep what is in sight as large as it was
      const { camera, orbit } = this.view;
      const ratio = Math.tan(THREE.MathUtils.degToRad(camera.fov / 2)) / Math.tan(THREE.MathUtils.degToRad(FREE_ANGLE / 2));
      camera.position.sub(orbit.target).multiplyScalar(ratio).add(orbit.target);
      camera.fov = FREE_ANGLE;
      camera.updateProjectionMatrix();
    }
  }

  /** @param {string} name */
  look(name) {
    this.now = name;
    this.press(name);
    this.frame.hidden = name !== "camera";
    if (name === "camera") this.standAtCamera();
    else this.stand(FROM[/** @type {keyof typeof FROM} */ (name)]);
    this.view.draw();
  }

  /**
   * So far away that the whole tank is in sight.
   * @param {number[]} from direction
   */
  stand(from) {
    const { camera, orbit } = this.view;
    const size = this.tank.size;
    camera.up.set(0, 0, 1);
    camera.fov = FREE_ANGLE;
    camera.updateProjectionMatrix();
    orbit.target.set(size.x / 2, size.y / 2, size.z * (from[2] > 0.9 ? 0 : 0.42));
    const way = new THREE.Vector3(from[0], from[1], from[2]).normalize();
    let far = size.length();
    // corners of the tank, pushed back until the farthest out is within the view
    for (let tries = 0; tries < 40; tries++) {
      camera.position.copy(orbit.target).addScaledVector(way, far);
      camera.lookAt(orbit.target);
      camera.updateMatrixWorld();
      if (this.reach() < 0.9) break;
      far *= 1.06;
    }
    orbit.update();
  }

  /** How far out of the middle of the view the tank reaches; 1 is the edge. */
  reach() {
    const size = this.tank.size;
    let most = 0;
    for (const x of [0, size.x]) for (const y of [0, size.y]) for (const z of [-20, size.z]) {
      const at = new THREE.Vector3(x, y, z).project(this.view.camera);
      if (at.z > 1) return Infinity;
      most = Math.max(most, Math.abs(at.x), Math.abs(at.y));
    }
    return most;
  }

  /** The eye at the lens, the angle of view widened so that the camera's frame fits into this window. */
  standAtCamera() {
    const lens = this.store.state?.camera;
    if (!lens) return;
    const { camera, orbit } = this.view;
    camera.position.set(...lens.position_mm);
    orbit.target.set(...lens.look_at_mm);
    const [wide, tall] = lens.angles_deg.map((angle) => Math.tan(THREE.MathUtils.degToRad(angle / 2)));
    const half = Math.max(tall, wide / camera.aspect) * 1.06;
    camera.fov = THREE.MathUtils.radToDeg(2 * Math.atan(half));
    camera.updateProjectionMatrix();
    orbit.update();
  }

  /** The camera's frame, drawn over the view. */
  fitFrame() {
    const lens = this.store.state?.camera;
    if (this.frame.hidden || !lens) return;
    const { clientWidth, clientHeight } = this.view.into;
    const half = Math.tan(THREE.MathUtils.degToRad(this.view.camera.fov / 2));
    const [wide, tall] = lens.angles_deg.map((angle) => Math.tan(THREE.MathUtils.degToRad(angle / 2)));
    const height = (clientHeight * tall) / half;
    const width = (clientHeight * wide) / half;
    Object.assign(this.edge.style, { width: `${width}px`, height: `${height}px`, left: `${(clientWidth - width) / 2}px`, top: `${(clientHeight - height) / 2}px` });
  }
}
