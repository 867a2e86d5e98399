// The signs that stand on stones beside their colours, as small round textures.
import * as THREE from "three";

/** @type {Map<string, THREE.Texture>} */
const made = new Map();

/**
 * @param {string} mark one sign
 * @returns {THREE.Texture}
 */
export function signFor(mark) {
  const known = made.get(mark);
  if (known) return known;
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = 64;
  const pen = canvas.getContext("2d");
  if (pen) {
    pen.beginPath();
    pen.arc(32, 32, 28, 0, 2 * Math.PI);
    pen.fillStyle = "#fbf9f3";
    pen.fill();
    pen.lineWidth = 3;
    pen.strokeStyle = "#26302f";
    pen.stroke();
    pen.fillStyle = "#26302f";
    pen.font = "700 38px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillText(mark, 32, 34);
  }
  const texture = new THREE.CanvasTexture(canvas);
  texture.colorSpace = THREE.SRGBColorSpace;
  made.set(mark, texture);
  return texture;
}
