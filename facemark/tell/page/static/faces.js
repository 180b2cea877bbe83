// Faces drawn small, from numbers alone: toe on the side where the player sees it on the photo.

import { h } from "./dom.js";

/**
 * An ordinary driver's face outline, as a shape to point at: millimetres, toe plus, up plus, from the middle.
 * @param {number} width @param {number} height
 */
function shape(width, height) {
  const w = width / 2, t = height / 2;
  return `M${-w} ${t * 0.1}C${-w * 1.02} ${-t * 0.7} ${-w * 0.6} ${-t} ${-w * 0.05} ${-t}S${w} ${-t * 0.75} ${w} ${t * 0.02}C${w} ${t * 0.75} ${w * 0.55} ${t} 0 ${t}S${-w * 0.97} ${t * 0.85} ${-w} ${t * 0.1}Z`;
}

/** Right-handed heads show their toe on the left. @param {string | null} hand */
const sign = (hand) => (hand === "left" ? 1 : -1);

/**
 * A small picture of a reading.
 * @param {any} small  width_mm, height_mm, spot_mm, marks_mm, group_mm, hand
 * @param {string} label
 */
export function smallFace(small, label) {
  const { width_mm: w, height_mm: t } = small, s = sign(small.hand);
  const [sx, sy] = small.spot_mm, [gx, gy] = small.group_mm;
  return h("svg:svg", { class: "face", viewBox: `${-w / 2 - 6} ${-t / 2 - 5} ${w + 12} ${t + 10}`, role: "img", "aria-label": label },
    h("svg:path", { class: "shape", d: shape(w, t), transform: `scale(${-s} 1)` }),
    h("svg:path", { class: "spot", d: `M${s * sx - 4} ${-sy}h8M${s * sx} ${-sy - 4}v8` }),
    small.marks_mm.map(([toe, high]) => h("svg:circle", { class: "dot", cx: s * toe, cy: -high, r: 5 })),
    small.marks_mm.length > 1 ? h("svg:path", { class: "mid", d: `M${s * gx} ${-gy - 4}l4 4l-4 4l-4 -4z` }) : null);
}

/**
 * A face to point at: where was it hit? Millimetres from its middle cross come back.
 * @param {Array<{toe: number, high: number}>} pins
 * @param {string | null} hand
 * @param {(toe: number, high: number) => void} onPoint
 */
export function pointFace(pins, hand, onPoint) {
  const s = sign(hand), w = 112, t = 56;
  const node = h("svg:svg", { class: "face", viewBox: "-68 -36 136 72", role: "application", tabindex: 0, "aria-label": "A face. Arrow keys move the aim, Enter calls a ball there." },
    h("svg:path", { class: "shape", d: shape(w, t), transform: `scale(${-s} 1)` }),
    h("svg:path", { class: "spot", d: "M-5 0h10M0-5v10" }),
    h("svg:text", { x: s * 62, y: 0, transform: `rotate(-90 ${s * 62} 0)` }, "TOE"),
    h("svg:text", { x: -s * 62, y: 0, transform: `rotate(-90 ${-s * 62} 0)` }, "HEEL"),
    pins.map((pin, i) => [
      h("svg:circle", { class: "pin", cx: s * pin.toe, cy: -pin.high, r: 4.4 }),
      h("svg:text", { class: "pin-n", x: s * pin.toe, y: -pin.high }, i + 1)]));
  const aim = h("svg:circle", { class: "dot", r: 6, cx: 0, cy: 0, visibility: "hidden" });
  node.append(aim);
  node.addEventListener("click", (/** @type {MouseEvent} */ event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(node.getScreenCTM().inverse());
    onPoint(Math.round(s * at.x), Math.round(-at.y));
  });
  let x = 0, y = 0;
  node.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
    /** @type {Record<string, number[]>} */
    const ways = { ArrowLeft: [-2, 0], ArrowRight: [2, 0], ArrowUp: [0, -2], ArrowDown: [0, 2] };
    if (ways[event.key]) {
      event.preventDefault();
      x += ways[event.key][0]; y += ways[event.key][1];
      aim.setAttribute("cx", String(x)); aim.setAttribute("cy", String(y)); aim.setAttribute("visibility", "visible");
    } else if (event.key === "Enter") onPoint(Math.round(s * x), Math.round(-y));
  });
  return node;
}
