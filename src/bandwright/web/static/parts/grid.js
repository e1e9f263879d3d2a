/**
 * An editable table of one kind of entry. By keyboard: arrows move, Enter or typing changes, Enter and Tab keep, Escape
 * leaves; by pointer: a press changes. Under 600 px every row is a card.
 */
import { h, html, signal, useEffect, useMemo, useRef, useState } from "../lib/html.js";
import { openDialog } from "../lib/dialogs.js";
import { useHeldWidths } from "../lib/column_widths.js";
import { begin, commit, write } from "../lib/drafts.js";
import { textOf } from "../lib/cell_text.js";
import { cellAt, cellOf, focusCell, neighbour, placeOf, pressed } from "../lib/grid_keys.js";
import { heading } from "../lib/kinds.js";
import { copyRow, isRows, nameOf, pasteRows, removeRow, stepRow } from "../lib/rows.js";
import { fieldsOf } from "../lib/schema.js";
import { chord } from "../lib/shortcuts.js";
import { entryOf, mayEdit } from "../lib/state.js";
import { askCopies } from "./copies.js";
import { FactFields } from "./fact_fields.js";
import { GridRow } from "./grid_row.js";
import { Help } from "./help.js";
import { RowMenu } from "./row_menu.js";

/** @typedef {import("../lib/types.js").Entry} Entry */
/** @typedef {import("../lib/grid_keys.js").Place} Place */
/** @typedef {ReturnType<typeof makeTable>} Table */

/** @param {{ kind: string, label: string, rows: Entry[], columns: string[], focus?: string | null, field?: string }} props  `focus`: uid of a row to go to, at its `field` or the first */
export function Grid({ kind, label, rows, columns, focus, field }) {
  const root = useRef(/** @type {HTMLElement | null} */ (null));
  const [menu, setMenu] = useState(/** @type {{ entry: Entry, anchor: HTMLElement } | null} */ (null));
  const table = useMemo(() => makeTable(kind, root, setMenu), [kind]);
  const fields = fieldsOf(kind);
  useEffect(() => {
    const first = root.current?.querySelector("tbody [data-field]") ?? root.current?.querySelector("[data-field]");
    if (!root.current?.querySelector('[data-field][tabindex="0"]')) first?.setAttribute("tabindex", "0");
  });
  useEffect(() => table.settle());
  useHeldWidths(root, [columns, fields, rows.length]);
  useEffect(() => {
    if (focus && root.current) focusCell(root.current, cellAt(root.current, { uid: focus, field: field && columns.includes(field) ? field : columns[0] }));
  }, [focus]);
  return html`<div>
    <div class="scroller">
      <table ref=${root} class="list grid" role="grid" aria-label=${label} data-owns-keys onKeyDown=${table.keyDown} onPaste=${(/** @type {ClipboardEvent} */ event) => table.paste(event, null)} onCopy=${table.copied} onFocusIn=${table.focusIn} onFocusOut=${table.focusOut}>
        <thead role="rowgroup">
          <tr role="row" data-uid="">
            <td role="gridcell" class="handle-cell"></td>
            ${columns.map((field) => html`<th key=${field} role="columnheader" scope="col" class=${isNumber(fields[field]) ? "number" : ""}>${h(Help, { about: heading(field), text: fields[field]?.description ?? "", word: true, field })}</th>`)}
            <td role="gridcell" class="menu-cell"></td>
          </tr>
        </thead>
        <tbody role="rowgroup">
          ${rows.map((entry) => h(GridRow, { key: entry.uid, entry, columns, fields, table }))}
        </tbody>
      </table>
    </div>
    ${menu && h(RowMenu, { key: menu.entry.uid, anchor: menu.anchor, label: nameOf(menu.entry), items: items(menu.entry, table), close: () => setMenu(null) })}
  </div>`;
}

/** @param {import("../lib/schema.js").FieldFacts | undefined} facts */
const isNumber = (facts) => facts?.type === "number" || facts?.type === "integer";

/** @param {Entry} entry @param {Table} table */
function items(entry, table) {
  const all = { word: "All facts", keys: "Shift Space", run: () => table.open({ uid: entry.uid, field: "" }) };
  if (!mayEdit.value) return [all];
  return [
    all,
    { word: "Duplicate", keys: "Ctrl D", run: () => copyRow(entry, 1) },
    { word: "Duplicate several…", run: () => askCopies(entry) },
    { word: "Move up", keys: "Alt ↑", run: () => table.step({ uid: entry.uid, field: "menu" }, -1) },
    { word: "Move down", keys: "Alt ↓", run: () => table.step({ uid: entry.uid, field: "menu" }, 1) },
    { word: "Remove", run: () => removeRow(entry) },
  ];
}

/** What stands inside a cell as tables is changed in a dialog of its own. @param {Entry} entry @param {string} field */
function openInner(entry, field) {
  openDialog({ title: `${heading(field)} of ${nameOf(entry)}`, body: () => h(FactFields, { uid: entry.uid, only: [field] }), wide: true });
}

/** @param {HTMLElement} root @returns {HTMLElement[]} */
const rowsOf = (root) => [...root.querySelectorAll("tr[data-uid]")].map((row) => /** @type {HTMLElement} */ (row));

/**
 * What the cells of a table ask it for.
 * @param {string} kind
 * @param {{ current: HTMLElement | null }} root
 * @param {(menu: { entry: Entry, anchor: HTMLElement } | null) => void} showMenu
 */
