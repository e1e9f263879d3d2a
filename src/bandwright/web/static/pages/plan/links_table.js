/**
 * All links of the plan: status in a word and a shape, the carrier largest, what is closest, and the evidence.
 * @module pages/plan/links_table
 */
import { Component, computed, h, html, signal } from "../../lib/html.js";
import { counted, kept } from "../../lib/format.js";
import { isShort, ratioHelp, ratioText } from "../../lib/interference.js";
import { Carrier, Help, Status } from "../../parts/pieces.js";
import { pick, selected } from "./hand.js";
import { linkRows } from "./model.js";
import { bring } from "./view.js";

/** @typedef {import("./types.js").Row} Row */

const NOT_PLANNED = "not planned";

/** @type {{value: string, word: string, by: ((a: Row, b: Row) => number) | null}[]} */
const ORDERS = [
  { value: "job", word: "in the order of the job", by: null },
  { value: "mhz", word: "by MHz", by: (a, b) => (a.hz ?? Infinity) - (b.hz ?? Infinity) },
  { value: "slack", word: "closest first", by: (a, b) => slack(a) - slack(b) },
];

/** Slack as a part of what is asked; what breaks a rule or has no place comes first. @param {Row} row */
function slack(row) {
  if (row.hz === null) return -Infinity;
  const closest = row.placed?.closest;
  return (row.status === "blocked" ? -1e6 : 0) + (closest ? closest.slack_khz / Math.max(closest.required_khz, 0.001) : Infinity);
}

/** @param {Row} row */
const stateOf = (row) => row.status ?? NOT_PLANNED;

const order = signal("job");
const only = signal("all");

const shown = computed(() => {
  const by = ORDERS.find((o) => o.value === order.value)?.by;
  const some = only.value === "all" ? linkRows.value : linkRows.value.filter((r) => stateOf(r) === only.value);
  return by ? [...some].sort(by) : some;
});

const counts = computed(() => {
  /** @type {Map<string, number>} */
  const found = new Map();
  for (const row of linkRows.value) found.set(stateOf(row), (found.get(stateOf(row)) ?? 0) + 1);
  return found;
});

const WORDS = ["unplaced", "blocked", "caution", "clear", NOT_PLANNED];

export function LinksTable() {
  const total = linkRows.value.length;
  return html`<section class="plan-links" aria-labelledby="plan-links-head">
    <div class="plan-links-head">
      <h2 id="plan-links-head">${counted(total, "link")}</h2>
      <fieldset class="switch">
        <legend class="unseen">Which links</legend>
        ${radio("all", "All")}${WORDS.filter((w) => counts.value.get(w)).map((w) => radio(w, `${counts.value.get(w)} ${w}`))}
      </fieldset>
      <label class="plan-order"><span class="unseen">Order</span>
        <select value=${order.value} onChange=${(/** @type {any} */ e) => (order.value = e.target.value)}>
          ${ORDERS.map((o) => html`<option key=${o.value} value=${o.value}>${o.word}</option>`)}
        </select>
      </label>
    </div>
    <table class="list plan-table">
      <thead>
        <tr><th scope="col">Link</th><th scope="col" class="number">MHz</th><th scope="col">Status</th><th scope="col">Closest</th><th scope="col">Evidence</th></tr>
      </thead>
      <tbody>${shown.value.map((row) => h(LinkRow, { key: row.id, row, chosen: row.id === selected.value }))}</tbody>
    </table>
    ${shown.value.length === 0 && html`<p class="none">No link is ${only.value} now.</p>`}
  </section>`;
}

/** @param {string} value @param {string} word */
const radio = (value, word) =>
  html`<label key=${value}><input type="radio" name="plan-only" checked=${only.value === value} onChange=${() => (only.value = value)} /><span>${word}</span></label>`;

/** A row; drawn again only when its link or whether it is picked changed. @extends {Component<{row: Row, chosen: boolean}>} */
class LinkRow extends Component {
  /** @param {{row: Row, chosen: boolean}} next */
  shouldComponentUpdate(next) {
    const { row, chosen } = this.props;
    return next.chosen !== chosen || next.row.placed !== row.placed || next.row.name !== row.name || next.row.held !== row.held || next.row.texts !== row.texts || next.row.reasons !== row.reasons;
  }

  render() {
    const { row, chosen } = this.props;
    const ratio = row.placed?.carrier_to_interference;
    return html`<tr class=${chosen ? "chosen" : ""} onClick=${() => take(row)}>
      <th scope="row"><button type="button" aria-pressed=${chosen} onClick=${(/** @type {Event} */ e) => (e.stopPropagation(), take(row))}><span class=${`kind-mark is-${row.kind}`}></span><b>${row.id}</b>${row.name !== row.id && html` <span>${row.name}</span>`}</button></th>
      <td class="figures">${h(Carrier, { hz: row.hz, held: row.held })}</td>
      <td class="state">${h(Status, { state: stateOf(row) })}${row.texts?.cautions.map((c) => html`<span key=${c} class="why-caution">${c}</span>`)}</td>
      <td class="closest whole">${row.texts?.closest ? kept(row.texts.closest) : row.reasons.map((r) => kept(r.text)).join(" ")}</td>
      <td class="evidence">${row.texts?.noise && kept(row.texts.noise)}${row.placed?.tv_channel && html`<span>TV ${row.placed.tv_channel}</span>`}${ratio && html`<span class=${isShort(ratio) ? "row-ratio is-short" : "row-ratio"}>C/I <b>${ratioText(ratio)}</b>${isShort(ratio) && ", too little"}${h(Help, { about: "carrier to interference", text: ratioHelp(ratio) })}</span>`}</td>
    </tr>`;
  }
}

const BELOW = matchMedia("(max-width: 1080px)");

/** Pick a link; where the hand is not beside the table, go up to it. @param {Row} row */
function take(row) {
  pick(row.id);
  if (row.hz !== null) bring(row.hz);
  if (BELOW.matches) requestAnimationFrame(() => document.querySelector(".plan-side")?.scrollIntoView({ block: "start" }));
}
