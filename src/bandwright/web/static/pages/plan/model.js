/**
 * What the Plan page stands on: the plan in force, the resolved spectrum, the sweep that is drawn, and what runs.
 * @module pages/plan/model
 */
import { computed, signal } from "../../lib/html.js";
import { resource } from "../../lib/resource.js";
import { on } from "../../lib/socket.js";
import { plan } from "../../lib/state.js";
import { axisOf, joined, unitOf } from "../../chart/axis.js";
import { dealt } from "../../chart/lanes.js";
import { bottomless, rangesOf, unmeasured } from "../../chart/levels.js";
import { levelsOf, sweeps } from "../air/sweeps.js";

/** @typedef {import("../../chart/carriers.js").Carrier} Carrier */
/** @typedef {import("../../chart/axis.js").Span} Span */
/** @typedef {import("../../chart/levels.js").Trace} Trace */
/** @typedef {import("./types.js").Spectrum} Spectrum */
/** @typedef {import("./types.js").PlanNow} PlanNow */
/** @typedef {import("./types.js").Run} Run */
/** @typedef {import("./types.js").Row} Row */

const MARGIN = 400e3;
const APART = 12;
const USUAL_WIDTH = 900;

/** @type {import("../../lib/resource.js").Resource<Spectrum>} */
export const spectrum = resource("/spectrum", ["brief", "sweeps"]);
/** The run of the engine, or the last one. @type {import("../../lib/resource.js").Resource<Run | null>} */
export const run = resource("/plan/run", []);
on("run", (message) => {
  run.value.value = message;
});

/** The plan in force, or null. @returns {PlanNow | null | undefined} */
export const planNow = () => /** @type {any} */ (plan.value.value);

/** @param {Spectrum} known @param {string} id */
const radioIn = (known, id) => known.radios.find((radio) => radio.id === id);

/** Everything that may be picked, links first in the order of the job. @type {import("../../vendor/signals.js").ReadonlySignal<Row[]>} */
export const rows = computed(() => {
  const known = spectrum.value.value;
  const now = planNow();
  if (!known) return [];
  const placed = new Map((now?.document.links ?? []).map((link) => [link.id, link]));
  const unplaced = new Map((now?.document.unplaced ?? []).map((link) => [link.id, link]));
  const links = known.links.map((link) => linkRow(known, link, placed.get(link.id) ?? null, unplaced.get(link.id) ?? null, now ?? null));
  return [...links, ...spareRows(known, now ?? null), ...known.others.map(otherRow)];
});

/**
 * @param {Spectrum} known @param {import("./types.js").LinkFacts} link @param {import("./types.js").Placed | null} placed
 * @param {import("./types.js").Unplaced | null} unplaced @param {PlanNow | null} now @returns {Row}
 */
function linkRow(known, link, placed, unplaced, now) {
  const radio = radioIn(known, link.radio) ?? null;
  return {
    id: link.id,
    uid: link.uid,
    name: link.name,
    kind: radio?.kind ?? "microphone",
    radio,
    hz: placed?.carrier_hz ?? null,
    status: placed?.status ?? (unplaced ? "unplaced" : null),
    held: link.held_hz !== null,
    placed,
    reasons: unplaced?.reasons ?? [],
    texts: now?.texts?.[link.id] ?? null,
    link,
  };
}

/** @param {Spectrum} known @param {PlanNow | null} now @returns {Row[]} */
function spareRows(known, now) {
  return (now?.document.spares ?? []).map((spare) => ({
    id: spare.id,
    uid: null,
    name: `Spare carrier for ${radioIn(known, spare.radio)?.name ?? spare.radio}`,
    kind: /** @type {const} */ ("spare"),
    radio: radioIn(known, spare.radio) ?? null,
    hz: spare.carrier_hz,
    status: null,
    held: false,
    placed: null,
    reasons: [],
    texts: now?.texts?.[spare.id] ?? null,
    link: null,
  }));
}

/** @param {import("./types.js").OtherFacts} other @returns {Row} */
function otherRow(other) {
  return {
    id: other.id,
    uid: other.uid,
    name: other.name,
    kind: /** @type {const} */ ("other"),
    radio: null,
    hz: other.carrier_hz,
    status: null,
    held: false,
    placed: null,
    reasons: [],
    texts: null,
    link: null,
    bandwidth: other.bandwidth_hz,
  };
}

export const rowsById = computed(() => new Map(rows.value.map((row) => [row.id, row])));
export const linkRows = computed(() => rows.value.filter((row) => row.link));

