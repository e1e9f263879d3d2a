/** Every fact of one entry as a form: name, value, and in plain words what it is. Used for whole rows, the job, the wishes. */
import { h, html } from "../lib/html.js";
import { begin, commit, drafts, draftOf, waitingOf, write } from "../lib/drafts.js";
import { textOf } from "../lib/cell_text.js";
import { heading } from "../lib/kinds.js";
import { fieldsOf } from "../lib/schema.js";
import { entryOf, faultsAt, mayEdit } from "../lib/state.js";
import { CellNotes } from "./cell_notes.js";
import { Counts } from "./counts.js";
import { Editor } from "./editor.js";
import { InnerTables } from "./inner_tables.js";

/** @param {{ uid: string, only?: string[] }} props */
export function FactFields({ uid, only }) {
  const entry = entryOf(uid);
  if (!entry) return html`<p>This row is gone.</p>`;
  const fields = fieldsOf(entry.kind);
  const names = only ?? Object.keys(fields);
  const lines = names.filter((field) => !fields[field]?.inner);
  return html`${lines.length > 0 && html`<div class="fact-fields">${lines.map((field) => h(FactField, { key: field, entry, field, facts: fields[field] }))}</div>`}
    ${names.filter((field) => fields[field]?.inner).map((field) => h(InnerTables, { key: field, entry, field, facts: fields[field], alone: names.length === 1 }))}`;
}

/**
 * @param {{ entry: import("../lib/types.js").Entry, field: string, facts: import("../lib/schema.js").FieldFacts | undefined }} props
 */
function FactField({ entry, field, facts }) {
  const { uid } = entry;
  const draft = drafts.value.get(uid)?.[field];
  const waiting = waitingOf(uid)[field];
  const faults = faultsAt(uid, field);
  const wrong = draft ? draft.state === "refused" || draft.state === "conflict" : faults.length > 0;
  const about = `about-${uid}-${field}`;
  const given = draft ? draft.given : textOf(waiting !== undefined ? waiting : entry.value[field]);
  const changed = (/** @type {any} */ next) => {
    if (draftOf(uid, field)?.state !== "open") begin(entry, field);
    write(uid, field, next);
  };
  return html`<div class=${wrong ? "fact-field wrong" : "fact-field"}>
    <span class="fact-name">${heading(field)}${facts?.needed && given === "" && html` <small>needed</small>`}</span>
    ${facts?.counts
      ? h(Counts, { entry, field, facts, describedBy: about })
      : mayEdit.value
      ? h(Editor, {
          kind: entry.kind,
          field,
          facts,
          given,
          describedBy: about,
          wrong,
          onGiven: changed,
          onKeyDown: (event) => event.key === "Enter" && commit(uid, field),
          onLeave: () => commit(uid, field),
        })
      : html`<span>${given || "not stated"}</span>`}
    <p class="fact-about" id=${about}>${facts?.description}</p>
    ${wrong && h(CellNotes, { id: `${about}-note`, uid, field, draft, faults })}
  </div>`;
}
