/**
 * Levels of a sweep as they come over the wire: 16-bit hundredths of a dB, little endian, series after series.
 * @module chart/levels
 */

/** @typedef {import("./axis.js").Axis} Axis */
/** @typedef {import("./axis.js").Span} Span */
/** @typedef {import("./axis.js").View} View */
/** @typedef {import("./axis.js").Panel} Panel */
/** @typedef {import("../api").Segment} Segment `low_hz` is the lower edge of its first bin */
/** @typedef {import("../api").Trace} TraceHead */
/** @typedef {{unit: string, segments: Segment[], count: number, highest: Int16Array, typical: Int16Array,
 *    floor: Int16Array}} Trace */

export const MISSING = -32768;

/**
 * @param {TraceHead} head @param {ArrayBuffer} buffer @returns {Trace}
 * @throws {RangeError} when the buffer is not what the head says
 */
export function decoded(head, buffer) {
  const wanted = head.count * head.series.length * 2;
  if (buffer.byteLength !== wanted) throw new RangeError(`${buffer.byteLength} bytes of levels came, ${wanted} belong`);
  const all = words(buffer);
  const none = new Int16Array(head.count).fill(MISSING);
  /** @param {string} name */
  const series = (name) => {
    const i = head.series.indexOf(name);
    return i < 0 ? none : all.subarray(i * head.count, (i + 1) * head.count);
  };
  const { unit, segments, count } = head;
  return { unit, segments, count, highest: series("highest"), typical: series("typical"), floor: series("floor") };
}

/** @param {ArrayBuffer} buffer */
function words(buffer) {
  if (new Uint8Array(new Uint16Array([1]).buffer)[0] === 1) return new Int16Array(buffer);
  const view = new DataView(buffer);
  return Int16Array.from({ length: buffer.byteLength / 2 }, (_, i) => view.getInt16(2 * i, true));
}

/**
 * Visit the bins that the panels of an axis show.
 * @param {Axis} axis @param {Trace} trace @param {(index: number) => void} visit
 */
function eachBin(axis, trace, visit) {
  for (const panel of axis.panels) {
    let base = 0;
    for (const { low_hz, step_hz, count } of trace.segments) {
      const first = Math.max(0, Math.ceil((panel.low - low_hz) / step_hz - 0.5));
      const end = Math.min(count, Math.floor((panel.high - low_hz) / step_hz - 0.5) + 1);
      for (let i = first; i < end; i++) visit(base + i);
      base += count;
    }
  }
}

/**
 * The columns a chart draws of a part of an axis, with null where nothing was measured and between panels.
 *
 * Where more than two bins fall into one of so many equal columns of the view, two points stand for them: the lowest and
 * the highest of each series, in the order in which they come. No peak is lost, and the picture is the same.
 * @param {Axis} axis @param {Segment[]} segments @param {Int16Array[]} series @param {View} view @param {number} count
 * @returns {[number[], ...(number | null)[][]]} units, then each series in dB
 */
export function columns(axis, segments, series, view, count) {
  const width = (view.to - view.from) / count;
  const seen = { from: view.from - width, to: view.to + width };
  /** @type {number[]} */
  const xs = [];
  /** @type {(number | null)[][]} */
  const found = series.map(() => []);
  for (const panel of axis.panels) {
    let base = 0;
    for (const { low_hz, step_hz, count: bins } of segments) {
      const start = panel.at + low_hz + step_hz / 2 - panel.low;
      const before = xs.length;
      for (const [from, to] of runs(panel, seen, { start, step: step_hz, bins, width })) {
        xs.push(start + from * step_hz);
        if (to - from > 1) xs.push(start + (to - 1) * step_hz);
        series.forEach((levels, k) => ends(found[k], levels, base + from, base + to));
      }
      if (xs.length > before) {
        xs.push(xs[xs.length - 1] + 1e-3);
        for (const one of found) one.push(null);
      }
      base += bins;
    }
  }
  return [xs, ...found];
}

