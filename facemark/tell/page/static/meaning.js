// What it means: strike, face or path; and what to practise next.

import { call, fetchBlob } from "./api.js";
import { counter, fill, h, trouble } from "./dom.js";
import { now } from "./state.js";

let calm = false;

/** @param {(step: string) => void} go */
export async function whyScreen(go) {
  const node = h("div");
  const draw = async () => {
    const [causes, set] = await Promise.all([call("GET", `/sets/${now.set.id}/causes?calm=${calm}`), call("GET", `/sets/${now.set.id}`)]);
    const [verdict, because, next, ...rest] = causes.lines;
    fill(node,
      h("h1", { tabindex: -1 }, verdict.replace(/^Verdict: /, "").replace(/^./, (/** @type {string} */ c) => c.toUpperCase())),
      h("p", { class: "place" }, because.trim()), h("p", {}, next.trim()),
      h("ol", { class: "lines" }, rest.map((/** @type {string} */ line) => h("li", {}, line.replace(/^\d /, "")))),
      set.called ? h("div", { class: "note" }, h("p", {}, h("strong", {}, "Called and hit")), set.called.lines.map((/** @type {string} */ line) => h("p", {}, line))) : null,
      h("label", { class: "tick" }, h("input", { type: "checkbox", checked: calm, onchange: (/** @type {any} */ e) => { calm = e.target.checked; draw(); } }), "There was no wind"),
      h("button", { class: "go", type: "button", onclick: () => go("next") }, "What next?"),
      h("details", {}, h("summary", {}, `Doubts (${causes.doubts.length})`), causes.doubts.map((/** @type {string} */ line) => h("p", {}, line))));
  };
  try { await draw(); } catch (error) { fill(node, h("h1", { tabindex: -1 }, "Not yet"), trouble(/** @type {any} */ (error))); }
  return node;
}

/** @param {(step: string) => void} go */
export async function nextScreen(go) {
  const node = h("div");
  try {
    const plan = await call("GET", `/sets/${now.set.id}/plan?calm=${calm}`);
    const picture = h("div");
    fetchBlob(`/sets/${now.set.id}/plan.png?calm=${calm}`).then((blob) => {
      const address = URL.createObjectURL(blob);
      fill(picture, h("img", { class: "plan", src: address, alt: plan.lines.join(" "), onload: () => URL.revokeObjectURL(address) }));
    }).catch(() => {});
    fill(node, h("h1", { tabindex: -1 }, "The next block"),
      h("ul", { class: "lines" }, plan.lines.map((/** @type {string} */ line) => h("li", {}, line))),
      blockDone(plan), h("details", {}, h("summary", {}, "As a picture"), picture),
      h("button", { type: "button", onclick: () => go("who") }, "A new set"));
  } catch (error) {
    fill(node, h("h1", { tabindex: -1 }, "Not yet"), trouble(/** @type {any} */ (error)));
  }
  return node;
}

/** @param {any} plan */
function blockDone(plan) {
  const told = { n_balls: plan.n_balls || 10, n_good: 0, pain: false };
  const said = h("div", { "aria-live": "polite" });
  return h("section", {}, h("h2", {}, "Block done?"),
    counter("Balls hit", told.n_balls, 1, 60, (n) => { told.n_balls = n; }),
    counter("Of these, passed", 0, 0, 60, (n) => { told.n_good = n; }),
    h("label", { class: "tick" }, h("input", { type: "checkbox", onchange: (/** @type {any} */ e) => { told.pain = e.target.checked; } }), "Something hurts"),
    h("button", { type: "button", onclick: async () => {
      try {
        const done = await call("POST", `/sets/${now.set.id}/blocks?calm=${calm}`, told);
        fill(said, h("div", { class: "note" }, done.lines.map((/** @type {string} */ line) => h("p", {}, line))));
      } catch (error) { fill(said, trouble(/** @type {any} */ (error))); }
    } }, "Book it"), said);
}
