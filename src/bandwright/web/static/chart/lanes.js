/**
 * Carriers in lanes: one lane for each kind, as many rows in it as marks need to stand apart, labels where they fit.
 *
 * Rows are dealt for the whole axis once, so that nothing jumps when somebody zooms; labels are chosen for each view.
 * @module chart/lanes
 */

/** @typedef {"microphone" | "in-ear" | "talkback" | "spare" | "other" | "found"} Kind */
/** @typedef {{id: string, kind: Kind, at: number}} Mark a carrier and where it stands along the axis, units */
/** @typedef {{kind: Kind, first: number, rows: number, count: number}} Lane `first` is its first row from the top */
/** @typedef {{lanes: Lane[], rowOf: Map<string, number>, rows: number}} Lanes */

/** @type {Kind[]} */
export const KINDS = ["microphone", "in-ear", "talkback", "spare", "other", "found"];

/** @type {Record<Kind, string>} */
export const LANE_WORDS = {
  microphone: "Microphones",
  "in-ear": "In-ears",
  talkback: "Talkback",
  spare: "Spare carriers",
  other: "Other users",
  found: "Found in the air",
};

/**
 * Deal marks into rows, lane by lane in the order of `KINDS`.
 * @param {Mark[]} marks @param {{apart: number, most?: number}} options least distance in a row, units; rows in a lane
 * @returns {Lanes}
 */
export function dealt(marks, { apart, most = 5 }) {
  /** @type {Lane[]} */
  const lanes = [];
  const rowOf = new Map();
  let first = 0;
  for (const kind of KINDS) {
    const here = marks.filter((m) => m.kind === kind).sort((a, b) => a.at - b.at || (a.id < b.id ? -1 : 1));
    if (!here.length) continue;
    /** @type {number[]} */
    const ends = [];
    for (const mark of here) {
      let row = ends.findIndex((end) => mark.at - end >= apart);
      if (row < 0) row = ends.length < most ? ends.length : ends.indexOf(Math.min(...ends));
      ends[row] = mark.at;
      rowOf.set(mark.id, first + row);
    }
    lanes.push({ kind, first, rows: ends.length, count: here.length });
    first += ends.length;
  }
  return { lanes, rowOf, rows: first };
}

/** @typedef {{id: string, x: number, row: number, width: number}} Tag a mark on the screen and its label's width, px */

/** @typedef {"right" | "left"} Side of its mark on which a label stands */

/**
 * Which marks have room for their label, and where: the picked one always, then those in trouble, then whoever is left.
 * No label covers a mark or another label, but for that of the picked one.
 * @param {Tag[]} tags all marks @param {Tag[]} wanted those that may have a label
 * @param {{selected: string | null, marked: Set<string>, left: number, right: number, gap?: number}} options
 * @returns {Map<string, Side>}
 */
export function labelled(tags, wanted, { selected, marked, left, right, gap = 9 }) {
  /** @type {Map<string, Side>} */
  const found = new Map();
  /** @type {Map<number, [number, number][]>} taken stretches of each row */
  const rows = new Map();
  for (const { row, x } of tags) {
    const taken = rows.get(row) ?? [];
    taken.push([x - gap / 2, x + gap / 2]);
    rows.set(row, taken);
  }
  const rank = (/** @type {Tag} */ tag) => (tag.id === selected ? 0 : marked.has(tag.id) ? 1 : 2);
  for (const tag of [...wanted].sort((a, b) => rank(a) - rank(b) || a.x - b.x)) {
    const taken = /** @type {[number, number][]} */ (rows.get(tag.row));
    /** @type {[Side, number, number][]} */
    const places = [
      ["right", tag.x + gap, tag.x + gap + tag.width],
      ["left", tag.x - gap - tag.width, tag.x - gap],
    ];
    const inside = places.filter(([, from, to]) => from >= left && to <= right + gap);
    const place = inside.find(([, from, to]) => taken.every(([a, b]) => to <= a || from >= b)) ?? (rank(tag) === 0 ? inside[0] : undefined);
    if (!place) continue;
    found.set(tag.id, place[0]);
    taken.push([place[1], place[2]]);
  }
  return found;
}

/**
 * The mark nearest to a point, if one is within reach; among equally near ones the one that is selected.
 * @param {Tag[]} tags @param {{x: number, y: number, rowHeight: number, reach: number, selected?: string | null}} point
 * @returns {string | null}
 */
export function hit(tags, { x, y, rowHeight, reach, selected }) {
  let best = null;
  let least = reach;
  for (const tag of tags) {
    const away = Math.hypot(tag.x - x, (tag.row + 0.5) * rowHeight - y) - (tag.id === selected ? 3 : 0);
    if (away <= least) {
      least = away;
      best = tag.id;
    }
  }
  return best;
}
