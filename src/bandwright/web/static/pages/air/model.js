/**
 * What the Air page shows: the chosen sweep, what was found in it, an older one behind it, and the plan over it.
 * @module pages/air/model
 */
import { computed, signal } from "../../lib/html.js";
import { get } from "../../lib/api.js";
import { axisOf, unitOf } from "../../chart/axis.js";
import { dealt } from "../../chart/lanes.js";
import { bottomless, rangesOf, unmeasured } from "../../chart/levels.js";
import { looking } from "../../chart/looking.js";
import { dbText } from "../../chart/words.js";
import { carriers as planned, permitsOf, spectrum, tvOf } from "../plan/model.js";
import { levelsOf, sweeps } from "./sweeps.js";

/** @typedef {import("../plan/types.js").AirReport} AirReport */
/** @typedef {import("../../chart/levels.js").Trace} Trace */
/** @typedef {import("../../chart/carriers.js").Carrier} Carrier */

const APART = 12;
const USUAL_WIDTH = 1000;
const MOST_FOUND = 60;

/** uid of the sweep that is shown, and of the older one behind it. */
export const chosen = signal(/** @type {string | null} */ (null));
export const older = signal(/** @type {string | null} */ (null));

export const trace = signal(/** @type {Trace | null} */ (null));
export const before = signal(/** @type {Trace | null} */ (null));
export const report = signal(/** @type {AirReport | null} */ (null));
export const comparison = signal(/** @type {any} */ (null));
export const failure = signal(/** @type {Error | null} */ (null));

/** Sweeps that were not removed, the newest first. */
export const present = computed(() => [...(sweeps.value.value?.sweeps ?? [])].filter((s) => !s.removed).reverse());
export const entry = computed(() => present.value.find((s) => s.uid === chosen.value) ?? null);

/** Fetch what is chosen; an answer for what is not chosen any more is dropped. */
export async function fetchChosen() {
  const uid = chosen.value;
  const old = older.value;
  failure.value = null;
  if (uid === null) return;
  try {
    const [levels, found, levelsBefore, compared] = await Promise.all([
      levelsOf(uid),
      get(`/sweeps/${uid}`),
      old ? levelsOf(old) : null,
      old ? get(`/compare?old=${old}&new=${uid}`) : null,
    ]);
    if (chosen.peek() !== uid || older.peek() !== old) return;
    trace.value = levels;
    before.value = levelsBefore;
    report.value = found;
    comparison.value = compared;
  } catch (error) {
    if (chosen.peek() === uid) failure.value = /** @type {Error} */ (error);
  }
}

export const onlyPermits = signal(false);

const windows = computed(() => permitsOf(spectrum.value.value).flatMap((p) => p.windows));

export const axis = computed(() => {
  if (onlyPermits.value && windows.value.length) return axisOf(windows.value, { margin: 400e3 });
  const spans = trace.value ? rangesOf(trace.value) : windows.value;
  if (!spans.length) return axisOf([]);
  return axisOf([{ low: Math.min(...spans.map((s) => s.low)), high: Math.max(...spans.map((s) => s.high)) }]);
});

/** What the sweep shows that is no carrier of ours, the strongest first. @returns {Carrier[]} */
const found = () =>
  [...(report.value?.carriers ?? [])]
    .sort((a, b) => b.above_floor_db - a.above_floor_db)
    .slice(0, MOST_FOUND)
    .map((c) => ({
      id: `found ${c.centre_mhz}`,
      name: `Found, ${dbText(c.level)} ${c.unit}`,
      label: `${dbText(c.level)} ${c.unit}`,
      kind: /** @type {const} */ ("found"),
      hz: Math.round(c.centre_mhz * 1e6),
      bandwidth: c.width_khz * 1e3,
      status: null,
      movable: false,
    }));

/** @type {import("../../vendor/signals.js").ReadonlySignal<Carrier[]>} */
export const carriers = computed(() => [...planned.value.map((c) => ({ ...c, movable: false, status: null })), ...found()]);

export const lanes = computed(() =>
  dealt(
    carriers.value.map((c) => ({ id: c.id, kind: c.kind, at: unitOf(axis.value, c.hz) })),
    { apart: (APART * axis.value.length) / USUAL_WIDTH, most: 3 },
  ),
);

/** TV channels as this sweep sees them, where it tells; as the brief says otherwise. */
const tv = computed(() => {
  const known = tvOf(spectrum.value.value);
  const seen = report.value?.tv ?? [];
  if (!seen.length) return known;
  const closed = new Set(known.filter((c) => c.word === "closed").map((c) => c.channel));
  return seen.map((c) => ({
    channel: c.channel,
    low: c.low_mhz * 1e6,
    high: c.high_mhz * 1e6,
    word: c.verdict === "taken" ? "taken" : closed.has(c.channel) ? "closed" : null,
  }));
});

export const ground = computed(() => {
  const shown = axis.value.panels.map(({ low, high }) => ({ low, high }));
  const shallow = report.value?.shallow?.map((s) => ({ low: s.low_mhz * 1e6, high: s.high_mhz * 1e6 }));
  return {
    permits: permitsOf(spectrum.value.value),
    tv: tv.value,
    gaps: trace.value ? unmeasured(trace.value, shown) : [],
    shallow: shallow ?? (trace.value ? bottomless(trace.value) : []),
  };
});

const selected = signal(/** @type {string | null} */ (null));
const never = () => {};

/** Nothing moves here: a carrier can be picked to read what it is. @type {import("../../chart/stage.js").Hand} */
const hand = {
  selected,
  hzNow: computed(() => carriers.value.find((c) => c.id === selected.value)?.hz ?? null),
  trial: signal(null),
  mayMove: signal(false),
  culprits: signal(new Set()),
  held: signal(false),
  state: () => null,
  reach: () => ({ low: 0, high: 0 }),
  pick: (id) => {
    selected.value = id;
  },
  tryAt: never,
  nudge: never,
  letGo: never,
  putBack: never,
  keep: never,
};

export const picked = computed(() => carriers.value.find((c) => c.id === selected.value) ?? null);

/** @type {import("../../chart/stage.js").Scene} */
export const scene = { axis, ground, lanes, carriers, trace, before, look: looking(axis), hand };