/**
 * The bins of a segment that a panel and a view show, in runs that fall into one column each; single ones where columns
 * are narrow. `start` is where the centre of the first bin stands.
 * @param {Panel} panel @param {View} seen @param {{start: number, step: number, bins: number, width: number}} of
 * @returns {Iterable<[number, number]>} first bin, and the one behind the last
 */
function* runs(panel, seen, { start, step, bins, width }) {
  const bin = (/** @type {number} */ unit) => Math.ceil((unit - start) / step);
  const end = Math.min(bins, bin(Math.min(panel.at + panel.high - panel.low, seen.to) + 1e-3));
  const next = (/** @type {number} */ i) => bin((Math.floor((start + i * step) / width) + 1) * width);
  for (let i = Math.max(0, bin(Math.max(panel.at, seen.from))); i < end; ) {
    const to = width > 2 * step ? Math.min(end, Math.max(i + 1, next(i))) : i + 1;
    yield [i, to];
    i = to;
  }
}

/**
 * Put the lowest and the highest of some levels, in the order in which they come; null for both where there are none.
 * One level is put once.
 * @param {(number | null)[]} into @param {Int16Array} levels @param {number} from @param {number} to
 */
function ends(into, levels, from, to) {
  if (to - from === 1) return void into.push(db(levels[from]));
  let low = MISSING;
  let high = MISSING;
  let rises = true;
  for (let i = from; i < to; i++) {
    const level = levels[i];
    if (level === MISSING) continue;
    if (level > high) {
      high = level;
      rises = true;
    }
    if (low === MISSING || level < low) {
      low = level;
      rises = false;
    }
  }
  into.push(db(rises ? low : high), db(rises ? high : low));
}

/** What a trace covers. @param {Trace} trace @returns {Span[]} */
export const rangesOf = (trace) => trace.segments.map((s) => ({ low: s.low_hz, high: s.low_hz + s.step_hz * s.count }));

/** @param {number} hundredths */
const db = (hundredths) => (hundredths === MISSING ? null : hundredths / 100);

/**
 * Stretches in which a series says nothing, among `inside` (whole range of the trace when left out).
 * @param {Trace} trace @param {Span[]} inside @returns {Span[]}
 */
export function unmeasured(trace, inside) {
  return without(inside, stretches(trace, (i) => trace.highest[i] !== MISSING));
}

/** Stretches that were measured but whose depth nobody knows: no noise floor. @param {Trace} trace @returns {Span[]} */
export function bottomless(trace) {
  return stretches(trace, (i) => trace.highest[i] !== MISSING && trace.floor[i] === MISSING);
}

/**
 * Stretches of bins for which something holds.
 * @param {Trace} trace @param {(index: number) => boolean} holds @returns {Span[]}
 */
export function stretches(trace, holds) {
  /** @type {Span[]} */
  const found = [];
  let base = 0;
  for (const { low_hz, step_hz, count } of trace.segments) {
    for (let i = 0; i < count; i++) {
      if (!holds(base + i)) continue;
      const low = low_hz + i * step_hz;
      const last = found[found.length - 1];
      if (last && low - last.high < step_hz * 0.51) last.high = low + step_hz;
      else found.push({ low, high: low + step_hz });
    }
    base += count;
  }
  return found;
}

/** What of some stretches others do not cover. @param {Span[]} inside @param {Span[]} covered @returns {Span[]} */
export function without(inside, covered) {
  /** @type {Span[]} */
  const found = [];
  for (const span of inside) {
    let low = span.low;
    for (const one of covered) {
      if (one.high <= low || one.low >= span.high) continue;
      if (one.low > low) found.push({ low, high: one.low });
      low = one.high;
    }
    if (low < span.high) found.push({ low, high: span.high });
  }
  return found.filter((s) => s.high - s.low > 1);
}