function makeTable(kind, root, showMenu) {
  /** The cell that is being changed. @type {import("../vendor/signals.js").Signal<Place | null>} */
  const editing = signal(null);
  const at = (/** @type {Place} */ place) => (root.current ? cellAt(root.current, place) : null);
  const focus = (/** @type {HTMLElement | null} */ cell) => root.current && focusCell(root.current, cell);
  /** Where the focus is in the table, to find it again when its row goes. @type {Place & { row: number } | null} */
  let last = null;

  const table = {
    editing,
    edit(/** @type {Place} */ place, /** @type {string | undefined} */ typed = undefined) {
      const entry = entryOf(place.uid);
      if (place.field === "menu") return undefined;
      if (!entry || !mayEdit.peek()) return undefined;
      if (fieldsOf(kind)[place.field]?.inner) return openInner(entry, place.field);
      begin(entry, place.field, typed);
      editing.value = place;
      return undefined;
    },
    /** Close the editor and move on from its cell, at once: the next key is meant for the next cell. */
    close(/** @type {Place} */ place, /** @type {[number, number]} */ by) {
      editing.value = null;
      const cell = at(place);
      if (cell) focus(neighbour(cell, by[0], by[1]));
    },
    /** The editor lost the focus to something else. */
    left(/** @type {Place} */ place) {
      const now = editing.peek();
      if (now?.uid === place.uid && now.field === place.field) editing.value = null;
    },
    clear(/** @type {Place} */ { uid, field }) {
      const entry = entryOf(uid);
      if (!entry || field === "menu" || !mayEdit.peek()) return;
      begin(entry, field, "");
      commit(uid, field);
    },
    open(/** @type {Place} */ { uid }) {
      const entry = entryOf(uid);
      if (entry) openDialog({ title: nameOf(entry), body: () => h(FactFields, { uid }), wide: true });
    },
    async copy(/** @type {Place} */ { uid, field }) {
      const entry = entryOf(uid);
      if (!entry || !mayEdit.peek()) return;
      const [made] = await copyRow(entry, 1);
      if (made) requestAnimationFrame(() => focus(at({ uid: made.uid, field })));
    },
    async step(/** @type {Place} */ place, /** @type {-1 | 1} */ by) {
      const entry = entryOf(place.uid);
      if (!entry || !mayEdit.peek()) return;
      await stepRow(entry, by);
      requestAnimationFrame(() => focus(at(place)));
    },
    menu(/** @type {Entry} */ entry, /** @type {HTMLElement} */ anchor) {
      showMenu({ entry, anchor });
    },
    /** Rows of a spreadsheet become rows here; a single cell goes into the cell. */
    paste(/** @type {ClipboardEvent} */ event, /** @type {Place | null} */ inEditor) {
      const text = event.clipboardData?.getData("text/plain") ?? "";
      const cell = cellOf(document.activeElement);
      if (!text.trim() || !mayEdit.peek() || event.defaultPrevented || (inEditor && !isRows(text))) return;
      const place = inEditor ?? (cell && placeOf(cell));
      event.preventDefault();
      event.stopPropagation();
      if (isRows(text)) pasteRows(kind, text, place?.uid);
      else if (place && entryOf(place.uid)) {
        begin(/** @type {Entry} */ (entryOf(place.uid)), place.field);
        write(place.uid, place.field, text.trim());
        commit(place.uid, place.field);
      }
    },
    copied(/** @type {ClipboardEvent} */ event) {
      const cell = cellOf(document.activeElement);
      if (!cell || document.activeElement !== cell || !getSelection()?.isCollapsed) return;
      const { uid, field } = placeOf(cell);
      event.clipboardData?.setData("text/plain", textOf(entryOf(uid)?.value[field]));
      event.preventDefault();
    },
    keyDown(/** @type {KeyboardEvent} */ event) {
      const cell = cellOf(/** @type {Element} */ (event.target));
      if (!cell || !root.current || event.target !== cell) return;
      if (event.key === "Enter" && cell instanceof HTMLButtonElement) return;
      if (pressed(root.current, cell, chord(event), table)) {
        event.preventDefault();
        event.stopPropagation();
      }
    },
    /** Tab comes back to the cell that had the focus last. */
    focusIn(/** @type {FocusEvent} */ event) {
      const cell = cellOf(/** @type {Element} */ (event.target));
      if (!cell || !root.current) return;
      last = { ...placeOf(cell), row: rowsOf(root.current).indexOf(/** @type {HTMLElement} */ (cell.closest("tr"))) };
      if (event.target === cell && cell.getAttribute("tabindex") !== "0") focusCell(root.current, cell);
    },
    /** Whoever leaves the table is not brought back to it; only a row that goes with the focus in it is made up for. */
    focusOut(/** @type {FocusEvent} */ event) {
      const left = /** @type {Element} */ (event.target);
      if (event.relatedTarget) last = null;
      else queueMicrotask(() => left.isConnected && document.activeElement === document.body && (last = null));
    },
    /** Where the row that had the focus is gone, the focus goes to the one in its place. */
    settle() {
      if (!last || !root.current || document.activeElement !== document.body) return;
      const rows = rowsOf(root.current);
      const uid = at(last) ? last.uid : rows[Math.min(last.row, rows.length - 1)]?.dataset.uid;
      if (uid !== undefined) focus(at({ uid, field: last.field }));
    },
  };
  return table;
}
