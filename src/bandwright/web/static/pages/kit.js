/** Kit and links: everything the brief says, in tables that are changed where they stand. */
import { h, html, useState } from "../lib/html.js";
import { useResource } from "../lib/resource.js";
import { formsNow, kindNamed, kindsNow } from "../lib/all_kinds.js";
import { addRow } from "../lib/rows.js";
import { brief, entriesOf, faults, mayEdit } from "../lib/state.js";
import { schema } from "../lib/schema.js";
import { FactFields } from "../parts/fact_fields.js";
import { Empty, Failed, Loading } from "../parts/empty.js";
import { KindTable } from "../parts/kind_table.js";
import { Mark } from "../parts/status.js";

/** What most jobs need; the rest stands behind "More" until it is used. */
const OFTEN = ["link", "radio", "permit", "other", "place", "pair"];
const ALWAYS = ["job", "plan"];

/** @param {{ rest: string[] }} props */
export default function Kit({ rest }) {
  const whole = useResource(brief);
  useResource(schema);
  if (!whole) return brief.error.value ? h(Failed, { error: brief.error.value, onRetry: brief.refresh }) : h(Loading, {});
  const name = rest[0] ?? "link";
  return html`<div class="page page-wide kit">
    ${h(Tabs, { here: name })}
    ${formsNow().some((form) => form.kind === name) ? h(Form, { key: name, kind: name }) : h(KindTable, { key: name, kind: kindNamed(name) ?? kindsNow()[0], row: rest[1], field: rest[2] })}
  </div>`;
}

/** @param {{ here: string }} props */
function Tabs({ here }) {
  const [all, setAll] = useState(false);
  const forms = formsNow();
  const often = kindsNow().filter((kind) => OFTEN.includes(kind.kind));
  const seldom = [...kindsNow().filter((kind) => !OFTEN.includes(kind.kind)), ...forms.filter((form) => !ALWAYS.includes(form.kind))];
  const used = seldom.filter((kind) => all || kind.kind === here || entriesOf(kind.kind).length > 0);
  const tab = (/** @type {{ kind: string, title: string }} */ one) => html`<li key=${one.kind}>${h(Tab, { kind: one.kind, title: one.title, here: one.kind === here })}</li>`;
  return html`<nav class="tabs" aria-label="Tables of the brief">
    <ul>${[...often, ...forms.filter((form) => ALWAYS.includes(form.kind))].map(tab)}</ul>
    <ul class="tabs-more">
      ${used.map(tab)}
      ${used.length < seldom.length && html`<li><button type="button" class="tab" aria-expanded="false" onClick=${() => setAll(true)}>${used.length > 0 ? "More tables…" : "Antennas, boxes and more…"}</button></li>`}
    </ul>
  </nav>`;
}

/** @param {{ kind: string, title: string, here: boolean }} props */
function Tab({ kind, title, here }) {
  const count = kindNamed(kind) ? entriesOf(kind).length : 0;
  const uids = new Set(entriesOf(kind).map((entry) => entry.uid));
  const wrong = faults.value.filter((fault) => fault.uid && uids.has(fault.uid)).length;
  return html`<a class="tab" href=${`#/kit/${kind}`} aria-current=${here ? "page" : undefined}>
    ${title}${count > 0 && html` <span class="tab-count">${count}</span>`}
    ${wrong > 0 && html` <span class="tab-wrong">${h(Mark, { shape: "blocked" })}<span class="unseen">${wrong} to mend</span></span>`}
  </a>`;
}

/** @param {{ kind: string }} props */
function Form({ kind }) {
  const form = formsNow().find((one) => one.kind === kind);
  const [entry] = entriesOf(kind);
  const begin = html`<button type="button" class="button primary" onClick=${() => addRow(kind)}>Write it down</button>`;
  return html`<section class="kit-form">
    <header class="kit-head"><div><h1 tabindex="-1">${form?.title}</h1>${entry && html`<p class="lead">${form?.why}</p>`}</div></header>
    ${entry ? h(FactFields, { uid: entry.uid }) : h(Empty, { title: "Nothing is written down yet", action: mayEdit.value && begin }, form?.why)}
  </section>`;
}
