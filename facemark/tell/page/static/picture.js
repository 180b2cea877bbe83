// The photo with the reading drawn over it, to be moved and enlarged by fingers, wheel, buttons or keys.
// Everything is drawn in the photo's own pixels; signs keep their size on the screen whatever the zoom.

import { h, fill } from "./dom.js";

const MARGIN_FRAC = 0.2; // room around the face at the start, of its length
const MOST_ZOOM = 14;
const TAG = 15; // radius of a letter's disc on the screen while it can be taken hold of [css px]
const TAG_LOOKING = 10; // and while one only looks: it must not hide its mark
const TOUCH = 26; // radius of what a finger can take hold of [css px]
const LOUPE_CSS_PX = 136;

/** @typedef {{x: number, y: number}} Point */

export class PictureView {
  /**
   * @param {string} address  of the picture (a blob)
   * @param {{width_px: number, height_px: number}} photo
   * @param {string} label  for those who do not see it
   */
  constructor(address, photo, label) {
    this.photo = photo;
    this.address = address;
    /** @type {any} */ this.record = null;
    /** @type {Set<string>} */ this.fresh = new Set();
    /** Called for taps on free ground, and while something is dragged. @type {((point: Point) => void) | null} */
    this.onTap = null;
    this.signs = h("svg:g");
    this.image = h("svg:image", { href: address, x: -0.5, y: -0.5, width: photo.width_px, height: photo.height_px, preserveAspectRatio: "none" });
    this.svg = h("svg:svg", { class: "view", role: "group", "aria-label": label }, this.image, this.signs);
    this.loupeSigns = h("svg:g");
    this.loupe = h("svg:svg", { class: "loupe", hidden: true, "aria-hidden": "true" },
      h("svg:image", { href: address, x: -0.5, y: -0.5, width: photo.width_px, height: photo.height_px, preserveAspectRatio: "none" }), this.loupeSigns);
    this.node = h("div", { class: "picture" }, this.svg, this.loupe, h("div", { class: "zoom" },
      h("button", { type: "button", "aria-label": "Larger", onclick: () => this.zoomBy(1.5) }, "+"),
      h("button", { type: "button", "aria-label": "Smaller", onclick: () => this.zoomBy(1 / 1.5) }, "−"),
      h("button", { type: "button", "aria-label": "Whole face", onclick: () => this.showFace() }, "◻")));
    this.box = { x: 0, y: 0, width: photo.width_px, height: photo.height_px };
    this._listen();
    new ResizeObserver(() => { this._fit(); this.draw(); }).observe(this.svg);
  }

  /** @param {any} record @param {Set<string>} [fresh] letters of marks that are new */
  show(record, fresh = new Set()) {
    const first = this.record === null;
    this.record = record;
    this.fresh = fresh;
    if (first) this.showFace();
    else this.draw();
  }

  /** The face, with some room around it. */
  showFace() {
    const points = this.record ? this.record.face.outline_px : [[0, 0], [this.photo.width_px, this.photo.height_px]];
    const xs = points.map((/** @type {number[]} */ p) => p[0]), ys = points.map((/** @type {number[]} */ p) => p[1]);
    const left = Math.min(...xs), right = Math.max(...xs), top = Math.min(...ys), bottom = Math.max(...ys);
    const margin = MARGIN_FRAC * (right - left);
    this.box = { x: left - margin, y: top - margin, width: right - left + 2 * margin, height: bottom - top + 2 * margin };
    this._fit();
    this.draw();
  }

  /** @param {number} factor @param {Point} [about] */
  zoomBy(factor, about) {
    const middle = about || { x: this.box.x + this.box.width / 2, y: this.box.y + this.box.height / 2 };
    const width = Math.min(this.photo.width_px * 1.2, Math.max(this.photo.width_px / MOST_ZOOM / 2, this.box.width / factor));
    const by = width / this.box.width;
    this.box = {
      x: middle.x - (middle.x - this.box.x) * by,
      y: middle.y - (middle.y - this.box.y) * by,
      width,
      height: this.box.height * by,
    };
    this._fit();
    this.draw();
  }

  /** Photo pixels for one pixel of the screen. */
  get unit() {
    return this.box.width / Math.max(1, this.svg.clientWidth);
  }

