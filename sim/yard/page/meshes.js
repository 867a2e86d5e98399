// Display meshes: fetched once per key, in the layout that the protocol describes.
import * as THREE from "three";

/** sRGB byte to linear: vertex colours are light, not paint. */
const LINEAR = Float32Array.from({ length: 256 }, (_, byte) => new THREE.Color().setRGB(byte / 255, 0, 0, THREE.SRGBColorSpace).r);

const CELLS_PER_RADIUS = 6; // of a coarse mesh

/** @type {Map<string, Promise<THREE.BufferGeometry>>} */
const fetched = new Map();

/**
 * @param {string} key
 * @returns {Promise<THREE.BufferGeometry>}
 */
export function geometry(key) {
  const known = fetched.get(key);
  if (known) return known;
  const coming = fetchMesh(key);
  fetched.set(key, coming);
  coming.catch(() => fetched.delete(key));
  return coming;
}

/** @param {string} key */
async function fetchMesh(key) {
  const answer = await fetch(`/mesh/${encodeURIComponent(key)}`);
  if (!answer.ok) throw new Error(`The mesh ${key} did not come: ${answer.status}.`);
  return read(await answer.arrayBuffer());
}

/** @param {ArrayBuffer} bytes */
export function read(bytes) {
  const length = new DataView(bytes).getUint32(0, true);
  const { vertices, triangles } = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length)));
  let at = 4 + length;
  const positions = new Float32Array(bytes, at, vertices * 3);
  at += positions.byteLength;
  const normals = new Float32Array(bytes, at, vertices * 3);
  at += normals.byteLength;
  const paint = new Uint8Array(bytes, at, vertices * 4);
  at += paint.byteLength;
  const corners = new Uint32Array(bytes, at, triangles * 3);
  const colours = new Float32Array(vertices * 3);
  for (let k = 0; k < vertices; k++) for (let c = 0; c < 3; c++) colours[k * 3 + c] = LINEAR[paint[k * 4 + c]];
  const made = new THREE.BufferGeometry();
  made.setAttribute("position", new THREE.BufferAttribute(positions, 3));
  made.setAttribute("normal", new THREE.BufferAttribute(normals, 3));
  made.setAttribute("color", new THREE.BufferAttribute(colours, 3));
  made.setIndex(new THREE.BufferAttribute(corners, 1));
  made.computeBoundingSphere();
  made.computeBoundingBox();
  return made;
}

/** @type {WeakMap<THREE.BufferGeometry, THREE.BufferGeometry>} */
const coarser = new WeakMap();

/**
 * The same stone with fewer corners, for pictures that must be quick: of all corners in a small cell one is kept.
 * @param {THREE.BufferGeometry} fine
 * @returns {THREE.BufferGeometry}
 */
export function coarse(fine) {
  const known = coarser.get(fine);
  if (known) return known;
  const made = new THREE.BufferGeometry();
  for (const name of ["position", "normal", "color"]) made.setAttribute(name, fine.getAttribute(name));
  made.setIndex(new THREE.BufferAttribute(Uint32Array.from(clustered(fine)), 1));
  made.boundingSphere = fine.boundingSphere;
  made.boundingBox = fine.boundingBox;
  coarser.set(fine, made);
  return made;
}

/** @param {THREE.BufferGeometry} fine */
function clustered(fine) {
  const at = fine.getAttribute("position");
  const low = fine.boundingBox?.min ?? new THREE.Vector3();
  const cell = (fine.boundingSphere?.radius ?? 1) / CELLS_PER_RADIUS;
  const across = 2 * CELLS_PER_RADIUS + 1; // a box is no longer than the sphere about it is wide
  const first = new Int32Array(across ** 3).fill(-1);
  const kept = new Uint32Array(at.count);
  for (let k = 0; k < at.count; k++) {
    const x = Math.floor((at.getX(k) - low.x) / cell);
    const y = Math.floor((at.getY(k) - low.y) / cell);
    const z = Math.floor((at.getZ(k) - low.z) / cell);
    const where = (x * across + y) * across + z;
    if (first[where] < 0) first[where] = k;
    kept[k] = first[where];
  }
  const corners = fine.getIndex();
  const out = [];
  for (let k = 0; corners && k < corners.count; k += 3) {
    const a = kept[corners.getX(k)];
    const b = kept[corners.getX(k + 1)];
    const c = kept[corners.getX(k + 2)];
    if (a !== b && b !== c && c !== a) out.push(a, b, c);
  }
  return out;
}