/**
 * Lowest and highest level in dB of what an axis shows, as whole tens with room; null without any.
 * @param {Axis} axis @param {Trace[]} traces @returns {{low: number, high: number} | null}
 */
export function levelRange(axis, traces) {
  let low = Infinity;
  let high = -Infinity;
  for (const trace of traces) {
    eachBin(axis, trace, (i) => {
      const top = trace.highest[i];
      if (top === MISSING) return;
      if (top > high) high = top;
      const bottom = trace.floor[i] === MISSING ? trace.typical[i] : Math.min(trace.floor[i], trace.typical[i]);
      if (bottom !== MISSING && bottom < low) low = bottom;
    });
  }
  if (high === -Infinity) return null;
  const bottom = Math.floor((low / 100 - 4) / 10) * 10;
  return { low: bottom, high: Math.max(Math.ceil((high / 100 + 3) / 10) * 10, bottom + 40) };
}

/**
 * The highest level in each of so many equal columns between two frequencies, dB; NaN where nothing was measured.
 * @param {Trace} trace @param {Span} span @param {number} count @returns {Float32Array}
 */
export function skyline(trace, span, count) {
  const found = new Float32Array(count).fill(NaN);
  const scale = count / (span.high - span.low);
  let base = 0;
  for (const { low_hz, step_hz, count: bins } of trace.segments) {
    for (let i = 0; i < bins; i++) {
      const level = trace.highest[base + i];
      if (level === MISSING) continue;
      const from = Math.floor((low_hz + i * step_hz - span.low) * scale);
      const to = Math.max(from, Math.ceil((low_hz + (i + 1) * step_hz - span.low) * scale) - 1);
      for (let k = Math.max(0, from); k <= Math.min(count - 1, to); k++) {
        if (!(found[k] >= level / 100)) found[k] = level / 100;
      }
    }
    base += bins;
  }
  return found;
}

/**
 * The readings nearest to a frequency; null where it was not measured.
 * @param {Trace} trace @param {number} hz @returns {{highest: number, typical: number | null, floor: number | null} | null}
 */
export function readAt(trace, hz) {
  let base = 0;
  for (const { low_hz, step_hz, count } of trace.segments) {
    const i = Math.floor((hz - low_hz) / step_hz);
    if (i >= 0 && i < count) {
      const highest = db(trace.highest[base + i]);
      if (highest === null) return null;
      return { highest, typical: db(trace.typical[base + i]), floor: db(trace.floor[base + i]) };
    }
    base += count;
  }
  return null;
}

/**
 * The highest levels of another trace over the bins of this one, so that both can be drawn on one axis.
 * @param {Trace} trace @param {Trace} other @returns {Int16Array} one for each bin of `trace`
 */
export function heldOver(trace, other) {
  const found = new Int16Array(trace.count).fill(MISSING);
  const starts = startsOf(trace);
  let base = 0;
  for (const { low_hz, step_hz, count } of other.segments) {
    for (let i = 0; i < count; i++) {
      const level = other.highest[base + i];
      if (level === MISSING) continue;
      for (const at of binsIn(trace, starts, low_hz + i * step_hz, low_hz + (i + 1) * step_hz)) {
        if (level > found[at]) found[at] = level;
      }
    }
    base += count;
  }
  return found;
}

/** @param {Trace} trace @returns {number[]} index of the first bin of each segment */
function startsOf(trace) {
  let base = 0;
  return trace.segments.map(({ count }) => (base += count) - count);
}

/** @param {Trace} trace @param {number[]} starts @param {number} low @param {number} high @returns {number[]} */
function binsIn(trace, starts, low, high) {
  /** @type {number[]} */
  const found = [];
  trace.segments.forEach(({ low_hz, step_hz, count }, s) => {
    const first = Math.max(0, Math.floor((low - low_hz) / step_hz + 1e-6));
    const end = Math.min(count, Math.ceil((high - low_hz) / step_hz - 1e-6));
    for (let i = first; i < end; i++) found.push(starts[s] + i);
  });
  return found;
}
