// What this phone is doing now. Choices are remembered on the phone; results live in the book.

const KEPT_UNDER = "facemark-choices";

/** @type {{kind: string, scale: string, size_mm: number | null, n_balls: number, effort_frac: number | null, keep: boolean, series: boolean}} */
const DEFAULTS = { kind: "driver", scale: "auto", size_mm: null, n_balls: 5, effort_frac: null, keep: false, series: true };

function remembered() {
  try {
    return JSON.parse(localStorage.getItem(KEPT_UNDER) || "{}");
  } catch {
    return {};
  }
}

export const choices = { ...DEFAULTS, ...remembered() };

/** @param {Partial<typeof choices>} change */
export function remember(change) {
  Object.assign(choices, change);
  try {
    localStorage.setItem(KEPT_UNDER, JSON.stringify(choices));
  } catch { /* a phone that keeps nothing still works */ }
}

/** @type {{start: any, player: any, set: any, photo: any, reading: any, balls: any[], picture: {photo_id: string, address: string} | null, nNoted: number, calm: boolean, told: Record<string, number>, progress: HTMLElement | null, step: string}} */
export const now = {
  start: null, player: null, set: null, photo: null, reading: null, balls: [], picture: null, nNoted: 0,
  calm: false, told: {}, // for the next block: there was no wind; lengths measured at home
  progress: null, // how far the photo that was sent has got, or why it could not be read
  step: "", // the screen that is shown
};

/** A new set, or none: nothing of the one before stays, but what its own player measured at home. @param {any} set */
export function openSet(set) {
  if (now.picture) URL.revokeObjectURL(now.picture.address);
  const told = set && now.set && set.player_id === now.set.player_id ? now.told : {};
  Object.assign(now, { set, photo: null, reading: null, balls: [], picture: null, nNoted: 0, calm: false, told, progress: null });
}
