/** All tables of a brief: those that have words of their own, and those that only the schema knows so far. */
import { KINDS, heading } from "./kinds.js";
import { fieldsOf, tablesNow } from "./schema.js";

/** @typedef {import("./kinds.js").Kind} Kind */
/** @typedef {{ kind: string, title: string, why: string }} Form  what comes only once, and is no table */

const AT_FIRST = 7;

/** What comes once, in our words. @type {Form[]} */
const FORMS = [
  { kind: "job", title: "The job", why: "What the production is called and when it is; it stands on every sheet." },
  { kind: "area", title: "The area", why: "The plan of the place in metres: outline, walls, zones, walks and where antennas may stand. From it comes a map of how strongly links arrive." },
  { kind: "plan", title: "Plan wishes", why: "Spare carriers, and how careful the search is with what a sweep shows." },
];

/** @returns {Kind[]} ours first, as far as the service knows them; all of ours until it said */
export function kindsNow() {
  const several = tablesNow().filter((table) => table.several);
  if (several.length === 0) return KINDS;
  const known = new Set(several.map((table) => table.kind));
  const ours = new Set(KINDS.map((kind) => kind.kind));
  return [...KINDS.filter((kind) => known.has(kind.kind)), ...several.filter((table) => !ours.has(table.kind)).map(kindOf)];
}

/** @returns {Form[]} ours first, as far as the service knows them */
export function formsNow() {
  const known = tablesNow().filter((table) => !table.several);
  const ours = new Set(FORMS.map((form) => form.kind));
  const others = known.filter((table) => !ours.has(table.kind));
  const there = FORMS.filter((form) => known.length === 0 || known.some((table) => table.kind === form.kind));
  return [...there, ...others.map((table) => ({ kind: table.kind, title: `The ${table.kind}`, why: table.about }))];
}

/** @param {string} kind @returns {Kind | undefined} */
export const kindNamed = (kind) => kindsNow().find((one) => one.kind === kind);

/** Made once for each, so that a table is not drawn again for nothing. @type {Map<string, Kind>} */
const made = new Map();

/** @param {import("./schema.js").TableFacts} table @returns {Kind} */
function kindOf({ kind, about }) {
  const known = made.get(kind);
  if (known) return known;
  const fields = Object.keys(fieldsOf(kind));
  const word = heading(kind).toLowerCase();
  const one = { kind, title: `${heading(kind)}s`, one: word, add: `Add ${/^[aeiou]/.test(word) ? "an" : "a"} ${word}`, why: about, columns: fields.slice(0, AT_FIRST), more: fields.slice(AT_FIRST), start: () => ({}) };
  made.set(kind, one);
  return one;
}
