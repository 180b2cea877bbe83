// Putting a reading right, by finger or by keys. Edits are a list and a pointer; the server works them out on the
// raw reading each time, so undo is only a smaller number.

import { call } from "./api.js";
import { h, say } from "./dom.js";
import { draggable } from "./picture.js";

const KEEP_AFTER_MS = 700; // of quiet, before corrections are written into the book
const RETRY_AFTER_MS = 3000; // when the network is away, or the server busy
const STEP_MM = 0.5; // of an arrow key; with Shift four times as much
const N_HANDLES = 14; // around the outline
const TOOLS = [
  ["move", "Move", "Drag a letter to the middle of its mark. Arrow keys move the chosen one."],
  ["add", "Add", "Tap the middle of a mark that was missed."],
  ["delete", "Delete", "Tap a letter that is no mark of a ball."],
  ["merge", "Merge", "Tap two letters that are one mark."],
  ["split", "Split", "Tap a letter that is two marks; then drag both into place."],
  ["spot", "Sweet spot", "Drag the cross, or tap where the sweet spot lies."],
  ["outline", "Outline", "Drag a handle to bend the edge, or the cross in the middle to shift all of it."],
  ["toe", "Toe end", "Tap the end of the face where the toe is."],
];

export class Corrector {
  /**
   * @param {import("./picture.js").PictureView} view
   * @param {any} reading  as the server gives it: id, record, words, history
   * @param {(reading: any) => void} onChange
   */
  constructor(view, reading, onChange) {
    this.view = view;
    this.id = reading.id;
    this.edits = [...reading.history.edits];
    this.nDone = reading.history.n_done;
    this.record = reading.record;
    this.onChange = onChange;
    this.tool = "move";
    /** @type {string | null} */ this.picked = null;
    this.good = { edits: this.edits, nDone: this.nDone }; // as the server last took them
    this.kept = reading.history.n_corrections; // as often as the book has been written to
    this.unkept = false; // something good is not in the book yet
    this.closed = false;
    /** Where keys have put things since the last answer. @type {Map<string, import("./picture.js").Point>} */ this.moved = new Map();
    this.timer = 0;
    this.asked = 0;
    /** @type {Promise<void>} */ this.turn = Promise.resolve(); // one call at a time, in order
    this.flush = () => this._flush();
    this.rest = () => { if (document.visibilityState === "hidden") this.keep(); };
    addEventListener("pagehide", this.flush);
    document.addEventListener("visibilitychange", this.rest);
    /** The edit that keys made last: the next press goes on with it. @type {any} */ this.nudged = null;
    this.how = h("p", { class: "how quiet" });
    this.undoButton = h("button", { type: "button", "aria-label": "Undo", onclick: () => this.step(-1) }, "↶");
    this.redoButton = h("button", { type: "button", "aria-label": "Redo", onclick: () => this.step(1) }, "↷");
    this.tools = h("div", { class: "tools", role: "group", "aria-label": "What to put right" }, TOOLS.map(([tool, words]) => h("button", {
      type: "button", "data-tool": tool, onclick: () => this.choose(tool),
    }, words)));
    this.all = h("button", { class: "grow", type: "button", onclick: () => this.edit({ edit: "all_marks" }) }, "No mark is missing");
    this.node = h("section", { "aria-label": "Put it right" }, this.tools, this.how,
      h("div", { class: "row" }, this.undoButton, this.redoButton, this.all));
    view.dress = (letter, node) => this._dress(letter, node);
    view.extra = () => this._extra();
    view.onTap = (point) => this._tap(point);
    this.choose("move");
  }

  /** Give the picture back. */
  async close() {
    this.view.dress = this.view.extra = this.view.onTap = null;
    this.view.draw();
    this.closed = true;
    await this.turn;
    if (this.edits !== this.good.edits || this.nDone !== this.good.nDone) await this.look(); // the network was away
    if (this.unkept) await this.keep();
    this._leave();
  }

  /** Nothing more to keep: nobody needs to hear that the page goes away. */
  _leave() {
    if (!this.closed || this.unkept) return;
    removeEventListener("pagehide", this.flush);
    document.removeEventListener("visibilitychange", this.rest);
  }

