/**
 * The sweeps of the job and their levels, fetched once each.
 * @module pages/air/sweeps
 */
import { get, getBytes } from "../../lib/api.js";
import { resource } from "../../lib/resource.js";
import { decoded } from "../../chart/levels.js";

/** @typedef {import("../plan/types.js").SweepEntry} SweepEntry */

/** @type {import("../../lib/resource.js").Resource<{sweeps: SweepEntry[]}>} */
export const sweeps = resource("/sweeps", ["sweeps"]);

const MOST_KEPT = 6;

/** @type {Map<string, Promise<import("../../chart/levels.js").Trace>>} */
const kept = new Map();

/** @param {string} uid @returns {Promise<import("../../chart/levels.js").Trace>} */
export function levelsOf(uid) {
  const known = kept.get(uid);
  if (known) return known;
  const asked = fetched(uid);
  kept.set(uid, asked);
  asked.catch(() => kept.delete(uid));
  const oldest = [...kept.keys()][0];
  if (kept.size > MOST_KEPT) kept.delete(oldest);
  return asked;
}

/** @param {string} uid */
async function fetched(uid) {
  const [head, bytes] = await Promise.all([get(`/sweeps/${uid}/trace`), getBytes(`/sweeps/${uid}/levels`)]);
  return decoded(head, bytes);
}

/** The sweep in the words of a sheet: when, and whether our own transmitters were off. @param {SweepEntry} sweep */
export function stateWords({ facts }) {
  const words = /** @type {Record<string, string>} */ ({ off: "own transmitters off", on: "own transmitters on" });
  const own = words[facts.own_transmitters] ?? "own transmitters: nobody said";
  const when = facts.started ? facts.started.slice(0, 16).replace("T", " ") : "time unknown";
  return `${when}, ${own}`;
}
