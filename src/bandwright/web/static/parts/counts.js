/** A number for each of several names, as a small table: spare carriers by radio type, what each family of products is kept off. */
import { html, useRef, useState } from "../lib/html.js";
import { begin, commit, drafts, write } from "../lib/drafts.js";
import { heading, named } from "../lib/kinds.js";
import { mayEdit } from "../lib/state.js";
import { radioChoices } from "./editor.js";

/**
 * @param {{ entry: import("../lib/types.js").Entry, field: string, facts: import("../lib/schema.js").FieldFacts, describedBy: string }} props
 */
export function Counts({ entry, field, facts, describedBy }) {
  const { uid } = entry;
  const draft = drafts.value.get(uid)?.[field];
  /** @type {{ [name: string]: any }} */
  const all = (draft && typeof draft.given !== "string" ? draft.given : entry.value[field]) ?? {};
  const put = (/** @type {{ [name: string]: any }} */ next) => {
    begin(entry, field);
    write(uid, field, Object.keys(next).length > 0 ? next : "");
    commit(uid, field);
  };
  const names = (facts.counts?.names?.map((name) => ({ value: name, word: name })) ?? radioChoices()).filter((choice) => !(choice.value in all));
  const remove = (/** @type {string} */ name) => put(Object.fromEntries(Object.entries(all).filter(([other]) => other !== name)));
  const { unit } = named(field);
  return html`<div class="counts" role="group" aria-label=${heading(field)} aria-describedby=${describedBy}>
    ${Object.keys(all).length > 0 &&
    html`<ul>
      ${Object.entries(all).map(
        ([name, number]) => html`<li key=${name}>
          <span class="counts-name">${name}</span>
          <${Count} name=${name} unit=${unit} number=${number} onChange=${(/** @type {string} */ next) => put({ ...all, [name]: next })} />
          ${mayEdit.value && html`<button type="button" class="button quiet small" aria-label=${`Remove ${name}`} onClick=${() => remove(name)}>✕</button>`}
        </li>`,
      )}
    </ul>`}
    ${Object.keys(all).length === 0 && !mayEdit.value && html`<span class="none">none</span>`}
    ${mayEdit.value &&
    names.length > 0 &&
    html`<select aria-label=${`Add to ${heading(field)}`} value="" onChange=${(/** @type {any} */ event) => event.target.value && put({ ...all, [event.target.value]: 1 })}>
      <option value="">Add one for…</option>
      ${names.map((choice) => html`<option key=${choice.value} value=${choice.value}>${choice.word}</option>`)}
    </select>`}
  </div>`;
}

/** @param {{ name: string, unit: string, number: any, onChange: (next: string) => void }} props  sent when it is left */
function Count({ name, unit, number, onChange }) {
  const [given, setGiven] = useState(/** @type {string | null} */ (null));
  const newest = useRef(/** @type {string | null} */ (null));
  const take = (/** @type {string | null} */ next) => {
    newest.current = next;
    setGiven(next);
  };
  const done = () => {
    const next = newest.current?.trim();
    take(null);
    if (next && next !== String(number)) onChange(next);
  };
  if (!mayEdit.value) return html`<b>${number} ${unit}</b>`;
  return html`<input
      class="editor"
      aria-label=${`${name}${unit && `, ${unit}`}`}
      inputmode="decimal"
      autocomplete="off"
      value=${given ?? String(number)}
      onInput=${(/** @type {any} */ event) => take(event.target.value)}
      onBlur=${done}
      onKeyDown=${(/** @type {KeyboardEvent} */ event) => event.key === "Enter" && done()}
    />${unit && html`<span class="unit">${unit}</span>`}`;
}
