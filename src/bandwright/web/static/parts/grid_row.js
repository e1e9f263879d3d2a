/** One row of a table: its handle, its cells, its menu. Drawn again only when something of its own changed. */
import { h, html, useComputed } from "../lib/html.js";
import { drafts, waitingOf } from "../lib/drafts.js";
import { dragRow } from "../lib/row_drag.js";
import { moveRow, nameOf } from "../lib/rows.js";
import { faultsAt, mayEdit } from "../lib/state.js";
import { GridCell } from "./grid_cell.js";

/**
 * @param {{ entry: import("../lib/types.js").Entry, columns: string[], fields: { [field: string]: import("../lib/schema.js").FieldFacts },
 *   table: import("./grid.js").Table }} props
 */
export function GridRow({ entry, columns, fields, table }) {
  const { uid } = entry;
  const own = useComputed(() => drafts.value.get(uid)).value;
  const editing = useComputed(() => (table.editing.value?.uid === uid ? table.editing.value.field : null)).value;
  const told = JSON.parse(useComputed(() => JSON.stringify(faultsAt(uid))).value);
  const waiting = JSON.parse(useComputed(() => JSON.stringify(waitingOf(uid))).value);
  // what is said of the whole row, or of a field that no column shows, stands at its label
  const at = (/** @type {any} */ fault) => (columns.includes(fault.field) ? fault.field : columns[0]);
  return html`<tr role="row" data-uid=${uid}>
    <td role="gridcell" class="handle-cell">
      ${mayEdit.value && html`<span class="handle" aria-hidden="true" onPointerDown=${(/** @type {PointerEvent} */ event) => dragRow(event, (before) => moveRow(entry, before))}></span>`}
    </td>
    ${columns.map((field) =>
      h(GridCell, {
        key: field,
        entry,
        field,
        facts: fields[field],
        draft: own?.[field],
        faults: told.filter((/** @type {any} */ fault) => at(fault) === field),
        waiting: waiting[field],
        editing: editing === field,
        table,
      }),
    )}
    <td role="gridcell" class="menu-cell">
      <button type="button" class="button quiet small" tabindex="-1" data-field="menu" aria-haspopup="menu" onClick=${(/** @type {any} */ event) => table.menu(entry, event.currentTarget)}>
        <span aria-hidden="true">⋯</span><span class="unseen">More for ${nameOf(entry)}</span>
      </button>
    </td>
  </tr>`;
}
