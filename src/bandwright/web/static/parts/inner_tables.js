/**
 * Tables that stand inside a field: the parts of a run in order, walls on the way, variants of a radio type. Each is a
 * readable line and under it only the facts that it states; what the service says of one stands at that one.
 */
import { h, html, useEffect, useRef, useState } from "../lib/html.js";
import { oneShown, shownText, textOf } from "../lib/cell_text.js";
import { begin, commit, draftOf, drafts, write } from "../lib/drafts.js";
import { heading, named } from "../lib/kinds.js";
import { factsOf } from "../lib/schema.js";
import { faultsAt, mayEdit } from "../lib/state.js";
import { CellNotes } from "./cell_notes.js";
import { Editor } from "./editor.js";
import { RowMenu } from "./row_menu.js";

/** @typedef {{ [field: string]: any }} Table */
/** @typedef {import("../lib/types.js").Fault} Fault */
/** @typedef {import("../lib/schema.js").FieldFacts} FieldFacts */

/**
 * What a part of the form gets: what stands there, where that is ("parts[2]", as faults call it), and how it is changed.
 * Something that was only added says nothing yet and is not sent until it does.
 *
 * @template T
 * @typedef {{ value: T, path: string, owner: string, faults: Fault[], onChange: (next: T, later?: boolean) => void }} Part
 */

/** @param {{ entry: import("../lib/types.js").Entry, field: string, facts: FieldFacts, alone?: boolean }} props  `alone`: a title says what it is */
export function InnerTables({ entry, field, facts, alone = false }) {
  const { uid } = entry;
  const draft = drafts.value.get(uid)?.[field];
  const put = (/** @type {any} */ next, later = false) => {
    begin(entry, field);
    write(uid, field, next);
    if (!later) commit(uid, field);
  };
  useEffect(
    () => () => {
      if (draftOf(uid, field)?.state === "open") commit(uid, field);
    },
    [uid, field],
  );
  const faults = (draft ? draft.faults : faultsAt(uid, field)).map((fault) => ({ ...fault, key: fault.key?.replace(/^[^.]*\./, "") }));
  const value = draft && typeof draft.given !== "string" ? draft.given : entry.value[field];
  const general = draft?.state === "conflict" || (draft?.state === "refused" && faults.some((fault) => !fault.key || fault.key === field));
  return html`<section class="inner" aria-label=${heading(field)}>
    ${!alone && html`<h3>${heading(field)}</h3>`}
    <p class="fact-about">${facts.description}${field === "variant" && ` A link names one as “${entry.id}/narrow”; what it does not state is as above.`}</p>
    ${h(Inside, { field, facts, value, path: field, owner: entry.id ?? "", faults, onChange: put })}
    ${general && draft && h(CellNotes, { id: `note-${uid}-${field}`, uid, field, draft, faults: [] })}
  </section>`;
}

/** One table, or a list of them. @param {Part<any> & { field: string, facts: FieldFacts }} props */
function Inside({ field, facts, value, path, owner, faults, onChange }) {
  const name = facts.inner ?? "";
  const [newest, setNewest] = useState(-1);
  if (!facts.many) {
    if (!value) return mayEdit.value && html`<button type="button" class="button small" onClick=${() => onChange({}, true)}>Write it down</button>`;
    return h(One, { name, label: heading(field), value, path, owner, faults, onChange, onRemove: () => onChange(null) });
  }
  /** @type {Table[]} */
  const all = value ?? [];
  const word = wordOf(name, field);
  const labelOf = (/** @type {Table} */ table, /** @type {number} */ at) => (field === "variant" ? `${owner}/${table.id}` : oneShown(table) || `${word} ${at + 1}`);
  const add = () => {
    setNewest(all.length);
    onChange([...all, fresh(name, word, all)], true);
  };
  const change = (/** @type {number} */ at, /** @type {Table} */ next, later = false) => onChange(all.map((one, index) => (index === at ? next : one)), later);
  return html`${all.length > 0 &&
    html`<ol class="inner-list">
      ${all.map(
        (table, at) => html`<li key=${at}>
          ${h(One, {
            name,
            label: labelOf(table, at),
            number: all.length > 1 ? at + 1 : undefined,
            value: table,
            path: `${path}[${at + 1}]`,
            focused: at === newest,
            owner,
            faults,
            onChange: (next, later) => change(at, next, later),
            onRemove: () => onChange(all.filter((_one, index) => index !== at)),
            onEarlier: at > 0 ? () => onChange(moved(all, at)) : undefined,
          })}
        </li>`,
      )}
    </ol>`}
    ${mayEdit.value && html`<button type="button" class="button small" onClick=${add}>Add ${/^[aeiou]/.test(word) ? "an" : "a"} ${word}</button>`}`;
}

/** @param {Table[]} all @param {number} at @returns {Table[]} with that one before the one ahead of it */
const moved = (all, at) => [...all.slice(0, at - 1), all[at], all[at - 1], ...all.slice(at + 1)];

/** @param {string} name  of a table in the schema @param {string} field @returns {string} what one of them is called */
function wordOf(name, field) {
  if (field === "companding") return "kind of companding";
  return name.replace(/Table$/, "").replace(/(?<=[a-z])([A-Z])/g, " $1").toLowerCase();
}

/** @param {string} name @param {string} word @param {Table[]} all @returns {Table} a new one, with a free label and the usual choice */
function fresh(name, word, all) {
  const needed = Object.entries(factsOf(name)).filter(([, facts]) => facts.needed);
  const start = needed.flatMap(([field, facts]) => (field === "id" ? [[field, freeId(word, all)]] : facts.choices ? [[field, facts.choices[0]]] : []));
  return Object.fromEntries(start);
}

