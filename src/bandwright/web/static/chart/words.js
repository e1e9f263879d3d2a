/**
 * Figures of charts as people read them. Nothing here judges anything; sentences come from the service.
 * @module chart/words
 */
import { mhz } from "../lib/format.js";

const MINUS = "\u2212";

/** kHz without needless zeros. @param {number} khz @returns {string} */
export const khzText = (khz) => String(Math.round(khz * 1000) / 1000).replace("-", MINUS);

/** kHz with its sign, for a difference. @param {number} khz @returns {string} */
export const signedKhz = (khz) => (khz > 0 ? `+${khzText(khz)}` : khzText(khz));

/** A level in whole dB. @param {number} db @returns {string} */
export const dbText = (db) => (Math.round(db) || 0).toFixed(0).replace("-", MINUS);

/** Two ends of a stretch. @param {number} lowHz @param {number} highHz */
export const spanText = (lowHz, highHz) => `${mhz(lowHz)}\u2013${mhz(highHz)}\u202fMHz`;

/**
 * Who is in the way, as arithmetic with names: `2 × L05 − L03`.
 * @param {{rule: string, family: string | null, sources: string[]}} near @returns {string}
 */
export function sourceText({ rule, family, sources }) {
  if (family === null) return sources.length ? (rule === "tv" ? `TV channel ${sources.join(", ")}` : sources.join(", ")) : rule;
  let i = 0;
  return family
    .replaceAll("-", ` ${MINUS} `)
    .replaceAll("+", " + ")
    .replace(/(\d?)[A-E]/g, (_, times) => `${times ? `${times} \u00d7 ` : ""}${sources[i++] ?? "?"}`);
}
