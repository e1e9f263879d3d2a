/**
 * A frequency axis that folds away what nobody plans in: panels of spectrum side by side, with narrow folds between.
 *
 * Positions along it are in "units": Hz inside a panel, with each fold `fold` units wide. A plain axis is one panel.
 * A view is what part of the axis the screen shows. All of this is arithmetic; nothing here knows a screen.
 *
 * @module chart/axis
 */

/** @typedef {{low: number, high: number}} Span a stretch of spectrum, Hz */
/** @typedef {{low: number, high: number, at: number}} Panel a stretch and where it begins on the axis, units */
/** @typedef {{panels: Panel[], fold: number, length: number}} Axis */
/** @typedef {{from: number, to: number}} View part of the axis that is shown, units */
/** @typedef {{at: number, hz: number, text: string}} Tick */

const NARROWEST = 150e3;
const STEPS = [1, 2, 2.5, 5];

/**
 * Join stretches that touch or overlap, in rising order.
 * @param {Span[]} spans @returns {Span[]}
 */
export function joined(spans) {
  /** @type {Span[]} */
  const found = [];
  for (const span of [...spans].sort((a, b) => a.low - b.low)) {
    const last = found[found.length - 1];
    if (last && span.low <= last.high) last.high = Math.max(last.high, span.high);
    else found.push({ ...span });
  }
  return found;
}

/**
 * Make an axis from the stretches to be shown, each with a margin; near ones become one panel.
 * @param {Span[]} spans @param {{margin?: number}} [options] margin at each side, Hz @returns {Axis}
 */
export function axisOf(spans, { margin = 0 } = {}) {
  const wide = joined(spans.map((s) => ({ low: Math.max(0, s.low - margin), high: s.high + margin })));
  if (!wide.length) wide.push({ low: 470e6, high: 694e6 });
  const width = wide.reduce((sum, s) => sum + s.high - s.low, 0);
  const fold = wide.length > 1 ? width * 0.012 : 0;
  let at = 0;
  const panels = wide.map((s) => {
    const panel = { low: s.low, high: s.high, at };
    at += s.high - s.low + fold;
    return panel;
  });
  return { panels, fold, length: at - fold };
}

/**
 * Where a frequency stands on the axis; inside a fold, and beyond the ends, it is squeezed.
 * @param {Axis} axis @param {number} hz @returns {number} units
 */
export function unitOf(axis, hz) {
  const { panels, fold } = axis;
  if (hz < panels[0].low) return 0;
  for (let i = 0; i < panels.length; i++) {
    const panel = panels[i];
    if (hz <= panel.high) return panel.at + hz - panel.low;
    const next = panels[i + 1];
    if (next && hz < next.low) return next.at - fold + (fold * (hz - panel.high)) / (next.low - panel.high);
  }
  return axis.length;
}

/**
 * The frequency at a place of the axis.
 * @param {Axis} axis @param {number} unit @returns {number} Hz
 */
export function hzAt(axis, unit) {
  const { panels, fold } = axis;
  for (let i = 0; i < panels.length; i++) {
    const panel = panels[i];
    const end = panel.at + panel.high - panel.low;
    if (unit <= end) return panel.low + Math.max(0, unit - panel.at);
    const next = panels[i + 1];
    if (next && unit < next.at) return panel.high + ((unit - end) / fold) * (next.low - panel.high);
  }
  return panels[panels.length - 1].high;
}

/** Whether a frequency lies in a panel. @param {Axis} axis @param {number} hz */
export function shows(axis, hz) {
  return axis.panels.some((p) => hz >= p.low && hz <= p.high);
}

/**
 * The parts of a stretch that panels show, in units.
 * @param {Axis} axis @param {Span} span @returns {View[]}
 */
export function cut(axis, span) {
  const found = [];
  for (const panel of axis.panels) {
    const low = Math.max(span.low, panel.low);
    const high = Math.min(span.high, panel.high);
    if (high > low) found.push({ from: panel.at + low - panel.low, to: panel.at + high - panel.low });
  }
  return found;
}

/** The view that shows everything. @param {Axis} axis @returns {View} */
export const whole = (axis) => ({ from: 0, to: axis.length });

/** Keep a view on its axis. @param {Axis} axis @param {View} view @returns {View} */
export function kept(axis, view) {
  const width = Math.min(Math.max(view.to - view.from, Math.min(NARROWEST, axis.length)), axis.length);
  const from = Math.min(Math.max(view.from, 0), axis.length - width);
  return { from, to: from + width };
}

/**
 * Zoom by a factor (below 1: closer) around a place that stays where it is.
 * @param {Axis} axis @param {View} view @param {number} factor @param {number} around units @returns {View}
 */
export function zoomed(axis, view, factor, around) {
  const narrowest = Math.min(NARROWEST, axis.length);
  const width = Math.min(Math.max((view.to - view.from) * factor, narrowest), axis.length);
  const part = (around - view.from) / (view.to - view.from);
  return kept(axis, { from: around - part * width, to: around + (1 - part) * width });
}

/** Move a view along. @param {Axis} axis @param {View} view @param {number} by units @returns {View} */
export const panned = (axis, view, by) => kept(axis, { from: view.from + by, to: view.to + by });

/** Show a stretch with room around it. @param {Axis} axis @param {Span} span @returns {View} */
export function around(axis, span) {
  const from = unitOf(axis, span.low);
  const to = unitOf(axis, span.high);
  return kept(axis, { from, to });
}

/** Move a view just so far that a place is in it. @param {Axis} axis @param {View} view @param {number} unit */
export function reveal(axis, view, unit) {
  if (unit >= view.from && unit <= view.to) return view;
  return panned(axis, view, unit - (view.from + view.to) / 2);
}

/**
 * A round step of which about one fits into so many pixels.
 * @param {number} perPixel units in a pixel @param {number} least pixels between steps @returns {number}
 */
export function roundStep(perPixel, least) {
  const raw = perPixel * least;
  const tens = 10 ** Math.floor(Math.log10(raw));
  const step = STEPS.find((s) => s * tens >= raw * 0.999999);
  return step ? step * tens : 10 * tens;
}

/**
 * Round frequencies under the panels that a view shows.
 * @param {Axis} axis @param {View} view @param {number} pixels width of the view @param {number} [least] between marks
 * @returns {Tick[]}
 */
export function ticks(axis, view, pixels, least = 64) {
  const step = Math.max(1, roundStep((view.to - view.from) / pixels, least));
  const decimals = Math.max(0, 6 - Math.floor(Math.log10(step)) - (step.toPrecision(2).includes("2.5") ? -1 : 0));
  const places = Math.min(6, step >= 1e6 ? (step % 1e6 ? 1 : 0) : decimals);
  /** @type {Tick[]} */
  const found = [];
  for (const panel of axis.panels) {
    for (let k = Math.ceil(panel.low / step); k * step <= panel.high; k++) {
      const hz = k * step;
      const at = panel.at + hz - panel.low;
      if (at >= view.from && at <= view.to) found.push({ at, hz, text: (hz / 1e6).toFixed(places) });
    }
  }
  return found;
}
