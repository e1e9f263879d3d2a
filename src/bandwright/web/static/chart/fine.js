/**
 * What lies close around one carrier: its own width, neighbours, products and the room each asks for, and the noise.
 * @module chart/fine
 */
import { inksOf, pattern } from "./inks.js";
import { MISSING } from "./levels.js";
import { signedKhz } from "./words.js";

/** @typedef {import("./axis.js").Span} Span */
/** @typedef {import("./levels.js").Trace} Trace */
/** @typedef {{rule: string, family: string | null, sources: string[], product_hz: number | null, offset_khz: number,
 *   required_khz: number, ok: boolean, text: string}} Near `offset_khz`: from the carrier to it */
/** @typedef {{hz: number, bandwidth: number, near: Near[], neighbours: {id: string, hz: number, bandwidth: number}[],
 *   usable: Span[], trace: Trace | null}} Content */

const FOOT = 18;
const LEAST = 250;
const MOST = 2500;

/**
 * How far to look to each side, kHz: what asks for room, and a little more.
 * @param {number} bandwidth Hz @param {Near[]} near @returns {number}
 */
export function reachOf(bandwidth, near) {
  const asked = near.map((n) => Math.max(n.required_khz, n.ok ? 0 : Math.abs(n.offset_khz)));
  return Math.min(Math.max(LEAST, (bandwidth / 1e3) * 1.6, ...asked.map((khz) => khz * 1.7)), MOST);
}

/** @typedef {{width: number, height: number, scale: number, inks: import("./inks.js").Inks}} Sheet */

/**
 * Make a canvas as large as it is on the page. It is asked for its size and its inks here and not at every stroke,
 * since asking costs a layout.
 * @param {HTMLCanvasElement} canvas @returns {Sheet}
 */
export function measured(canvas) {
  const scale = devicePixelRatio || 1;
  const { clientWidth: width, clientHeight: height } = canvas;
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  return { width, height, scale, inks: inksOf(canvas) };
}

/** @param {HTMLCanvasElement} canvas @param {Sheet} sheet @param {Content} content */
export function paintFine(canvas, { width, height, scale, inks }, content) {
  if (!width || !height) return;
  const draw = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  draw.setTransform(scale, 0, 0, scale, 0, 0);
  draw.clearRect(0, 0, width, height);
  const reach = reachOf(content.bandwidth, content.near);
  const bottom = height - FOOT;
  const x = (/** @type {number} */ khz) => width / 2 + (khz / reach) * (width / 2);
  const of = (/** @type {number} */ hz) => x((hz - content.hz) / 1e3);

  draw.fillStyle = content.usable.length ? inks.outside : inks.paper;
  draw.fillRect(0, 0, width, bottom);
  draw.fillStyle = inks.paper;
  for (const { low, high } of content.usable) draw.fillRect(of(low), 0, of(high) - of(low), bottom);
  const seen = { low: content.hz - reach * 1e3, high: content.hz + reach * 1e3 };
  if (content.trace) noise(draw, content, inks, { bottom, of, seen });

  draw.globalAlpha = 0.22;
  draw.fillStyle = inks.ours;
  const half = content.bandwidth / 2e3;
  draw.fillRect(x(-half), 0, Math.max(2, x(half) - x(-half)), bottom);
  draw.globalAlpha = 1;

  for (const one of content.neighbours) neighbour(draw, one, inks, { bottom, of, width });
  const shown = content.near.filter((n) => n.product_hz !== null && Math.abs(n.offset_khz) <= reach);
  shown.forEach((n) => product(draw, n, inks, { bottom, x }));

  draw.fillStyle = inks.ours;
  draw.fillRect(width / 2 - 1, 0, 2, bottom);
  foot(draw, inks, { reach, bottom, x, width });
}

/**
 * @param {CanvasRenderingContext2D} draw @param {Content} content @param {import("./inks.js").Inks} inks
 * @param {{bottom: number, of: (hz: number) => number, seen: Span}} place
 */
