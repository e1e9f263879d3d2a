/**
 * The carrier in the hand, large: its figure, the verdict on it, who is in the way, and what can be done.
 * @module pages/plan/hand_panel
 */
import { effect, h, html, signal, useEffect, useRef, useState } from "../../lib/html.js";
import { attempt } from "../../lib/attempt.js";
import { kept, unit } from "../../lib/format.js";
import { interferenceFact } from "../../lib/interference.js";
import { rowOf } from "../../lib/link_cards.js";
import { change, mayEdit } from "../../lib/state.js";
import { tell } from "../../lib/toasts.js";
import { shown as theme } from "../../lib/theme.js";
import { Notes } from "../../parts/notes.js";
import { Carrier, Facts, Mark, Status } from "../../parts/pieces.js";
import { measured, paintFine } from "../../chart/fine.js";
import { khzText, sourceText } from "../../chart/words.js";
import { asking, hzNow, keep, mayMove, nudge, pick, putBack, row, saving, selected, trial, troubled, tryAt, verdict } from "./hand.js";
import { carriers, ground, trace } from "./model.js";
import { closeUp } from "./view.js";
import { openWhy } from "./why.js";

/** @typedef {import("./types.js").Row} Row */

export function HandPanel() {
  const of = row.value;
  if (!of) return null;
  return html`<section class="hand" aria-label=${`${of.id} ${of.name}`}>
    <header class="hand-head">
      <h2><span class=${`kind-mark is-${of.kind}`}></span> ${of.id}${of.name !== of.id && html` <span class="hand-name">${of.name}</span>`}</h2>
      <button type="button" class="button quiet" aria-label="Put it down" onClick=${() => pick(null)}>✕</button>
    </header>
    ${h(Figure, { of })}${hzNow.value !== null && html`${of.link && h(Verdict, {})}${h(Close, {})}${of.link && h(Clearances, { of })}`}${h(Evidence, { of })}${of.link && h(Deeds, { of })}${of.link && of.uid && html`<section class="hand-notes"><h3>Notes</h3>${h(Notes, { about: of.uid, empty: "None about this link." })}</section>`}
  </section>`;
}

/** @param {{of: Row}} props */
function Figure({ of }) {
  const hz = hzNow.value;
  const from = trial.value && of.hz !== null && trial.value.hz !== of.hz ? of.hz : null;
  return html`<div class="hand-figure">
    <button type="button" class="hand-hz" title="Show what lies around it" onClick=${() => hz !== null && closeUp(hz)}>${h(Carrier, { hz, size: "large", held: of.held })}</button>
    ${from !== null && html`<p class="hand-from">planned on ${h(Carrier, { hz: from })} MHz</p>`}
    ${mayMove.value &&
    html`<div class="hand-steps" role="group" aria-label="Tune">
      ${hz !== null && html`${step(-10, "«", "Ten steps down")}${step(-1, "−", "One step down")}${step(1, "+", "One step up")}${step(10, "»", "Ten steps up")}`}
      ${h(Typed, { key: of.id })}
    </div>`}
    ${mayMove.value && hz === null && html`<p class="hand-from">Type a carrier to see how it would stand there.</p>`}
  </div>`;
}

/** @param {number} count @param {string} glyph @param {string} words */
const step = (count, glyph, words) => html`<button type="button" class="button" aria-label=${words} onClick=${() => nudge(count)}>${glyph}</button>`;

/** A carrier typed in MHz. */
function Typed() {
  const [text, setText] = useState("");
  const go = (/** @type {Event} */ event) => {
    event.preventDefault();
    const mhz = Number(text.trim().replace(",", "."));
    if (!Number.isFinite(mhz) || mhz <= 0) {
      tell(`“${text}” is no frequency in MHz; type one such as 606.7.`, { kind: "refused" });
      return;
    }
    const hz = Math.round(mhz * 1e6);
    if (tryAt(hz) && hzNow.peek() !== hz) tell("That is between the steps of this radio; the nearest one is tried.");
    setText("");
  };
  return html`<form onSubmit=${go}>
    <label class="unseen" for="hand-typed">Carrier in MHz</label>
    <input id="hand-typed" inputmode="decimal" autocomplete="off" placeholder="MHz" value=${text} onInput=${(/** @type {any} */ e) => setText(e.target.value)} />
  </form>`;
}

