/** The plan: the spectrum with all carriers, one of them in the hand, every link with its evidence, and the engine. */
import { effect, h, html, signal, useEffect, useState } from "../lib/html.js";
import { ApiError, request } from "../lib/api.js";
import { attempt } from "../lib/attempt.js";
import { counted, kept } from "../lib/format.js";
import { useResource } from "../lib/resource.js";
import { mayEdit, plan } from "../lib/state.js";
import { tell } from "../lib/toasts.js";
import { BriefFaults } from "../parts/brief_faults.js";
import { Empty, Failed, Loading, Mark, Page, Running } from "../parts/pieces.js";
import { Stage, sceneWords } from "../chart/stage.js";
import { ask, hand, pick, planChanged, selected } from "./plan/hand.js";
import { HandPanel } from "./plan/hand_panel.js";
import { LinksTable } from "./plan/links_table.js";
import { axis, carriers, drawSweep, ground, lanes, linkRows, onlyPermits, planNow, run, rowsById, spectrum, sweepInUse, trace } from "./plan/model.js";
import { sweeps } from "./air/sweeps.js";
import { ReplanPart } from "./plan/replan.js";
import { Summary } from "./plan/summary.js";
import { look } from "./plan/view.js";

/** @param {{rest: string[], query: URLSearchParams}} props */
export default function PlanPage({ rest, query }) {
  const known = useResource(spectrum);
  const now = useResource(plan);
  useResource(sweeps);
  useResource(run);
  useEffect(() => effect(() => void drawSweep()), []);
  useEffect(() => planChanged(), [planNow()?.number]);
  useEffect(() => picked(query.get("link")), [query.get("link"), known !== undefined && now !== undefined]);
  const error = spectrum.error.value;
  if (error && !known) return error instanceof ApiError ? h(NotYet, { error }) : h(Failed, { error, onRetry: spectrum.refresh });
  if (!known || now === undefined) return h(Loading, {});
  if (rest[0] === "change") return h(Change, { query });
  if (!known.links.length) return h(NoLinks, {});
  return html`<${Page} title="Plan" wide=${true} lead=${lead()} actions=${h(Actions, {})}>
    ${error instanceof ApiError && html`<div class="plan-fault"><p class="summary-stale">${h(Mark, { shape: "blocked" })} The brief cannot be planned as it is. <a href="#/kit">Mend it</a></p>${h(BriefFaults, { faults: error.errors })}</div>`}
    ${h(RunLine, {})}
    <div class=${selected.value ? "plan-page has-hand" : "plan-page"}>
      <div class="plan-main">
        ${h(StageBox, {})}
        ${h(LinksTable, {})}
      </div>
      <div class="plan-side">${selected.value ? h(HandPanel, {}) : h(Summary, {})}</div>
    </div>
  <//>`;
}

/** A brief that cannot be planned: what is wrong with it, and where that is mended. @param {{error: ApiError}} props */
function NotYet({ error }) {
  return html`<${Page} title="Plan">
    <div class="empty">
      <h2>The brief cannot be planned yet</h2>
      ${h(BriefFaults, { faults: error.errors })}
      <div class="actions"><a class="button primary" href="#/kit">Mend it</a></div>
    </div>
  <//>`;
}

/** @param {string | null} id */
function picked(id) {
  const row = id === null ? undefined : rowsById.peek().get(id);
  if (!row) return;
  pick(row.id);
  if (row.hz !== null) look.bring(row.hz);
  ask();
}

/** How good the plan is; what was said of it holds for what it was made of. */
function lead() {
  const now = planNow();
  if (!now) return `${counted(linkRows.value.length, "link")} wait for carriers.`;
  const told = kept([now.bound_text, now.kept_text].filter(Boolean).join(" "));
  if (!now.stale) return told;
  return html`<b class="summary-stale">${h(Mark, { shape: "caution" })} ${now.stale}</b> When it was made: ${told}`;
}

