/** Figures and times as people read them; figures stay beside their units. */

const NO_BREAK = "\u00a0";
const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
const twoDigits = (/** @type {number} */ figure) => String(figure).padStart(2, "0");

/**
 * A carrier in MHz: three decimals, more only where they say something.
 * @param {number | null | undefined} hz
 * @returns {string} such as "606.700" or "470.0125"; empty where there is none
 */
export function mhz(hz) {
  if (hz === null || hz === undefined) return "";
  const digits = String(Math.abs(Math.round(hz)) % 1_000_000).padStart(6, "0");
  return `${Math.trunc(hz / 1_000_000)}.${digits.slice(0, 3)}${digits.slice(3).replace(/0+$/, "")}`;
}

/** @param {number} khz @returns {string} such as "350 kHz" or "3 MHz" */
export function khz(khz) {
  return khz >= 1000 && khz % 100 === 0 ? unit(khz / 1000, "MHz") : unit(khz, "kHz");
}

/** @param {number | string} figure @param {string} name */
export const unit = (figure, name) => `${figure}${NO_BREAK}${name}`;

/**
 * A sentence whose figures do not part from their units at the end of a line, nor "in-ear" in its middle.
 * @param {string} text
 */
export const kept = (text) =>
  text.replace(/(^|\s)-(?=\d)/g, "$1\u2212").replace(/(\d) (MHz|kHz|Hz|mW|dBm|dB|W|s|h|min)\b/g, `$1${NO_BREAK}$2`).replace(/(\p{L})-(?=\p{L})/gu, "$1\u2011");

/**
 * @param {number} count
 * @param {string} one
 * @param {string} [many]
 * @returns {string} "1 link", "3 links"
 */
export const counted = (count, one, many = `${one}s`) => `${count}${NO_BREAK}${count === 1 ? one : many}`;

/**
 * @param {string | null | undefined} iso
 * @param {Date} [now]
 * @returns {string} "14:05" today, else "14 May, 14:05"
 */
export function moment(iso, now = new Date()) {
  if (!iso) return "";
  const at = new Date(iso); // by hand: the first use of the browser's own words for dates takes 40 ms
  const time = `${twoDigits(at.getHours())}:${twoDigits(at.getMinutes())}`;
  if (at.toDateString() === now.toDateString()) return time;
  return `${at.getDate()} ${MONTHS[at.getMonth()]}, ${time}`;
}

/**
 * @param {string | null | undefined} iso
 * @param {Date} [now]
 * @returns {string} "just now", "12 min ago", "3 h ago", "2 days ago"
 */
export function ago(iso, now = new Date()) {
  if (!iso) return "";
  const minutes = Math.round((now.getTime() - new Date(iso).getTime()) / 60_000);
  if (minutes < 1) return "just now";
  if (minutes < 90) return `${minutes}${NO_BREAK}min ago`;
  if (minutes < 36 * 60) return `${Math.round(minutes / 60)}${NO_BREAK}h ago`;
  return `${Math.round(minutes / 1440)}${NO_BREAK}days ago`;
}