  /** @param {string} tool */
  choose(tool) {
    this.tool = tool;
    this.picked = null;
    for (const button of this.tools.children) button.setAttribute("aria-pressed", String(button.dataset.tool === tool));
    this._say(/** @type {string[]} */ (TOOLS.find(([name]) => name === tool))[2]);
    this._refresh();
  }

  /** @param {any} edit */
  edit(edit) {
    this.edits = [...this.edits.slice(0, this.nDone), edit];
    this.nDone += 1;
    return this.look();
  }

  /** As ``edit``; key after key is one edit, so that undo takes back the whole way. @param {any} edit @param {string} of */
  nudge(edit, of) {
    const going = this.nudged && this.nudged.of === of && this.edits[this.nDone - 1] === this.nudged.edit;
    if (going) this.nDone -= 1;
    this.nudged = { edit, of };
    return this.edit(edit);
  }

  /** @param {number} by  -1: undo, 1: redo */
  step(by) {
    this.nDone = Math.min(this.edits.length, Math.max(0, this.nDone + by));
    this.moved.clear();
    return this.look();
  }

  /** Ask what the edits amount to; write them into the book when the finger rests. */
  look() {
    const asked = ++this.asked;
    clearTimeout(this.timer);
    return this._next(async () => {
      if (asked !== this.asked) return; // a newer edit waits behind this one
      const tried = { edits: this.edits, nDone: this.nDone };
      try {
        const seen = await call("PUT", this._path(), { edits: tried.edits, n_done: tried.nDone, preview: true });
        this.good = tried;
        this.unkept = true;
        if (asked !== this.asked) return;
        this._take(seen);
      } catch (error) {
        if (this._again(error, () => this.look())) return;
        Object.assign(this, this.good); // back to what is possible, with what had been undone
        this.moved.clear();
        this._tell(error);
        this._refresh();
      }
      this.timer = window.setTimeout(() => this.keep(), KEEP_AFTER_MS);
    });
  }

  /** Into the book, with everything worked out. */
  keep() {
    clearTimeout(this.timer);
    return this._next(async () => {
      if (!this.unkept) return;
      const { edits, nDone } = this.good, asked = this.asked;
      try {
        const kept = await call("PUT", this._path(), { edits, n_done: nDone, n_corrections: this.kept }, true);
        this.kept = kept.history.n_corrections;
        this.unkept = this.good.edits !== edits || this.good.nDone !== nDone;
        if (asked === this.asked) this._take(kept);
        this._leave();
      } catch (error) {
        if (this._again(error, () => this.keep())) return;
        if (/** @type {any} */ (error).status === 409) await this._theirs();
        this._tell(error);
      }
    });
  }

  /** Behind the calls before it. @param {() => Promise<void>} work */
  _next(work) {
    this.turn = this.turn.then(work);
    return this.turn;
  }

  /** Without an answer nothing is lost: it is tried again. @param {any} error @param {() => void} work */
  _again(error, work) {
    if (error.status !== 0 && error.status !== 503) return false;
    this._tell(error);
    clearTimeout(this.timer);
    this.timer = window.setTimeout(work, RETRY_AFTER_MS);
    return true;
  }

  /** Somebody else corrected this reading meanwhile: go on from there. */
  async _theirs() {
    try {
      const reading = await call("GET", `/readings/${this.id}`);
      this.kept = reading.history.n_corrections;
      this.edits = [...reading.history.edits];
      this.nDone = reading.history.n_done;
      this.good = { edits: this.edits, nDone: this.nDone };
      this.unkept = false;
      this._take(reading);
    } catch (error) { this._tell(error); }
  }

  /** The page is closed: what is not in the book yet goes now, without waiting for the calls before it. */
  _flush() {
    if (!this.unkept && this.edits === this.good.edits && this.nDone === this.good.nDone) return;
    this.unkept = false;
    call("PUT", this._path(), { edits: this.edits, n_done: this.nDone, n_corrections: this.kept }, true).then(
      (kept) => { this.kept = kept.history.n_corrections; }, () => { this.unkept = true; });
  }

  _path() {
    return `/readings/${this.id}/corrections`;
  }

