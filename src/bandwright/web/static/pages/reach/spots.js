/** Where antennas would do best, out of the spots that are written down: for whom each ranking is, then the best few. */
import { h, html } from "../../lib/html.js";
import { unit } from "../../lib/format.js";
import { Help } from "../../parts/pieces.js";
import { areaEntry, reach, signed, zoneName } from "./model.js";

/** @typedef {import("../../api").PlacingModel} Placing */

const SHOWN = 3;
const HELP =
  "Out of the spots that the plan names: what the worst point of these links would have over what they need, with what lies behind the first antenna of each. Antennas that receive microphones are ranked apart from those that send to in-ears, for all their zones together and for each. The diamonds on the plan have their rank with one antenna in the first of these rankings.";

/** @param {string} link @returns {Placing | null} the ranking of single spots by which diamonds have their rank */
export const rankingFor = (link) => placings().find((one) => one.antennas === 1 && one.links.includes(link)) ?? null;

const placings = () => reach.value.value?.document.area?.placing ?? [];

/** @param {{ link: string }} props  the chosen link: rankings that count it come first */
export function Spots({ link }) {
  const groups = grouped(placings());
  if (groups.length === 0) return null;
  const own = groups.filter(([one]) => one.links.includes(link));
  const others = groups.filter(([one]) => !one.links.includes(link));
  return html`<h3>Best spots ${h(Help, { about: "the best spots", text: HELP })}</h3>
    ${own.map((group) => h(Group, { key: whose(group[0]), group }))}
    ${others.length > 0 && html`<details class="place-others"><summary>For others (${others.length})</summary>${others.map((group) => h(Group, { key: whose(group[0]), group }))}</details>`}`;
}

/** @param {{ group: Placing[] }} props  rankings for the same links */
function Group({ group }) {
  const known = areaEntry()?.value.candidates ?? [];
  const nameOf = (/** @type {string} */ id) => known.find((/** @type {any} */ one) => one.id === id)?.name ?? id;
  const [{ now_db }] = group;
  return html`<section class="place-ranking">
    <h4>${whose(group[0])}</h4>
    ${now_db !== null && html`<p class="soft">As antennas stand now: ${unit(signed(now_db), "dB")} at the worst point.</p>`}
    ${now_db !== null && group.every((placing) => (placing.best[0]?.reserve_db ?? -Infinity) <= now_db) && html`<p>None of these spots does better than that.</p>`}
    ${group.map(
      (placing) => html`<p key=${`of ${placing.antennas}`} class="place-count">With ${placing.antennas === 1 ? "one antenna" : `${placing.antennas} antennas`}</p>
        <ol key=${placing.antennas}>${placing.best.slice(0, SHOWN).map((one) => html`<li key=${one.candidates.join()}>${one.candidates.map(nameOf).join(" with ")}: <b>${unit(signed(one.reserve_db), "dB")}</b></li>`)}</ol>
        ${!placing.every && html`<p class="soft">Found by exchanging, not all sets were looked at.</p>`}`,
    )}
  </section>`;
}

/** @param {readonly Placing[]} every @returns {Placing[][]} those for the same links together; one that says the same as one before it is left out */
function grouped(every) {
  /** @type {Map<string, Placing[]>} */
  const found = new Map();
  for (const one of every) found.set(whose(one), [...(found.get(whose(one)) ?? []), one]);
  const told = [...found.values()];
  const words = told.map((group) => JSON.stringify(group.map(({ inward, antennas, best }) => [inward, antennas, best])));
  return told.filter((_group, at) => words.indexOf(words[at]) === at);
}

/** @param {Placing} placing @returns {string} for whom it is, such as "Microphones in Stage" */
function whose({ inward, zones }) {
  const names = zones.map(zoneName);
  const listed = names.length < 2 ? names.join() : `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]} together`;
  return `${inward ? "Microphones" : "In-ears"} in ${listed}`;
}
