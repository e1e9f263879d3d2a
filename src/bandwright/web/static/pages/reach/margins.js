/** Each link as a bar: what its margin has over what it needs, to the right of the line; what it lacks, to the left. */
import { h, html, useState } from "../../lib/html.js";
import { counted } from "../../lib/format.js";
import { Help, Mark } from "../../parts/pieces.js";
import { goToChain } from "./chain.js";
import { signed, standings } from "./model.js";

/** @typedef {import("./model.js").Standing} Standing */

const AT_FIRST = 12;
const FULL_DB = 40;
const SHAPES = /** @type {const} */ ({ enough: "fine", short: "blocked", open: "unknown" });
const WORDS = { enough: "enough", short: "short", open: "cannot be told" };
const HELP =
  "What a link has left over at its worst point: its level at the receiver less what the receiver needs (its margin), less what fading asks for while somebody walks there, no more than one dropout in ten minutes that is heard. 0 dB is just enough. It is reckoned, not measured: walk the place with a receiver as well.";

/** @param {{ chosen: string }} props */
export function Margins({ chosen }) {
  const [all, setAll] = useState(false);
  const rows = standings.value;
  const wanted = rows.filter((one) => one.state !== "enough").length;
  const most = all ? rows.length : Math.max(AT_FIRST, wanted);
  const shown = rows.slice(0, most);
  const hidden = rows.slice(most);
  if (hidden.some((one) => one.link.id === chosen)) shown.push(...hidden.filter((one) => one.link.id === chosen));
  const lowest = Math.min(-6, ...rows.map((one) => one.reserve ?? 0));
  const zero = Math.min(45, (Math.max(lowest, -FULL_DB) / (Math.max(lowest, -FULL_DB) - FULL_DB)) * 100);
  return html`<section class="margins" aria-labelledby="margins-head">
    <h2 id="margins-head">${counted(rows.length, "link")} ${h(Help, { about: "over what it needs", text: HELP })}</h2>
    <p class="margins-scale soft" aria-hidden="true"><span>lacks</span><span>dB over what it needs</span></p>
    <ol>
      ${shown.map((one) => h(Row, { key: one.link.id, standing: one, chosen: one.link.id === chosen, zero }))}
    </ol>
    ${!all && rows.length > shown.length && html`<button type="button" class="button small" onClick=${() => setAll(true)}>Show all ${rows.length}</button>`}
  </section>`;
}

/** @param {{ standing: Standing, chosen: boolean, zero: number }} props */
function Row({ standing, chosen, zero }) {
  const { link, state, reserve } = standing;
  const part = reserve === null ? 0 : Math.min(1, Math.abs(reserve) / FULL_DB) * (100 - zero);
  const width = reserve !== null && reserve < 0 ? Math.min(part, zero) : part;
  const from = reserve !== null && reserve < 0 ? zero - width : zero;
  return html`<li>
    <a class=${`margin is-${state}`} href=${`#/reach/${encodeURIComponent(link.id)}`} aria-current=${chosen ? "true" : undefined} onClick=${goToChain}>
      <span class="margin-name">${h(Mark, { shape: SHAPES[state] })} <b>${link.id}</b> ${link.name !== link.id && link.name}</span>
      <span class="margin-figure"><span class="unseen">: </span>${reserve === null ? html`<i>${WORDS.open}</i>` : html`<b>${signed(reserve)}</b> dB${state === "short" && html` <i>short</i>`}`}<span class="unseen">${state === "enough" && ", enough"} ${standing.where}</span></span>
      <svg class="margin-bar" width="100%" height="10" aria-hidden="true" focusable="false">
        <rect class="track" x="0" y="4" width="100%" height="2" />
        <rect class="fill" x=${`${from}%`} y="1" width=${`${width}%`} height="8" />
        <line class="zero" x1=${`${zero}%`} x2=${`${zero}%`} y1="-1" y2="11" />
      </svg>
    </a>
  </li>`;
}
