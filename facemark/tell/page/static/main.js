// Which screen is shown, and the steps at the thumb.

import { hasKey } from "./api.js";
import { ballsScreen } from "./balls.js";
import { byId, fill, h, trouble } from "./dom.js";
import { leaveMarks, marksScreen } from "./marks.js";
import { nextScreen, whyScreen } from "./meaning.js";
import { photoScreen } from "./photo.js";
import { now } from "./state.js";
import { whoScreen } from "./who.js";

/** @type {Array<[string, string, () => boolean]>} */
const STEPS = [
  ["photo", "Photo", () => !!now.set],
  ["marks", "Marks", () => !!now.reading],
  ["balls", "Balls", () => !!now.set],
  ["why", "Why", () => !!now.reading],
  ["next", "Next", () => !!now.reading],
];
/** @type {Record<string, (go: (step: string) => void) => any>} */
const SCREENS = { who: whoScreen, photo: photoScreen, marks: marksScreen, balls: ballsScreen, why: whyScreen, next: nextScreen };

let turn = 0;

/** @param {string} step */
async function go(step) {
  const mine = ++turn;
  await leaveMarks();
  const main = byId("main");
  let node;
  try {
    node = await SCREENS[step](go);
  } catch (error) {
    node = h("div", {}, h("h1", { tabindex: -1 }, "Something is missing"), trouble(/** @type {any} */ (error)),
      h("button", { type: "button", onclick: () => go(step) }, "Try again"));
  }
  if (mine !== turn) return; // the thumb was quicker
  main.classList.toggle("wide", step === "marks");
  fill(main, node);
  now.step = step;
  steps(step);
  where();
  scrollTo(0, 0);
  const heading = main.querySelector("h1");
  if (heading) heading.focus({ preventScroll: true });
}

/** @param {string} current */
function steps(current) {
  const nav = byId("steps");
  nav.hidden = !now.set || current === "who";
  fill(nav, STEPS.map(([step, words, open], i) => h("button", {
    type: "button", disabled: !open(), "aria-current": step === current ? "step" : null, onclick: () => go(step),
  }, h("span", { class: "n" }, i + 1), words)));
}

function where() {
  byId("where").textContent = [now.player && now.player.name, now.set && now.set.club && now.set.club.kind, now.set && now.set.name.replace(" ", "\u00a0")].filter(Boolean).join(" · ");
}

document.addEventListener("reading", () => steps(now.step)); // one came in while another screen is shown
byId("home").addEventListener("click", (event) => { event.preventDefault(); go("who"); });

if (hasKey()) go("who");
else fill(byId("main"), h("h1", {}, "The key is missing"), h("p", {}, "Open this page with the whole address that the computer shows, or scan its QR code again."));
