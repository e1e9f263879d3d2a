/** What a cell becomes while it is changed: a line of text, or a choice. */
import { html, useLayoutEffect, useRef } from "../lib/html.js";
import { NAMES, heading } from "../lib/kinds.js";
import { WRITTEN, textOf } from "../lib/cell_text.js";
import { entriesOf } from "../lib/state.js";

/**
 * @typedef {object} EditorProps
 * @property {string} [kind]  of the entry, where the field stands in one itself
 * @property {string} field
 * @property {import("../lib/schema.js").FieldFacts | undefined} facts
 * @property {any} given  what stands in it now
 * @property {string} [label]  where it is not the heading
 * @property {string} [describedBy]
 * @property {boolean} [wrong]
 * @property {boolean} [focused]  take the focus at once
 * @property {(given: any) => void} onGiven
 * @property {(event: KeyboardEvent) => void} [onKeyDown]
 * @property {() => void} [onLeave]
 * @property {(event: ClipboardEvent) => void} [onPaste]
 */

/** @param {EditorProps} props */
export function Editor(props) {
  const { kind, field, facts, given, label, describedBy, wrong, focused, onGiven, onKeyDown, onLeave, onPaste } = props;
  const place = useRef(/** @type {any} */ (null));
  useLayoutEffect(() => {
    if (!focused) return;
    place.current.focus();
    if (String(given).length > 1) place.current.select?.();
  }, []);
  const choices = choicesOf(kind, field, facts);
  const shared = {
    ref: place,
    "aria-label": label ?? heading(field),
    "aria-describedby": describedBy,
    "aria-invalid": wrong || undefined,
    onKeyDown,
    onBlur: onLeave,
  };
  if (choices) {
    const known = choices.some((choice) => choice.value === String(given ?? ""));
    return html`<select class="editor" ...${shared} value=${String(given ?? "")} onChange=${(/** @type {any} */ event) => onGiven(event.target.value)}>
      ${!known && html`<option value=${given}>${given}</option>`}
      ${choices.map((choice) => html`<option key=${choice.value} value=${choice.value}>${choice.word}</option>`)}
    </select>`;
  }
  return html`<input
    class="editor"
    ...${shared}
    value=${given}
    placeholder=${facts?.example === undefined ? "" : `such as ${textOf(facts.example)}`}
    inputmode=${facts?.type === "number" ? "decimal" : facts?.type === "integer" ? "numeric" : undefined}
    autocomplete="off"
    spellcheck=${false}
    onInput=${(/** @type {any} */ event) => onGiven(event.target.value)}
    onPaste=${onPaste}
  />`;
}

/** @typedef {{ value: string, word: string }} Choice */

/**
 * @param {string | undefined} kind
 * @param {string} field
 * @param {import("../lib/schema.js").FieldFacts | undefined} facts
 * @returns {Choice[] | null} null where anything can be typed
 */
function choicesOf(kind, field, facts) {
  const none = facts?.needed ? [] : [{ value: "", word: "not stated" }];
  if (facts?.type === "boolean") return [...none, { value: "yes", word: "yes" }, { value: "no", word: "no" }];
  if (facts?.choices) return [...none, ...facts.choices.map((value) => ({ value: FLAGS[value] ?? value, word: WRITTEN[value] ?? value }))];
  const names = NAMES[`${kind}.${field}`] ?? NAMES[field];
  if (!names || facts?.type === "list") return null;
  const all = names === "radio" ? radioChoices() : entriesOf(names).map((entry) => ({ value: entry.id ?? "", word: named_(entry) }));
  return all.length > 0 ? [{ value: "", word: facts?.needed ? "choose" : "not stated" }, ...all] : null;
}

/** @type {{ [value: string]: string }} */
const FLAGS = { True: "yes", False: "no", true: "yes", false: "no" };

/** @param {import("../lib/types.js").Entry} entry */
const named_ = (entry) => (entry.value.name && entry.value.name !== entry.id ? `${entry.id}: ${entry.value.name}` : (entry.id ?? ""));

/** @returns {Choice[]} radio types and their variants */
export function radioChoices() {
  return entriesOf("radio").flatMap((entry) => [
    { value: entry.id ?? "", word: named_(entry) },
    ...(entry.value.variant ?? []).map((/** @type {any} */ variant) => ({ value: `${entry.id}/${variant.id}`, word: `${entry.id}/${variant.id}` })),
  ]);
}
