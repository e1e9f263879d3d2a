/**
 * What a sweep shows, in words: TV channels, carriers, what was not measured, and faults of the file.
 * @module pages/air/findings
 */
import { h, html } from "../../lib/html.js";
import { attempt } from "../../lib/attempt.js";
import { counted, kept } from "../../lib/format.js";
import { change, entriesOf, mayEdit } from "../../lib/state.js";
import { Mark } from "../../parts/pieces.js";
import { dbText } from "../../chart/words.js";
import { ground, picked, scene } from "./model.js";

/** @typedef {import("../plan/types.js").AirReport} AirReport */
/** @typedef {import("../../parts/status.js").Shape} Shape */

/** @type {{[verdict: string]: Shape}} */
const SHAPES = { taken: "blocked", shared: "caution", "not measured": "unknown", "nothing seen": "fine" };
const NEAR_HZ = 150e3;

/** @param {{report: AirReport}} props */
export function Findings({ report }) {
  return html`<div class="air-findings">
    ${h(Tv, { report })}${h(Found, { report })}${h(Holes, { report })}
  </div>`;
}

/** @param {{report: AirReport}} props */
function Tv({ report }) {
  if (!report.tv.length) return html`<section><h2>TV channels</h2><p class="none">The place names no TV raster, so none are known. <a href="#/kit">Name one</a>.</p></section>`;
  const quiet = report.tv.filter((c) => c.verdict === "nothing seen");
  const rest = report.tv.filter((c) => c.verdict !== "nothing seen");
  const closed = new Set(entriesOf("place").flatMap((p) => p.value.tv_closed ?? []));
  return html`<section aria-labelledby="air-tv">
    <h2 id="air-tv">TV channels</h2>
    <table class="list keep air-tv">
      <thead><tr><th scope="col">TV</th><th scope="col">Verdict</th><th scope="col" class="number">Level</th><th scope="col">MHz</th><th scope="col">In the brief</th></tr></thead>
      <tbody>${rest.map((c) => html`<tr key=${c.channel}>
        <th scope="row">${c.channel}</th>
        <td><span class=${`status status-${SHAPES[c.verdict] ?? "unknown"}`}>${h(Mark, { shape: SHAPES[c.verdict] ?? "unknown" })}<span>${c.verdict}</span></span>${c.confidence !== null && c.confidence < 0.8 && html` <small class="none">not certain</small>`}</td>
        <td class="number">${c.level === null ? html`<span class="none">–</span>` : `${dbText(c.level)} ${c.unit}`}</td>
        <td>${c.low_mhz}–${c.high_mhz}</td>
        <td>${closed.has(c.channel) ? "closed" : c.verdict === "taken" && mayEdit.value ? html`<button type="button" class="button small" onClick=${() => close(c.channel)}>Close it</button>` : html`<span class="none">not closed</span>`}</td>
      </tr>`)}</tbody>
    </table>
    ${quiet.length > 0 && html`<p class="air-quiet">${h(Mark, { shape: "fine" })} <span>Nothing seen on ${quiet.map((c) => c.channel).join(", ")}.</span></p>`}
  </section>`;
}

/** @param {string} channel */
async function close(channel) {
  const place = entriesOf("place")[0];
  if (!place) return;
  await attempt(
    change("PATCH", `/entries/${place.uid}`, { base: place.revision, changes: { tv_closed: [...(place.value.tv_closed ?? []), channel] } }),
    `TV ${channel} is closed in the brief.`,
  );
}

/** @param {{report: AirReport}} props */
function Found({ report }) {
  const others = entriesOf("other");
  const rows = [...report.carriers].sort((a, b) => b.above_floor_db - a.above_floor_db).slice(0, 40);
  return html`<section aria-labelledby="air-found">
    <h2 id="air-found">Carriers in the air</h2>
    ${rows.length === 0 && html`<p class="none">None stands out of the noise, apart from the TV channels.</p>`}
    <ul class="air-found">${rows.map((c) => {
      const hz = Math.round(c.centre_mhz * 1e6);
      const known = others.find((o) => Math.abs(Number(o.value.carrier_mhz) * 1e6 - hz) < NEAR_HZ);
      const id = `found ${c.centre_mhz}`;
      return html`<li key=${id} class=${picked.value?.id === id ? "chosen" : ""}>
        <button type="button" class="air-mhz" onClick=${() => (scene.hand.pick(id), scene.look.closeUp(hz))}><b>${c.centre_mhz.toFixed(3)}</b> <span class="unit">MHz</span></button>
        <p>${dbText(c.level)} ${c.unit}, ${dbText(c.above_floor_db)} dB above the floor, ${Math.round(c.width_khz)} kHz wide</p>
        ${known ? html`<span class="none">known: ${known.value.name ?? known.id}</span>` : mayEdit.value && html`<button type="button" class="button small" onClick=${() => add(c)}>Note as another user</button>`}
      </li>`;
    })}</ul>
  </section>`;
}

/** @param {AirReport["carriers"][number]} c */
function add(c) {
  const value = { name: `Found on ${c.centre_mhz.toFixed(3)} MHz`, carrier_mhz: Number(c.centre_mhz.toFixed(3)), bandwidth_khz: Math.max(1, Math.round(c.width_khz)), ...(c.unit === "dBm" ? { level_dbm: Math.round(c.level) } : {}) };
  return attempt(change("POST", "/entries", { kind: "other", value }), `${value.name} is among the other users now.`);
}

/** What nobody measured, what is too shallow, and what was wrong with the file. @param {{report: AirReport}} props */
function Holes({ report }) {
  const { gaps, shallow } = ground.value;
  const list = (/** @type {import("../../chart/axis.js").Span[]} */ spans) => spans.slice(0, 12).map((s) => `${(s.low / 1e6).toFixed(3)}–${(s.high / 1e6).toFixed(3)} MHz`).join(", ");
  return html`<section aria-labelledby="air-holes">
    <h2 id="air-holes">What it does not tell</h2>
    ${gaps.length + shallow.length + report.problems.length + report.artefacts.length === 0 && html`<p>It covers ${report.low_mhz}–${report.high_mhz} MHz without a gap, and its noise floor is known throughout.</p>`}
    ${gaps.length > 0 && html`<p><b>Not measured:</b> ${kept(list(gaps))}. Nothing there counts as quiet.</p>`}
    ${shallow.length > 0 && html`<p><b>Too shallow:</b> ${kept(list(shallow))}. It may be less quiet there than it looks; sweep again with more gain or a narrower resolution bandwidth.</p>`}
    ${report.artefacts.length > 0 && html`<p><b>Made by the receiver, not in the air:</b> ${report.artefacts.map((a) => `${a.kind} ${a.low_mhz}–${a.high_mhz} MHz`).join(", ")}.</p>`}
    ${report.problems.length > 0 && html`<details><summary>${counted(report.problems.length, "fault")} of the file</summary><ul class="summary-list">${report.problems.map((p) => html`<li key=${p.text}>${p.line !== null && `Line ${p.line}: `}${p.text}</li>`)}</ul></details>`}
    ${report.warnings.length > 0 && html`<ul class="summary-list">${report.warnings.map((w) => html`<li key=${w.text}>${kept(w.text)}</li>`)}</ul>`}
  </section>`;
}
