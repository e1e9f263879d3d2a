/** The air: sweeps as they were made, what they show, what they do not tell, and what changed between two of them. */
import { effect, h, html, useEffect, useRef, useState } from "../lib/html.js";
import { attempt } from "../lib/attempt.js";
import { useResource } from "../lib/resource.js";
import { go } from "../lib/router.js";
import { change, mayEdit, plan } from "../lib/state.js";
import { Empty, Failed, Loading, Page, Running } from "../parts/pieces.js";
import { Stage, sceneWords } from "../chart/stage.js";
import { StateFields, beside, bring, reading } from "./air/bring.js";
import { Compared } from "./air/compared.js";
import { Findings } from "./air/findings.js";
import { before, chosen, comparison, entry, failure, fetchChosen, older, onlyPermits, picked, present, report, scene } from "./air/model.js";
import { stateWords, sweeps } from "./air/sweeps.js";
import { spectrum } from "./plan/model.js";

/** @typedef {import("./plan/types.js").SweepEntry} SweepEntry */

/** @param {{rest: string[], query: URLSearchParams}} props */
export default function AirPage({ rest, query }) {
  const known = useResource(sweeps);
  useResource(spectrum);
  useResource(plan);
  const uid = rest[0] ?? present.value[0]?.uid ?? null;
  useEffect(() => {
    chosen.value = uid;
    older.value = query.get("against");
  }, [uid, query.get("against")]);
  useEffect(() => effect(() => void fetchChosen()), []);
  if (sweeps.error.value && !known) return h(Failed, { error: sweeps.error.value, onRetry: sweeps.refresh });
  if (!known) return h(Loading, {});
  return html`<${Page} title="Air" wide=${true} lead=${entry.value ? `${entry.value.name}: ${stateWords(entry.value)}` : undefined} actions=${mayEdit.value && present.value.length > 0 && h(Pick, { primary: true })}>
    <div class="air-drop" onDragOver=${over} onDragLeave=${left} onDrop=${dropped}>
      ${reading.value.map((name) => html`<${Running} key=${name} text=${`Reading ${name}`} share=${null} />`)}
      ${present.value.length ? h(Body, {}) : h(None, {})}
    </div>
  <//>`;
}

/** @param {DragEvent} event */
function over(event) {
  if (!mayEdit.peek() || !event.dataTransfer?.types.includes("Files")) return;
  event.preventDefault();
  /** @type {HTMLElement} */ (event.currentTarget).classList.add("is-over");
}

/** @param {DragEvent} event */
const left = (event) => /** @type {HTMLElement} */ (event.currentTarget).classList.remove("is-over");

/** @param {DragEvent} event */
function dropped(event) {
  left(event);
  if (!event.dataTransfer?.files.length) return;
  event.preventDefault();
  bring(event.dataTransfer.files);
}

/** @param {{primary?: boolean}} props */
function Pick({ primary = false }) {
  const input = useRef(/** @type {HTMLInputElement | null} */ (null));
  const taken = (/** @type {Event} */ event) => {
    const target = /** @type {HTMLInputElement} */ (event.target);
    bring([...(target.files ?? [])]);
    target.value = "";
  };
  return html`<button type="button" class=${primary ? "button primary" : "button"} onClick=${() => input.current?.click()}>Bring a sweep</button>
    <input ref=${input} class="unseen" type="file" multiple tabindex="-1" aria-label="Sweep files" onChange=${taken} />`;
}

function None() {
  return html`<${Empty} title="Nobody has listened here yet" action=${mayEdit.value && h(Pick, { primary: true })}>
    Drop a sweep on this page: a log of a scanner or of an SDR program, a trace of an analyser, SigMF or plain CSV. Switch your own transmitters off for the first one. Without a sweep nothing counts as quiet.
  <//>`;
}

function Body() {
  const known = report.value;
  return html`<div class="air-page">
    <div class="air-main">
      ${failure.value ? h(Failed, { error: failure.value, onRetry: () => void fetchChosen() }) : h(Chart, {})}
      ${comparison.value && h(Compared, { comparison: comparison.value })}
      ${known && h(Findings, { report: known })}
    </div>
    <div class="air-side">${h(List, {})}</div>
  </div>`;
}

