// What did each ball do? Two taps a ball: where it started, how it curved.

import { call } from "./api.js";
import { choice, fill, h, say, trouble } from "./dom.js";
import { choices, now, remember } from "./state.js";

const NEXT_PHOTO_AFTER = 3; // balls on one coat before marks hide each other; common practice is three to five

const arrow = (/** @type {string} */ d) => h("svg:svg", { viewBox: "0 0 60 40", "aria-hidden": "true", fill: "none", stroke: "currentColor", "stroke-width": 5, "stroke-linecap": "round", "stroke-linejoin": "round" }, h("svg:path", { d }));
const STARTS = [["left", "M38 37L20 5M19 18l1-13l11 6", "Left of it"], ["on", "M30 37V5M21 14l9-9l9 9", "On it"], ["right", "M22 37L40 5M29 11l11-6l1 13", "Right of it"]];
const CURVES = [["left", "M38 37C40 24 34 12 20 7M31 3L18 6l5 12", "Left"], ["none", "M30 37V5M21 14l9-9l9 9", "No curve"], ["right", "M22 37C20 24 26 12 40 7M29 3l13 3l-5 12", "Right"]];
const PASSES = [["strike_in", "Strike in the zone"], ["start_in", "Start in the corridor"], ["curve_in", "Curve as wanted"]];

/** @param {(step: string) => void} go */
export function ballsScreen(go) {
  const node = h("div");
  let at = now.balls.findIndex((ball) => !ball.start && !ball.curve);
  if (at < 0) at = now.balls.length;
  let timer = 0;

  const keep = () => {
    clearTimeout(timer);
    timer = window.setTimeout(async () => {
      try { await call("PUT", `/sets/${now.set.id}/balls`, { balls: now.balls.filter((ball) => ball) }); }
      catch (error) { fill(problems, trouble(/** @type {any} */ (error))); }
    }, 150);
  };
  const problems = h("div");

  function note(/** @type {string} */ name, /** @type {any} */ value) {
    while (now.balls.length <= at) now.balls.push({});
    now.balls[at][name] = value;
    keep();
    const ball = now.balls[at];
    if ((name === "start" || name === "curve") && ball.start && ball.curve) {
      say(`Ball ${at + 1} noted.`);
      at = now.balls.findIndex((one) => !one.start || !one.curve);
      if (at < 0) at = now.balls.length;
    }
    draw();
  }

  function draw() {
    const ball = now.balls[at] || {};
    const noted = now.balls.filter((one) => one.start && one.curve).length;
    const big = (/** @type {any[]} */ options) => options.map(([value, d, words]) => [value, [h("span", { class: "glyph" }, arrow(d)), words]]);
    fill(node,
      h("h1", { tabindex: -1 }, `Ball ${at + 1}`),
      nextPhoto(go), problems,
      choice("It started, seen over the stick", big(STARTS), ball.start, (value) => note("start", value), "large"),
      choice("Then it curved", big(CURVES), ball.curve, (value) => note("curve", value), "large"),
      h("details", { open: more }, h("summary", { onclick: () => { more = !more; } }, "How far, and which station"),
        amount("Off the line at the start", "start_deg", "degrees", 45, ball, note), amount("Curve, from there", "curve_m", "metres", 150, ball, note),
        PASSES.map(([name, words]) => choice(words, [[true, "Yes"], [false, "No"]], ball[name], (value) => note(name, value)))),
      h("div", { class: "row" },
        h("button", { type: "button", onclick: () => { while (now.balls.length <= at) now.balls.push({}); at = at + 1; keep(); draw(); } }, "I did not see it"),
        h("button", { class: "grow", type: "button", disabled: noted === 0, onclick: () => go("why") }, "What does it mean?")),
      h("h2", {}, `${noted} noted`),
      h("ol", { class: "balls" }, now.balls.map((one, i) => h("li", {}, h("b", {}, i + 1), h("span", {}, ballWords(one)),
        h("button", { type: "button", "aria-label": `Change ball ${i + 1}`, onclick: () => { at = i; draw(); node.querySelector("h1").focus(); } }, "Change"),
        h("button", { class: "away", type: "button", "aria-label": `Delete ball ${i + 1}`, onclick: () => { now.balls.splice(i, 1); at = Math.min(at, now.balls.length); keep(); draw(); } }, "✕")))));
  }
  let more = false;
  draw();
  return node;
}

/**
 * @param {string} label @param {string} name @param {string} unit @param {number} most @param {any} ball
 * @param {(name: string, value: any) => void} note
 */
function amount(label, name, unit, most, ball, note) {
  const input = h("input", { type: "number", min: 0, max: most, step: "any", inputmode: "decimal", id: name, value: ball[name] ?? "" });
  input.addEventListener("change", () => note(name, input.value === "" ? undefined : Math.min(most, Math.max(0, Number(input.value)))));
  return h("div", {}, h("label", { class: "field", for: name }, `${label} `, h("small", {}, unit)), input);
}

/** "started left, no curve" @param {any} ball */
function ballWords(ball) {
  const start = { left: "started left", on: "started on the line", right: "started right" }[/** @type {"left"} */ (ball.start)];
  const curve = { left: "curved left", none: "no curve", right: "curved right" }[/** @type {"left"} */ (ball.curve)];
  const called = ball.called_toe_mm === undefined ? "" : "called";
  return [start, curve, called].filter(Boolean).join(", ") || "not seen";
}

/** After every few balls the powder wants to be photographed. @param {(step: string) => void} go */
function nextPhoto(go) {
  const since = now.balls.filter((one) => one.start || one.curve).length - now.nNoted;
  if (!choices.series || since < NEXT_PHOTO_AFTER) return null;
  return h("div", { class: "note" }, h("p", {}, h("strong", {}, "Next photo now.")), h("p", {}, `${since} balls since the last one: before their marks hide each other.`),
    h("div", { class: "row" }, h("button", { type: "button", onclick: () => go("photo") }, "Photograph"),
      h("button", { class: "plain", type: "button", onclick: () => { remember({ series: false }); say("You will not be asked again."); } }, "Stop asking")));
}
