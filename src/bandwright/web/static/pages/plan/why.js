/**
 * Why a carrier may or may not be used: every rule, the most important first, and what would open it.
 * @module pages/plan/why
 */
import { h, html, useEffect, useState } from "../../lib/html.js";
import { get } from "../../lib/api.js";
import { kept, mhz } from "../../lib/format.js";
import { openDialog } from "../../lib/dialogs.js";
import { interferenceFact } from "../../lib/interference.js";
import { Failed, Help, Loading, Mark } from "../../parts/pieces.js";

/**
 * @typedef {import("../../api").FindingModel} Finding
 * @typedef {import("../../api").WhyDocument} Why
 */

/** @param {import("./types.js").Row} of @param {number} hz */
export function openWhy(of, hz) {
  openDialog({ title: `${of.id} on ${mhz(hz)} MHz`, wide: true, body: () => h(WhyBody, { id: of.id, hz }) });
}

/** @param {{id: string, hz: number}} props */
function WhyBody({ id, hz }) {
  const [why, setWhy] = useState(/** @type {Why | null} */ (null));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  useEffect(() => {
    get(`/why?link=${encodeURIComponent(id)}&mhz=${mhz(hz)}`).then(setWhy, setError);
  }, [id, hz]);
  if (error) return h(Failed, { error });
  if (!why) return h(Loading, {});
  const stops = why.findings.filter((f) => f.verdict === "stops");
  const allows = why.findings.filter((f) => f.verdict === "allows");
  return html`<div class="why">
    <p class="why-word">${why.allowed ? html`${h(Mark, { shape: "fine" })} It may be used: every rule is kept.` : html`${h(Mark, { shape: "blocked" })} ${stops.length === 1 ? "One rule stops it." : `${stops.length} rules stop it.`}`} <span class="none">${beside(why.beside)}</span></p>
    ${interference(why.carrier_to_interference)}
    ${stops.length > 0 && html`<ul class="why-stops">${stops.map((f) => finding(f))}</ul>`}
    ${why.to_open && opening(why.to_open)}
    ${allows.length > 0 && html`<h3>What allows it</h3><ul class="why-allows">${allows.map((f) => finding(f))}</ul>`}
    ${why.not_asked.length > 0 && html`<h3>Not asked</h3><ul class="why-allows">${why.not_asked.map((n) => html`<li key=${n.text}><p>${kept(n.text)}</p><p class="none">${kept(n.reason.text)}</p></li>`)}</ul>`}
  </div>`;
}

/** @param {string} what */
const beside = (what) => ({ plan: "Judged beside the plan in force.", "held links": "Judged beside the held links only.", nothing: "Judged by itself." })[what] ?? "";

/** @param {Why["carrier_to_interference"]} ratio */
function interference(ratio) {
  const fact = interferenceFact(ratio);
  return fact && html`<p>${fact.term} there: <b>${fact.value}</b>${h(Help, { about: fact.term.toLowerCase(), text: fact.help })}</p>`;
}

/** @param {Finding} f */
const finding = (f) => html`<li key=${f.text}><p>${kept(f.text)}</p>${f.asked_by && html`<p class="none">Asked by ${f.asked_by}.</p>`}${f.remedy && html`<p>${kept(f.remedy)}</p>`}</li>`;

/** @param {NonNullable<Why["to_open"]>} open */
function opening({ links, fewest, stays, immovable }) {
  return html`<p class="why-open">
    ${links === null ? "Moving others would not open it." : `To open it, ${links.join(" and ")} would have to leave${fewest === "proven" ? " (no fewer would do)" : ""}.`}
    ${stays.length > 0 && ` Whatever moves, it stays closed by: ${stays.join(", ")}.`}
    ${immovable.length > 0 && ` Held or never moving: ${immovable.join(", ")}.`}
  </p>`;
}