/** What every rule says of where it is. */
function Verdict() {
  const said = verdict.value;
  const fresh = said?.carrier_hz === hzNow.value;
  const others = said ? troubled(said) : [];
  const good = fresh && said?.ok && others.length === 0;
  return html`<div class=${`verdict ${!said || !fresh ? "is-asking" : good ? "is-ok" : "is-stop"}`}>
    <p class="verdict-word" role="status">${verdictWords(said, fresh, others.length)}</p>
    ${trial.value &&
    html`<div class="actions">
      <button type="button" class=${good ? "button primary" : "button"} disabled=${saving.value || !mayEdit.value} onClick=${keep}>${good ? "Keep it here" : "Keep it anyway"}</button>
      <button type="button" class="button" onClick=${putBack}>Put it back</button>
    </div>`}
  </div>`;
}

/** @param {import("./types.js").Preview | null} said @param {boolean} fresh @param {number} others */
function verdictWords(said, fresh, others) {
  if (!said || !fresh) return html`${h(Mark, { shape: "working" })} ${asking.value ? "Looking…" : "Not looked at yet"}`;
  if (said.violations.length) return html`${h(Mark, { shape: "blocked" })} ${said.violations.length === 1 ? "One rule is broken here" : `${said.violations.length} rules are broken here`}`;
  if (others) return html`${h(Mark, { shape: "blocked" })} Here it puts ${others === 1 ? "another link" : `${others} other links`} into trouble`;
  return html`${h(Mark, { shape: "fine" })} Every rule is kept here`;
}

const MOST = 7;

/**
 * Who is too near, and who is nearest of those far enough: how far of how much is asked. Lines without a key: under the
 * hand their words change at every step, and each takes the words of the one before it.
 * @param {{of: Row}} props
 */
function Clearances({ of }) {
  const said = verdict.value;
  if (!said) return null;
  const broken = [...new Map(said.violations.map((v) => [v.text, v])).values()];
  const told = new Set(broken.map((v) => v.text));
  const others = troubled(said).filter((a) => !told.has(a.text));
  const near = nearNow().filter((n) => n.ok).slice(0, Math.max(1, 4 - broken.length));
  return html`<div class="clearances">
    ${broken.length > 0 && html`<h3>Too near</h3><ul>${broken.slice(0, MOST).map((v) => html`<li>${h(Clearance, { ...v, at: v.victim === of.id ? null : v.victim })}</li>`)}</ul>`}
    ${broken.length > MOST && html`<p class="none">and ${broken.length - MOST} more</p>`}
    ${others.length > 0 && html`<ul>${others.slice(0, MOST).map((a) => html`<li key=${a.id}>${h(Culprit, { id: a.id })} ${kept(a.text)}</li>`)}</ul>`}
    ${near.length > 0 && html`<h3>Nearest of those far enough</h3><ul>${near.map((n) => html`<li>${h(Clearance, { ...n, at: null })}</li>`)}</ul>`}
  </div>`;
}

/**
 * One clearance: who, how far of what is asked, and the same as a bar with a mark at what is asked.
 * @param {{rule: string, family: string | null, sources: string[], offset_khz: number | null, required_khz: number | null, text: string, at: string | null}} props
 */
function Clearance({ rule, family, sources, offset_khz, required_khz, text, at }) {
  if (offset_khz === null || !required_khz) return html`<p>${kept(text)}</p>`;
  const away = Math.abs(offset_khz);
  const share = Math.min(1, away / required_khz / 2);
  return html`<div class=${away < required_khz ? "clearance short" : "clearance"}>
    <span class="who">${sourceText({ rule, family, sources })}${at && html` <span class="none">at ${h(Culprit, { id: at })}</span>`}</span>
    <span class="gap"><b>${khzText(away)}</b> of ${khzText(required_khz)}\u202fkHz</span>
    <span class="gauge" aria-hidden="true"><i style=${{ width: `${share * 100}%` }}></i></span>
  </div>`;
}

/** @param {{id: string}} props */
function Culprit({ id }) {
  return html`<button type="button" class="culprit-name" onClick=${() => pick(id)}>${id}</button>`;
}

/** @returns {import("../../chart/fine.js").Content} */
function around() {
  const of = row.value;
  return {
    hz: hzNow.value ?? 0,
    bandwidth: of?.radio?.bandwidth_hz ?? of?.bandwidth ?? 0,
    near: nearNow(),
    neighbours: carriers.value.filter((c) => c.id !== of?.id),
    usable: ground.value.permits.flatMap((p) => p.windows),
    trace: trace.value,
  };
}