function noise(draw, { trace }, inks, { bottom, of, seen }) {
  if (!trace) return;
  let base = 0;
  /** @type {[number, number, number, number][]} left, right, highest, floor */
  const bins = [];
  for (const { low_hz, step_hz, count } of trace.segments) {
    const first = Math.max(0, Math.floor((seen.low - low_hz) / step_hz));
    const end = Math.min(count, Math.ceil((seen.high - low_hz) / step_hz));
    for (let i = first; i < end; i++) {
      if (trace.highest[base + i] === MISSING) continue;
      bins.push([of(low_hz + i * step_hz), of(low_hz + (i + 1) * step_hz), trace.highest[base + i], trace.floor[base + i]]);
    }
    base += count;
  }
  if (!bins.length) return;
  const low = Math.min(...bins.map((b) => (b[3] === MISSING ? b[2] : b[3]))) - 300;
  const high = Math.max(low + 4000, ...bins.map((b) => b[2])) + 300;
  draw.fillStyle = inks.typical;
  for (const [left, right, level] of bins) {
    const tall = ((level - low) / (high - low)) * bottom * 0.8;
    draw.fillRect(left, bottom - tall, right - left + 0.5, tall);
  }
}

/**
 * @param {CanvasRenderingContext2D} draw @param {{id: string, hz: number, bandwidth: number}} one
 * @param {import("./inks.js").Inks} inks @param {{bottom: number, of: (hz: number) => number, width: number}} place
 */
function neighbour(draw, { id, hz, bandwidth }, inks, { bottom, of, width }) {
  const left = of(hz - bandwidth / 2);
  const right = of(hz + bandwidth / 2);
  if (right < 0 || left > width) return;
  draw.strokeStyle = inks.text;
  draw.lineWidth = 1;
  draw.fillStyle = pattern(draw, "hatch", inks.text, 1);
  draw.globalAlpha = 0.35;
  draw.fillRect(left, 20, right - left, bottom - 20);
  draw.globalAlpha = 1;
  draw.strokeRect(left + 0.5, 20.5, right - left - 1, bottom - 21);
  draw.fillStyle = inks.text;
  draw.font = `700 12px ${inks.font}`;
  draw.textAlign = "center";
  draw.textBaseline = "alphabetic";
  const middle = Math.min(Math.max((left + right) / 2, 16), width - 16);
  draw.fillText(id, middle, 14);
}

/**
 * A product as a peak, and the room it must leave hatched to both sides when it is too near.
 * @param {CanvasRenderingContext2D} draw @param {Near} near @param {import("./inks.js").Inks} inks
 * @param {{bottom: number, x: (khz: number) => number}} place
 */
function product(draw, near, inks, { bottom, x }) {
  const at = x(near.offset_khz);
  const colour = near.ok ? inks.muted : inks.alert;
  if (!near.ok) {
    draw.globalAlpha = 0.8;
    draw.fillStyle = pattern(draw, "hatch", colour, 1);
    draw.fillRect(x(near.offset_khz - near.required_khz), bottom * 0.45, x(near.offset_khz + near.required_khz) - x(near.offset_khz - near.required_khz), bottom * 0.55);
    draw.globalAlpha = 1;
  }
  draw.strokeStyle = draw.fillStyle = colour;
  draw.lineWidth = near.ok ? 1 : 2;
  draw.beginPath();
  draw.moveTo(at, bottom);
  draw.lineTo(at, bottom * 0.42);
  draw.stroke();
  draw.beginPath();
  draw.moveTo(at - 5, bottom * 0.42 + 6);
  draw.lineTo(at + 5, bottom * 0.42 + 6);
  draw.lineTo(at, bottom * 0.42 - 4);
  draw.closePath();
  if (near.ok) draw.stroke();
  else draw.fill();
}

/**
 * @param {CanvasRenderingContext2D} draw @param {import("./inks.js").Inks} inks
 * @param {{reach: number, bottom: number, x: (khz: number) => number, width: number}} place
 */
function foot(draw, inks, { reach, bottom, x, width }) {
  const step = [50, 100, 200, 250, 500, 1000].find((s) => reach / s <= 3) ?? 1000;
  draw.strokeStyle = draw.fillStyle = inks.muted;
  draw.lineWidth = 1;
  draw.font = `11.5px ${inks.font}`;
  draw.textAlign = "center";
  draw.textBaseline = "alphabetic";
  draw.strokeRect(0.5, 0.5, width - 1, bottom - 1);
  for (let khz = -Math.floor(reach / step) * step; khz <= reach; khz += step) {
    draw.fillRect(x(khz), bottom, 1, 4);
    const text = khz === 0 ? "0 kHz" : signedKhz(khz);
    if (x(khz) > 16 && x(khz) < width - 16) draw.fillText(text, x(khz), bottom + 15);
  }
}