  /** Radius of a letter's disc [css px]. */
  get tag() {
    return this.dress ? TAG : TAG_LOOKING;
  }

  /** Where on the photo a finger is. @param {PointerEvent | MouseEvent | WheelEvent} event @returns {Point} */
  at(event) {
    const area = this.svg.getBoundingClientRect();
    return {
      x: this.box.x + ((event.clientX - area.left) / area.width) * this.box.width,
      y: this.box.y + ((event.clientY - area.top) / area.height) * this.box.height,
    };
  }

  /** A point of the face, measured from the sweet spot. @param {number} toe @param {number} high @returns {Point} */
  onFace(toe, high) {
    const { sweet_spot: spot, face } = this.record;
    return {
      x: spot.x_px + toe * face.toe_px_per_mm[0] + high * face.high_px_per_mm[0],
      y: spot.y_px + toe * face.toe_px_per_mm[1] + high * face.high_px_per_mm[1],
    };
  }

  /** Draw everything anew; `extra` and `marks` are hooks of the correcting tools. */
  draw() {
    if (!this.record) return;
    const record = this.record;
    fill(this.signs, this._outline(record), this._region(record), this._rings(record), this._sides(record),
      this._spot(record), this._group(record), this._letters(record), this.extra ? this.extra() : []);
  }

  /** Tools may add handles. @type {(() => any[]) | null} */
  extra = null;

  /** Tools may make marks something to hold. @type {((letter: string, node: Element) => void) | null} */
  dress = null;

  /** @param {Point | null} point  enlarged where a finger hides it; null: gone */
  enlarge(point) {
    this.loupe.toggleAttribute("hidden", point === null);
    if (!point) return;
    const wide = LOUPE_CSS_PX * this.unit * 0.5;
    this.loupe.setAttribute("viewBox", `${point.x - wide / 2} ${point.y - wide / 2} ${wide} ${wide}`);
    const under = point.x < this.box.x + this.box.width * 0.45 && point.y < this.box.y + this.box.height * 0.6;
    this.node.classList.toggle("loupe-right", under);
    const arm = wide * 0.16;
    const cross = `M${point.x - arm} ${point.y}h${2 * arm}M${point.x} ${point.y - arm}v${2 * arm}`;
    fill(this.loupeSigns, h("svg:path", { class: "dark", d: cross }), h("svg:path", { class: "edge", d: cross }));
  }

  /** @param {any} record */
  _outline(record) {
    const points = record.face.outline_px.map((/** @type {number[]} */ p) => p.join(",")).join(" ");
    return [h("svg:polygon", { class: "edge-dark", points }), h("svg:polygon", { class: "edge", points })];
  }

  /** @param {any} record */
  _region(record) {
    const region = record.pattern.region;
    if (!region || region.long_mm > 40) return [];
    const turn = (region.tilt_deg * Math.PI) / 180;
    const points = Array.from({ length: 73 }, (_, i) => {
      const angle = (i / 72) * 2 * Math.PI;
      const long = region.long_mm * Math.cos(angle), short = region.short_mm * Math.sin(angle);
      const toe = long * Math.cos(turn) - short * Math.sin(turn), high = long * Math.sin(turn) + short * Math.cos(turn);
      const { x, y } = this.onFace(record.pattern.toe_mm + toe, record.pattern.high_mm + high);
      return `${x.toFixed(1)},${y.toFixed(1)}`;
    }).join(" ");
    return [h("svg:polyline", { class: "region-dark", points }), h("svg:polyline", { class: "region", points })];
  }

  /** @param {any} record */
  _rings(record) {
    return record.marks.map((/** @type {any} */ mark) => {
      const r = mark.diameter_mm / 2 / record.face.mm_per_px;
      const at = { cx: mark.x_px, cy: mark.y_px, r };
      const look = ["ring", mark.sure ? "" : "likely", this.fresh.has(mark.letter) ? "new" : "", mark.by_hand ? "hand" : ""].join(" ");
      return [h("svg:circle", { class: "dark", ...at }), h("svg:circle", { class: look, ...at })];
    });
  }

  /** A sign that keeps its size on the screen. @param {Point} point @param {any} attributes @param {...any} children */
  sign(point, attributes, ...children) {
    return h("svg:g", { transform: `translate(${point.x} ${point.y}) scale(${this.unit})`, ...attributes }, children);
  }

