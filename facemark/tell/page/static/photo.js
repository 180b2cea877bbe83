// Take or choose a photo, see how far it has got, and what to do if it cannot be read.

import { call, fetchBlob, patiently, sendPhoto } from "./api.js";
import { choice, counter, fill, h, say, sentence, trouble } from "./dom.js";
import { pointFace } from "./faces.js";
import { choices, now, openSet, remember } from "./state.js";
import { reopen, SCALES, sizeField } from "./who.js";

/** @param {(step: string) => void} go */
export function photoScreen(go) {
  const next = !!(now.reading && now.reading.photo_id); // another photo of the same powder, the last one still at hand
  const progress = now.progress ??= h("div"); // shown again when the player comes back to this screen
  const busy = (/** @type {boolean} */ is) => progress.classList.toggle("busy", is);
  const onScreen = () => now.step === "photo";
  const file = (/** @type {string} */ words, /** @type {boolean} */ camera, /** @type {string} */ look) => {
    const input = h("input", { type: "file", accept: "image/*", capture: camera ? "environment" : null, "aria-label": words });
    input.addEventListener("change", () => { if (input.files[0]) send(input.files[0]); input.value = ""; });
    return h("div", { class: `press file ${look}` }, words, input);
  };
  const start = h("div", { class: "start" },
    h("div", { class: "stack" }, file(next ? "Take the next photo" : "Take the photo", true, "go"), file("Choose a photo", false, "")),
    next ? counter("New balls since the last photo", Math.max(1, Math.min(10, now.balls.length - now.nNoted || 3)), 1, 20, (n) => { told.n_new = n; }) : null,
    h("label", { class: "tick" }, h("input", { type: "checkbox", checked: choices.keep, onchange: (/** @type {any} */ e) => remember({ keep: e.target.checked }) }), "Keep this photo in the book"));
  const told = { n_new: next ? Math.max(1, Math.min(10, now.balls.length - now.nNoted || 3)) : 0 };

  let nSent = now.balls.length; // balls whose marks the photo shows
  // While a photo is sent and read, the player may go to another screen, and another player may take over.
  async function send(/** @type {File} */ photo) {
    const mine = now.set;
    nSent = now.balls.length;
    const bar = h("progress", { max: 1, value: 0, "aria-label": "Sending the photo" });
    const words = h("p", { role: "status" }, "Sending …");
    fill(progress, words, bar);
    busy(true);
    try {
      const sent = await sendPhoto(photo, {
        set_id: now.set.id, name: photo.name.slice(-80), hand: now.player && now.player.hand, scale: choices.scale,
        size_mm: needsSize() ? choices.size_mm : null, n_balls: next ? told.n_new : choices.n_balls, series: next || null, keep: choices.keep || null,
      }, (frac) => { bar.value = frac; words.textContent = frac < 1 ? `Sending … ${Math.round(frac * 100)} %` : "Sent. Opening …"; });
      if (now.set === mine) await follow(sent, words, bar);
    } catch (error) {
      if (now.set === mine) failed(/** @type {any} */ (error));
    }
  }

  async function follow(/** @type {any} */ state, /** @type {HTMLElement} */ words, /** @type {any} */ bar) {
    const mine = now.set;
    bar.removeAttribute("value"); // how long reading takes is not known
    let shown = false;
    // A phone that was locked, or out of reach of the network, goes on where it was.
    const ask = (/** @type {() => Promise<any>} */ asking) => patiently(asking, () => now.set === mine, () => { words.textContent = "The computer does not answer. Trying again …"; });
    while (state.state === "waiting" || state.state === "reading") {
      if (state.state === "waiting") words.textContent = state.place_in_line > 1 ? `Waiting: number ${state.place_in_line} in line.` : "Waiting: next in line.";
      else words.textContent = state.size_px ? "Reading the marks …" : "Opening the photo …";
      if (state.reading && !shown) {
        shown = true;
        show(state, await ask(() => fetchBlob(`/photos/${state.id}/picture`)), mine);
      }
      state = await ask(() => call("GET", `/photos/${state.id}?since=${state.version}`));
      if (now.set !== mine) return;
    }
    if (state.state === "failed") return refused(state);
    if (state.in_other_set) return elsewhere(state);
    if (!shown) show(state, await ask(() => fetchBlob(`/photos/${state.id}/picture`)), mine);
    const reading = await ask(() => call("GET", `/readings/${state.reading_id}`));
    if (now.set !== mine) return;
    const looking = now.step === "marks" && now.photo && now.photo.id === state.id; // at its marks, shown early
    Object.assign(now, { photo: state, reading, nNoted: nSent, progress: null });
    document.dispatchEvent(new Event("reading"));
    if (looking || onScreen()) go("marks");
    else say("The photo is read: see Marks.");
  }

  /** The book knows this photo from another set: said, and opened only if somebody wants that. */
  async function elsewhere(/** @type {any} */ state) {
    const mine = now.set;
    const other = await call("GET", `/sets/${state.in_other_set}`);
    if (now.set !== mine) return;
    fill(progress, h("div", { class: "note", role: "status" },
      h("p", {}, h("strong", {}, "This photo is in the book already.")),
      h("p", {}, `It belongs to ${other.day}, ${other.name || "another set"}${other.player_id === mine.player_id ? "" : ", of another player"}. Nothing was added here.`),
      h("button", { type: "button", onclick: async () => {
        try { if (await reopen(other.id)) go("marks"); } catch (error) { fill(progress, trouble(/** @type {any} */ (error))); }
      } }, "Open that set")));
    await withoutEarlyMarks("That photo is in the book already, in another set.");
  }

  /** The marks are known; what they did follows in a moment. */
  function show(/** @type {any} */ state, /** @type {Blob} */ blob, /** @type {any} */ mine) {
    if (now.set !== mine) return;
    if (now.picture) URL.revokeObjectURL(now.picture.address);
    now.photo = state;
    now.picture = { photo_id: state.id, address: URL.createObjectURL(blob) };
    now.reading = { id: null, photo_id: state.id, history: { edits: [], n_done: 0 }, ...state.reading };
    document.dispatchEvent(new Event("reading"));
    if (onScreen()) go("marks");
  }

  /** Why it cannot be read, and what can be done with it. */
  async function refused(/** @type {any} */ state) {
    fill(progress, trouble(state.error), findings(state.findings), again(state));
    await withoutEarlyMarks(`The photo could not be read: ${sentence(state.error.message)}`);
  }

  async function failed(/** @type {any} */ error) {
    fill(progress, trouble(error));
    await withoutEarlyMarks(`The photo: ${sentence(error.detail)}`);
  }

  /** Nothing came of this photo: back to what the book knows, and to this screen, which says why. */
  async function withoutEarlyMarks(/** @type {string} */ words) {
    const early = now.reading !== null && now.reading.id === null, here = onScreen() || (early && now.step === "marks");
    busy(false);
    if (early) {
      try {
        if (!(await reopen(now.set.id))) return;
      } catch { openSet(now.set); } // without an answer: an empty set of the same player
      now.progress = progress;
    }
    if (!here) say(words);
    else if (early) go("photo");
  }

  /** Other words about the same photo, without sending it again. */
  function again(/** @type {any} */ state) {
    const size = h("div");
    const shows = () => fill(size, needsSize() ? sizeField(choices.scale === "tags" ? "Side of a tag, by ruler" : "Length of the face, heel to toe") : null);
    shows();
    return h("details", {}, h("summary", {}, "Was something else in the photo?"),
      choice("Of known size in the photo", SCALES, choices.scale, (scale) => { remember({ scale }); shows(); }, "many"), size,
      h("button", { type: "button", onclick: async () => {
        const mine = now.set;
        const words = h("p", { role: "status" }, "Reading again …"), bar = h("progress", { max: 1, "aria-label": "Reading" });
        try {
          const queued = await call("POST", `/photos/${state.id}/read`, { hand: now.player && now.player.hand, scale: choices.scale, size_mm: needsSize() ? choices.size_mm : null, n_balls: next ? told.n_new : choices.n_balls });
          if (now.set !== mine) return;
          fill(progress, words, bar);
          busy(true);
          await follow(queued, words, bar);
        } catch (error) { if (now.set === mine) failed(/** @type {any} */ (error)); }
      } }, "Read it again"));
  }

  return h("div", {},
    h("h1", { tabindex: -1 }, next ? "Next photo" : "Photograph the face"),
    next ? h("p", {}, "Same powder, a few more balls: the new marks are told apart from the old ones.") : null,
    next && now.reading.record.corrected ? h("p", { class: "note" }, "What you put right by hand stays with the last reading; the next photo is read anew, from the photos alone.") : null,
    progress, start,
    next ? null : callPart(),
    h("details", {}, h("summary", {}, "How to take it"), h("ul", {},
      h("li", {}, "The whole face and some shaft in the picture, the face a third of its width or more."),
      h("li", {}, "A printed card, a plain card or a ball in the plane of the face."),
      h("li", {}, "Phone square to the face, your shadow over it: no sun glare on the powder.")),
    h("p", { class: "quiet" }, "Spray outdoors, away from eyes and flames. Nobody swings while a face is photographed.")));
}

