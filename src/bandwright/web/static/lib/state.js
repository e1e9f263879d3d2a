/** The state of the page: the job, its brief, its readiness; changes go out here and their answers come in. */
import { batch, computed, effect, signal } from "./html.js";
import { ApiError, forgetEarly } from "./api.js";
import { flush, openOutbox, send, unreachable } from "./outbox.js";
import { renew, resource } from "./resource.js";
import { schema } from "./schema.js";
import { join, on } from "./socket.js";
import { expireOffers, tell } from "./toasts.js";

/** @typedef {import("./types.js").Entry} Entry */
/** @typedef {import("./types.js").Fault} Fault */
/** @typedef {import("./types.js").Changed} Changed */

const EVERY_TOPIC = ["brief", "plan", "sweeps", "readiness", "devices", "versions", "notes"];

/** @type {import("./resource.js").Resource<import("./types.js").Job>} */
export const job = resource("/job", EVERY_TOPIC);
/** @type {import("./resource.js").Resource<import("./types.js").Readiness>} */
export const readiness = resource("/readiness", ["brief", "plan", "sweeps", "readiness"]);
/** The current plan, or null. */
export const plan = resource("/plan", ["plan", "brief", "sweeps"]);
/** The brief as it came from the service; read it through `entriesOf` and `faults`. */
export const brief = resource("/brief", ["brief"], taken);

/** @type {import("../vendor/signals.js").Signal<Map<string, Entry>>} */
const entries = signal(new Map());
/** All that is wrong with the brief now. @type {import("../vendor/signals.js").Signal<Fault[]>} */
export const faults = signal([]);
/** Whether this person may change anything. */
export const mayEdit = computed(() => job.value.value?.me.role !== "look");

const byKind = computed(() => {
  /** @type {Map<string, Entry[]>} */
  const kinds = new Map();
  for (const entry of entries.value.values()) {
    const some = kinds.get(entry.kind);
    some ? some.push(entry) : kinds.set(entry.kind, [entry]);
  }
  for (const some of kinds.values()) some.sort((one, two) => one.position - two.position);
  return kinds;
});

/** @param {string} kind @returns {Entry[]} in their order */
export const entriesOf = (kind) => byKind.value.get(kind) ?? [];

/** @param {string} uid @returns {Entry | undefined} */
export const entryOf = (uid) => entries.value.get(uid);

/** @param {string} uid @param {string} [field] @returns {Fault[]} */
export const faultsAt = (uid, field) =>
  faults.value.filter((fault) => fault.uid === uid && (field === undefined || fault.field === field));

/**
 * Change something: sent at once, or as soon as the server is back.
 * @param {"POST" | "PATCH" | "DELETE"} method
 * @param {string} path  below /api
 * @param {{ [key: string]: any }} [body]
 * @returns {Promise<any>}
 * @throws {import("./api.js").ApiError}
 */
export const change = (method, path, body = {}) => send(method, path, body);

/** Undo the last change of this person. */
export const undo = () => step("/undo", "Undone");
/** Do again what was undone. */
export const redo = () => step("/redo", "Done again");

/** @param {string} path @param {string} word */
async function step(path, word) {
  try {
    const answer = await change("POST", path);
    tell(answer?.what ? `${word}: ${answer.what}` : word);
  } catch (error) {
    tell(/** @type {Error} */ (error).message, { kind: "refused" });
  }
}

/** Start: join the server, and from then on follow what it tells. */
export async function start() {
  /** @type {string | null} */
  let boot = null;
  on("hello", (hello) => {
    if (boot !== null || hello.seq !== job.value.peek()?.seq) {
      forgetEarly();
      renew(null);
      if (boot !== null && boot !== hello.boot) tellOfNewProgram();
    }
    boot = hello.boot;
    unreachable.value = false;
    flush();
  });
  on("changed", (message) => {
    forgetEarly();
    renew(message.topics);
  });
  on("role", () => job.refresh());
  effect(() => {
    const known = job.value.value;
    if (known) openOutbox(known.job, { answered: (_item, answer) => absorb(answer), refused });
  });
  await job.refresh();
  const shutOut = job.error.peek() instanceof ApiError && /** @type {ApiError} */ (job.error.peek()).status === 401;
  if (shutOut) return;
  join();
  // what pages on a phone need is brought now: later there may be no network
  await Promise.all([brief, plan, readiness].map((one) => one.ensure()));
  await schema.ensure();
}

/** After a restart: the page stays, unless the program that answers now is another one than the page was made for. */
async function tellOfNewProgram() {
  const before = job.value.peek()?.program;
  await job.refresh();
  if (job.value.peek()?.program === before) return;
  tell("Another version of the program answers now.", { kind: "refused", action: { label: "Load its pages", run: () => location.reload() } });
}

/** @param {import("./outbox.js").Waiting} _item @param {Error} error */
function refused(_item, error) {
  tell(`A change that was waiting could not be taken: ${error.message}`, { kind: "refused" });
}

/** @param {Changed | null} answer  take what a change says about the brief, without asking again */
function absorb(answer) {
  expireOffers();
  if (!answer?.entries) return;
  batch(() => {
    takeEntries(answer.entries, answer.removed ?? []);
    if (answer.faults) faults.value = answer.faults;
  });
  job.refresh();
}

/** @param {Entry[]} changed @param {string[]} [removed]  their uids */
export function takeEntries(changed, removed = []) {
  const next = new Map(entries.peek());
  for (const entry of changed) next.set(entry.uid, entry);
  for (const uid of removed) next.delete(uid);
  entries.value = next;
}

/**
 * Take a whole brief; an entry whose revision stayed keeps its object, so that its row is not drawn again.
 * @param {import("../api").Brief} whole
 */
function taken(whole) {
  const old = entries.peek();
  const same = (/** @type {Entry} */ entry) => {
    const before = old.get(entry.uid);
    return before && before.revision === entry.revision && before.position === entry.position ? before : entry;
  };
  batch(() => {
    entries.value = new Map(whole.entries.map((entry) => [entry.uid, same(entry)]));
    faults.value = whole.faults;
  });
  return whole;
}
