/**
 * Areas above a level and lines of equal level in a grid of values, straight lines between its points; pure.
 * @module chart/contours
 */

/** @typedef {{columns: number, rows: number, at: (column: number, row: number) => number}} Field  values at the points of a grid */
/** @typedef {[number, number]} Spot  column and row, with parts */

/**
 * A field that goes on beyond its edges and over its gaps, with what is nearest there, so that it can be cut at an outline.
 * @param {(number | null)[][]} values  rows of it; null: not known
 * @returns {Field | null}  one point wider on each side; null where nothing is known
 */
export function spread(values) {
  const rows = values.length + 2;
  const columns = (values[0]?.length ?? 0) + 2;
  let found = new Map(values.flatMap((row, y) => row.flatMap((value, x) => (value === null ? [] : [[(y + 1) * columns + x + 1, value]]))));
  if (found.size === 0) return null;
  while (found.size < rows * columns) {
    const next = new Map(found);
    for (let at = 0; at < rows * columns; at++) {
      if (found.has(at)) continue;
      const near = neighbours(at, columns, rows).flatMap((one) => found.get(one) ?? []);
      if (near.length > 0) next.set(at, near.reduce((sum, one) => sum + one, 0) / near.length);
    }
    found = next;
  }
  return { columns, rows, at: (column, row) => /** @type {number} */ (found.get(row * columns + column)) };
}

/** @param {number} at @param {number} columns @param {number} rows @returns {number[]} the up to eight points around one */
function neighbours(at, columns, rows) {
  const x = at % columns;
  const y = Math.floor(at / columns);
  const around = [-1, 0, 1].flatMap((down) => [-1, 0, 1].map((right) => [x + right, y + down]));
  return around.filter(([cx, cy]) => cx >= 0 && cy >= 0 && cx < columns && cy < rows && (cx !== x || cy !== y)).map(([cx, cy]) => cy * columns + cx);
}

/**
 * Where a field is at or above a level, as polygons; whole rows of cells become one.
 * @param {Field} field @param {number} level @returns {Spot[][]}
 */
export function above(field, level) {
  /** @type {Spot[][]} */
  const found = [];
  for (let row = 0; row + 1 < field.rows; row++) {
    let from = -1;
    for (let column = 0; column + 1 <= field.columns; column++) {
      const corners = column + 1 < field.columns ? cornersOf(field, column, row) : [];
      const whole = corners.length > 0 && corners.every((corner) => corner.value >= level);
      if (whole && from < 0) from = column;
      if (!whole && from >= 0) {
        found.push([[from, row], [column, row], [column, row + 1], [from, row + 1]]);
        from = -1;
      }
      if (!whole && corners.some((corner) => corner.value >= level)) found.push(cut(corners, level));
    }
  }
  return found;
}

/**
 * The pieces of the line along which a field has a level.
 * @param {Field} field @param {number} level @returns {[Spot, Spot][]}
 */
export function lines(field, level) {
  /** @type {[Spot, Spot][]} */
  const found = [];
  for (let row = 0; row + 1 < field.rows; row++) {
    for (let column = 0; column + 1 < field.columns; column++) {
      const corners = cornersOf(field, column, row);
      const crossed = corners.flatMap((corner, side) => {
        const next = corners[(side + 1) % 4];
        return corner.value >= level !== next.value >= level ? [between(corner, next, level)] : [];
      });
      for (let at = 0; at + 1 < crossed.length; at += 2) found.push([crossed[at], crossed[at + 1]]);
    }
  }
  return found;
}

/** @typedef {{spot: Spot, value: number}} Corner */

/** @param {Field} field @param {number} column @param {number} row @returns {Corner[]} around a cell */
function cornersOf(field, column, row) {
  /** @type {Spot[]} */
  const spots = [[column, row], [column + 1, row], [column + 1, row + 1], [column, row + 1]];
  return spots.map((spot) => ({ spot, value: field.at(spot[0], spot[1]) }));
}

/** @param {Corner[]} corners @param {number} level @returns {Spot[]} the part of a cell at or above a level */
const cut = (corners, level) =>
  corners.flatMap((corner, side) => {
    const next = corners[(side + 1) % 4];
    const inside = corner.value >= level;
    return [...(inside ? [corner.spot] : []), ...(inside !== next.value >= level ? [between(corner, next, level)] : [])];
  });

/** @param {Corner} one @param {Corner} two @param {number} level @returns {Spot} */
function between(one, two, level) {
  const part = (level - one.value) / (two.value - one.value);
  return [one.spot[0] + part * (two.spot[0] - one.spot[0]), one.spot[1] + part * (two.spot[1] - one.spot[1])];
}