function Chart() {
  const close = scene.look.isClose();
  const of = picked.value;
  return html`<section class="stage-box" aria-label="Spectrum">
    ${h(Stage, { scene, label: sceneWords(scene) })}
    <div class="stage-foot">
      <p class="stage-key"><span class="key-line key-trace">highest</span><span class="key-line key-typical">typical</span><span class="key-line key-floor">noise floor</span>${before.value && html`<span class="key-line key-before">the older sweep</span>`}${of && html`<b>${of.name} ${(of.hz / 1e6).toFixed(3)} MHz</b>`}</p>
      <div class="actions">
        <label class="stage-only"><input type="checkbox" checked=${onlyPermits.value} onChange=${() => (onlyPermits.value = !onlyPermits.value)} /> permits only</label>
        <button type="button" class="button small" aria-label="Closer" onClick=${() => scene.look.zoomMiddle(0.5)}>+</button>
        <button type="button" class="button small" aria-label="Farther" disabled=${!close} onClick=${() => scene.look.zoomMiddle(2)}>−</button>
        <button type="button" class="button small" disabled=${!close} onClick=${scene.look.zoomOut}>All</button>
      </div>
    </div>
  </section>`;
}

function List() {
  return html`<section aria-labelledby="air-list">
    <h2 id="air-list">Sweeps</h2>
    <ul class="air-list">${present.value.map((s) => h(Item, { key: s.uid, sweep: s }))}</ul>
  </section>`;
}

/** @param {{sweep: SweepEntry}} props */
function Item({ sweep }) {
  const here = sweep.uid === chosen.value;
  const others = present.value.filter((s) => s.uid !== sweep.uid);
  return html`<li class=${here ? "chosen" : ""}>
    <a href=${`#/air/${sweep.uid}`} aria-current=${here ? "true" : undefined}>${sweep.name}</a>
    <p>${stateWords(sweep)}</p>
    <p class="none">${sweep.low_mhz}–${sweep.high_mhz} MHz, ${sweep.points.toLocaleString("en")} points${sweep.in_use ? "" : "; does not count for planning"}</p>
    ${here &&
    html`${others.length > 0 &&
      html`<label class="field"><span>Compare with</span>
        <select value=${older.value ?? ""} onChange=${(/** @type {any} */ e) => go(`#/air/${sweep.uid}${e.target.value ? `?against=${e.target.value}` : ""}`)}>
          <option value="">no other sweep</option>${others.map((o) => html`<option key=${o.uid} value=${o.uid}>${o.name}</option>`)}
        </select></label>`}
      ${mayEdit.value && html`<label class="stage-only"><input type="checkbox" checked=${sweep.in_use} onChange=${() => attempt(change("PATCH", `/sweeps/${sweep.uid}`, { in_use: !sweep.in_use }))} /> counts for planning</label>`}
      ${mayEdit.value && h(Stating, { key: sweep.uid, sweep })}`}
  </li>`;
}

/** What the file cannot know; and taking the sweep away. @param {{sweep: SweepEntry}} props */
function Stating({ sweep }) {
  const { facts } = sweep;
  const [stated, setStated] = useState({ own: facts.own_transmitters, place: facts.place ?? "", antenna: facts.antenna ?? "", gain: facts.gain_ahead_db === null ? "" : String(facts.gain_ahead_db) });
  const save = async (/** @type {Event} */ event) => {
    event.preventDefault();
    const body = { own_transmitters: stated.own, place: stated.place || null, ...beside(stated) };
    await attempt(change("PATCH", `/sweeps/${sweep.uid}`, body), "What you stated is kept with the sweep.");
  };
  return html`<details class="air-facts"><summary>How it was made</summary>
    <form class="air-state" onSubmit=${save}>
      ${h(StateFields, { stated, onChange: setStated })}
      <div class="actions"><button type="submit" class="button">Keep this</button><button type="button" class="button quiet" onClick=${() => attempt(change("DELETE", `/sweeps/${sweep.uid}`), `${sweep.name} is taken away; undo brings it back.`)}>Take it away</button></div>
    </form>
  </details>`;
}
