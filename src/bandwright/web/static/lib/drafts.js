/**
 * What is being typed into cells. A draft remembers the revision its row had when typing began, so that a change which
 * somebody else made meanwhile is noticed by the service and both values are shown; nothing is lost silently.
 */
import { signal } from "./html.js";
import { ApiError } from "./api.js";
import { textOf } from "./cell_text.js";
import { waitingChanges } from "./outbox.js";
import { change, entryOf, takeEntries } from "./state.js";

/** @typedef {import("./types.js").Entry} Entry */
/** @typedef {import("./types.js").Fault} Fault */

/**
 * @typedef {object} Draft
 * @property {any} given  what was typed or chosen
 * @property {number} base  revision of the row when typing began
 * @property {"open" | "sent" | "refused" | "conflict"} state
 * @property {Fault[]} faults  why it was refused
 * @property {any} [theirs]  what somebody else put there meanwhile
 * @property {number} [newer]  the revision that theirs has
 */

/** All drafts: uid -> field -> draft. @type {import("../vendor/signals.js").Signal<Map<string, { [field: string]: Draft }>>} */
export const drafts = signal(new Map());

/** @param {string} uid @param {string} field @returns {Draft | undefined} */
export const draftOf = (uid, field) => drafts.peek().get(uid)?.[field];

/**
 * Begin to change a cell, or go on with what was refused there.
 * @param {Entry} entry
 * @param {string} field
 * @param {string} [typed]  the first letter, where typing began without opening the cell
 */
export function begin(entry, field, typed) {
  const old = draftOf(entry.uid, field);
  if (old && typed === undefined) return put(entry.uid, field, { ...old, state: "open" });
  return put(entry.uid, field, { given: typed ?? textOf(entry.value[field]), base: old?.base ?? entry.revision, state: "open", faults: [] });
}

/** @param {string} uid @param {string} field @param {any} given */
export function write(uid, field, given) {
  const draft = draftOf(uid, field);
  if (draft) put(uid, field, { ...draft, given });
}

/** @param {string} uid @param {string} field */
export function drop(uid, field) {
  const { [field]: _gone, ...rest } = drafts.peek().get(uid) ?? {};
  const next = new Map(drafts.peek());
  Object.keys(rest).length > 0 ? next.set(uid, rest) : next.delete(uid);
  drafts.value = next;
}

/**
 * Send what stands in a draft; nothing where it says what is there already.
 * @param {string} uid
 * @param {string} field
 * @returns {Promise<boolean>} whether it was taken (false: it stands at the cell, with the reason)
 */
export async function commit(uid, field) {
  const draft = draftOf(uid, field);
  const entry = entryOf(uid);
  if (!draft || draft.state === "sent") return true;
  if (!entry || draft.given === textOf(entry.value[field])) {
    drop(uid, field);
    return true;
  }
  const sent = { ...draft, state: /** @type {const} */ ("sent"), faults: [] };
  put(uid, field, sent);
  try {
    await change("PATCH", `/entries/${uid}`, { base: draft.base, changes: { [field]: draft.given === "" ? null : draft.given } });
  } catch (error) {
    return refused(uid, field, sent, /** @type {Error} */ (error));
  }
  if (draftOf(uid, field) === sent) drop(uid, field);
  return true;
}

/**
 * Put a value where another one was chosen over it: keep mine, knowing theirs.
 * @param {string} uid
 * @param {string} field
 */
export function keepMine(uid, field) {
  const draft = draftOf(uid, field);
  if (!draft) return;
  put(uid, field, { ...draft, state: "open", base: draft.newer ?? draft.base });
  commit(uid, field);
}

/** @param {string} uid @param {string} field @param {Draft} sent @param {Error} error */
function refused(uid, field, sent, error) {
  if (draftOf(uid, field) !== sent) return false;
  if (error instanceof ApiError && error.status === 409) {
    const newer = error.body.entry;
    if (newer) takeEntries([newer]);
    put(uid, field, { ...sent, state: "conflict", theirs: error.body.theirs?.[field], newer: newer?.revision });
    return false;
  }
  const faults = error instanceof ApiError && error.errors.length > 0 ? error.errors : [{ code: "", text: error.message }];
  put(uid, field, { ...sent, state: "refused", faults });
  return false;
}

/** @param {string} uid @param {string} field @param {Draft} draft */
function put(uid, field, draft) {
  drafts.value = new Map(drafts.peek()).set(uid, { ...drafts.peek().get(uid), [field]: draft });
}

/**
 * A change of a cell that still waits for an answer, where its draft is gone (the page was loaded anew).
 * @param {string} uid
 * @returns {{ [field: string]: any }}
 */
export function waitingOf(uid) {
  const sent = waitingChanges.value.filter((item) => item.method === "PATCH" && item.path === `/entries/${uid}`);
  return Object.assign({}, ...sent.map((item) => item.body.changes));
}