  /** @param {any} record */
  _letters(record) {
    const places = this._apart(record.marks.map((/** @type {any} */ m) => ({ x: m.x_px, y: m.y_px })));
    return record.marks.map((/** @type {any} */ mark, /** @type {number} */ i) => {
      const fresh = this.fresh.has(mark.letter) ? "new" : "";
      const place = places[i], dx = (mark.x_px - place.x) / this.unit, dy = (mark.y_px - place.y) / this.unit;
      const node = this.sign(place, { "data-letter": mark.letter },
        Math.hypot(dx, dy) > 4 ? [h("svg:line", { class: "leader", x1: 0, y1: 0, x2: dx, y2: dy }), h("svg:circle", { class: "tag", cx: dx, cy: dy, r: 3.5 })] : [],
        h("svg:circle", { class: "focus", r: this.tag + 5 }),
        h("svg:circle", { class: `tag ${fresh}`, r: this.tag }),
        h("svg:text", { class: `letter ${fresh} ${this.dress ? "" : "looking"}` }, mark.letter));
      if (this.dress) this.dress(mark.letter, node);
      return node;
    });
  }

  /** Letters pushed apart until none hides another. @param {Point[]} centres @returns {Point[]} */
  _apart(centres) {
    const gap = 2.15 * this.tag * this.unit;
    const places = centres.map((c) => ({ ...c }));
    for (let round = 0; round < 60; round++) {
      let moved = false;
      for (let i = 0; i < places.length; i++) {
        for (let j = 0; j < i; j++) {
          const dx = places[i].x - places[j].x, dy = places[i].y - places[j].y, far = Math.hypot(dx, dy);
          if (far >= gap) continue;
          const push = (gap - far) * 0.55, ux = far > 1e-6 ? dx / far : Math.cos(i), uy = far > 1e-6 ? dy / far : Math.sin(i);
          places[i].x += ux * push; places[i].y += uy * push;
          places[j].x -= ux * push; places[j].y -= uy * push;
          moved = true;
        }
      }
      if (!moved) break;
    }
    return places;
  }

  /** @param {any} record */
  _group(record) {
    if (record.marks.length < 2) return [];
    const diamond = "M0-9L9 0L0 9L-9 0Z";
    return this.sign(this.onFace(record.group.toe_mm, record.group.high_mm), {}, h("svg:path", { class: "group", d: diamond }));
  }

  /** @param {any} record */
  _spot(record) {
    const lines = "M-13 0H13M0-13V13M-7 0a7 7 0 1 0 14 0a7 7 0 1 0-14 0";
    const node = this.sign({ x: record.sweet_spot.x_px, y: record.sweet_spot.y_px }, { "data-spot": "" },
      h("svg:circle", { class: "focus", r: 18 }), h("svg:path", { class: "cross-dark", d: lines }), h("svg:path", { class: "cross", d: lines }));
    if (this.dress) this.dress("", node);
    return node;
  }

  /** TOE and HEEL beside the face. @param {any} record */
  _sides(record) {
    const { face } = record, [dx, dy] = face.toe_px_per_mm, long = Math.hypot(dx, dy);
    const along = face.outline_px.map((/** @type {number[]} */ p) => ((p[0] - face.centre_px[0]) * dx + (p[1] - face.centre_px[1]) * dy) / long);
    const gap = 22 * this.unit;
    return [["TOE", Math.max(...along) + gap], ["HEEL", Math.min(...along) - gap]].map(([word, reach]) => this.sign(
      { x: face.centre_px[0] + (dx / long) * Number(reach), y: face.centre_px[1] + (dy / long) * Number(reach) }, {}, h("svg:text", { class: "side" }, word)));
  }

  /** Make the box as wide for its height as the screen is. */
  _fit() {
    const wide = this.svg.clientWidth, high = this.svg.clientHeight;
    if (!wide || !high) return;
    const { x, y, width, height } = this.box, aspect = wide / high;
    const w = Math.max(width, height * aspect), t = w / aspect;
    this.box = { x: x + (width - w) / 2, y: y + (height - t) / 2, width: w, height: t };
    this.svg.setAttribute("viewBox", `${this.box.x} ${this.box.y} ${this.box.width} ${this.box.height}`);
  }

