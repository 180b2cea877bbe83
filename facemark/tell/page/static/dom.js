// Small helpers to build the page. Text is always set as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";

/**
 * An element with attributes and children. A function under an "on..." name becomes a listener.
 * @param {string} name  "svg:..." makes a drawing element
 * @param {Record<string, any>} [attributes]
 * @param {...(Node | string | number | null | undefined | false | Array<any>)} children
 * @returns {any}
 */
export function h(name, attributes = {}, ...children) {
  const drawn = name.startsWith("svg:");
  const node = drawn ? document.createElementNS(SVG, name.slice(4)) : document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else if (value === true) node.setAttribute(key, "");
    else node.setAttribute(key, String(value));
  }
  node.append(...children.flat(3).filter((child) => child !== null && child !== undefined && child !== false).map(
    (child) => (child instanceof Node ? child : String(child)),
  ));
  return node;
}

/**
 * Exchange all children.
 * @param {Element} node
 * @param {...any} children
 */
export function fill(node, ...children) {
  node.replaceChildren(...children.flat(3).filter(Boolean));
}

/** @param {string} id @returns {HTMLElement} */
export function byId(id) {
  return /** @type {HTMLElement} */ (document.getElementById(id));
}

let hush = 0;

/**
 * Say something to everybody: shown for a while, and read out.
 * @param {string} words
 */
export function say(words) {
  byId("said").textContent = words;
  clearTimeout(hush);
  hush = setTimeout(() => { byId("said").textContent = ""; }, 5000);
}

/**
 * One of several, as buttons that stay pressed.
 * @param {string} legend
 * @param {Array<[any, any]>} options  value and words (or nodes)
 * @param {any} value
 * @param {(value: any) => void} onPick
 * @param {string} [look]  "many" or "large"
 */
export function choice(legend, options, value, onPick, look = "") {
  const buttons = options.map(([own, words]) => h("button", {
    type: "button",
    "aria-pressed": own === value ? "true" : "false",
    onclick: () => {
      for (const other of buttons) other.setAttribute("aria-pressed", String(other === buttons[index(own)]));
      onPick(own);
    },
  }, words));
  const index = (/** @type {any} */ own) => options.findIndex(([one]) => one === own);
  return h("fieldset", {}, h("legend", {}, legend), h("div", { class: `choice ${look}` }, buttons));
}

/**
 * A number that is counted up and down with large buttons.
 * @param {string} label
 * @param {number} value
 * @param {number} least
 * @param {number} most
 * @param {(value: number) => void} onChange
 */
export function counter(label, value, least, most, onChange) {
  const shown = h("output", { "aria-live": "polite" }, value);
  const step = (/** @type {number} */ by) => {
    value = Math.min(most, Math.max(least, value + by));
    shown.textContent = String(value);
    onChange(value);
  };
  return h("fieldset", {}, h("legend", {}, label), h("div", { class: "count" },
    h("button", { type: "button", "aria-label": `${label}: one fewer`, onclick: () => step(-1) }, "−"),
    shown,
    h("button", { type: "button", "aria-label": `${label}: one more`, onclick: () => step(1) }, "+")));
}

/**
 * What went wrong and what to do, as the server said it.
 * @param {{detail?: string, message?: string, remedy?: string}} error
 */
export function trouble(error) {
  const words = error.detail || error.message || "Something went wrong.";
  return h("div", { class: "note bad", role: "alert" }, h("p", {}, h("strong", {}, sentence(words))), h("p", {}, error.remedy || ""));
}

/** @param {string} words */
export function sentence(words) {
  const text = words.charAt(0).toUpperCase() + words.slice(1);
  return /[.!?]$/.test(text) ? text : `${text}.`;
}
