/** The brief's own JSON Schema: what each field is, what it may hold, an example. Help on screen is made from it. */
import { heading } from "./kinds.js";
import { resource } from "./resource.js";

export const schema = resource("/schemas/brief", []);

/**
 * @typedef {object} FieldFacts
 * @property {string} description
 * @property {string[] | null} choices
 * @property {any} example
 * @property {any} byDefault
 * @property {string} needed  "" or "needed"
 * @property {"text" | "number" | "integer" | "boolean" | "list" | "table"} type
 * @property {string | null} inner  name of the tables that stand inside it, where no line of text says them
 * @property {boolean} many  whether they are a list
 * @property {{ names: string[] | null } | null} counts  it gives a number to each name; null names: those of radio types
 */

/**
 * @param {string} kind  of entry, such as "link"
 * @returns {{ [field: string]: FieldFacts }} in the order of the schema; empty until it came
 */
export const fieldsOf = (kind) => factsOf(tableOf(/** @type {any} */ (schema.value.value)?.properties?.[kind]));

/**
 * @param {string | null} name  of a table in the schema, such as "PartTable"
 * @returns {{ [field: string]: FieldFacts }}
 */
export function factsOf(name) {
  const table = name === null ? undefined : /** @type {any} */ (schema.value.value)?.$defs?.[name];
  if (!table) return NOTHING;
  const known = read.get(table);
  if (known) return known;
  const names = Object.keys(table.properties);
  const made = Object.fromEntries(names.map((field) => [field, facts(table.properties[field], table.required ?? [], field)]));
  read.set(table, made);
  return made;
}

/**
 * @typedef {{ kind: string, several: boolean, about: string }} TableFacts
 * @returns {TableFacts[]} the tables that a brief may have, in the order of the schema; empty until it came
 */
export function tablesNow() {
  const whole = /** @type {any} */ (schema.value.value);
  const all = Object.entries(whole?.properties ?? {}).filter(([, property]) => tableOf(property) !== null);
  return all.map(([kind, property]) => ({ kind, several: property.type === "array", about: plain(whole.$defs[tableOf(property) ?? ""]?.description?.split("\n\n")[0].replaceAll("\n", " ") ?? "") }));
}

/** Tables that a line of text says, as the service reads it. */
const AS_TEXT = new Set(["TimesTable", "TuningTable", "PresetTable", "PowerTable"]);

/** @param {any} property @returns {string | null} the table that it is, or is a list of */
function tableOf(property) {
  const forms = property?.anyOf ?? [property ?? {}];
  const named = forms.map((/** @type {any} */ form) => form.$ref ?? form.items?.$ref).find(Boolean);
  return named ? named.replace(/^.*\//, "") : null;
}

/** @type {{ [field: string]: FieldFacts }} */
const NOTHING = {};
/** What was read of a table of the schema: the same object each time, so that rows are not drawn again. */
const read = new WeakMap();

/**
 * @param {any} property
 * @param {string[]} required
 * @param {string} name
 * @returns {FieldFacts}
 */
function facts(property, required, name) {
  const forms = property.anyOf ?? [property];
  const choices = forms.flatMap((/** @type {any} */ form) => form.enum ?? []).map(String);
  const table = tableOf(property);
  const open = forms.find((/** @type {any} */ form) => form.type === "object" && !form.properties);
  return {
    description: plain(property.description ?? ""),
    choices: choices.length > 0 ? choices : null,
    example: property.examples?.[0],
    byDefault: property.default,
    needed: required.includes(name) ? "needed" : "",
    type: typeOf(forms),
    inner: table !== null && !AS_TEXT.has(table) ? table : null,
    many: forms.some((/** @type {any} */ form) => form.type === "array"),
    counts: open ? { names: open.propertyNames?.enum ?? null } : null,
  };
}

/**
 * A description as a sentence for the screen: fields by their headings, an id by what it is called there.
 * @param {string} text
 */
function plain(text) {
  const told = text
    .replace(/`\[\[(\w+)\]\]`/g, "a $1 rule")
    .replace(/`([a-z_]+)`/g, (_all, field) => `“${heading(field)}”`)
    .replace(/`/g, "")
    .replace(/\bid\b/g, "label");
  return told && `${told[0].toUpperCase()}${told.slice(1)}${/[.!?]$/.test(told) ? "" : "."}`;
}

/** @param {any[]} forms @returns {FieldFacts["type"]} */
function typeOf(forms) {
  const types = forms.map((form) => form.type);
  if (types.includes("array")) return "list";
  if (types.includes("object") || forms.some((form) => form.$ref)) return "table";
  if (types.includes("integer")) return "integer";
  if (types.includes("number")) return "number";
  if (types.includes("boolean")) return "boolean";
  return "text";
}