  /** @param {any} error */
  _tell(error) {
    const words = `${error.detail} ${error.remedy}`;
    this._say(words);
    say(words);
  }

  /** @param {any} reading */
  _take(reading) {
    this.record = this.view.record = reading.record;
    this.moved.clear();
    this._refresh();
    this.onChange(reading);
  }

  _refresh() {
    this.undoButton.disabled = this.nDone === 0;
    this.redoButton.disabled = this.nDone === this.edits.length;
    this.all.disabled = this.record.separable;
    const focus = this._focused();
    this.view.draw();
    this._focus(focus);
  }

  /** @param {string} words */
  _say(words) {
    this.how.textContent = words;
  }

  /** A mark (or the sweet spot, "") as something to hold, tap or move by keys. @param {string} letter @param {any} node */
  _dress(letter, node) {
    const spot = letter === "";
    if (spot !== (this.tool === "spot") || this.tool === "outline" || this.tool === "toe") return;
    const mark = spot ? this.record.sweet_spot : this.record.marks.find((/** @type {any} */ m) => m.letter === letter);
    node.setAttribute("tabindex", "0");
    node.setAttribute("role", "button");
    node.setAttribute("aria-label", spot ? "Sweet spot" : `Mark ${letter}, ${placeWords(mark)}`);
    if (this.picked === letter && !spot) node.classList.add("picked");
    node.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => this._key(event, letter, mark));
    const put = (/** @type {any} */ point) => this.edit(spot
      ? { edit: "move_sweet_spot", ...px(point) } : { edit: "move_mark", letter, ...px(point) });
    draggable(this.view, node, (point, done) => { if (done) put(point); }, (point) => (spot ? put(point) : this._pick(letter)));
  }

  /** @param {KeyboardEvent} event @param {string} letter @param {any} mark */
  _key(event, letter, mark) {
    const step = STEP_MM * (event.shiftKey ? 4 : 1) / this.record.face.mm_per_px;
    /** @type {Record<string, number[]>} */
    const ways = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (ways[event.key]) {
      event.preventDefault();
      const at = this.moved.get(letter) || { x: mark.x_px, y: mark.y_px };
      const to = { x: at.x + ways[event.key][0], y: at.y + ways[event.key][1] };
      this.moved.set(letter, to); // the next press may come before the answer to this one
      const point = px(to);
      this.nudge(letter === "" ? { edit: "move_sweet_spot", ...point } : { edit: "move_mark", letter, ...point }, `mark ${letter}`);
    } else if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      if (letter !== "") this.edit({ edit: "delete_mark", letter });
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      if (letter !== "") this._pick(letter);
    }
  }

  /** A letter was tapped. @param {string} letter */
  _pick(letter) {
    const mark = this.record.marks.find((/** @type {any} */ m) => m.letter === letter);
    if (this.tool === "delete") this.edit({ edit: "delete_mark", letter });
    else if (this.tool === "split") {
      const off = mark.diameter_mm / 4 / this.record.face.mm_per_px;
      this.edit({ edit: "split_mark", letter, x_px: mark.x_px - off, y_px: mark.y_px, other_x_px: mark.x_px + off, other_y_px: mark.y_px });
      this.choose("move");
      this._say("Now drag both letters to their middles.");
    } else if (this.tool === "merge" && this.picked && this.picked !== letter) {
      const first = this.picked;
      this.picked = null;
      this.edit({ edit: "merge_marks", letter: first, other: letter });
    } else {
      this.picked = this.picked === letter ? null : letter;
      if (this.tool === "merge") this._say(this.picked ? `${letter}, and which other one?` : "Tap two letters that are one mark.");
      this._refresh();
    }
  }

  /** Free ground was tapped. @param {import("./picture.js").Point} point */
  _tap(point) {
    if (this.tool === "add") this.edit({ edit: "add_mark", ...px(point) });
    if (this.tool === "spot") this.edit({ edit: "move_sweet_spot", ...px(point) });
    if (this.tool === "toe") this.edit({ edit: "toe_side", ...px(point) });
  }

  /** Handles around the outline, and one in its middle. */
  _extra() {
    if (this.tool !== "outline") return [];
    const outline = this.record.face.outline_px, n = outline.length;
    const handles = Array.from({ length: N_HANDLES }, (_, i) => {
      const index = Math.round((i * n) / N_HANDLES) % n, [x, y] = outline[index];
      const node = this.view.sign({ x, y }, { tabindex: 0, role: "button", "aria-label": `Edge, handle ${i + 1} of ${N_HANDLES}` },
        h("svg:circle", { class: "focus", r: 16 }), h("svg:circle", { class: "handle", r: 9 }));
      const bending = (/** @type {import("./picture.js").Point} */ point) => ({ edit: "draw_outline", points_px: bent(outline, index, point) });
      draggable(this.view, node, (point, done) => { if (done) this.edit(bending(point)); });
      node.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => this._nudge(event, (dx, dy) => {
        const at = this.moved.get(`edge ${i}`) || { x, y }, to = { x: at.x + dx, y: at.y + dy };
        this.moved.set(`edge ${i}`, to);
        this.nudge(bending(to), `edge ${i}`);
      }));
      return node;
    });
    const [cx, cy] = this.record.face.centre_px;
    const shift = (/** @type {number} */ dx, /** @type {number} */ dy) => this.edit({ edit: "shift_outline", right_px: dx, down_px: dy });
    const middle = this.view.sign({ x: cx, y: cy }, { tabindex: 0, role: "button", "aria-label": "The whole outline" },
      h("svg:circle", { class: "focus", r: 24 }), h("svg:circle", { class: "handle", r: 15 }), h("svg:path", { class: "dark", d: "M-9 0H9M0-9V9M-9 0l3-3M-9 0l3 3M9 0l-3-3M9 0l-3 3" }));
    draggable(this.view, middle, (point, done) => { if (done) shift(point.x - cx, point.y - cy); });
    middle.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => this._nudge(event, shift));
    return [...handles, middle];
  }

  /** @param {KeyboardEvent} event @param {(dx: number, dy: number) => void} onStep */
  _nudge(event, onStep) {
    const step = STEP_MM * (event.shiftKey ? 4 : 1) / this.record.face.mm_per_px;
    /** @type {Record<string, number[]>} */
    const ways = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (!ways[event.key]) return;
    event.preventDefault();
    onStep(ways[event.key][0], ways[event.key][1]);
  }

  _focused() {
    const active = document.activeElement;
    return active instanceof SVGElement && this.view.svg.contains(active) ? active.getAttribute("aria-label") : null;
  }

  /** After a redraw the same mark keeps the focus. @param {string | null} label */
  _focus(label) {
    if (!label) return;
    const start = label.split(",")[0];
    for (const node of this.view.svg.querySelectorAll("[aria-label]")) {
      if (node.getAttribute("aria-label").split(",")[0] === start) node.focus({ preventScroll: true });
    }
  }
}

