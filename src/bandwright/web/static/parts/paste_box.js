/** A place to paste rows of a spreadsheet into, for hands without a keyboard and for a look before they are taken. */
import { html, useState } from "../lib/html.js";
import { closeDialog } from "../lib/dialogs.js";
import { counted } from "../lib/format.js";
import { heading } from "../lib/kinds.js";
import { pasteRows } from "../lib/rows.js";

const SEEN = 4;

/** @param {{ kind: import("../lib/kinds.js").Kind }} props */
export function PasteBox({ kind }) {
  const [text, setText] = useState("");
  const lines = text.split("\n").filter((line) => line.trim());
  const take = (/** @type {Event} */ event) => {
    event.preventDefault();
    closeDialog();
    pasteRows(kind.kind, text);
  };
  return html`<form class="paste" onSubmit=${take}>
    <p>
      Copy rows in a spreadsheet and paste them here. With a first row of headings (${kind.columns.slice(0, 4).map((field) => `“${field}”`).join(", ")}, …)
      the columns may stand in any order; without one they are read in this order: ${kind.columns.slice(0, SEEN).map(heading).join(", ")}…
    </p>
    <label class="field"><span>Rows</span><textarea rows="9" value=${text} onInput=${(/** @type {any} */ event) => setText(event.target.value)} spellcheck=${false}></textarea></label>
    <div class="actions end">
      <button type="button" class="button" onClick=${closeDialog}>Leave it</button>
      <button class="button primary" disabled=${lines.length === 0}>${lines.length > 0 ? `Take ${counted(lines.length, "row")}` : "Take them"}</button>
    </div>
  </form>`;
}
