/**
 * What lies under and over a trace: where the permits are, what is taken, what nobody measured, and the rows below.
 *
 * Paper inside the permits, grey outside; taken and closed stretches are hatched and say so, what nobody measured is
 * dotted, what was measured without a known depth is dotted too and named. The sheets draw the same way.
 * @module chart/ground
 */
import { cut } from "./axis.js";
import { fitted, pattern } from "./inks.js";

/** @typedef {import("./axis.js").Axis} Axis */
/** @typedef {import("./axis.js").Span} Span */
/** @typedef {import("./inks.js").Inks} Inks */
/** @typedef {{id: string, reference: string, state: string, windows: Span[], closed: Span[]}} Permit */
/** @typedef {{channel: string, low: number, high: number, word: string | null}} TvSlot */
/** @typedef {{permits: Permit[], tv: TvSlot[], gaps: Span[], shallow: Span[]}} Ground */
/** @typedef {{left: number, top: number, width: number, height: number}} Box device pixels */
/** @typedef {{draw: CanvasRenderingContext2D, axis: Axis, inks: Inks, box: Box, scale: number,
 *    x: (unit: number) => number}} Brush */

/** @type {Ground} */
export const NO_GROUND = { permits: [], tv: [], gaps: [], shallow: [] };

export const ROW = 20;

/**
 * The parts of stretches on the canvas, cut to the box.
 * @param {Brush} brush @param {Span[]} spans @returns {[number, number][]} left and right edges
 */
function edges({ axis, box, x }, spans) {
  /** @type {[number, number][]} */
  const found = [];
  for (const span of spans) {
    for (const part of cut(axis, span)) {
      const left = Math.max(x(part.from), box.left);
      const right = Math.min(x(part.to), box.left + box.width);
      if (right > left) found.push([left, right]);
    }
  }
  return found;
}

/** @param {Brush} brush @param {Ground} ground what is under the traces */
export function paintGround(brush, ground) {
  const { draw, inks, box, scale } = brush;
  const { left, top, width, height } = box;
  draw.fillStyle = ground.permits.length ? inks.outside : inks.paper;
  draw.fillRect(left, top, width, height);
  draw.fillStyle = inks.paper;
  for (const [from, to] of edges(brush, ground.permits.flatMap((p) => p.windows))) draw.fillRect(from, top, to - from, height);
  draw.globalAlpha = 0.55;
  draw.fillStyle = pattern(draw, "hatch", inks.taken, scale);
  for (const [from, to] of edges(brush, ground.tv.filter((c) => c.word))) draw.fillRect(from, top, to - from, height);
  draw.fillStyle = pattern(draw, "cross", inks.taken, scale);
  const closed = edges(brush, ground.permits.flatMap((p) => p.closed));
  for (const [from, to] of closed) draw.fillRect(from, top, to - from, height);
  draw.globalAlpha = 1;
  for (const [from, to] of closed) {
    fitted(draw, ["closed"], inks, { left: from, right: to, middle: top + 14 * scale, size: 12 * scale, patch: true });
  }
}

/** @param {Brush} brush @param {Ground} ground what is over the traces: unmeasured, too shallow, and the folds */
export function paintCover(brush, ground) {
  const { draw, inks, box, scale } = brush;
  const { top, height } = box;
  const middle = top + height / 2;
  draw.fillStyle = pattern(draw, "dots", inks.unmeasured, scale);
  const gaps = edges(brush, ground.gaps);
  for (const [from, to] of gaps) draw.fillRect(from, top, to - from, height);
  for (const [left, right] of gaps) fitted(draw, ["not measured"], inks, { left, right, middle, size: 12 * scale, patch: true });
  const shallow = edges(brush, ground.shallow);
  draw.globalAlpha = 0.8;
  draw.fillStyle = pattern(draw, "hatch", inks.unmeasured, scale);
  for (const [from, to] of shallow) draw.fillRect(from, top, to - from, height);
  draw.globalAlpha = 1;
  for (const [left, right] of shallow) {
    const words = ["too shallow: it may be less quiet than it looks", "too shallow", "shallow"];
    fitted(draw, words, inks, { left, right, middle: top + height * 0.3, size: 12 * scale, patch: true });
  }
  paintFolds(brush);
}

/** @param {Brush} brush the folds between panels: blank, with a dashed edge */
function paintFolds({ draw, axis, inks, box, x, scale }) {
  const { panels, fold } = axis;
  draw.strokeStyle = inks.muted;
  draw.lineWidth = scale;
  for (let i = 1; i < panels.length; i++) {
    const left = x(panels[i].at - fold);
    const right = x(panels[i].at);
    if (right < box.left || left > box.left + box.width) continue;
    draw.fillStyle = inks.page;
    draw.fillRect(left, box.top - 1, right - left, box.height + 2);
    draw.setLineDash([3 * scale, 3 * scale]);
    draw.beginPath();
    for (const at of [left, right]) {
      draw.moveTo(Math.round(at) + 0.5, box.top);
      draw.lineTo(Math.round(at) + 0.5, box.top + box.height);
    }
    draw.stroke();
    draw.setLineDash([]);
  }
}

/**
 * The TV channels in a row: label, hatched and with the word where it is not ours.
 * @param {Brush} brush @param {TvSlot[]} slots @param {number} top
 */
export function paintTv(brush, slots, top) {
  const { draw, inks, scale } = brush;
  const height = (ROW - 4) * scale;
  draw.lineWidth = scale;
  for (const slot of slots) {
    for (const [left, right] of edges(brush, [slot])) {
      if (right - left < 3 * scale) continue;
      if (slot.word) {
        draw.fillStyle = pattern(draw, "hatch", inks.taken, scale);
        draw.fillRect(left, top, right - left, height);
      }
      draw.strokeStyle = inks.muted;
      draw.strokeRect(Math.round(left) + 0.5, Math.round(top) + 0.5, Math.round(right - left), height);
      const wanted = slot.word ? [`TV ${slot.channel} ${slot.word}`, `${slot.channel} ${slot.word}`, slot.channel] : [`TV ${slot.channel}`, slot.channel];
      fitted(draw, wanted, inks, { left, right, middle: top + height / 2, size: 11.5 * scale, bold: !!slot.word, patch: !!slot.word });
    }
  }
}

/**
 * A bar under each permit window with its reference.
 * @param {Brush} brush @param {Permit[]} permits @param {number} top
 */
export function paintPermits(brush, permits, top) {
  const { draw, inks, scale } = brush;
  for (const permit of permits) {
    const state = permit.state === "applied" ? " (applied for)" : "";
    for (const [left, right] of edges(brush, permit.windows)) {
      draw.fillStyle = inks.text;
      draw.fillRect(left, top + scale, right - left, 3 * scale);
      const wanted = [`${permit.reference}${state}`, `${permit.id}${state}`, permit.id];
      fitted(draw, wanted, inks, { left: left - 6 * scale, right: right + 6 * scale, middle: top + 12 * scale, size: 11.5 * scale });
    }
  }
}
