/**
 * What a radio type can be tuned to: ranges with a step, and presets. Whole Hz throughout.
 * @module chart/tuning
 */

/** @typedef {{tuning?: number[][], presets?: {label: string, hz: number}[]}} Tunable ranges [low, high, step] in Hz */

/**
 * The tuning step or preset nearest to a frequency; the frequency itself where nothing is known.
 * @param {Tunable | null | undefined} radio @param {number} hz @returns {number}
 */
export function nearest(radio, hz) {
  let best = NaN;
  /** @param {number} one */
  const offer = (one) => {
    if (!(Math.abs(one - hz) >= Math.abs(best - hz))) best = one;
  };
  for (const [low, high, step] of radio?.tuning ?? []) offer(onGrid(low, high, step, Math.round((hz - low) / step)));
  for (const preset of radio?.presets ?? []) offer(preset.hz);
  return Number.isNaN(best) ? Math.round(hz) : best;
}

/**
 * The place so many steps up (down when negative); it stays at the end of what there is.
 * @param {Tunable | null | undefined} radio @param {number} hz @param {number} count @returns {number}
 */
export function stepped(radio, hz, count) {
  let at = hz;
  for (let i = 0; i < Math.abs(count); i++) at = next(radio, at, Math.sign(count));
  return at;
}

/** The lowest and highest carrier. @param {Tunable | null | undefined} radio @returns {{low: number, high: number}} */
export function reach(radio) {
  const ends = [
    ...(radio?.tuning ?? []).flatMap(([low, high, step]) => [low, onGrid(low, high, step, Infinity)]),
    ...(radio?.presets ?? []).map((p) => p.hz),
  ];
  return ends.length ? { low: Math.min(...ends), high: Math.max(...ends) } : { low: 0, high: 0 };
}

/** @param {Tunable | null | undefined} radio @param {number} hz @param {number} way 1 or -1 */
function next(radio, hz, way) {
  let best = NaN;
  /** @param {number} one */
  const offer = (one) => {
    if ((one - hz) * way > 0 && !((best - one) * way <= 0)) best = one;
  };
  for (const [low, high, step] of radio?.tuning ?? []) {
    const place = (hz - low) / step;
    offer(onGrid(low, high, step, way > 0 ? Math.floor(place) + 1 : Math.ceil(place) - 1));
  }
  for (const preset of radio?.presets ?? []) offer(preset.hz);
  return Number.isNaN(best) ? hz : best;
}

/** @param {number} low @param {number} high @param {number} step @param {number} count */
function onGrid(low, high, step, count) {
  return low + step * Math.min(Math.max(count, 0), Math.floor((high - low) / step));
}
