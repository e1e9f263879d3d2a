/**
 * Which part of an axis a chart shows, and the ways to change that. Each says whether anything changed.
 * @module chart/looking
 */
import { effect, signal } from "../lib/html.js";
import { around, hzAt, panned, reveal, unitOf, whole, zoomed } from "./axis.js";

/** @typedef {import("./axis.js").Axis} Axis */
/** @typedef {import("./axis.js").View} View */
/** @typedef {ReturnType<typeof looking>} Looking */

/** @param {import("../vendor/signals.js").ReadonlySignal<Axis>} axis */
export function looking(axis) {
  /** @type {import("../vendor/signals.js").Signal<View>} */
  const view = signal(whole(axis.peek()));
  effect(() => {
    view.value = whole(axis.value);
  });

  /** @param {View} next */
  const set = (next) => {
    const { from, to } = view.peek();
    if (Math.abs(next.from - from) < 1 && Math.abs(next.to - to) < 1) return false;
    view.value = next;
    return true;
  };
  const zoomBy = (/** @type {number} */ factor, /** @type {number} */ at) => set(zoomed(axis.peek(), view.peek(), factor, at));

  return {
    view,
    zoomBy,
    panBy: (/** @type {number} */ by) => set(panned(axis.peek(), view.peek(), by)),
    zoomOut: () => set(whole(axis.peek())),
    zoomMiddle: (/** @type {number} */ factor) => zoomBy(factor, (view.peek().from + view.peek().to) / 2),
    /** Bring a frequency into view. */
    bring: (/** @type {number} */ hz) => set(reveal(axis.peek(), view.peek(), unitOf(axis.peek(), hz))),
    /** Show what lies around a frequency. */
    closeUp: (/** @type {number} */ hz, /** @type {number} */ reach = 2e6) => set(around(axis.peek(), { low: hz - reach, high: hz + reach })),
    /** The frequencies at the edges. */
    shown: () => ({ low: hzAt(axis.value, view.value.from), high: hzAt(axis.value, view.value.to) }),
    /** Whether less than everything is shown. */
    isClose: () => view.value.from > 0.5 || view.value.to < axis.value.length - 0.5,
  };
}
