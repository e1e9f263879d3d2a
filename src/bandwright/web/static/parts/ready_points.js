/** The eight points: one line each when fine, a sentence and a way to mend it when open, somebody's word where nothing computes it. */
import { h, html, useState } from "../lib/html.js";
import { moment } from "../lib/format.js";
import { mayEdit, readiness } from "../lib/state.js";
import { state, takeBack } from "../lib/ticks.js";
import { Mark } from "./status.js";

/** @typedef {import("../lib/types.js").Point} Point */

/** @type {{ [state: string]: import("./status.js").Shape }} */
const SHAPES = { fine: "fine", stated: "stated", open: "open", "not known": "unknown" };

/** @param {{ points: Point[] }} props */
export function ReadyPoints({ points }) {
  const settled = points.filter((point) => point.state === "fine" || point.state === "stated").length;
  return html`<section class="points" aria-labelledby="points-title">
    <h2 id="points-title">The eight points <span>${settled} of ${points.length}</span></h2>
    <ul>
      ${points.map((point) => h(PointRow, { key: point.point, point }))}
    </ul>
  </section>`;
}

/** @param {{ point: Point }} props */
function PointRow({ point }) {
  const prints = point.point === "on-paper" && point.state === "open" && readiness.value.value?.plan;
  const here = !point.href || point.href.startsWith("#/ready");
  return html`<li class=${`point point-${point.state.replace(" ", "-")}`}>
    ${h(Mark, { shape: SHAPES[point.state] ?? "unknown" })}
    <div>
      <p><b>${point.title}</b> <span class="point-state">${point.state}</span></p>
      <p class="point-text">${point.text} ${point.state === "open" && !here && html`<a href=${point.href} aria-label=${`Mend it: ${point.title}`}>Mend it</a>`}${point.state === "not known" && !here && html`<a href=${point.href} aria-label=${`Look at it: ${point.title}`}>Look at it</a>`}</p>
      ${point.statement ? h(Stated, { statement: point.statement, title: point.title }) : mayBeStated(point) && mayEdit.value && h(StateIt, { point })}
      ${prints && mayEdit.value && html`<button type="button" class="button small" onClick=${() => state("printed", { said: "Printed" })}>It hangs now</button>`}
    </div>
  </li>`;
}

/** What is reckoned from the brief; whoever walked or listened knows better. */
const RECKONED = ["strong", "sounding-right"];

/** @param {Point} point */
const mayBeStated = ({ point, state: now }) => now === "not known" || (now === "open" && RECKONED.includes(point));

/** @param {{ statement: import("../lib/types.js").Statement, title: string }} props */
function Stated({ statement, title }) {
  return html`<p class="stated">
    ${statement.who}, ${moment(statement.at)}${statement.note && html`: <q>${statement.note}</q>`}
    ${mayEdit.value && html`<button type="button" class="button quiet small" aria-label=${`Take back: ${title}`} onClick=${() => takeBack(statement.uid)}>Take back</button>`}
  </p>`;
}

/** @param {{ point: Point }} props  with an optional remark, so that tomorrow somebody knows what was looked at */
function StateIt({ point }) {
  const [asking, setAsking] = useState(false);
  const [note, setNote] = useState("");
  const submit = (/** @type {Event} */ event) => {
    event.preventDefault();
    setAsking(false);
    state(point.point, { note: note.trim() || undefined, said: `${point.title}: stated` });
  };
  if (!asking) return html`<button type="button" class="button small" aria-label=${`State it: ${point.title}`} onClick=${() => setAsking(true)}>State it</button>`;
  return html`<form class="state-it" onSubmit=${submit}>
    <label class="field"><span>What was looked at (optional)</span><input value=${note} maxlength="200" ref=${focused} onInput=${(/** @type {any} */ event) => setNote(event.target.value)} /></label>
    <div class="actions"><button class="button small">It is so</button><button type="button" class="button quiet small" onClick=${() => setAsking(false)}>Cancel</button></div>
  </form>`;
}

/** @param {HTMLElement | null} element */
const focused = (element) => element && !element.closest("form")?.contains(document.activeElement) && element.focus();
