// Display meshes: fetched once per key, in the layout that the protocol describes.
import * as THREE from "three";

/** sRGB byte to linear: vertex colours are light, not paint. */
const LINEAR = Float32Array.from({ length: 256 }, (_, byte) => new THREE.Color().setRGB(byte / 255, 0, 0, THREE.SRGBColorSpace).r);

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
