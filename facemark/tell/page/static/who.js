// The first screen: who is hitting, with what; sets of earlier days.

import { call, fetchBlob } from "./api.js";
import { choice, counter, fill, h, say, trouble } from "./dom.js";
import { smallFace } from "./faces.js";
import { choices, now, openSet, remember } from "./state.js";

const HANDS = [["right", "Right-handed"], ["left", "Left-handed"]];
const KINDS = { driver: "Driver", fairway: "Fairway wood", hybrid: "Hybrid", iron: "Iron", wedge: "Wedge" };
export const SCALES = [
  ["auto", "Find it by itself"], ["sheet", "Printed card"], ["card", "Plain ID-1 card"], ["ball", "A ball"], ["tags", "Tags, side told"], ["face", "Face length told"],
];
const SIZE_WORDS = { tags: "Side of a tag, by ruler", face: "Length of the face, heel to toe" };

/** @param {(step: string) => void} go */
export async function whoScreen(go) {
  now.start = await call("GET", "/start");
  if (now.player && !now.start.players.some((/** @type {any} */ one) => one.id === now.player.id)) now.player = null;
  const node = h("div");
  const draw = () => fill(node, ...(now.player ? readyParts() : newParts()));

  function newParts() {
    let hand = now.start.hand || "right";
    const name = h("input", { type: "text", maxlength: 80, autocomplete: "off", required: true, id: "nickname" });
    const add = async (/** @type {Event} */ event) => {
      event.preventDefault();
      try {
        now.player = await call("POST", "/players", { name: name.value, hand });
        draw();
      } catch (error) { node.prepend(trouble(/** @type {any} */ (error))); }
    };
    return [
      h("h1", { tabindex: -1 }, "Who is hitting?"),
      now.start.players.length ? h("div", { class: "stack" }, now.start.players.map((/** @type {any} */ one) => h("button", {
        type: "button", onclick: () => { now.player = one; draw(); },
      }, one.name))) : null,
      h("form", { onsubmit: add },
        h("h2", {}, now.start.players.length ? "Somebody new" : "A nickname is enough"),
        h("label", { class: "field", for: "nickname" }, "Nickname ", h("small", {}, "stays in the book on this computer")), name,
        h("div", { class: "stack" }, choice("Plays", HANDS, hand, (value) => { hand = value; }),
          h("button", { class: "go", type: "submit" }, "Go on"))),
    ];
  }

  function readyParts() {
    const told = h("div");
    const size = () => {
      const words = /** @type {Record<string, string>} */ (SIZE_WORDS)[choices.scale];
      fill(told, words ? sizeField(words) : null);
    };
    size();
    const begin = async () => {
      try {
        openSet(await call("POST", "/sets", { player_id: now.player.id, kind: choices.kind, effort_frac: choices.effort_frac }));
        go("photo");
      } catch (error) { node.prepend(trouble(/** @type {any} */ (error))); }
    };
    const earlier = h("section", {}, h("h2", {}, "Earlier sets of balls"), h("p", { class: "quiet" }, "Looking …"));
    earlierSets(earlier, go, draw);
    return [
      h("h1", { tabindex: -1 }, `${now.player.name}, ready?`),
      choice("Club", now.start.kinds.map((/** @type {string} */ kind) => [kind, /** @type {Record<string, string>} */ (KINDS)[kind] || kind]), choices.kind, (kind) => remember({ kind }), "many"),
      choice("How hard", [[null, "Not said"], ...now.start.efforts.map((/** @type {number} */ frac) => [frac, `${Math.round(frac * 100)}\u00a0%`])], choices.effort_frac, (effort_frac) => remember({ effort_frac }), "many"),
      choice("Of known size in the photo", SCALES, choices.scale, (scale) => { remember({ scale }); size(); }, "many"),
      told,
      counter("Balls before the photo", choices.n_balls, 1, 20, (n_balls) => remember({ n_balls })),
      h("button", { class: "go", type: "button", onclick: begin }, "Start a set of balls"),
      h("p", {}, h("button", { class: "plain", type: "button", onclick: () => { now.player = null; openSet(null); draw(); } }, "Somebody else is hitting")),
      earlier,
    ];
  }
  draw();
  return node;
}

/** @param {string} words */
export function sizeField(words) {
  const input = h("input", { type: "number", step: "0.1", min: 5, max: 200, inputmode: "decimal", id: "size", value: choices.size_mm });
  input.addEventListener("input", () => remember({ size_mm: input.value === "" ? null : Number(input.value) }));
  return h("div", { class: "stack" }, h("label", { class: "field", for: "size" }, `${words} `, h("small", {}, "mm")), input);
}

/**
 * @param {HTMLElement} section
 * @param {(step: string) => void} go
 * @param {() => void} redraw
 */
