// The reading over the photo, the same in words, and the way to put it right.

import { fetchBlob } from "./api.js";
import { Corrector } from "./correct.js";
import { fill, h, say, sentence } from "./dom.js";
import { smallFace } from "./faces.js";
import { findings } from "./photo.js";
import { key, PictureView } from "./picture.js";
import { now } from "./state.js";

const LEAVE_MS = 10000; // the next screen waits so long for what was put right; without a network no longer
/** @type {Corrector | null} */ let corrector = null;
/** @type {Promise<void>} */ let closing = Promise.resolve(); // done once the last corrector has kept everything

/** @param {(step: string) => void} go */
export function marksScreen(go) {
  let reading = now.reading;
  const words = h("div");
  const tools = h("div");
  const view = now.picture ? new PictureView(now.picture.address, reading.record.photo, "The face with its marks") : null;
  const fresh = freshLetters(reading.record);
  const put = h("button", { type: "button", disabled: !view || !reading.id, onclick: () => (corrector ? finish() : begin()) }, "Put it right");
  const heading = h("h1", { tabindex: -1 }), place = h("p", { class: "place", "aria-live": "polite" });
  const tell = (/** @type {any} */ latest) => {
    heading.textContent = cap(latest.words.headline);
    place.textContent = `Centre ${latest.words.place}.`;
    fill(words, ...wordParts(latest));
  };

  function begin() {
    if (!view) return;
    corrector = new Corrector(view, reading, (latest) => {
      const shown = now.reading && now.reading.id === reading.id;
      reading = { ...reading, ...latest };
      if (!shown) return; // kept late: another reading, perhaps another player's, is open by now
      now.reading = reading;
      tell(reading);
    });
    document.body.classList.add("correcting");
    put.textContent = "Done";
    put.classList.add("go");
    fill(tools, corrector.node);
  }

  function finish() {
    close();
    fill(tools);
    put.textContent = "Put it right";
    put.classList.remove("go");
  }

  tell(reading);
  if (view) view.show(reading.record, fresh);
  const node = h("div", { class: "two" },
    h("div", {}, heading, place, fresh.size ? h("p", {}, h("strong", {}, `New in this photo: ${[...fresh].join(", ")}.`)) : null),
    h("div", { class: "sticky" }, view ? view.node : small(reading), view ? key() : null, tools,
      h("div", { class: "row" }, put, h("button", { class: "when-looking", type: "button", onclick: () => go("photo"), disabled: !reading.photo_id }, "Next photo"),
        share(reading))),
    words);
  return node;
}

/** Leaving the screen ends correcting; what was done is kept, also while the next screen is shown already. */
export async function leaveMarks() {
  close();
  await Promise.race([closing, new Promise((done) => { setTimeout(done, LEAVE_MS); })]);
}

function close() {
  document.body.classList.remove("correcting");
  if (corrector) closing = corrector.close();
  corrector = null;
}

/** @param {any} reading */
function wordParts(reading) {
  const { words, record } = reading;
  return [
    words.corrected ? h("p", {}, h("strong", {}, words.corrected), ".") : null,
    h("p", {}, sentence(words.count)),
    h("p", {}, sentence(words.group)), h("p", {}, sentence(words.pattern)),
    words.flight.length ? words.flight.map((/** @type {string} */ line) => h("p", {}, sentence(line))) : h("p", { class: "quiet" }, "Working out what these strikes did …"),
    now.photo && now.photo.findings ? findings(now.photo.findings) : null,
    h("details", { open: true }, h("summary", {}, `Each mark (${record.marks.length})`),
      h("ul", { class: "lines marks" }, words.marks.map((/** @type {string} */ line) => h("li", {}, h("b", {}, line.split(" ")[0]), line.slice(line.indexOf(" ")))))),
    h("details", {}, h("summary", {}, `Doubts (${words.doubts.length})`),
      words.doubts.map((/** @type {any} */ one) => h("p", {}, one.says, " ", h("span", { class: "quiet" }, one.remedy)))),
    h("p", { class: "quiet" }, sentence(words.scale), " ", sentence(words.spot)),
    h("p", { class: "quiet" }, "Practice only: wipe the face before you play."),
  ];
}

/** @param {any} reading */
function small(reading) {
  const { record } = reading, spot = record.sweet_spot;
  const from = (/** @type {any} */ one) => [one.toe_mm + spot.toe_mm, one.high_mm + spot.high_mm];
  return h("div", {}, smallFace({
    width_mm: record.face.width_mm, height_mm: record.face.height_mm, spot_mm: [spot.toe_mm, spot.high_mm],
    marks_mm: record.marks.map(from), group_mm: from(record.group), hand: record.hand,
  }, "The face with its marks, drawn from numbers"), h("p", { class: "quiet" }, "The photo was not kept; this is drawn from its numbers."));
}

/** Letters of marks that this photo of a series showed first. @param {any} record @returns {Set<string>} */
function freshLetters(record) {
  const last = Math.max(...record.marks.map((/** @type {any} */ m) => m.photo_index ?? -1));
  return new Set(last < 1 ? [] : record.marks.filter((/** @type {any} */ m) => m.photo_index === last).map((/** @type {any} */ m) => m.letter));
}

/** @param {any} reading */
function share(reading) {
  const get = (/** @type {string} */ form, /** @type {string} */ words) => h("button", { class: "when-looking", type: "button", disabled: !reading.id, onclick: async (/** @type {any} */ event) => {
    const button = event.currentTarget;
    button.disabled = true;
    try {
      const blob = await fetchBlob(`/sets/${now.set.id}/report?form=${form}`);
      await hand(new File([blob], `facemark-${now.set.day}.${form}`, { type: blob.type }));
    } catch (error) { say(/** @type {any} */ (error).detail || "It could not be shared."); }
    button.disabled = false;
  } }, words);
  return [get("pdf", "Report (PDF)"), get("png", "Picture")];
}

/** To the phone's own share sheet where there is one, else a download. @param {File} file */
async function hand(file) {
  if (navigator.canShare && navigator.canShare({ files: [file] })) {
    try {
      await navigator.share({ files: [file] });
      return;
    } catch (error) {
      if (/** @type {any} */ (error).name === "AbortError") return; // the player changed his mind
    }
  }
  const link = h("a", { href: URL.createObjectURL(file), download: file.name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

/** @param {string} words */
const cap = (words) => words.charAt(0).toUpperCase() + words.slice(1);

