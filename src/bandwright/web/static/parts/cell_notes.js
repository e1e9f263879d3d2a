/** What stands under a value: the service's sentence about it, or what somebody else put there meanwhile. */
import { h, html } from "../lib/html.js";
import { textOf } from "../lib/cell_text.js";
import { drop, keepMine } from "../lib/drafts.js";

/**
 * @param {{ id: string, uid: string, field: string, draft: import("../lib/drafts.js").Draft | undefined,
 *   faults: import("../lib/types.js").Fault[] }} props
 */
export function CellNotes({ id, uid, field, draft, faults }) {
  if (draft?.state === "conflict") return h(Conflict, { id, uid, field, draft });
  const told = draft?.state === "refused" ? draft.faults : draft ? [] : faults;
  if (told.length === 0) return null;
  return html`<div class="cell-note" id=${id} role=${draft ? "alert" : undefined}>
    ${told.map((fault) => html`<p key=${fault.text}>${fault.text}${fault.hint && ` ${fault.hint}`}</p>`)}
    ${draft && html`<p class="note-actions"><button type="button" class="button small" tabindex="-1" onClick=${stopped(() => drop(uid, field))}>Leave it as it was</button></p>`}
  </div>`;
}

/** @param {{ id: string, uid: string, field: string, draft: import("../lib/drafts.js").Draft }} props */
function Conflict({ id, uid, field, draft }) {
  return html`<div class="cell-note" id=${id} role="alert">
    <p>Somebody changed this while you were typing.</p>
    <dl class="both">
      <div><dt>Theirs</dt><dd>${textOf(draft.theirs) || "nothing"}</dd></div>
      <div><dt>Yours</dt><dd>${textOf(draft.given) || "nothing"}</dd></div>
    </dl>
    <p class="note-actions">
      <button type="button" class="button small" onClick=${stopped(() => drop(uid, field))}>Keep theirs</button>
      <button type="button" class="button small" onClick=${stopped(() => keepMine(uid, field))}>Put mine</button>
    </p>
  </div>`;
}

/** @param {() => void} run */
const stopped = (run) => (/** @type {Event} */ event) => {
  event.stopPropagation();
  run();
};
