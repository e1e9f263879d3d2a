/**
 * What the Sound page shows, put in order: links by how they stand, and the trial of companding with what it needs.
 * @module pages/sound/model
 */
import { computed, signal } from "../../lib/html.js";
import { resource } from "../../lib/resource.js";
import { on } from "../../lib/socket.js";

/** @typedef {import("../../api").LinkSoundModel} Link */
/** @typedef {import("../../api").WayModel} Way */
/** @typedef {import("../../api").RemarkModel} Remark */
/** @typedef {import("../../api").PairingModel} Pairing */
/** @typedef {import("../../api").Bench} Bench */
/** @typedef {import("../../api").RunState} RunState */

export const sound = resource("/sound", ["brief"]);
export const bench = resource("/sound/compare", ["brief"]);

/** The newest that is told of a comparison that runs, or ran. */
export const running = computed(() => {
  const known = bench.value.value?.run ?? null;
  return told.value ?? known;
});
const told = signal(/** @type {RunState | null} */ (null));

on("run", (message) => {
  const state = /** @type {RunState} */ (/** @type {unknown} */ (message));
  if (state.kind !== "sound") return;
  told.value = state;
  if (state.state !== "running") void bench.refresh();
});
on("hello", () => {
  told.value = null;
});

/** @type {{ [state: string]: number }} */
const RANK = { wrong: 0, open: 1, caution: 2, fits: 3 };

/** All links, what is wrong first, then what cannot be told; the order of the brief within. */
export const links = computed(() => [...(sound.value.value?.document.links ?? [])].sort((one, two) => RANK[one.state] - RANK[two.state]));

/** The state of a link in the words and shapes of the page. @type {{ [state: string]: { word: string, status: string } }} */
export const STATES = {
  wrong: { word: "wrong", status: "blocked" },
  open: { word: "cannot be told", status: "open" },
  caution: { word: "with a caution", status: "caution" },
  fits: { word: "fits", status: "fine" },
};

/** How two ends go together, likewise. @type {{ [match: string]: { word: string, status: string } }} */
export const MATCHES = {
  same: { word: "same", status: "fine" },
  compatible: { word: "with a loss", status: "caution" },
  wrong: { word: "wrong", status: "blocked" },
  open: { word: "not known", status: "unknown" },
};

/** @param {Link} link @returns {string} such as "L01 Mara", or the label alone */
export const called = (link) => (link.name === link.id ? link.id : `${link.id} ${link.name}`);

const MINUS = "−";

/** @param {number | null | undefined} value @param {number} [digits] @returns {string} with a true minus and no "−0.0" */
export function figure(value, digits = 1) {
  if (value === null || value === undefined) return "?";
  const text = value.toFixed(digits);
  return Number(text) === 0 ? text.replace("-", "") : text.replace("-", MINUS);
}

/** A setting of a control: whole where it is whole. @param {number | null | undefined} value @returns {string} such as "+4" or "−18" */
export function setting(value) {
  if (value === null || value === undefined) return "?";
  const text = figure(value, Number.isInteger(value) ? 0 : 1);
  return value > 0 ? `+${text}` : text;
}

/** @param {import("../../api").WayModel["points"][number]} point @returns {string} its unit as it is written beside figures */
export const unitOf = (point) => (point.unit === "dB" ? "dB full" : point.unit);

/** What to do about one link: the worst remark, each with those links that it stands for too. @typedef {{ text: string, basis: string, code: string, links: Link[] }} Trouble */

/** @param {"wrong" | "caution"} grade @returns {Trouble[]} each sentence once */
export function troubles(grade) {
  /** @type {Map<string, Trouble>} */
  const found = new Map();
  for (const link of links.value) {
    for (const remark of link.ways.flatMap((way) => way.remarks)) {
      if (remark.grade !== grade) continue;
      const trouble = found.get(remark.text) ?? { text: remark.text, basis: remark.basis, code: remark.code, links: [] };
      if (!trouble.links.includes(link)) trouble.links.push(link);
      found.set(remark.text, trouble);
    }
  }
  return [...found.values()];
}
