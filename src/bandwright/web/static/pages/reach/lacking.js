/** Facts that are missing, each with the cell where it is filled in: first those without which a link cannot be told. */
import { h, html } from "../../lib/html.js";
import { heading } from "../../lib/kinds.js";
import { cellFor, lacks, reach, standings } from "./model.js";

/** @typedef {import("./model.js").Lack} Lack */

export function Lacking() {
  const open = standings.value.filter((one) => one.state === "open");
  const blocking = lacks(open.flatMap((one) => one.link.missing));
  const known = new Set(blocking.map((lack) => `${lack.table} ${lack.key}`));
  const document = reach.value.value?.document;
  const every = lacks([...(document?.links ?? []).flatMap((link) => link.missing), ...(document?.area?.missing ?? [])]);
  const more = every.filter((lack) => !known.has(`${lack.table} ${lack.key}`));
  return html`${blocking.length > 0 &&
    html`<section class="lacking" aria-labelledby="lacking-head">
      <h2 id="lacking-head">To fill in</h2>
      <p class="soft">Without these nothing is told of ${open.map((one) => one.link.id).join(", ")}.</p>
      ${h(List, { lacks: blocking })}
    </section>`}
  ${more.length > 0 &&
    html`<details class="lacking">
      <summary>${blocking.length > 0 ? "What else" : "What"} would tell more (${more.length})</summary>
      ${h(List, { lacks: more })}
    </details>`}`;
}

const MOST = 6;

/** @param {{ lacks: Lack[] }} props */
function List({ lacks: all }) {
  return html`<ul>
    ${all.map(
      (lack) => html`<li key=${lack.table + lack.key}>
        <b>${heading(lack.key)}</b> of
        ${lack.gaps.slice(0, MOST).map((gap, at) => html`${at > 0 ? ", " : " "}<a key=${gap.id} href=${cellFor(gap).href} aria-label=${`${heading(lack.key)} of ${gap.id}: fill it in`}>${cellFor(gap).name}</a>`)}${lack.gaps.length > MOST && ` and ${lack.gaps.length - MOST} more`}
        ${lack.meanwhile && html`<span class="soft">; until then ${lack.meanwhile}</span>`}
      </li>`,
    )}
  </ul>`;
}
