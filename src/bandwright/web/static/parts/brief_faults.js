/** What the brief as a whole does not say yet: with a way to where it is said. */
import { h, html } from "../lib/html.js";
import { kindNamed } from "../lib/all_kinds.js";

/** @typedef {import("../lib/types.js").Fault} Fault */

/** @param {{ faults: Fault[], here?: string }} props  `here`: the kind whose own page says it already */
export function BriefFaults({ faults, here }) {
  const told = faults.filter((fault) => !(isMissing(fault) && fault.field === here));
  if (told.length === 0) return null;
  return html`<ul class="brief-faults">${told.map((fault) => html`<li key=${fault.text}>${h(Told, { fault })}</li>`)}</ul>`;
}

/** @param {{ fault: Fault }} props */
function Told({ fault }) {
  const kind = isMissing(fault) && kindNamed(fault.field ?? "");
  if (!kind) return html`${fault.text}`;
  return html`A plan needs a ${kind.one}. <a href=${`#/kit/${kind.kind}`}>${kind.add ?? `Add a ${kind.one}`}</a>`;
}

/** @param {Fault} fault @returns {boolean} whether a table that a plan needs has no row at all */
const isMissing = (fault) => fault.code === "missing" && !fault.uid && kindNamed(fault.field ?? "") !== undefined;