const needsSize = () => choices.scale === "tags" || choices.scale === "face";

/** Call it before you look: where do you think you hit them? */
function callPart() {
  const body = h("div");
  const pins = () => now.balls.filter((ball) => ball.called_toe_mm !== undefined).map((ball) => ({ toe: ball.called_toe_mm, high: ball.called_high_mm }));
  const keep = async () => {
    draw();
    try { await call("PUT", `/sets/${now.set.id}/balls`, { balls: now.balls }); } catch (error) { say(/** @type {any} */ (error).detail); }
  };
  const draw = () => fill(body,
    h("p", {}, pins().length ? `${pins().length} called.` : "Before you look: tap where each ball met the face."),
    pointFace(pins(), now.player && now.player.hand, (toe, high) => {
      const free = now.balls.find((ball) => ball.called_toe_mm === undefined);
      const call_ = { called_toe_mm: toe, called_high_mm: high };
      if (free) Object.assign(free, call_); else now.balls.push(call_);
      keep();
    }),
    h("div", { class: "row" }, h("button", { type: "button", disabled: pins().length === 0, onclick: () => {
      const last = now.balls.findLast((ball) => ball.called_toe_mm !== undefined);
      delete last.called_toe_mm; delete last.called_high_mm;
      now.balls = now.balls.filter((ball) => Object.keys(ball).length);
      keep();
    } }, "Take the last call back")));
  draw();
  return h("details", {}, h("summary", {}, "Call it first"), body);
}

/** What the check found, the poor things first. @param {any[]} found */
export function findings(found) {
  const poor = found.filter((one) => one.grade !== "good");
  if (!poor.length) return null;
  return h("div", { class: "note" }, h("p", {}, h("strong", {}, "About this photo")),
    poor.map((one) => h("p", {}, `${sentence(one.what)} ${sentence(one.says)} `, one.remedy ? h("strong", {}, one.remedy) : "")));
}
