/**
 * A value of the brief as the text that stands in a cell. The service reads the same text back, so that what is typed
 * is understood in one place, and its sentence about what it cannot read is the one that is shown.
 */

import { named } from "./kinds.js";

/** @typedef {{ [key: string]: any }} Table */

/**
 * @param {any} value
 * @returns {string} empty where there is none
 */
export function textOf(value) {
  if (value === null || value === undefined) return "";
  if (value === true) return "yes";
  if (value === false) return "no";
  if (Array.isArray(value)) return listText(value);
  if (typeof value === "object") return tableText(value);
  return String(value);
}

/** @param {any[]} list */
function listText(list) {
  const plain = list.every((item) => typeof item !== "object" && !String(item).includes(","));
  if (plain) return list.join(", ");
  const parts = list.map(partText);
  return parts.includes(null) ? JSON.stringify(list) : parts.join("; ");
}

/** @param {any} part @returns {string | null} null: only JSON says it */
function partText(part) {
  if (Array.isArray(part)) return part.length === 2 ? part.join("-") : null;
  if (typeof part !== "object") return String(part);
  const has = (/** @type {string[]} */ keys) => keys.every((key) => part[key] !== undefined) && Object.keys(part).length === keys.length;
  if (has(["start", "end"])) return `${part.start} - ${part.end}`;
  if (has(["low_mhz", "high_mhz", "step_khz"])) return `${part.low_mhz}-${part.high_mhz}/${part.step_khz}`;
  if (has(["label", "mhz"])) return `${part.label} ${part.mhz}`;
  return null;
}

/** What a limit of power is called in a cell. @type {[string, string][]} */
const LIMITS = [
  ["any_mw", "any"],
  ["bodyworn_mw", "body"],
  ["handheld_mw", "hand"],
];

/** @param {Table} table */
function tableText(table) {
  if ("kind" in table) {
    const limits = LIMITS.filter(([key]) => table[key] !== undefined && table[key] !== null);
    const words = limits.map(([key, word]) => (word === "any" && limits.length === 1 ? `${table[key]}` : `${word} ${table[key]}`));
    return `${words.join(", ")} ${table.kind}`;
  }
  const entries = Object.entries(table);
  if (entries.some(([, value]) => typeof value === "object")) return JSON.stringify(table);
  return entries.map(([key, value]) => `${key} ${value}`).join(", ");
}

/** Words of the brief as people write them. @type {{ [word: string]: string }} */
export const WRITTEN = {
  fm: "FM",
  "fm-stereo": "FM stereo",
  erp: "ERP",
  eirp: "e.i.r.p.",
  "from-person": "from a person",
  "to-person": "to a person",
  "same-wearer": "same wearer",
  "same-rack": "same rack",
  True: "yes",
  False: "no",
  true: "yes",
  false: "no",
};

/**
 * The same for reading only: dashes between figures, words as people write them, what belongs together on one line.
 * @param {any} value
 * @returns {string}
 */
export function shownText(value) {
  if (typeof value === "string") return WRITTEN[value] ?? value;
  if (typeof value === "number") return String(value).replace("-", "\u2212");
  if (Array.isArray(value)) return value.map(partShown).join(value.some((item) => typeof item === "object") ? "; " : ", ");
  if (value && typeof value === "object") return tableShown(value);
  return textOf(value);
}

/** @param {any} part @returns {string} */
function partShown(part) {
  if (part?.start) return spanShown(part);
  if (part?.step_khz) return `${part.low_mhz}–${part.high_mhz}, step\u00a0${part.step_khz}\u00a0kHz`;
  if (Array.isArray(part)) return part.join("–");
  return typeof part === "object" ? (partText(part) ?? JSON.stringify(part)) : String(part);
}

/** @param {Table} table @returns {string} */
function tableShown(table) {
  if ("kind" in table) return powerShown(table);
  return Object.entries(table)
    .map(([key, value]) => `${key.replaceAll("-", "\u2011")}\u00a0${value}`)
    .join(", ");
}

/** @param {Table} table @returns {string} "50 mW on the body, 10 mW in the hand, ERP" */
function powerShown(table) {
  const places = { any_mw: "", bodyworn_mw: " on the body", handheld_mw: " in the hand" };
  const limits = Object.entries(places).filter(([key]) => table[key] !== undefined && table[key] !== null);
  return [...limits.map(([key, words]) => `${table[key]}\u00a0mW${words}`), WRITTEN[table.kind] ?? table.kind].join(", ");
}

/**
 * Tables that stand inside a field, such as the parts of a run, as one readable line.
 * @param {any} value
 * @param {string} [between]
 * @returns {string}
 */
export const innerShown = (value, between = "; ") => (Array.isArray(value) ? value : value ? [value] : []).map(oneShown).join(between);

/** Facts whose value says what it is. */
const PLAIN = new Set(["id", "what", "name", "type", "label", "material", "length", "thickness"]);

/** @param {Table} table @returns {string} "cable, rg-58, 8 m" */
export function oneShown(table) {
  if (!table || typeof table !== "object" || Array.isArray(table)) return shownText(table);
  return Object.entries(table)
    .filter(([, value]) => value !== null && value !== undefined && value !== "")
    .map(([key, value]) => factShown(key, value))
    .join(", ");
}

/** @param {string} key @param {any} value @returns {string} */
function factShown(key, value) {
  const { words, unit } = named(key);
  if (Array.isArray(value) && typeof value[0] === "object" && !Array.isArray(value[0])) return `${words}: ${value.length}`;
  if (value && typeof value === "object" && !Array.isArray(value)) return words;
  const text = unit ? `${shownText(value)}\u00a0${unit}` : shownText(value);
  if (PLAIN.has(words) || words === "") return text;
  return key === "ways" ? `${text}\u00a0ways` : `${words}\u00a0${text}`;
}

/** @param {{ start: string, end: string }} span */
function spanShown({ start, end }) {
  const [one, two] = [parts(start), parts(end)];
  if (one.date && one.date === two.date) return `${one.date} ${one.time}–${two.time}`;
  return `${[one.date, one.time].filter(Boolean).join(" ")} – ${[two.date, two.time].filter(Boolean).join(" ")}`;
}

/** @param {string} text @returns {{ date: string, time: string }} */
function parts(text) {
  const found = /^(\d{4}-\d\d-\d\d)?[T ]?(\d\d:\d\d)?/.exec(text);
  return { date: found?.[1] ?? "", time: found?.[2] ?? "" };
}