function Actions() {
  if (!mayEdit.value) return null;
  const now = planNow();
  const busy = run.value.value?.state === "running";
  return html`${now && html`<a class="button" href="#/plan/change">Something is lost or disturbed</a>`}
    ${now && html`<label class="check"><input type="checkbox" checked=${keeping.value} onChange=${() => (keeping.value = !keeping.value)} /><span>Keep carriers where it can</span></label>`}
    <button type="button" class="button primary" disabled=${busy} onClick=${() => start(!!now && keeping.value)}>${now ? "Plan again" : "Plan"}</button>`;
}

/** Whether planning again leaves as many links as can be on the carriers they have. */
const keeping = signal(true);

/** @param {boolean} keep */
const start = (keep) => attempt(request("POST", "/plan/run", { body: { keep } }));

const stop = () => attempt(request("POST", "/plan/run/cancel"));

/** What the engine does now: the best so far, what more could be, and a way to stop it with the best. */
function RunLine() {
  const state = run.value.value;
  const [shown, setShown] = useState("");
  useEffect(() => {
    if (!state || state.kind !== "plan" || state.state === "running" || state.run === shown) return;
    setShown(state.run);
    if (state.state === "failed") tell(state.errors.map((e) => e.text).join(" ") || "Planning failed.", { kind: "refused" });
    if (state.state === "dropped") tell("The brief changed while it was planned, so that plan was dropped. Plan again.", { kind: "refused" });
  }, [state?.run, state?.state]);
  if (!state || state.kind !== "plan" || state.state !== "running") return null;
  const most = state.bound === null || state.wanted === null || state.bound >= state.wanted ? "" : ` No more than ${state.bound} fit.`;
  const words = `${state.text.charAt(0).toUpperCase()}${state.text.slice(1)}.${most}`.replace("..", ".");
  return html`<div class="plan-run">${h(Running, { text: kept(words), share: state.share, onCancel: stop })}</div>`;
}

/** @type {import("../chart/stage.js").Scene} */
const scene = { axis, ground, lanes, carriers, trace, look, hand };

function StageBox() {
  const close = look.isClose();
  return html`<section class="stage-box" aria-label="Spectrum">
    ${h(Stage, { scene, label: sceneWords(scene) })}
    <div class="stage-foot">
      ${h(Key, {})}
      <div class="actions">
        ${trace.value && html`<label class="stage-only"><input type="checkbox" checked=${onlyPermits.value} onChange=${() => (onlyPermits.value = !onlyPermits.value)} /> permits only</label>`}
        <button type="button" class="button small" onClick=${() => look.zoomMiddle(0.5)} aria-label="Closer">+</button>
        <button type="button" class="button small" onClick=${() => look.zoomMiddle(2)} aria-label="Farther" disabled=${!close}>−</button>
        <button type="button" class="button small" onClick=${look.zoomOut} disabled=${!close}>All</button>
      </div>
    </div>
  </section>`;
}



/** What the lines mean, and which sweep this is. */
function Key() {
  const sweep = sweepInUse.value;
  if (!sweep) return html`<p class="stage-key"><span>No sweep yet: levels are missing, and nothing counts as quiet. <a href="#/air">Bring one</a>.</span></p>`;
  if (!trace.value) return html`<p class="stage-key">Reading the levels of ${sweep.name}…</p>`;
  return html`<p class="stage-key"><span class="key-line key-trace">highest</span><span class="key-line key-typical">typical</span><span class="key-line key-floor">noise floor</span> ${sweep.name}</p>`;
}

function NoLinks() {
  return html`<${Page} title="Plan">
    <${Empty} title="There is nothing to plan yet" action=${html`<a class="button primary" href="#/kit">Add links</a>`}>
      A plan gives every link a legal carrier that keeps clear of the others and of what the sweep shows. It needs a radio type, a permit and the links.
    <//>
  <//>`;
}

/** @param {{query: URLSearchParams}} props */
function Change({ query }) {
  const chosen = (query.get("lost") ?? "").split(",").filter(Boolean);
  return html`<${Page} title="Move the fewest" lead="Who keeps the carrier, who gets another one, and in which order nobody on air is disturbed." actions=${html`<a class="button" href="#/plan">Back to the plan</a>`}>
    ${planNow() ? h(ReplanPart, { chosen }) : html`<${Empty} title="There is no plan to change yet" action=${html`<a class="button" href="#/plan">To the plan</a>`} />`}
  <//>`;
}
