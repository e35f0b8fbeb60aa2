// The largest type that fits: the verb has its box filled whatever its length or language.

const rulers = new Map();

/** Height of a digit for a font size of 1, as this device's own font draws it. */
export function digitHeight(node) {
  const { fontFamily, fontWeight } = getComputedStyle(node);
  const key = `${fontWeight} ${fontFamily}`;
  if (!rulers.has(key)) {
    const pen = document.createElement("canvas").getContext("2d");
    pen.font = `${fontWeight} 100px ${fontFamily}`;
    rulers.set(key, (pen.measureText("0").actualBoundingBoxAscent || 72) / 100);
  }
  return rulers.get(key);
}

/** Sets the largest font size at which a text fits its box without breaking a word. */
export function fitText(node, width, height, least, most) {
  let low = least;
  let high = most;
  const fits = (size) => {
    node.style.fontSize = `${size}px`;
    // Letters may hang over their own edges by a little.
    return node.scrollWidth <= width + 0.06 * size && node.offsetHeight <= height + 1;
  };
  if (fits(high)) return high;
  while (high - low > 1) {
    const middle = (low + high) / 2;
    if (fits(middle)) low = middle;
    else high = middle;
  }
  fits(low);
  return low;
}

const NARROW = 0.85;

/**
 * Sets digits as high as there is room for, and gives that height; where the screen is too narrow
 * they are pressed together a little first, and then more rather than fall below `least`: across a
 * kitchen height is what is read.
 */
export function fitDigits(node, width, height, least) {
  const set = (tall) => {
    node.style.transform = "none";
    node.style.fontSize = `${tall / digitHeight(node)}px`;
    return Math.min(1, width / Math.max(node.offsetWidth, 1));
  };
  let tall = Math.max(height, least);
  let narrow = set(tall);
  if (narrow < NARROW) {
    tall = Math.max((tall * narrow) / NARROW, least);
    narrow = set(tall);
  }
  node.style.transform = `scaleX(${narrow})`;
  return tall;
}
