/** The keyboard of a table: where the focus stands, and what a key asks for. It works on the cells in the page. */

/**
 * @typedef {{ uid: string, field: string }} Place
 *
 * @typedef {object} GridActions
 * @property {(place: Place, typed?: string) => void} edit
 * @property {(place: Place) => void} clear
 * @property {(place: Place) => void} open  all facts of the row
 * @property {(place: Place) => void} copy
 * @property {(place: Place, by: -1 | 1) => void} step  move the row
 */

/** @param {Element | null} element @returns {HTMLElement | null} the cell around it */
export const cellOf = (element) => /** @type {HTMLElement | null} */ (element?.closest("[data-field]") ?? null);

/** @param {HTMLElement} cell @returns {Place} */
export const placeOf = (cell) => ({ uid: cell.closest("tr")?.dataset.uid ?? "", field: cell.dataset.field ?? "" });

/**
 * @param {HTMLElement} root  of the table
 * @param {Place} place
 * @returns {HTMLElement | null}
 */
export const cellAt = (root, { uid, field }) =>
  root.querySelector(`tr[data-uid="${CSS.escape(uid)}"] [data-field="${CSS.escape(field)}"]`);

/**
 * Give a cell the focus, and make it the one that Tab comes back to.
 * @param {HTMLElement} root
 * @param {HTMLElement | null} cell
 */
export function focusCell(root, cell) {
  if (!cell) return;
  for (const old of root.querySelectorAll('[data-field][tabindex="0"]')) old.setAttribute("tabindex", "-1");
  cell.setAttribute("tabindex", "0");
  cell.focus({ preventScroll: false });
  cell.scrollIntoView({ block: "nearest", inline: "nearest" });
}

/**
 * @param {HTMLElement} cell
 * @param {number} rows
 * @param {number} columns
 * @returns {HTMLElement | null} the cell that far away, or the last one on the way
 */
export function neighbour(cell, rows, columns) {
  const row = cell.closest("tr");
  const all = [...(row?.closest("table")?.querySelectorAll("tr[data-uid]") ?? [])];
  const across = [...(row?.querySelectorAll("[data-field]") ?? [])];
  const clamp = (/** @type {number} */ at, /** @type {any[]} */ list) => Math.max(0, Math.min(list.length - 1, at));
  const next = all[clamp(all.indexOf(/** @type {Element} */ (row)) + rows, all)];
  const cells = [...(next?.querySelectorAll("[data-field]") ?? [])];
  return /** @type {HTMLElement | null} */ (cells[clamp(across.indexOf(cell) + columns, cells)] ?? null);
}

/** How far a key goes: rows, columns. @type {{ [key: string]: [number, number] }} */
const STEPS = {
  ArrowUp: [-1, 0],
  ArrowDown: [1, 0],
  ArrowLeft: [0, -1],
  ArrowRight: [0, 1],
  Home: [0, -Infinity],
  End: [0, Infinity],
  PageUp: [-10, 0],
  PageDown: [10, 0],
  "Ctrl+Home": [-Infinity, -Infinity],
  "Ctrl+End": [Infinity, Infinity],
};

/**
 * Do what a key asks for in a cell that is not being changed.
 * @param {HTMLElement} root
 * @param {HTMLElement} cell
 * @param {string} chord  such as "Ctrl+D"
 * @param {GridActions} actions
 * @returns {boolean} whether the key was ours
 */
export function pressed(root, cell, chord, actions) {
  const step = STEPS[chord];
  const place = placeOf(cell);
  if (step) {
    focusCell(root, neighbour(cell, step[0], step[1]));
    return true;
  }
  /** @type {{ [chord: string]: () => void }} */
  const doing = {
    Enter: () => actions.edit(place),
    F2: () => actions.edit(place),
    Delete: () => actions.clear(place),
    Backspace: () => actions.clear(place),
    "Shift+ ": () => actions.open(place),
    "Ctrl+D": () => actions.copy(place),
    "Alt+ArrowUp": () => actions.step(place, -1),
    "Alt+ArrowDown": () => actions.step(place, 1),
  };
  if (doing[chord]) {
    doing[chord]();
    return true;
  }
  if ([...chord].length !== 1 || chord === " ") return false;
  actions.edit(place, chord);
  return true;
}