/** What has a place in the spectrum. @type {import("../../vendor/signals.js").ReadonlySignal<Carrier[]>} */
export const carriers = computed(() =>
  rows.value.flatMap((row) =>
    row.hz === null
      ? []
      : [{
          id: row.id,
          name: row.name === row.id ? row.id : `${row.id} ${row.name}`,
          kind: row.kind,
          hz: row.hz,
          bandwidth: row.radio?.bandwidth_hz ?? row.bandwidth ?? 0,
          status: /** @type {any} */ (row.status),
          movable: row.link !== null && !row.held,
        }],
  ),
);

/** Whether the axis shows the permits only, folded, or everything the sweep covers. */
export const onlyPermits = signal(true);

const windows = computed(() => (spectrum.value.value?.permits ?? []).flatMap((p) => p.windows_hz.map(spanOf)));

/** @param {number[]} pair @returns {Span} */
const spanOf = ([low, high]) => ({ low, high });

/** Ours may stand anywhere; the axis shows them all. Rounded, so that a move does not shift everything. */
const ownPlaces = computed(
  () => {
    const inside = joined(windows.value);
    const strays = carriers.value.filter((c) => c.kind !== "other" && !inside.some((s) => c.hz >= s.low && c.hz <= s.high));
    return JSON.stringify(strays.map((c) => [Math.floor(c.hz / 1e6) * 1e6, Math.ceil((c.hz + 1) / 1e6) * 1e6]));
  },
);

export const axis = computed(() => {
  const shown = [...windows.value, ...JSON.parse(ownPlaces.value).map(spanOf)];
  if (onlyPermits.value && shown.length) return axisOf(shown, { margin: MARGIN });
  const ends = [...shown, ...(trace.value ? rangesOf(trace.value) : [])];
  if (!ends.length) return axisOf([]);
  return axisOf([{ low: Math.min(...ends.map((s) => s.low)), high: Math.max(...ends.map((s) => s.high)) }]);
});

/** Rows of the lanes; they depend on the axis and on where carriers are planned, never on the zoom. */
export const lanes = computed(() =>
  dealt(
    carriers.value.map((c) => ({ id: c.id, kind: c.kind, at: unitOf(axis.value, c.hz) })),
    { apart: (APART * axis.value.length) / USUAL_WIDTH },
  ),
);

/** The sweep that is drawn. @type {import("../../vendor/signals.js").Signal<Trace | null>} */
export const trace = signal(null);
/** @type {{uid: string | null}} */
const drawn = { uid: null };

/** The newest sweep that counts. */
export const sweepInUse = computed(() => {
  const all = (sweeps.value.value?.sweeps ?? []).filter((s) => s.in_use && !s.removed);
  return all[all.length - 1] ?? null;
});

/** Fetch the levels of the sweep in use, once. */
export async function drawSweep() {
  const wanted = sweepInUse.value?.uid ?? null;
  if (wanted === drawn.uid) return;
  drawn.uid = wanted;
  const found = wanted === null ? null : await levelsOf(wanted).catch(() => null);
  if (drawn.uid === wanted) trace.value = found;
}

// Whoever comes to this page wants the levels: they come while the rest of it is put on screen.
void sweeps.ensure().then(drawSweep);

/** @param {Spectrum | undefined} known @returns {import("../../chart/ground.js").Permit[]} */
export const permitsOf = (known) =>
  (known?.permits ?? []).map((p) => ({
    id: p.id,
    reference: p.reference,
    state: p.state,
    windows: p.windows_hz.map(spanOf),
    closed: p.closed_hz.map(spanOf),
  }));

/** @param {Spectrum | undefined} known @returns {import("../../chart/ground.js").TvSlot[]} */
export const tvOf = (known) => (known?.tv ?? []).map((c) => ({ channel: c.channel, low: c.low_hz, high: c.high_hz, word: c.word }));

/** @type {import("../../vendor/signals.js").ReadonlySignal<import("../../chart/ground.js").Ground>} */
export const ground = computed(() => {
  const shown = axis.value.panels.map(({ low, high }) => ({ low, high }));
  return {
    permits: permitsOf(spectrum.value.value),
    tv: tvOf(spectrum.value.value),
    gaps: trace.value ? unmeasured(trace.value, shown) : sweepInUse.value ? [] : shown,
    shallow: trace.value ? bottomless(trace.value) : [],
  };
});