/** @param {import("./picture.js").Point} point */
function px(point) {
  return { x_px: Math.round(point.x * 100) / 100, y_px: Math.round(point.y * 100) / 100 };
}

/** @param {any} mark */
function placeWords(mark) {
  const toe = Math.round(Math.abs(mark.toe_mm)), high = Math.round(Math.abs(mark.high_mm));
  return `${toe} mm ${mark.toe_mm > 0 ? "toe" : "heel"}, ${high} mm ${mark.high_mm > 0 ? "high" : "low"}`;
}

/**
 * The outline pulled to a point: its neighbours follow, the farther the less.
 * @param {number[][]} outline @param {number} index @param {import("./picture.js").Point} point
 */
export function bent(outline, index, point) {
  const n = outline.length, reach = n / N_HANDLES;
  const [x, y] = outline[index], dx = point.x - x, dy = point.y - y;
  const all = outline.map(([ox, oy], i) => {
    const apart = Math.min(Math.abs(i - index), n - Math.abs(i - index)) / reach;
    const pull = Math.exp(-0.5 * apart * apart * 2.2);
    return [Math.round((ox + dx * pull) * 10) / 10, Math.round((oy + dy * pull) * 10) / 10];
  });
  const every = Math.ceil(all.length / 120); // as many points as say something
  return all.filter((_, i) => i % every === 0);
}

