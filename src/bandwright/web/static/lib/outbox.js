/**
 * Changes on their way. Each is kept in this browser until the service has answered, and sent in the order it was made:
 * a phone that falls asleep, a laptop that restarts and a page that is reloaded lose nothing. The key lets the service
 * know a change it has taken already.
 */
import { computed, signal } from "./html.js";
import { ApiError, Unreachable, request } from "./api.js";
import { keep, kept } from "./kept.js";
import { randomKey } from "./random.js";

/**
 * @typedef {object} Waiting
 * @property {string} key
 * @property {string} job  the job it belongs to; another job never gets it
 * @property {string} method
 * @property {string} path
 * @property {{ [key: string]: any }} body
 * @property {string} made  client time
 */

/** @type {import("../vendor/signals.js").Signal<Waiting[]>} */
const waiting = signal(kept("outbox", []));
/** @type {Map<string, { resolve: (answer: any) => void, reject: (error: Error) => void }>} */
const callers = new Map();
const RETRY_MS = 4000;
/**
 * @type {{ job: string | null, sending: boolean, timer: number | undefined,
 *   answered: (item: Waiting, answer: any) => void, refused: (item: Waiting, error: Error) => void }}
 */
const state = { job: null, sending: false, timer: undefined, answered: () => {}, refused: () => {} };

/** The changes of the open job that have not been answered yet, oldest first. */
export const waitingChanges = computed(() => waiting.value.filter((item) => item.job === state.job));
/** How many there are. */
export const waitingCount = computed(() => waitingChanges.value.length);
/** Whether the last try found nobody. */
export const unreachable = signal(false);

/**
 * Say which job is open, and who hears of answers to changes whose page is gone.
 * @param {string} job
 * @param {{ answered: (item: Waiting, answer: any) => void, refused: (item: Waiting, error: Error) => void }} listeners
 */
export function openOutbox(job, listeners) {
  const same = state.job === job;
  Object.assign(state, { job }, listeners);
  if (same) return;
  waiting.value = [...waiting.peek()];
  flush();
}

/**
 * Send a change, now or as soon as somebody answers.
 * @param {string} method
 * @param {string} path  below /api
 * @param {{ [key: string]: any }} [body]
 * @returns {Promise<any>} the answer; it may take until the server is back
 * @throws {ApiError} when the service refuses it
 */
export function send(method, path, body = {}) {
  const item = { key: randomKey(), job: state.job ?? "", method, path, body, made: new Date().toISOString() };
  store([...waiting.value, item]);
  const promise = new Promise((resolve, reject) => callers.set(item.key, { resolve, reject }));
  flush();
  return promise;
}

/** Try to send what waits, oldest first; stops at the first that finds nobody. */
export async function flush() {
  if (state.sending || state.job === null) return;
  state.sending = true;
  try {
    for (let item = next(); item; item = next()) await sendOne(item);
  } catch (error) {
    if (!(error instanceof Unreachable)) throw error;
    unreachable.value = true;
    clearTimeout(state.timer);
    state.timer = setTimeout(flush, RETRY_MS);
  } finally {
    state.sending = false;
  }
}

/** @param {Waiting} item */
async function sendOne(item) {
  const caller = callers.get(item.key);
  try {
    const answer = await request(item.method, item.path, {
      body: { ...item.body, client_key: item.key },
    });
    done(item);
    rebase(item, answer);
    state.answered(item, answer);
    caller?.resolve(answer);
  } catch (error) {
    if (!(error instanceof ApiError)) throw error;
    if (mayPass(error)) throw new Unreachable();
    done(item);
    caller ? caller.reject(error) : state.refused(item, error);
  }
}

/**
 * A change that was made on top of this one, before it was answered, knows its outcome: it starts from the revision
 * that this one made, so that nobody is in conflict with himself.
 * @param {Waiting} item
 * @param {any} answer
 */
function rebase(item, answer) {
  const entry = answer?.entries?.find((/** @type {{ uid: string }} */ one) => item.path === `/entries/${one.uid}`);
  if (!entry) return;
  const behind = (/** @type {Waiting} */ other) => other.path === item.path && other.body.base < entry.revision;
  store(waiting.value.map((other) => (behind(other) ? { ...other, body: { ...other.body, base: entry.revision } } : other)));
}

/** @param {ApiError} error @returns {boolean} whether the same change may be taken later */
const mayPass = (error) => [401, 429, 502, 503, 504].includes(error.status);

const next = () => waiting.value.find((item) => item.job === state.job);

/** @param {Waiting} item */
function done(item) {
  unreachable.value = false;
  callers.delete(item.key);
  store(waiting.value.filter((other) => other.key !== item.key));
}

/** @param {Waiting[]} items */
function store(items) {
  waiting.value = items;
  keep("outbox", items);
}
