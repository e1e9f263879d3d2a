/** A list of facts: term and value, with help where it is needed. */
import { h, html } from "../lib/html.js";
import { Help } from "./help.js";

/** @typedef {{ term: string, value: any, help?: string, strong?: boolean }} Fact  facts without a value are left out */

/** @param {{ facts: (Fact | null | undefined | false | "")[], large?: boolean }} props */
export function Facts({ facts, large = false }) {
  const told = facts.flatMap((fact) => (fact && fact.value !== null && fact.value !== undefined && fact.value !== "" ? [fact] : []));
  return html`<dl class=${large ? "facts facts-large" : "facts"}>
    ${told.map(
      (fact) => html`<div key=${fact.term} class=${fact.strong ? "strong" : ""}>
        <dt>${fact.term}${fact.help && h(Help, { about: fact.term, text: fact.help })}</dt>
        <dd>${fact.value}</dd>
      </div>`,
    )}
  </dl>`;
}
