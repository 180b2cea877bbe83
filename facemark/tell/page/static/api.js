// Talking to the server. The key comes behind # in the address, is taken out of it at once, and travels only
// as a header: it never appears in a request's address, a log or a referrer.

const KEPT_UNDER = "facemark-key";
const ANSWER_MS = 60000; // three times as long as the server lets anybody wait for news
const SEND_MS = 300000; // a large photo over a weak network
const AGAIN_MS = 2000;
const OUTLIVE_MOST = 60000; // browsers refuse more than 64 KiB (Fetch standard, keepalive)

/** A refusal of the server, with what to do. */
export class Refusal extends Error {
  /** @param {{status?: number, detail?: string, remedy?: string}} body */
  constructor(body) {
    super(body.detail || "The server does not answer.");
    this.status = body.status || 0;
    this.detail = this.message;
    this.remedy = body.remedy || "Check that facemark page is still running and the phone is in its network.";
  }
}

function takeKey() {
  const found = new URLSearchParams(location.hash.slice(1)).get("k");
  if (found) {
    sessionStorage.setItem(KEPT_UNDER, found); // this tab only, so that a reload still works
    history.replaceState(null, "", location.pathname);
  }
  return found || sessionStorage.getItem(KEPT_UNDER) || "";
}

const key = takeKey();

/** @returns {boolean} */
export const hasKey = () => key !== "";

/**
 * One call; the answer as plain data.
 * @param {string} method
 * @param {string} path  below /api/v1
 * @param {any} [body]
 * @param {boolean} [outlive]  sent also while the page is being closed
 * @returns {Promise<any>}
 */
export async function call(method, path, body, outlive = false) {
  const text = body === undefined ? undefined : JSON.stringify(body);
  const answer = await reach(path, {
    method,
    headers: { "X-Facemark-Key": key, ...(text === undefined ? {} : { "Content-Type": "application/json" }) },
    body: text,
    keepalive: outlive && (text || "").length < OUTLIVE_MOST,
  });
  return answer.status === 204 ? null : answer.json();
}

/**
 * A picture or file, as an address for <img> or a download.
 * @param {string} path
 * @returns {Promise<Blob>}
 */
export async function fetchBlob(path) {
  return (await reach(path, { headers: { "X-Facemark-Key": key } })).blob();
}

/**
 * @param {string} path
 * @param {RequestInit} init
 */
async function reach(path, init) {
  let answer;
  try {
    answer = await fetch(`/api/v1${path}`, { ...init, cache: "no-store", credentials: "omit", signal: AbortSignal.timeout(ANSWER_MS) });
  } catch {
    throw new Refusal({});
  }
  if (!answer.ok) throw new Refusal(await answer.json().catch(() => ({ status: answer.status })));
  return answer;
}

/**
 * Ask again until there is an answer or a refusal; no longer than somebody wants to know.
 * @template T
 * @param {() => Promise<T>} ask @param {() => boolean} wanted @param {() => void} onWait
 * @returns {Promise<T>}
 */
export async function patiently(ask, wanted, onWait) {
  for (;;) {
    try {
      return await ask();
    } catch (error) {
      if (/** @type {Refusal} */ (error).status !== 0 || !wanted()) throw error;
      onWait();
      await new Promise((done) => { setTimeout(done, AGAIN_MS); });
    }
  }
}

/**
 * Send a photo; fetch cannot tell how much has gone out, so this is the older way.
 * @param {Blob} photo
 * @param {Record<string, any>} told
 * @param {(frac: number) => void} onProgress
 * @returns {Promise<any>}
 */
export function sendPhoto(photo, told, onProgress) {
  const query = new URLSearchParams();
  for (const [name, value] of Object.entries(told)) if (value !== null && value !== undefined && value !== "") query.set(name, String(value));
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("POST", `/api/v1/photos?${query}`);
    request.setRequestHeader("X-Facemark-Key", key);
    request.setRequestHeader("Content-Type", "application/octet-stream");
    request.responseType = "json";
    request.upload.onprogress = (event) => { if (event.lengthComputable) onProgress(event.loaded / event.total); };
    request.onload = () => (request.status < 300 ? resolve(request.response) : reject(new Refusal(request.response || { status: request.status })));
    request.onerror = request.ontimeout = () => reject(new Refusal({}));
    request.timeout = SEND_MS;
    request.send(photo);
  });
}
