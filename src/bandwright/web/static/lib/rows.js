/** What is done to whole rows: add, duplicate, move, remove, paste. Each is one change, and one undo. */
import { kindNamed } from "./all_kinds.js";
import { counted } from "./format.js";
import { change, entriesOf, undo } from "./state.js";
import { tell } from "./toasts.js";

/** @typedef {import("./types.js").Entry} Entry */

/**
 * @param {string} kind
 * @param {string} [after]  uid of the row above it; at the end when left out
 * @returns {Promise<Entry | null>} the new row
 */
export async function addRow(kind, after) {
  const start = kindNamed(kind)?.start(entriesOf(kind)) ?? {};
  const answer = await told(change("POST", "/entries", { kind, value: start, after }));
  return answer?.entries?.find((/** @type {Entry} */ entry) => entry.kind === kind) ?? null;
}

/**
 * @param {Entry} entry
 * @param {number} count
 * @returns {Promise<Entry[]>} the copies
 */
export async function copyRow(entry, count) {
  const answer = await told(change("POST", `/entries/${entry.uid}/copies`, { count }));
  if (answer) tellUndo(`${counted(count, "copy", "copies")} of ${nameOf(entry)}`);
  return answer?.entries ?? [];
}

/** @param {Entry} entry */
export async function removeRow(entry) {
  if (await told(change("DELETE", `/entries/${entry.uid}`))) tellUndo(`${nameOf(entry)} removed`);
}

/**
 * Put a row before another one, or at the end.
 * @param {Entry} entry
 * @param {string | null} before  uid
 */
export async function moveRow(entry, before) {
  const rest = entriesOf(entry.kind).filter((other) => other.uid !== entry.uid);
  const at = before === null ? rest.length : rest.findIndex((other) => other.uid === before);
  const uids = [...rest.slice(0, at), entry, ...rest.slice(at)].map((other) => other.uid);
  const old = entriesOf(entry.kind).map((other) => other.uid);
  if (at < 0 || uids.join() === old.join()) return;
  await told(change("POST", "/entries/order", { kind: entry.kind, uids }));
}

/**
 * Move a row up or down among those of its kind.
 * @param {Entry} entry
 * @param {-1 | 1} by
 */
export async function stepRow(entry, by) {
  const rows = entriesOf(entry.kind);
  const at = rows.findIndex((other) => other.uid === entry.uid);
  const behind = by < 0 ? rows[at - 1] : rows[at + 2];
  if (by < 0 && !behind) return;
  if (by > 0 && at === rows.length - 1) return;
  await moveRow(entry, behind?.uid ?? null);
}

/**
 * @param {string} kind
 * @param {string} text  rows of a spreadsheet
 * @param {string} [after]  uid
 */
export async function pasteRows(kind, text, after) {
  const answer = await told(change("POST", "/entries/paste", { kind, text, after }));
  if (answer) tellUndo(`${counted(answer.entries.length, kindNamed(kind)?.one ?? "row")} pasted`);
}

/** @param {string} text @returns {boolean} whether it is more than one cell of a spreadsheet */
export const isRows = (text) => /[\t]|\n[^\n]/.test(text.trim());

/** @param {Entry} entry @returns {string} its label and name */
export const nameOf = (entry) => [entry.id, entry.value.name ?? entry.value.reference].filter(Boolean).join(" ") || "this row";

/** @param {string} text */
const tellUndo = (text) => tell(text, { action: { label: "Undo", run: undo } });

/** @param {Promise<any>} sent @returns {Promise<any>} the answer; null where it was refused, and that was told */
async function told(sent) {
  try {
    return await sent;
  } catch (error) {
    tell(/** @type {Error} */ (error).message, { kind: "refused" });
    return null;
  }
}
