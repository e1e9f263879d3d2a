/**
 * Something is lost or disturbed: choose what, then see who moves, in which order, who must not be touched, and accept.
 * @module pages/plan/replan
 */
import { h, html, useEffect, useRef, useState } from "../../lib/html.js";
import { request } from "../../lib/api.js";
import { attempt } from "../../lib/attempt.js";
import { counted, kept, mhz } from "../../lib/format.js";
import { resource, useResource } from "../../lib/resource.js";
import { go } from "../../lib/router.js";
import { change, mayEdit } from "../../lib/state.js";
import { Carrier, Mark, Running, Status } from "../../parts/pieces.js";
import { axisOf, cut, ticks, unitOf, whole } from "../../chart/axis.js";
import { ground, linkRows, run } from "./model.js";

/**
 * @typedef {import("../../api").MoveModel} Move
 * @typedef {import("../../api").StepModel} Step
 * @typedef {import("../../api").ReplanDocument} Replan
 * @typedef {import("../../api").Proposal} Proposal
 */

/** @type {import("../../lib/resource.js").Resource<Proposal | null>} */
export const proposal = resource("/replan", ["plan"]);

/** @param {{chosen: string[]}} props ids that are ticked at the start */
export function ReplanPart({ chosen }) {
  const known = useResource(proposal);
  const state = run.value.value;
  const running = state?.kind === "replan" && state.state === "running";
  useEffect(() => {
    if (state?.kind === "replan" && state.state !== "running") proposal.refresh();
  }, [state?.run, state?.state]);
  return html`<div class="replan">
    ${h(Ask, { chosen, running })}
    ${running && h(Running, { text: kept(state.text || "Looking for the fewest moves"), share: state.share, onCancel: () => attempt(request("POST", "/plan/run/cancel")) })}
    ${state?.kind === "replan" && (state.state === "failed" || state.state === "dropped") && html`<p role="alert" class="summary-stale">${h(Mark, { shape: "blocked" })} ${kept(state.errors.map((e) => e.text).join(" ") || state.text)}</p>`}
    ${known && !running && h(Proposed, { proposal: known })}
  </div>`;
}

/** @param {{chosen: string[], running: boolean}} props */
function Ask({ chosen, running }) {
  const [lost, setLost] = useState(new Set(chosen));
  const toggle = (/** @type {string} */ id) => {
    const next = new Set(lost);
    if (!next.delete(id)) next.add(id);
    setLost(next);
  };
  const [offAir, setOffAir] = useState(false);
  const look = () => attempt(request("POST", "/replan", { body: { lost: [...lost], off_air: offAir } }));
  return html`<section class="replan-ask" aria-labelledby="replan-ask">
    <h2 id="replan-ask">Whose carrier cannot be used any more?</h2>
    <p class="none">Tick those that are disturbed. With nobody ticked, the plan is held against the newest sweep and the brief as they are now, and only what breaks a rule moves.</p>
    <ul class="replan-pick">
      ${linkRows.value
        .filter((row) => row.hz !== null)
        .map((row) => html`<li key=${row.id}><label class=${lost.has(row.id) ? "ticked" : ""}><input type="checkbox" checked=${lost.has(row.id)} onChange=${() => toggle(row.id)} /> <b>${row.id}</b> <span>${row.name === row.id ? "" : row.name}</span> ${h(Carrier, { hz: row.hz })}</label></li>`)}
    </ul>
    <label class="check"><input type="checkbox" checked=${offAir} onChange=${() => setOffAir(!offAir)} /><span>Nobody is on the air yet: no in-ear is in anybody's ears</span></label>
    <div class="actions"><button type="button" class="button primary" disabled=${running || !mayEdit.value} onClick=${look}>Look for the fewest moves</button></div>
  </section>`;
}

/** @param {{proposal: Proposal}} props */
function Proposed({ proposal: { document: found, lost } }) {
  const { moves, steps, not_touched, stuck, unplaced } = found;
  const [keepOff, setKeepOff] = useState(true);
  return html`<section class="replan-found" aria-labelledby="replan-found">
    <h2 id="replan-found">${headline(found)}</h2>
    ${lost.length > 0 && html`<p class="none">Given up: ${lost.join(", ")}.</p>`}
    ${found.checked.violations.length > 0 && html`<details><summary>What breaks now</summary><ul class="summary-list">${found.checked.violations.map((v) => html`<li key=${v.text}>${kept(v.text)}</li>`)}</ul></details>`}
    ${moves.length > 0 && h(Arrows, { moves })}
    ${steps.length > 0 &&
    html`<h3>In this order</h3>
      <ol class="replan-steps">${steps.map((s) => html`<li key=${s.text} class=${s.when === "break" ? "at-break" : ""}><p>${kept(s.text)}</p>${s.when === "break" && html`<p class="none">only in a break</p>`}</li>`)}</ol>`}
    ${not_touched.length > 0 && html`<h3>Do not touch</h3><ul class="summary-list keep-off">${not_touched.map((n) => html`<li key=${n.text}>${h(Mark, { shape: "blocked" })} ${kept(n.text)}</li>`)}</ul>`}
    ${stuck.length > 0 && html`<h3>Should move and may not</h3><ul class="summary-list">${stuck.map((n) => html`<li key=${n.text}>${kept(n.text)}</li>`)}</ul>`}
    ${unplaced.length > 0 && html`<p>${h(Status, { state: "unplaced" }, "Without a carrier:")} ${unplaced.join(", ")}</p>`}
    ${found.spares.length > 0 && html`<h3>Spare carriers that change</h3><ul class="summary-list">${found.spares.map((s) => html`<li key=${s.id}>${kept(s.text)}</li>`)}</ul>`}
    ${found.warnings.length > 0 && html`<ul class="summary-list none">${found.warnings.map((w) => html`<li key=${w.text}>${kept(w.text)}</li>`)}</ul>`}
    ${mayEdit.value &&
    moves.length > 0 &&
    html`${lost.length > 0 && html`<label class="check"><input type="checkbox" checked=${keepOff} onChange=${() => setKeepOff(!keepOff)} /><span>Later plans keep off ${lost.length > 1 ? "these carriers" : "this carrier"} too: what was heard is written down among other users. Otherwise the next plan may use ${lost.length > 1 ? "them" : "it"} again.</span></label>`}
      <div class="actions"><button type="button" class="button primary" onClick=${() => accept(keepOff && lost.length > 0)}>Make this the plan</button></div>`}
  </section>`;
}

