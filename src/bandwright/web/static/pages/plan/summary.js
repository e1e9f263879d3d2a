/**
 * What stands beside the carriers: who has none, spare carriers, notes, earlier numbers.
 * @module pages/plan/summary
 */
import { h, html, signal, useEffect, useState } from "../../lib/html.js";
import { get } from "../../lib/api.js";
import { attempt } from "../../lib/attempt.js";
import { kept, moment } from "../../lib/format.js";
import { resource, useResource } from "../../lib/resource.js";
import { change, mayEdit } from "../../lib/state.js";
import { Carrier, Mark } from "../../parts/pieces.js";
import { pick } from "./hand.js";
import { planNow, rows, rowsById, spectrum, sweepInUse } from "./model.js";

/** @type {import("../../lib/resource.js").Resource<{plans: import("./types.js").PlanEntry[]}>} */
const plans = resource("/plans", ["plan"]);

export function Summary() {
  const now = planNow();
  if (!now) return h(NoPlan, {});
  const { unplaced, conflicts, warnings } = now.document;
  return html`<section class="summary" aria-label="The plan">
    <p class="summary-hint">Pick a carrier, in the spectrum or in the table, to see its clearances and to move it.</p>
    ${unplaced.length > 0 &&
    html`<h3>Without a carrier</h3>
      <ul class="summary-list">${unplaced.map((u) => html`<li key=${u.id}>${h(Named, { id: u.id })} ${kept(u.reasons[0]?.text ?? "")}</li>`)}</ul>`}
    ${conflicts.length > 0 && html`<ul class="summary-list">${conflicts.map((c) => html`<li key=${c.text}>${kept(c.text)}</li>`)}</ul>`}
    ${h(Spares, {})}
    ${warnings.length > 0 &&
    html`<details><summary>${warnings.length === 1 ? "One note" : `${warnings.length} notes`}</summary><ul class="summary-list">${warnings.map((w) => html`<li key=${w.text}>${kept(w.text)}</li>`)}</ul></details>`}
    ${h(Numbers, {})}
  </section>`;
}

/** A name that picks what it names, where that is a link or has a carrier. @param {{id: string}} props */
function Named({ id }) {
  if (!rowsById.value.has(id)) return html`<b>${id}</b>`;
  return html`<button type="button" class="culprit-name" onClick=${() => pick(id)}>${id}</button>`;
}

function NoPlan() {
  const sweep = sweepInUse.value;
  return html`<section class="summary" aria-label="The plan">
    <h2>No plan yet</h2>
    <p>Planning looks for a legal carrier for every link that keeps clear of the others, of their intermodulation and of ${sweep ? "what the sweep shows" : "other users"}. It says what is proven and what was only found.</p>
    ${!sweep && html`<p class="summary-stale">${h(Mark, { shape: "caution" })} Nobody has listened yet: without a sweep nothing counts as quiet. <a href="#/air">Bring a sweep</a> first if you can.</p>`}
  </section>`;
}

function Spares() {
  const spares = rows.value.filter((row) => row.kind === "spare");
  const radios = spectrum.value.value?.radios ?? [];
  return html`<h3>Spare carriers</h3>
    ${spares.length === 0 && html`<p class="none">None. Wishes for them stand on the page Kit and links.</p>`}
    <ul class="summary-spares">${spares.map((row) => html`<li key=${row.id}>${h(Named, { id: row.id })} ${h(Carrier, { hz: row.hz })}</li>`)}</ul>
    ${radios.length > 0 && h(Room, { radios })}`;
}

/** How many more of a type would fit beside the plan. @param {{radios: import("./types.js").RadioFacts[]}} props */
function Room({ radios }) {
  const [id, setId] = useState(radios[0].id);
  const [said, setSaid] = useState(/** @type {string | null} */ (null));
  const ask = async () => {
    setSaid("Counting…");
    try {
      const found = await get(`/capacity?radio=${encodeURIComponent(id)}`);
      setSaid(capacityWords(found));
    } catch (error) {
      setSaid(/** @type {Error} */ (error).message);
    }
  };
  return html`<div class="summary-room">
    <label>How many more of <select value=${id} onChange=${(/** @type {any} */ e) => (setId(e.target.value), setSaid(null))}>${radios.map((r) => html`<option key=${r.id} value=${r.id}>${r.name}</option>`)}</select></label>
    <button type="button" class="button small" onClick=${ask}>would fit?</button>
    ${said && html`<p role="status">${said}</p>`}
  </div>`;
}

/** @param {import("../../api").CapacityDocument} room  `upper_bound` is null where nothing bounds it */
function capacityWords({ found, upper_bound, status }) {
  if (status === "proven") return `${found} more; no larger number fits under these rules (proven).`;
  const most = upper_bound === null ? "how many could fit at most is not known" : `at most ${upper_bound} could fit`;
  return `${found} more were found; ${most}.`;
}

const open = signal(false);

/** The numbers of plans so far, and the way back to one. */
function Numbers() {
  return html`<details open=${open.value} onToggle=${(/** @type {any} */ e) => (open.value = e.target.open)}><summary>Earlier numbers</summary>${open.value && h(NumberList, {})}</details>`;
}

function NumberList() {
  const known = useResource(plans);
  const now = planNow()?.number;
  useEffect(() => void plans.refresh(), [now]);
  if (!known) return null;
  return html`<ol class="summary-numbers">
    ${[...known.plans].sort((a, b) => b.number - a.number).map(
      (p) => html`<li key=${p.number}>
        <b>${p.number}</b> <span class="phrase">${p.check_phrase}</span> <span class="none">${moment(p.made)}, ${p.by}</span>
        <p>${p.text}</p>
        ${p.number === now ? html`<p class="none">in force</p>` : mayEdit.value && html`<button type="button" class="button small" onClick=${() => back(p)}>Put in force again</button>`}
      </li>`,
    )}
  </ol>`;
}

/** @param {import("./types.js").PlanEntry} entry */
const back = (entry) => attempt(change("POST", `/plans/${entry.number}/current`), `Plan ${entry.number} ${entry.check_phrase} is in force.`);
