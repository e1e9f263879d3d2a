/**
 * The inks of charts and their patterns: the same meanings as on the sheets, in the colours of the page's theme.
 * @module chart/inks
 */

/** @typedef {"paper" | "text" | "muted" | "grid" | "outside" | "trace" | "typical" | "floor" | "ours" | "other" | "taken" |
 *    "unmeasured" | "alert" | "page"} Ink */

/** @type {Ink[]} */
const NAMES = [
  "paper", "text", "muted", "grid", "outside", "trace", "typical", "floor", "ours", "other", "taken", "unmeasured", "alert", "page",
];

/** @typedef {Record<Ink, string> & {font: string}} Inks */

/** Read the inks that hold for an element. @param {Element} element @returns {Inks} */
export function inksOf(element) {
  const style = getComputedStyle(element);
  const found = Object.fromEntries(NAMES.map((name) => [name, style.getPropertyValue(`--bw-${name}`).trim() || "#777"]));
  return /** @type {Inks} */ ({ ...found, font: style.fontFamily });
}

const TILE = 8;

/** @type {Record<"hatch" | "cross" | "dots", (draw: CanvasRenderingContext2D) => void>} */
const MARKS = {
  hatch: (draw) => lines(draw, [[-2, 2, 2, -2], [0, 8, 8, 0], [6, 10, 10, 6]]),
  cross: (draw) =>
    lines(draw, [[-2, 2, 2, -2], [0, 8, 8, 0], [6, 10, 10, 6], [-2, 6, 2, 10], [0, 0, 8, 8], [6, -2, 10, 2]]),
  dots: (draw) => {
    for (const [x, y] of [[2, 2], [6, 6]]) {
      draw.beginPath();
      draw.arc(x, y, 0.95, 0, 7);
      draw.fill();
    }
  },
};

/** @param {CanvasRenderingContext2D} draw @param {number[][]} ends */
function lines(draw, ends) {
  draw.beginPath();
  for (const [x1, y1, x2, y2] of ends) {
    draw.moveTo(x1, y1);
    draw.lineTo(x2, y2);
  }
  draw.stroke();
}

/** @type {Map<string, CanvasPattern>} */
const made = new Map();

/**
 * A pattern of an ink, for `fillStyle`.
 * @param {CanvasRenderingContext2D} draw @param {"hatch" | "cross" | "dots"} name @param {string} colour
 * @param {number} scale device pixels for one of the page @returns {CanvasPattern}
 */
export function pattern(draw, name, colour, scale) {
  const key = `${name} ${colour} ${scale}`;
  const known = made.get(key);
  if (known) return known;
  const tile = document.createElement("canvas");
  tile.width = tile.height = Math.round(TILE * scale);
  const on = /** @type {CanvasRenderingContext2D} */ (tile.getContext("2d"));
  on.scale(tile.width / TILE, tile.width / TILE);
  on.strokeStyle = on.fillStyle = colour;
  MARKS[name](on);
  const found = /** @type {CanvasPattern} */ (draw.createPattern(tile, "repeat"));
  made.set(key, found);
  return found;
}

/**
 * A word in the middle of two edges on a patch of paper, if it fits; the first of several that does.
 * @param {CanvasRenderingContext2D} draw @param {string[]} wanted longest first @param {Inks} inks
 * @param {{left: number, right: number, middle: number, size: number, bold?: boolean, patch?: boolean}} where
 */
export function fitted(draw, wanted, inks, { left, right, middle, size, bold = false, patch = false }) {
  draw.font = `${bold ? 700 : 400} ${size}px ${inks.font}`;
  draw.textAlign = "center";
  draw.textBaseline = "middle";
  for (const text of wanted) {
    const width = draw.measureText(text).width + size * 0.7;
    if (width > right - left) continue;
    if (patch) {
      draw.fillStyle = inks.paper;
      draw.fillRect((left + right - width) / 2, middle - size * 0.72, width, size * 1.4);
    }
    draw.fillStyle = inks.text;
    draw.fillText(text, (left + right) / 2, middle);
    return;
  }
}
