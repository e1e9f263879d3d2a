/**
 * The whole sweep, small: levels, permits, own carriers, and which part the chart above shows.
 * @module chart/overview
 */
import { rangesOf, skyline } from "./levels.js";
import { inksOf, pattern } from "./inks.js";

/** @typedef {import("./axis.js").Span} Span */
/** @typedef {import("./ground.js").Ground} Ground */
/** @typedef {import("./levels.js").Trace} Trace */
/** @typedef {{range: Span, ground: Ground, trace: Trace | null, own: number[], shown: Span}} Content */

const BAR = 5;
const FOOT = 16;

/** The stretch an overview shows: sweep, permits and own carriers. @param {Trace | null} trace @param {Span[]} windows @returns {Span} */
export function rangeOf(trace, windows) {
  const spans = [...windows, ...(trace ? rangesOf(trace) : [])];
  if (!spans.length) return { low: 470e6, high: 694e6 };
  return { low: Math.min(...spans.map((s) => s.low)), high: Math.max(...spans.map((s) => s.high)) };
}

/**
 * @param {HTMLCanvasElement} canvas its size on the page counts @param {Content} content @param {number} left room at the
 * left, page pixels @param {number} right room at the right
 */
export function paintOverview(canvas, { range, ground, trace, own, shown }, left, right) {
  const scale = devicePixelRatio || 1;
  const width = canvas.clientWidth;
  const height = canvas.clientHeight;
  if (!width || !height) return;
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  const draw = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  draw.scale(scale, scale);
  const inks = inksOf(canvas);
  const across = width - left - right;
  const bottom = height - FOOT;
  const x = (/** @type {number} */ hz) => left + ((hz - range.low) / (range.high - range.low)) * across;
  const fill = (/** @type {Span[]} */ spans, /** @type {number} */ top, /** @type {number} */ tall) => {
    for (const { low, high } of spans) {
      const from = Math.max(left, x(low));
      const to = Math.min(left + across, x(high));
      if (to > from) draw.fillRect(from, top, Math.max(1, to - from), tall);
    }
  };
  draw.fillStyle = inks.outside;
  draw.fillRect(left, BAR, across, bottom - BAR);
  draw.fillStyle = inks.paper;
  const windows = ground.permits.flatMap((p) => p.windows);
  fill(windows, BAR, bottom - BAR);
  draw.fillStyle = inks.text;
  fill(windows, 0, 3);
  draw.fillStyle = pattern(draw, "hatch", inks.taken, 1);
  fill(ground.tv.filter((c) => c.word), BAR, bottom - BAR);
  if (trace) paintSkyline(draw, trace, range, { left, across: Math.max(1, Math.round(across)), top: BAR + 2, bottom }, inks);
  draw.fillStyle = inks.ours;
  for (const hz of own) draw.fillRect(x(hz) - 0.5, bottom - 7, 1.5, 7);
  paintShown(draw, Math.max(left, x(shown.low)), Math.min(left + across, x(shown.high)), { left, right: left + across, bottom }, inks);
  draw.fillStyle = inks.muted;
  draw.font = `11px ${inks.font}`;
  draw.textBaseline = "alphabetic";
  for (const [hz, align] of /** @type {[number, CanvasTextAlign][]} */ ([[range.low, "left"], [range.high, "right"]])) {
    draw.textAlign = align;
    draw.fillText(`${(hz / 1e6).toFixed(0)} MHz`, x(hz), height - 3);
  }
}

/** @type {WeakMap<Trace, {key: string, levels: Float32Array}>} */
const skylines = new WeakMap();

/** The skyline of a trace, which stays while somebody zooms. @param {Trace} trace @param {Span} range @param {number} across */
function remembered(trace, range, across) {
  const key = `${range.low} ${range.high} ${across}`;
  const known = skylines.get(trace);
  if (known?.key === key) return known.levels;
  const levels = skyline(trace, range, across);
  skylines.set(trace, { key, levels });
  return levels;
}

/**
 * @param {CanvasRenderingContext2D} draw @param {Trace} trace @param {Span} range
 * @param {{left: number, across: number, top: number, bottom: number}} box @param {import("./inks.js").Inks} inks
 */
function paintSkyline(draw, trace, range, { left, across, top, bottom }, inks) {
  const levels = remembered(trace, range, across);
  const known = levels.filter((v) => !Number.isNaN(v));
  if (!known.length) return;
  const low = known.reduce((a, b) => Math.min(a, b), Infinity) - 3;
  const high = Math.max(known.reduce((a, b) => Math.max(a, b), -Infinity), low + 20);
  draw.fillStyle = inks.trace;
  levels.forEach((level, i) => {
    if (Number.isNaN(level)) return;
    const tall = ((level - low) / (high - low)) * (bottom - top);
    draw.fillRect(left + i, bottom - tall, 1, tall);
  });
}

/**
 * @param {CanvasRenderingContext2D} draw @param {number} from @param {number} to
 * @param {{left: number, right: number, bottom: number}} box @param {import("./inks.js").Inks} inks
 */
function paintShown(draw, from, to, { left, right, bottom }, inks) {
  if (from <= left + 1 && to >= right - 1) return;
  draw.fillStyle = inks.page;
  draw.globalAlpha = 0.6;
  draw.fillRect(left, BAR, from - left, bottom - BAR);
  draw.fillRect(to, BAR, right - to, bottom - BAR);
  draw.globalAlpha = 1;
  draw.strokeStyle = inks.ours;
  draw.lineWidth = 2;
  draw.strokeRect(from, BAR, Math.max(2, to - from), bottom - BAR);
}