async function earlierSets(section, go, redraw) {
  const player = now.player;
  const { sets } = await call("GET", `/players/${player.id}/sets`);
  const read = sets.filter((/** @type {any} */ one) => one.small);
  /** @type {Set<string>} */ const picked = new Set();
  const result = h("div", { "aria-live": "polite" });
  const compare = h("button", { type: "button", disabled: true, onclick: async () => {
    try {
      const found = await call("GET", `/compare?${[...picked].map((id) => `sets=${id}`).join("&")}`);
      fill(result, h("div", { class: "note" }, found.lines.map((/** @type {string} */ line) => h("p", {}, line))));
    } catch (error) { fill(result, trouble(/** @type {any} */ (error))); }
  } }, "Compare two");
  const items = read.map((/** @type {any} */ one) => {
    const title = `${one.day}, ${one.name || "set"}`;
    const item = h("li", {},
      h("h3", {}, title), smallFace(one.small, `${title}: ${one.small.n_marks} marks, ${one.small.place}`),
      h("p", {}, h("strong", {}, cap(one.small.headline)), h("br"), `${cap(one.club.name)}. Centre ${one.small.place}.`, one.small.corrected ? " Corrected by hand." : ""),
      h("div", { class: "row" },
        h("button", { type: "button", onclick: async (/** @type {any} */ event) => {
          try { if (await reopen(one.id)) go("marks"); } catch (error) { event.target.after(trouble(/** @type {any} */ (error))); }
        } }, "Open"),
        h("button", { type: "button", "aria-pressed": "false", onclick: (/** @type {any} */ event) => {
          if (picked.has(one.id)) picked.delete(one.id); else picked.add(one.id);
          item.classList.toggle("picked", picked.has(one.id));
          event.target.setAttribute("aria-pressed", String(picked.has(one.id)));
          event.target.textContent = picked.has(one.id) ? "Chosen" : "Choose";
          compare.disabled = picked.size !== 2;
        } }, "Choose"),
        h("button", { class: "away", type: "button", onclick: sure("Delete", async () => {
          await call("DELETE", `/sets/${one.id}`);
          if (now.set && now.set.id === one.id) openSet(null);
          item.remove();
          say(`${title} is deleted.`);
        }) }, "Delete")));
    return item;
  });
  const forget = h("button", { class: "away", type: "button", onclick: sure(`Forget ${player.name}`, async () => {
    const proof = await call("DELETE", `/players/${player.id}`);
    const rows = Object.entries(proof.rows).filter(([, n]) => n).map(([what, n]) => `${n} ${what}`).join(", ");
    now.player = null;
    openSet(null);
    now.start = await call("GET", "/start");
    redraw();
    say(`${player.name} is forgotten: ${rows || "no rows"} deleted.`);
  }) }, `Forget ${player.name}`);
  fill(section, h("h2", {}, "Earlier sets of balls"),
    items.length ? h("ul", { class: "sets" }, items) : h("p", { class: "quiet" }, "None with a photo yet."),
    items.length > 1 ? h("div", { class: "row" }, compare) : null, result,
    h("details", {}, h("summary", {}, "Privacy"), h("p", {}, "Nicknames only. Photos are kept only where you asked for it; everything else is numbers. Ask before you photograph somebody else, and a parent before you keep a child's results."), forget));
}

/**
 * A set from the book, with its balls and its picture if there is one.
 * @param {string} id
 * @returns {Promise<boolean>}  false: somebody began another set meanwhile, which stays
 */
export async function reopen(id) {
  const before = now.set;
  const set = await call("GET", `/sets/${id}`);
  const last = set.readings[set.readings.length - 1];
  const reading = last ? await call("GET", `/readings/${last}`) : null;
  const seen = reading && (reading.photo_id || reading.kept); // else drawn from its numbers
  const blob = seen ? await fetchBlob(`/readings/${last}/picture`) : null;
  const known = () => now.start.players.find((/** @type {any} */ one) => one.id === set.player_id);
  if (!known()) now.start = await call("GET", "/start"); // a player who came after this page was opened
  if (now.set !== before) return false;
  openSet(set);
  now.player = known() || now.player;
  now.balls = set.balls.map((/** @type {any} */ { n, ...note }) => note);
  now.nNoted = now.balls.length;
  now.reading = reading;
  if (blob) now.picture = { photo_id: reading.photo_id, address: URL.createObjectURL(blob) };
  return true;
}

/**
 * A button that does what it says only at the second press.
 * @param {string} words @param {() => Promise<void>} act
 */
export function sure(words, act) {
  let armed = 0;
  return async (/** @type {any} */ event) => {
    const button = event.currentTarget;
    if (Date.now() - armed > 6000) {
      armed = Date.now();
      button.textContent = `Really? Press again`;
      setTimeout(() => { if (button.isConnected) button.textContent = words; }, 6000);
      return;
    }
    try {
      await act();
    } catch (error) { say(/** @type {any} */ (error).detail); }
  };
}

/** @param {string} words */
const cap = (words) => words.charAt(0).toUpperCase() + words.slice(1);
