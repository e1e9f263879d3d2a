/** The facts under the first sentence, in the order of the head of a sheet: plan, sweep, spare carriers. */
import { h, html } from "../lib/html.js";
import { moment } from "../lib/format.js";
import { Facts } from "./facts.js";
import { Mark } from "./status.js";

/** @param {{ now: import("../lib/types.js").Readiness }} props */
export function ReadyStrip({ now }) {
  return html`<section class="strip" aria-label="Plan and sweep">
    ${h(Facts, {
      facts: [
        {
          term: "Plan",
          help: "The number and the check phrase stand on every sheet of this plan. Whoever reads both out to you holds the same plan.",
          value: now.plan ? html`${now.plan.number} <b>${now.plan.check_phrase}</b>, made ${moment(now.plan.made)}` : html`<a href="#/plan">none yet</a>`,
        },
        now.plan?.stale && { term: "Since then", value: html`${h(Mark, { shape: "caution" })} ${now.plan.stale}` },
        {
          term: "Last sweep",
          help: "A sweep tells what is on the air only where it was made, and as it was then. Made with our own transmitters on, it tells nothing about the carriers they were on.",
          value: now.sweep ? html`<b>${now.sweep.name}</b>, ${[now.sweep.age ?? "of no known time", OWN[now.sweep.own_transmitters]].filter(Boolean).join(", ")}${now.sweep.old && html` ${h(Mark, { shape: "caution" })}`}` : html`<a href="#/air">none yet</a>`,
        },
        now.spares.length > 0 && { term: "Spare carriers left", help: "Carriers that are clean together with everything in the plan, kept free for when the air changes.", value: spares(now.spares) },
      ],
    })}
  </section>`;
}

/** @type {{ [state: string]: string }} */
const OWN = { off: "own transmitters off", on: "own transmitters on", unknown: "nobody said whether own transmitters were off" };

/** @param {import("../lib/types.js").Readiness["spares"]} all */
const spares = (all) =>
  all.map(
    (spare, index) => html`${index > 0 && ", "}<span key=${spare.radio} class="together"
        >${spare.left < spare.wished && h(Mark, { shape: "caution" })} ${spare.radio} <b>${spare.left}</b>${spare.left < spare.wished && html` of ${spare.wished}`}</span
      >`,
  );