/** @param {Replan} found */
function headline({ moves, stuck, fewest }) {
  const kept = stuck.length ? ` ${andList(stuck.map((s) => s.link))} should move and may not.` : "";
  if (moves.length === 0) return kept ? kept.trim() : "Nobody has to move.";
  return `${counted(moves.length, "link")} would move; ${fewest === "proven" ? "no fewer will do (proven)." : "fewer were not found."}${kept}`;
}

/** @param {string[]} names */
const andList = (names) => (names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}`);

/** @param {boolean} keepOff */
async function accept(keepOff) {
  const well = await attempt(change("POST", "/replan/accept", { keep_off: keepOff }), "The new plan is in force. What moved is not heard and not walked any more.");
  if (well) go("#/plan");
}

const LINE = 30;
const LEFT = 60;
const TOP = 8;
const STAYS = 22;

/** Before and after, one line for each link that moves: from hollow to full. @param {{moves: Move[]}} props */
function Arrows({ moves }) {
  const host = useRef(/** @type {HTMLElement | null} */ (null));
  const [width, setWidth] = useState(720);
  useEffect(() => {
    const watch = new ResizeObserver(() => host.current && setWidth(host.current.clientWidth));
    if (host.current) watch.observe(host.current);
    return () => watch.disconnect();
  }, []);
  const windows = ground.value.permits.flatMap((p) => p.windows);
  const ends = moves.flatMap((m) => [m.from_hz ?? m.to_hz, m.to_hz]).map((hz) => ({ low: hz - 5e5, high: hz + 5e5 }));
  const axis = axisOf([...windows, ...ends], { margin: 2e5 });
  const across = width - LEFT - 96;
  const x = (/** @type {number} */ hz) => LEFT + (unitOf(axis, hz) / axis.length) * across;
  const moving = new Set(moves.map((m) => m.link));
  const stays = linkRows.value.filter((row) => row.hz !== null && !moving.has(row.id));
  const bottom = TOP + moves.length * LINE + STAYS;
  const text = moves.map((m) => m.text).join(" ");
  return html`<div class="arrows chart" ref=${host}>
    <svg role="img" aria-label=${`Before and after. ${text}`} width=${width} height=${bottom + 24}>
      <rect class="outside" x=${LEFT} y="0" width=${across} height=${bottom} />
      ${windows.flatMap((w) => cut(axis, w)).map((p) => html`<rect class="inside" x=${LEFT + (p.from / axis.length) * across} y="0" width=${((p.to - p.from) / axis.length) * across} height=${bottom} />`)}
      ${ticks(axis, whole(axis), across, 70).map((t) => html`<text class="tick" x=${LEFT + (t.at / axis.length) * across} y=${bottom + 17}>${t.text}</text>`)}
      ${moves.map((m, i) => arrow(m, TOP + (i + 0.5) * LINE, x, LEFT + across))}
      <text class="stays-word" x="0" y=${bottom - 4}>stay</text>
      ${stays.map((row) => html`<path key=${row.id} class="stays" d=${`M${x(row.hz ?? 0)} ${bottom - 2}v-12`} />`)}
    </svg>
  </div>`;
}

/** @param {Move} move @param {number} y @param {(hz: number) => number} x @param {number} right */
function arrow({ link, from_hz, to_hz }, y, x, right) {
  const to = x(to_hz);
  const from = from_hz === null ? null : x(from_hz);
  const way = from === null ? 0 : Math.sign(to - from);
  return html`<g key=${link}>
    <text class="who" x="0" y=${y + 5}>${link}</text>
    ${from !== null &&
    html`<path class="way" d=${`M${from + way * 6} ${y}H${to - way * 8}`} /><path class="head" d=${`M${to - way * 14} ${y - 5}L${to - way * 6} ${y}L${to - way * 14} ${y + 5}Z`} /><circle class="from" cx=${from} cy=${y} r="4.5" />`}
    <circle class="to" cx=${to} cy=${y} r="5" />
    <text class="mhz" x=${right + 10} y=${y + 5}>${mhz(to_hz)}</text>
  </g>`;
}