/** The strip of what lies close around. */
function Close() {
  const canvas = useRef(/** @type {HTMLCanvasElement | null} */ (null));
  useEffect(() => {
    const at = /** @type {HTMLCanvasElement} */ (canvas.current);
    const sheet = signal(measured(at));
    const again = () => {
      sheet.value = measured(at);
    };
    const stops = [effect(() => paintFine(at, sheet.value, around())), theme.subscribe(() => void requestAnimationFrame(again))];
    const watch = new ResizeObserver(again);
    watch.observe(at);
    return () => (stops.forEach((stop) => stop()), watch.disconnect());
  }, []);
  return html`<div class="close chart"><canvas ref=${canvas} role="img" aria-label="What lies close around the carrier; the clearances below say it in words"></canvas></div>`;
}

/** @returns {import("../../chart/fine.js").Near[]} */
function nearNow() {
  const said = verdict.value;
  const hz = hzNow.value ?? 0;
  if (!said) return [];
  const own = said.violations.filter((v) => v.offset_khz !== null && v.victim === selected.value).map((v) => ({ ...v, ok: false }));
  const all = [...own, ...(said.closest && said.closest.slack_khz >= 0 ? [{ ...said.closest, ok: true, text: said.closest_text ?? "" }] : [])];
  return all.map((v) => ({
    ...v,
    offset_khz: v.product_hz === null ? (v.offset_khz ?? 0) : (v.product_hz - hz) / 1e3,
    required_khz: v.required_khz ?? 0,
  }));
}

/** @param {{of: Row}} props */
function Evidence({ of }) {
  const placed = of.placed;
  return h(Facts, {
    facts: [
      placed && { term: "In the plan", value: h(Status, { state: placed.status }), help: "Clear: every rule is kept. Caution: kept, but with little to spare or not measured. Blocked: a rule is broken." },
      of.texts?.cautions.length ? { term: "Why caution", value: of.texts.cautions.join(", ") } : null,
      of.texts?.closest && { term: "Closest", value: kept(of.texts.closest), help: "The rule with the least to spare: how far away it is, and what is asked." },
      interferenceFact(placed?.carrier_to_interference ?? null),
      of.texts?.noise && { term: "Sweep", value: kept(of.texts.noise), help: "The highest level the sweep shows over its occupied bandwidth." },
      placed?.tv_channel && { term: "TV channel", value: placed.tv_channel },
      placed?.preset && { term: "Preset", value: placed.preset },
      placed?.permit && { term: "Permit", value: ground.value.permits.find((p) => p.id === placed.permit)?.reference ?? placed.permit },
      placed?.power_mw ? { term: "Power", value: unit(placed.power_mw, "mW") } : null,
      of.radio && { term: "Radio", value: of.radio.name },
      ...(placed?.notes ?? []).map((note) => ({ term: "Note", value: kept(note.text) })),
      ...of.reasons.map((reason) => ({ term: "Not placed", value: kept(reason.text) })),
    ],
  });
}

/** @param {{of: Row}} props */
function Deeds({ of }) {
  const hz = hzNow.value;
  const entry = of.uid ? rowOf(of.uid) : undefined;
  return html`<div class="actions hand-deeds">
    ${hz !== null && html`<button type="button" class="button" onClick=${() => openWhy(of, hz)}>Why this frequency?</button>`}
    ${entry && mayEdit.value && of.hz !== null && html`<button type="button" class="button" onClick=${() => hold(of, entry)}>${of.held ? "Let it move again" : "Hold it here"}</button>`}
  </div>`;
}

/**
 * Hold one link. A row that stands for several is taken apart into single rows by the same change.
 * @param {Row} of @param {import("../../lib/types.js").Entry} entry  its row
 */
const hold = (of, entry) =>
  attempt(
    change("PATCH", `/entries/${of.uid}`, { base: entry.revision, changes: { hold_mhz: of.held || of.hz === null ? null : of.hz / 1e6 } }),
    of.held ? `${of.id} may move again.` : `${of.id} is held where it is.${entry.uid === of.uid ? "" : ` ${entry.id} stands as single rows now.`}`,
  );
