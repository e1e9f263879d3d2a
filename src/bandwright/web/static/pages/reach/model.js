/**
 * What the Reach page shows, put in order: links by what they have over what they need, what is missing and where it is
 * filled in, which step of a chain is which part of a run.
 * @module pages/reach/model
 */
import { computed, signal, useEffect } from "../../lib/html.js";
import { resource } from "../../lib/resource.js";
import { kept } from "../../lib/format.js";
import { entriesOf } from "../../lib/state.js";

/** @typedef {import("../../api").ReachNow} ReachNow */
/** @typedef {import("../../api").LinkReachModel} Link */
/** @typedef {import("../../api").AreaLinkModel} OnPlan */
/** @typedef {import("../../api").GapModel} Gap */
/** @typedef {import("../../api").BranchModel} Branch */
/** @typedef {[number, number]} Metres */

export const reach = resource("/reach", ["brief", "plan", "sweeps"]);

/** The link whose interference is asked for. */
const asked = signal("");
const one = resource(() => `/reach?link=${encodeURIComponent(asked.peek())}`, ["brief", "plan", "sweeps"]);

/**
 * Carrier to interference of the chosen link: worked out for one link at a time, and apart from all the rest.
 * @param {string} id @returns {import("../../api").CarrierToInterferenceModel | null} null while it is not known
 */
export function useRatio(id) {
  const planned = (reach.value.value?.plan ?? null) !== null;
  useEffect(() => {
    if (!planned) return undefined;
    asked.value = id;
    one.users += 1;
    void one.refresh();
    return () => {
      one.users -= 1;
    };
  }, [id, planned]);
  const [known] = one.value.value?.document.links ?? [];
  return planned && known?.id === id ? (known.carrier_to_interference ?? null) : null;
}

/** @typedef {{link: Link, onPlan: OnPlan | null, state: "enough" | "short" | "open", reserve: number | null, at: Metres | null, where: string, besides: string}} Standing */

/** All links, the one that lacks most first, those that cannot be told behind the short ones. */
export const standings = computed(() => {
  const document = reach.value.value?.document;
  const onPlan = new Map((document?.area?.links ?? []).map((one) => [one.id, one]));
  return (document?.links ?? []).map((link) => standing(link, onPlan.get(link.id) ?? null)).sort((one, two) => rank(one) - rank(two));
});

/** @param {Link} link @param {OnPlan | null} onPlan @returns {Standing} */
function standing(link, onPlan) {
  const known = link.standing ?? null;
  const besides = known?.besides ? `A${kept(known.besides.where).slice(1)} it is ${overText(known.besides.reserve_db)}.` : "";
  return { link, onPlan, state: known?.state ?? link.state, reserve: known?.reserve_db ?? null, at: known?.at_m ?? null, where: kept(known?.where ?? ""), besides };
}

/** @param {Standing} one */
const rank = ({ state, reserve }) => (state === "open" ? 0 : state === "short" ? -1000 + (reserve ?? 0) : 1000 + (reserve ?? 0));

/** @param {number[]} at @returns {string} such as "x 12.0, y 16.0 m" */
export const spotText = ([x, y]) => `x ${figure(x)}, y ${figure(y)} m`;

/** @param {number} value @param {number} [digits] @returns {string} with a true minus */
export const figure = (value, digits = 1) => value.toFixed(digits).replace("-", "−").replace(/^−(0\.?0*)$/, "$1");

/** @param {number | null} value @param {number} [digits] @returns {string} such as "+4.2" */
export const signed = (value, digits = 1) => (value === null ? "?" : `${value > 0 ? "+" : ""}${figure(value, digits)}`);

/** @param {number} share  of the time @returns {string} such as "0.2 %" */
export const shareText = (share) => (share < 0.0001 ? "under 0.01 %" : `${Number((share * 100).toPrecision(2))} %`);

/** @param {number | null} perMin  dropouts while somebody walks @returns {string} such as "1 in 12 min" */
export function heardText(perMin) {
  if (perMin === null) return "mostly gone";
  if (perMin >= 1) return `${Number(perMin.toPrecision(2))} a minute`;
  if (perMin * 120 >= 1) return `1 in ${Math.round(1 / perMin)} min`;
  return perMin * 6000 >= 1 ? `1 in ${Math.round(1 / perMin / 60)} h` : "fewer than 1 in 100 h";
}

/** @param {number} reserve @returns {string} such as "+4.2 dB over what it needs" */
export const overText = (reserve) => (reserve < 0 ? `${figure(-reserve)} dB short of what it needs` : `${signed(reserve)} dB over what it needs`);

/** The plan of the place as the brief has it. @returns {import("../../lib/types.js").Entry | undefined} */
export const areaEntry = () => entriesOf("area")[0];

/** @param {string | null} id @returns {string} */
export function zoneName(id) {
  const zone = (areaEntry()?.value.zones ?? []).find((/** @type {any} */ one) => one.id === id);
  return zone ? (zone.name ?? zone.id) : "the whole area";
}

/** @param {string} id of a link, of several counted out of one row "L01.3" @returns {string} */
const rowId = (id) => (entriesOf("link").some((entry) => entry.id === id) ? id : id.replace(/\.\d+$/, ""));

/** @param {Gap} gap @returns {{href: string, name: string}} the cell where a missing fact is filled in, and whose it is */
export function cellFor(gap) {
  const rows = entriesOf(gap.table);
  const id = gap.table === "link" ? rowId(gap.id) : gap.id.split("/")[0];
  const entry = rows.find((one) => one.id === id) ?? (rows.length === 1 ? rows[0] : undefined);
  return { href: entry ? `#/kit/${gap.table}/${entry.uid}/${gap.key.split(" ")[0]}` : `#/kit/${gap.table}`, name: gap.id };
}

/** @typedef {{table: string, key: string, meanwhile: string | null, gaps: Gap[]}} Lack  one fact that is missing of several */

/** @param {Iterable<Gap>} gaps @returns {Lack[]} each fact once, with all that lack it */
export function lacks(gaps) {
  /** @type {Map<string, Lack>} */
  const found = new Map();
  for (const gap of gaps) {
    const name = `${gap.table} ${gap.key} ${gap.meanwhile}`;
    const lack = found.get(name) ?? { table: gap.table, key: gap.key, meanwhile: gap.meanwhile, gaps: [] };
    if (!lack.gaps.some((one) => one.id === gap.id)) lack.gaps.push(gap);
    found.set(name, lack);
  }
  return [...found.values()];
}

/**
 * Which part of its run each step of a branch is.
 * @param {Branch} branch @param {boolean} inward  from a person to the rack @param {number} parts  how many the run has
 * @returns {(number | null)[]} by step; null: none of them
 */
export function partsOf(branch, inward, parts) {
  const own = ["transmitter", "body", "path", "antenna"];
  const steps = branch.steps.map((step, at) => ({ at, part: !own.includes(step.what) }));
  const order = steps.filter((one) => one.part).map((one) => one.at);
  if (order.length !== parts) return branch.steps.map(() => null);
  return branch.steps.map((_step, at) => {
    const place = order.indexOf(at);
    return place < 0 ? null : inward ? place : parts - 1 - place;
  });
}
