/** What a card of a link shows: its line of readiness, its row of the brief and its entry in the plan, brought together. */
import { mhz, unit } from "./format.js";
import { entryOf } from "./state.js";

/** @typedef {import("./types.js").LinkLine} LinkLine */

/**
 * @typedef {object} Card
 * @property {LinkLine} link
 * @property {string} name  empty where it is the label again
 * @property {{ [field: string]: any }} value  of its row; of several counted out of one row all have the same
 * @property {any} planned  its entry in the plan, undefined where it has none
 * @property {string} power
 * @property {string} words  all that it can be found by
 */

/** @param {string} uid  of a link; of several counted out of one row "uid.3" @returns {import("./types.js").Entry | undefined} the row it stands in */
export const rowOf = (uid) => entryOf(uid) ?? entryOf(uid.split(".")[0]);

/**
 * @param {LinkLine[]} links
 * @param {any} document  of the plan in force
 * @returns {Card[]} in the order of the brief
 */
export function cards(links, document) {
  const planned = new Map((document?.links ?? []).map((/** @type {any} */ link) => [link.id, link]));
  return links.map((link) => {
    const value = rowOf(link.uid)?.value ?? {};
    const found = planned.get(link.id);
    const name = link.name === link.id ? "" : link.name;
    return {
      link,
      name,
      value,
      planned: found,
      power: found?.power_mw ? unit(found.power_mw, "mW") : "",
      words: `${link.id} ${name} ${value.role ?? ""} ${mhz(link.carrier_hz)}`.toLowerCase(),
    };
  });
}
