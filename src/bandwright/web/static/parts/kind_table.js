/** One table of the brief with its heading: add a row, choose columns, paste; or what to do where there is none yet. */
import { h, html, useEffect, useState } from "../lib/html.js";
import { openDialog } from "../lib/dialogs.js";
import { keep, kept } from "../lib/kept.js";
import { heading } from "../lib/kinds.js";
import { addRow } from "../lib/rows.js";
import { entriesOf, faults, mayEdit } from "../lib/state.js";
import { fieldsOf } from "../lib/schema.js";
import { BriefFaults } from "./brief_faults.js";
import { Empty } from "./empty.js";
import { Grid } from "./grid.js";
import { PasteBox } from "./paste_box.js";

/** @typedef {import("../lib/kinds.js").Kind} Kind */

/** @param {{ kind: Kind, row?: string, field?: string }} props  `row`, `field`: the cell to go to */
export function KindTable({ kind, row, field }) {
  const [wanted, setWanted] = useState(/** @type {string[]} */ (kept(`columns.${kind.kind}`, [])));
  const [focus, setFocus] = useState(/** @type {string | null} */ (row ?? null));
  const rows = entriesOf(kind.kind);
  const more = moreOf(kind);
  const columns = [...kind.columns, ...more.filter((one) => one === field || wanted.includes(one) || rows.some((row) => row.value[one] !== undefined))];
  useEffect(() => {
    document.title = `${kind.title} · Bandwright`;
  }, [kind]);
  const add = async () => {
    const made = await addRow(kind.kind, rows.at(-1)?.uid);
    // whoever began to write elsewhere before the answer came goes on writing there
    if (made && !document.activeElement?.matches("input, select, textarea")) setFocus(made.uid);
  };
  const choose = (/** @type {string[]} */ fields) => {
    setWanted(fields);
    keep(`columns.${kind.kind}`, fields);
  };
  const addButton = html`<button type="button" class="button primary" onClick=${add}>${kind.add ?? `Add a ${kind.one}`}</button>`;
  const pasteButton = html`<button type="button" class="button" onClick=${() => openPaste(kind)}>Paste rows…</button>`;
  const general = faults.value.filter((fault) => !fault.uid);
  return html`<section>
    <header class="kit-head">
      <h1 tabindex="-1">${kind.title}</h1>
      ${rows.length > 0 &&
      html`<div class="actions">
        ${mayEdit.value && pasteButton}
        ${more.length > 0 && html`<button type="button" class="button desk-only" onClick=${() => openColumns(kind, columns, choose)}>Columns…</button>`}
        ${mayEdit.value && addButton}
      </div>`}
    </header>
    ${h(BriefFaults, { faults: general, here: rows.length === 0 ? kind.kind : undefined })}
    ${rows.length > 0
      ? h(Grid, { kind: kind.kind, label: kind.title, rows, columns: steady(columns), focus, field: focus === row ? field : undefined })
      : h(Empty, { title: `No ${kind.title.toLowerCase()} yet`, action: mayEdit.value && html`${addButton}${pasteButton}` }, kind.why)}
    ${rows.length > 0 && mayEdit.value && html`<p class="grid-hint soft desk-only">Press a cell to change it, or move with the arrows and type. What else keys do stands under <kbd>?</kbd></p>`}
    ${kind.caution && html`<p class="caution-note">${kind.caution}</p>`}
  </section>`;
}

/** @param {Kind} kind @returns {string[]} columns that are there where wanted: ours first, then what else the schema has */
function moreOf(kind) {
  const others = Object.keys(fieldsOf(kind.kind)).filter((field) => !kind.columns.includes(field) && !kind.more.includes(field));
  return [...kind.more, ...others];
}

/** The same list again where it says the same, so that rows are not drawn again. @type {Map<string, string[]>} */
const lists = new Map();

/** @param {string[]} columns */
function steady(columns) {
  const key = columns.join();
  if (!lists.has(key)) lists.set(key, columns);
  return /** @type {string[]} */ (lists.get(key));
}

/** @param {Kind} kind */
function openPaste(kind) {
  openDialog({ title: `Paste ${kind.title.toLowerCase()}`, body: () => h(PasteBox, { kind }), wide: true });
}

/** @param {Kind} kind @param {string[]} columns @param {(fields: string[]) => void} choose */
function openColumns(kind, columns, choose) {
  openDialog({ title: "Columns", body: () => h(Columns, { kind, columns, choose }) });
}

/** @param {{ kind: Kind, columns: string[], choose: (fields: string[]) => void }} props */
function Columns({ kind, columns, choose }) {
  const more = moreOf(kind);
  const [shown, setShown] = useState(more.filter((field) => columns.includes(field)));
  const used = new Set(more.filter((field) => entriesOf(kind.kind).some((row) => row.value[field] !== undefined)));
  const toggle = (/** @type {string} */ field) => {
    const next = shown.includes(field) ? shown.filter((one) => one !== field) : [...shown, field];
    setShown(next);
    choose(next);
  };
  const fields = fieldsOf(kind.kind);
  return html`<p class="soft">A column in which something stands is always shown.</p>
    <ul class="columns">
      ${more.map(
        (field) => html`<li key=${field}>
          <label class="check"><input type="checkbox" checked=${shown.includes(field)} disabled=${used.has(field)} onChange=${() => toggle(field)} /><span>${heading(field)} <small class="soft">${fields[field]?.description}</small></span></label>
        </li>`,
      )}
    </ul>`;
}