/** @param {string} word @param {Table[]} all @returns {string} */
function freeId(word, all) {
  const taken = new Set(all.map((one) => one.id));
  const usual = word === "variant" ? ["narrow", "wide"] : [];
  return [...usual, ...Array.from({ length: all.length + 1 }, (_none, index) => `${word.replaceAll(" ", "-")}-${index + 1}`)].find((id) => !taken.has(id)) ?? word;
}

/** @param {Part<Table> & { name: string, label: string, number?: number, focused?: boolean, onRemove: () => void, onEarlier?: () => void }} props  `focused`: it was just added */
function One({ name, label, number, focused, value, path, owner, faults, onChange, onRemove, onEarlier }) {
  const root = useRef(/** @type {HTMLElement | null} */ (null));
  const [added, setAdded] = useState("");
  useEffect(() => {
    if (focused) /** @type {HTMLElement | null | undefined} */ (root.current?.querySelector("input, select"))?.focus();
  }, []);
  const fields = factsOf(name);
  const stated = Object.keys(fields).filter((field) => field in value || fields[field].needed);
  const open = Object.keys(fields).filter((field) => !stated.includes(field));
  const set = (/** @type {string} */ field, /** @type {any} */ given, later = false) => onChange(given === "" || given === null ? without(value, field) : { ...value, [field]: given }, later);
  const [menu, setMenu] = useState(/** @type {HTMLElement | null} */ (null));
  const add = (/** @type {string} */ field) => {
    setAdded(field);
    onChange({ ...value, [field]: fields[field].inner ? (fields[field].many ? [] : {}) : "" }, true);
  };
  const own = faults.filter((fault) => fault.key === path);
  return html`<fieldset ref=${root} class=${own.length > 0 ? "inner-one wrong" : "inner-one"}>
    <legend>${number && html`<span class="none">${number}</span> `}${label}</legend>
    ${stated.map((field) => h(OneFact, { key: field, field, focused: field === added, facts: fields[field], value: value[field], path: `${path}.${field}`, owner, faults, onChange: (given, later) => set(field, given, later) }))}
    ${own.length > 0 && html`<div class="cell-note">${own.map((fault) => html`<p key=${fault.text}>${said(fault)}</p>`)}</div>`}
    ${mayEdit.value &&
    html`<div class="actions">
      ${open.length > 0 &&
      html`<button type="button" class="button small" aria-haspopup="menu" aria-label=${`State another fact of ${label}`} onClick=${(/** @type {any} */ event) => setMenu(event.currentTarget)}>State another fact…</button>`}
      ${onEarlier && html`<button type="button" class="button quiet small" aria-label=${`Earlier: ${label}`} onClick=${onEarlier}>Earlier</button>`}
      <button type="button" class="button quiet small" aria-label=${`Remove ${label}`} onClick=${onRemove}>Remove</button>
    </div>`}
    ${menu && h(RowMenu, { anchor: menu, label: `Facts of ${label}`, items: open.map((field) => ({ word: heading(field), run: () => add(field) })), close: () => setMenu(null) })}
  </fieldset>`;
}

/** @param {Table} table @param {string} field @returns {Table} */
function without(table, field) {
  const { [field]: _gone, ...rest } = table;
  return rest;
}

/** @param {Fault} fault @returns {string} what is wrong, without the way to it, which is where it stands */
const said = (fault) => [fault.allowed ? `${fault.text.replace(/^.*, but /, "It ").replace(/^.*? is missing/, "It is missing")}${/allowed/.test(fault.text) ? "" : ` Allowed: ${fault.allowed}.`}` : fault.text, fault.hint].filter(Boolean).join(" ");

/** @param {Part<any> & { field: string, facts: FieldFacts, focused: boolean }} props  what is typed is sent when its field is left, not at each letter */
function OneFact({ field, facts, focused, value, path, owner, faults, onChange }) {
  const [given, setGiven] = useState(/** @type {any} */ (null));
  const newest = useRef(/** @type {any} */ (null));
  const take = (/** @type {any} */ next) => {
    newest.current = next;
    setGiven(next);
  };
  const done = () => {
    const next = newest.current;
    take(null);
    if (next !== null && next !== textOf(value)) onChange(next);
  };
  const chosen = facts.choices !== null || facts.type === "boolean";
  const own = faults.filter((fault) => fault.key === path);
  if (facts.inner) {
    return html`<div class="inner-deep"><span class="fact-name">${heading(field)}</span>${h(Inside, { field, facts, value, path, owner, faults, onChange })}</div>`;
  }
  return html`<div class=${own.length > 0 ? "fact-field wrong" : "fact-field"}>
    <span class="fact-name">${heading(field)}${facts.needed && textOf(value) === "" && html` <small>needed</small>`}</span>
    ${mayEdit.value
      ? h(Editor, { field, facts, given: given ?? textOf(value), focused, wrong: own.length > 0, onGiven: chosen ? (next) => onChange(next) : take, onLeave: done, onKeyDown: (event) => event.key === "Enter" && done() })
      : html`<span>${shownText(value)}${named(field).unit && ` ${named(field).unit}`}</span>`}
    ${own.length > 0 && html`<div class="cell-note" role="alert">${own.map((fault) => html`<p key=${fault.text}>${said(fault)}</p>`)}</div>`}
  </div>`;
}
