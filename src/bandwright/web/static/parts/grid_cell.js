/** One cell: its value, or its editor; under it what the service says about it. */
import { h, html } from "../lib/html.js";
import { innerShown, shownText } from "../lib/cell_text.js";
import { commit, drop, write } from "../lib/drafts.js";
import { mhz } from "../lib/format.js";
import { heading } from "../lib/kinds.js";
import { CellNotes } from "./cell_notes.js";
import { Editor } from "./editor.js";
import { Status } from "./status.js";

/**
 * @typedef {object} CellProps
 * @property {import("../lib/types.js").Entry} entry
 * @property {string} field
 * @property {import("../lib/schema.js").FieldFacts | undefined} facts
 * @property {import("../lib/drafts.js").Draft | undefined} draft
 * @property {import("../lib/types.js").Fault[]} faults
 * @property {any} waiting  a value that is on its way from an earlier page; undefined where there is none
 * @property {boolean} editing
 * @property {import("./grid.js").Table} table
 */

/** @param {CellProps} props */
export function GridCell({ entry, field, facts, draft, faults, waiting, editing, table }) {
  const first = field === "id";
  const shown = draft ? draft.given : waiting !== undefined ? waiting : entry.value[field];
  const text = facts?.inner && typeof shown !== "string" ? innerShown(shown, field === "parts" ? " → " : "; ") : LARGE.has(field) && typeof shown === "number" ? mhz(shown * 1_000_000) : shownText(shown);
  const wrong = draft ? draft.state === "refused" || draft.state === "conflict" : faults.length > 0;
  const notes = wrong ? `note-${entry.uid}-${field}` : undefined;
  const sent = draft?.state === "sent" || (!draft && waiting !== undefined);
  return h(
    first ? "th" : "td",
    {
      class: ["cell", isNumber(facts) && "number", !text && "vacant", wrong && "wrong", sent && "sent", LARGE.has(field) && "large", (facts?.inner || WHOLE.has(field)) && "whole", field === "name" && "named"].filter(Boolean).join(" "),
      role: first ? "rowheader" : "gridcell",
      scope: first ? "row" : undefined,
      tabindex: -1,
      "data-field": field,
      "data-heading": heading(field),
      "aria-invalid": wrong || undefined,
      "aria-describedby": notes,
      onClick: () => editing || table.edit({ uid: entry.uid, field }),
    },
    editing
      ? h(Editor, {
          kind: entry.kind,
          field,
          facts,
          given: draft?.given ?? "",
          focused: true,
          wrong,
          onGiven: (given) => write(entry.uid, field, given),
          onKeyDown: (event) => keys(event, entry.uid, field, table),
          onLeave: () => leave(entry.uid, field, table),
          onPaste: (event) => table.paste(event, { uid: entry.uid, field }),
        })
      : html`<span class="cell-value">${(field === "state" && text && h(Status, { state: text })) || text || html`<span class="cell-none">${facts?.needed ? "needed" : ""}</span>`}</span>${sent && html`<span class="unseen"> not saved yet</span>`}`,
    wrong && h(CellNotes, { id: notes ?? "", uid: entry.uid, field, draft, faults }),
  );
}

const LARGE = new Set(["hold_mhz", "carrier_mhz"]);
const WHOLE = new Set(["reference", "tuning", "windows_mhz", "note", "clearance_khz", "max_power", "on_air", "valid"]);

/** @param {import("../lib/schema.js").FieldFacts | undefined} facts */
const isNumber = (facts) => facts?.type === "number" || facts?.type === "integer";

/** @type {{ [key: string]: [number, number] }} */
const AFTER = { Enter: [1, 0], "Shift+Enter": [-1, 0], Tab: [0, 1], "Shift+Tab": [0, -1] };

/** @param {KeyboardEvent} event @param {string} uid @param {string} field @param {import("./grid.js").Table} table */
function keys(event, uid, field, table) {
  const name = `${event.shiftKey ? "Shift+" : ""}${event.key}`;
  event.stopPropagation();
  if (event.key === "Escape") {
    event.preventDefault();
    drop(uid, field);
    table.close({ uid, field }, [0, 0]);
  } else if (AFTER[name]) {
    event.preventDefault();
    commit(uid, field);
    table.close({ uid, field }, AFTER[name]);
  }
}

/** @param {string} uid @param {string} field @param {import("./grid.js").Table} table */
function leave(uid, field, table) {
  commit(uid, field);
  table.left({ uid, field });
}
