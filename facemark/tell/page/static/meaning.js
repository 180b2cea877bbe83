// What it means: strike, face or path; and what to practise next.

import { call, fetchBlob } from "./api.js";
import { counter, fill, h, trouble } from "./dom.js";
import { now } from "./state.js";

/** @param {(step: string) => void} go */
export async function whyScreen(go) {
  const node = h("div");
  const draw = async () => {
    const [causes, set] = await Promise.all([call("GET", `/sets/${now.set.id}/causes?calm=${now.calm}`), call("GET", `/sets/${now.set.id}`)]);
    const [verdict, because, next, ...rest] = causes.lines;
    fill(node,
      h("h1", { tabindex: -1 }, verdict.replace(/^Verdict: |\.$/g, "").replace(/^./, (/** @type {string} */ c) => c.toUpperCase())),
      h("p", { class: "place" }, because.trim()), h("p", {}, next.trim()),
      h("ol", { class: "lines" }, rest.map((/** @type {string} */ line) => h("li", {}, line.replace(/^\d /, "")))),
      set.called ? h("div", { class: "note" }, h("p", {}, h("strong", {}, "Called and hit")), set.called.lines.map((/** @type {string} */ line) => h("p", {}, line))) : null,
      h("label", { class: "tick" }, h("input", { type: "checkbox", checked: now.calm, onchange: (/** @type {any} */ e) => { now.calm = e.target.checked; draw(); } }), "There was no wind"),
      h("button", { class: "go", type: "button", onclick: () => go("next") }, "What next?"),
      h("details", {}, h("summary", {}, `Doubts (${causes.doubts.length})`), causes.doubts.map((/** @type {string} */ line) => h("p", {}, line))));
  };
  try { await draw(); } catch (error) { fill(node, h("h1", { tabindex: -1 }, "Not yet"), trouble(/** @type {any} */ (error))); }
  return node;
}

/** @param {(step: string) => void} go */
export async function nextScreen(go) {
  const node = h("div");
  const draw = async () => {
    try {
      const asked = { calm: now.calm, ...now.told };
      const query = new URLSearchParams(Object.entries(asked).map(([name, value]) => [name, String(value)]));
      const plan = await call("GET", `/sets/${now.set.id}/plan?${query}`);
      const aside = (/** @type {any} */ part) => /doubts|beside/.test(part.key);
      fill(node, h("h1", { tabindex: -1 }, plan.title), h("p", { class: "place" }, plan.dose), pictureOf(query, plan.title),
        plan.sections.filter((/** @type {any} */ part) => !aside(part)).map((/** @type {any} */ part) => h("section", {}, h("h2", {}, part.head), list(part.lines))),
        blockDone(plan, asked),
        plan.sections.filter(aside).map((/** @type {any} */ part) => h("details", {}, h("summary", {}, part.head), list(part.lines))),
        tellPart(draw), h("p", {}, h("button", { type: "button", onclick: () => go("who") }, "A new set of balls")));
    } catch (error) {
      fill(node, h("h1", { tabindex: -1 }, "Not yet"), trouble(/** @type {any} */ (error)), tellPart(draw, true));
    }
  };
  await draw();
  return node;
}

/** @param {string[]} lines */
const list = (lines) => h("ul", { class: "lines" }, lines.map((line) => h("li", {}, line)));

/** The drawing to scale, fetched when somebody wants it. @param {URLSearchParams} query @param {string} title */
function pictureOf(query, title) {
  const place = h("div");
  const open = async () => {
    if (place.firstChild) return;
    try {
      const address = URL.createObjectURL(await fetchBlob(`/sets/${now.set.id}/plan.png?${query}`));
      fill(place, h("img", { class: "plan", src: address, alt: `${title}, drawn to scale` }));
    } catch (error) { fill(place, trouble(/** @type {any} */ (error))); }
  };
  return h("details", { ontoggle: open }, h("summary", {}, "Drawn to scale"), place);
}

/** @param {() => void} redraw @param {boolean} [open] */
function tellPart(redraw, open = false) {
  const field = (/** @type {string} */ name, /** @type {string} */ label, /** @type {string} */ unit) => {
    const input = h("input", { type: "number", step: "any", inputmode: "decimal", id: name, value: now.told[name] ?? "" });
    input.addEventListener("change", () => { if (input.value === "") delete now.told[name]; else now.told[name] = Number(input.value); });
    return [h("label", { class: "field", for: name }, `${label} `, h("small", {}, unit)), input];
  };
  return h("details", { open }, h("summary", {}, "Measured at home"), h("div", { class: "stack" },
    field("head_mm", "Head, longest way heel to toe", "mm, for the gate"), field("carry_m", "How far you carry it", "metres"),
    h("button", { type: "button", onclick: redraw }, "Plan again")));
}

/** Booked with what the plan was asked with, so that the same plan goes into the book. @param {any} plan @param {any} asked */
function blockDone(plan, asked) {
  const told = { n_balls: plan.n_balls || 10, n_good: 0, pain: false };
  const said = h("div", { "aria-live": "polite" });
  return h("section", {}, h("h2", {}, "Block done?"),
    counter("Balls hit", told.n_balls, 1, plan.most_balls, (n) => { told.n_balls = n; }),
    counter("Of these, passed", 0, 0, plan.most_balls, (n) => { told.n_good = n; }),
    h("label", { class: "tick" }, h("input", { type: "checkbox", onchange: (/** @type {any} */ e) => { told.pain = e.target.checked; } }), "Something hurts"),
    h("button", { type: "button", onclick: async (/** @type {any} */ event) => {
      const button = event.currentTarget;
      button.disabled = true; // a block is booked once
      try {
        const done = await call("POST", `/sets/${now.set.id}/blocks`, { ...asked, ...told, n_blocks: plan.n_blocks });
        fill(said, h("div", { class: "note" }, done.lines.map((/** @type {string} */ line) => h("p", {}, line))));
      } catch (error) {
        button.disabled = false;
        fill(said, trouble(/** @type {any} */ (error)));
      }
    } }, "Book it"), said);
}
