// Small hands for the document. Whatever came over the wire goes in as text, never as markup.

export const find = (id) => document.getElementById(id);

/** An element with properties, and children that are elements or texts. */
export function el(tag, properties = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name.includes("-") || name === "role" || name === "for") made.setAttribute(name, value);
    else made[name] = value;
  }
  made.append(...children.filter((child) => child !== null && child !== ""));
  return made;
}

/** Sets a text only where it differs, so that nothing is laid out or read aloud for nothing. */
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** Keeps a figure and its unit on one line. */
export const bound = (text) =>
  text.replace(/(\d) (?=(?:[a-z%°]{1,3}|°[CF])(?:\W|$))/gi, "$1\u00a0").replace(/ ± /g, "\u00a0±\u00a0");

export function show(node, shown) {
  if (node.hidden === shown) node.hidden = !shown;
}

/** Calls `make` only if what it depends on has changed since the last call for this node. */
const seen = new WeakMap();
export function whenChanged(node, facts, make) {
  const key = JSON.stringify(facts);
  if (seen.get(node) === key) return;
  seen.set(node, key);
  make();
}

/** A sign told apart by its shape: eight corners, three, or a square, by priority. */
export function sign(priority) {
  const paths = {
    high: "M8 2h8l6 6v8l-6 6H8l-6-6V8z",
    medium: "M12 2l11 20H1z",
    low: "M3 3h18v18H3z",
    fault: "M12 2l11 20H1z",
  };
  const space = "http://www.w3.org/2000/svg";
  const svg = document.createElementNS(space, "svg");
  svg.setAttribute("viewBox", "0 0 24 24");
  svg.setAttribute("aria-hidden", "true");
  svg.setAttribute("class", "sign");
  for (const d of [paths[priority] ?? paths.low, "M11 8h2v7h-2zM11 17h2v2h-2z"]) {
    const path = document.createElementNS(space, "path");
    path.setAttribute("d", d);
    svg.append(path);
  }
  return svg;
}
