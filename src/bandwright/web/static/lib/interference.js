/** Carrier to interference beside kHz: how far a link stands over what it hears of the others. */
import { unit } from "./format.js";

/** @typedef {import("../api").CarrierToInterferenceModel} Ratio */

/** @param {Ratio} ratio @returns {string} such as "31 dB" */
export const ratioText = (ratio) => (ratio.quantile_db === null ? "nothing heard" : unit(Math.round(ratio.quantile_db).toString().replace("-", "−"), "dB"));

/** @param {Ratio} ratio @returns {boolean} whether it is less than the link needs */
export const isShort = (ratio) => (ratio.margin_db ?? 0) < 0;

const MADE = { sent: "as it is sent", receiver: "made in its receiver", transmitter: "made in the transmitter of the first" };

/** @param {Ratio} ratio @returns {string} what it is, how much is needed, and who adds most */
export function ratioHelp(ratio) {
  const needs = `It needs ${Math.round(ratio.needs_db)} dB${ratio.needs_stated ? "" : " (taken, since nobody states it)"}.`;
  const what = "Predicted carrier to interference: how far the link’s own signal lies over what falls into its receiver from the other links, kept in 95 of 100 pictures of where everybody stands.";
  if (ratio.quantile_db === null) return `${what} Nothing that the others send falls into its receiver. ${needs}`;
  const worst = ratio.worst_db === null ? "" : ` With everybody at the worst spot it is ${Math.round(ratio.worst_db)} dB.`;
  const { culprit } = ratio;
  const who = culprit ? ` Most comes from ${culprit.sources.join(" with ")}${culprit.family ? ` (${culprit.family}, ${MADE[culprit.made]})` : ""}, ${Math.abs(culprit.offset_khz)} kHz away.` : "";
  return `${what} ${needs}${worst}${who}`;
}

/** @param {Ratio | null} ratio @returns {{term: string, value: string, help: string} | null} the same as a fact with its help */
export const interferenceFact = (ratio) => ratio && { term: "Carrier to interference", value: `${ratioText(ratio)}${isShort(ratio) ? ", too little" : ""}`, help: ratioHelp(ratio) };