  /** One finger moves the picture, two enlarge it; a short touch is a tap. */
  _listen() {
    /** @type {Map<number, PointerEvent>} */ const down = new Map();
    let start = { x: 0, y: 0 }, moved = false;
    this.svg.addEventListener("pointerdown", (/** @type {PointerEvent} */ event) => {
      if (event.defaultPrevented) return;
      down.set(event.pointerId, event);
      this.svg.setPointerCapture(event.pointerId);
      start = { x: event.clientX, y: event.clientY };
      moved = down.size > 1;
    });
    this.svg.addEventListener("pointermove", (/** @type {PointerEvent} */ event) => {
      const before = down.get(event.pointerId);
      if (!before) return;
      if (Math.hypot(event.clientX - start.x, event.clientY - start.y) > 8) moved = true;
      if (down.size === 1 && moved) {
        this.box.x -= (event.clientX - before.clientX) * this.unit;
        this.box.y -= (event.clientY - before.clientY) * this.unit;
        this._fit();
      } else if (down.size === 2) {
        const other = /** @type {PointerEvent} */ ([...down.values()].find((one) => one.pointerId !== event.pointerId));
        const far = (/** @type {PointerEvent} */ one) => Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
        this.zoomBy(far(event) / Math.max(1, far(before)), this.at(other));
      }
      down.set(event.pointerId, event);
    });
    for (const name of ["pointerup", "pointercancel"]) {
      this.svg.addEventListener(name, (/** @type {PointerEvent} */ event) => {
        if (!down.delete(event.pointerId)) return;
        if (name === "pointerup" && !moved && this.onTap) this.onTap(this.at(event));
        this.draw();
      });
    }
    this.svg.addEventListener("wheel", (/** @type {WheelEvent} */ event) => {
      event.preventDefault();
      this.zoomBy(event.deltaY < 0 ? 1.15 : 1 / 1.15, this.at(event));
    }, { passive: false });
  }
}

/**
 * Make a sign something to hold and move. Reports every step; the last one with `true`.
 * @param {PictureView} view
 * @param {Element} node
 * @param {(point: Point, done: boolean) => void} onMove
 * @param {(point: Point) => void} [onTap]
 */
export function draggable(view, node, onMove, onTap) {
  const hold = h("svg:circle", { class: "touch", r: TOUCH });
  node.append(hold);
  hold.addEventListener("pointerdown", (/** @type {PointerEvent} */ event) => {
    event.preventDefault();
    hold.setPointerCapture(event.pointerId);
    const start = { x: event.clientX, y: event.clientY };
    let moved = false;
    const move = (/** @type {PointerEvent} */ next) => {
      if (!moved && Math.hypot(next.clientX - start.x, next.clientY - start.y) < 5) return;
      moved = true;
      const point = view.at(next);
      node.setAttribute("transform", `translate(${point.x} ${point.y}) scale(${view.unit})`);
      view.enlarge(point);
      onMove(point, false);
    };
    const up = (/** @type {PointerEvent} */ last) => {
      hold.removeEventListener("pointermove", move);
      view.enlarge(null);
      if (moved) onMove(view.at(last), true);
      else if (onTap) onTap(view.at(last));
    };
    hold.addEventListener("pointermove", move);
    hold.addEventListener("pointerup", up, { once: true });
    hold.addEventListener("pointercancel", () => { hold.removeEventListener("pointermove", move); view.enlarge(null); view.draw(); }, { once: true });
  });
}

/** What each sign means. */
export function key() {
  const sign = (/** @type {any[]} */ ...parts) => h("svg:svg", { viewBox: "-12 -12 24 24", "aria-hidden": "true" }, parts);
  return h("ul", { class: "key when-looking" },
    h("li", {}, sign(h("svg:circle", { class: "ring", r: 8 })), "mark"),
    h("li", {}, sign(h("svg:circle", { class: "ring likely", r: 8 })), "likely mark"),
    h("li", {}, sign(h("svg:path", { class: "group", d: "M0-8L8 0L0 8L-8 0Z" })), "centre of group"),
    h("li", {}, sign(h("svg:path", { class: "cross", d: "M-10 0H10M0-10V10M-6 0a6 6 0 1 0 12 0a6 6 0 1 0-12 0" })), "sweet spot used"));
}
