/**
 * What changed between two sweeps: whom it touches first, then everything that came, went or got noisier.
 * @module pages/air/compared
 */
import { h, html } from "../../lib/html.js";
import { kept } from "../../lib/format.js";
import { Mark } from "../../parts/pieces.js";
import { dbText } from "../../chart/words.js";
import { scene } from "./model.js";

/**
 * @typedef {import("../../api").AirChangeModel} AirChange
 * @typedef {import("../../api").CompareDocument} Comparison
 */

/** @param {{comparison: Comparison}} props */
export function Compared({ comparison }) {
  const { changes, touched, alignment, warnings } = comparison;
  return html`<section class="air-compared" aria-labelledby="air-compared">
    <h2 id="air-compared">${touched.length ? `${touched.length === 1 ? "One link is" : `${touched.length} links are`} touched` : "No link is touched"}</h2>
    ${touched.length > 0 && html`<ul class="air-touched">${touched.map((t) => html`<li key=${t.text}>${h(Mark, { shape: t.intruder ? "blocked" : "caution" })} <span>${kept(t.text)} <a href=${`#/plan?link=${encodeURIComponent(t.link)}`}>Look at ${t.link}</a></span></li>`)}</ul>`}
    <p class="none">${alignmentWords(alignment)}</p>
    ${changes.length === 0 && html`<p>Nothing new, nothing gone, nothing noisier.</p>`}
    ${changes.length > 0 &&
    html`<table class="list">
      <thead><tr><th scope="col">What</th><th scope="col">Where</th><th scope="col" class="number">Before</th><th scope="col" class="number">Now</th><th scope="col">Whose</th></tr></thead>
      <tbody>${changes.map((c) => html`<tr key=${`${c.kind} ${c.of} ${c.centre_mhz}`}>
        <th scope="row">${c.kind} ${c.of}</th>
        <td><button type="button" class="culprit-name" onClick=${() => scene.look.closeUp(c.centre_mhz * 1e6, Math.max(1e6, (c.high_mhz - c.low_mhz) * 1e6))}>${c.tv_channel ? `TV ${c.tv_channel}` : `${c.centre_mhz.toFixed(3)} MHz`}</button></td>
        <td class="number">${level(c.old_level, comparison.old_unit)}</td>
        <td class="number">${level(c.new_level, comparison.new_unit)}${c.rise_db !== null && html` <small class="none">${c.rise_db > 0 ? "+" : ""}${dbText(c.rise_db)} dB</small>`}</td>
        <td>${c.own_link ? `ours: ${c.own_link}` : c.own_product ? `ours: ${c.own_product}` : html`<span class="none">not ours</span>`}</td>
      </tr>`)}</tbody>
    </table>`}
    ${warnings.length > 0 && html`<ul class="summary-list">${warnings.map((w) => html`<li key=${w.text}>${kept(w.text)}</li>`)}</ul>`}
  </section>`;
}

/** @param {number | null} value @param {string} unit */
const level = (value, unit) => (value === null ? html`<span class="none">–</span>` : `${dbText(value)} ${unit}`);

/** @param {Comparison["alignment"]} by */
function alignmentWords({ by, offset_db, floor_rise_db }) {
  if (offset_db === null) return "Nothing aligns the two sweeps, so levels are not compared, only what stands out of each.";
  const rise = floor_rise_db === null || Math.abs(floor_rise_db) < 0.5 ? "" : `; its floor ${floor_rise_db > 0 ? "rose" : "fell"} by ${Math.abs(floor_rise_db).toFixed(1)} dB`;
  return `Put on one scale by ${by}: the newer sweep reads ${dbText(offset_db)} dB more of the same air${rise}.`;
}
