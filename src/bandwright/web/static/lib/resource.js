/** What the service knows, kept here and asked for again when the server says that it changed. */
import { signal, useEffect } from "./html.js";
import { get } from "./api.js";

/**
 * @template {string} P
 * @typedef {import("./api.js").Answer<"GET", P>} Answer
 */

/**
 * @template T
 * @typedef {object} Resource
 * @property {import("../vendor/signals.js").Signal<T | undefined>} value  undefined until it came
 * @property {import("../vendor/signals.js").Signal<Error | null>} error  why the last try failed
 * @property {string[]} topics
 * @property {() => Promise<void>} refresh  ask again; calls at the same time become one, and one more after it
 * @property {() => Promise<void>} ensure  ask, unless it is asked for just now or came a moment ago
 * @property {number} users
 */

/** What came within so many milliseconds is not asked for again when one more part of the page uses it. */
const FRESH_MS = 3000;

/** @type {Set<Resource<any>>} */
const known = new Set();

/**
 * @template {string} const P
 * @param {(P & import("../api").Known<"GET", P>) | (() => P & import("../api").Known<"GET", P>)} path  below /api
 * @param {string[]} topics  of "changed" messages that make it old
 * @param {(value: Answer<P>) => Answer<P>} [taken]  what is kept of an answer
 * @returns {Resource<Answer<P>>}
 */
export function resource(path, topics, taken = (value) => value) {
  /** @type {Promise<void> | null} */
  let asking = null;
  let again = false;
  let cameAt = -Infinity;
  /** @type {Resource<Answer<P>>} */
  const made = { value: signal(undefined), error: signal(null), topics, refresh, ensure, users: 0 };

  /** @returns {Promise<void>} done when what was asked for after this call has come */
  function refresh() {
    again = true;
    asking ??= ask().finally(() => {
      asking = null;
    });
    return asking;
  }

  function ensure() {
    if (asking) return asking;
    return performance.now() - cameAt < FRESH_MS ? Promise.resolve() : refresh();
  }

  async function ask() {
    try {
      while (again) {
        again = false;
        made.value.value = taken(await get(/** @type {any} */ (typeof path === "string" ? path : path())));
        cameAt = performance.now();
        made.error.value = null;
      }
    } catch (error) {
      made.error.value = /** @type {Error} */ (error);
    }
  }
  known.add(made);
  return made;
}

/**
 * Use a resource in a component: asked for when first used, and renewed while it is on screen.
 * @template T
 * @param {Resource<T>} used
 * @returns {T | undefined}
 */
export function useResource(used) {
  useEffect(() => {
    used.users += 1;
    if (used.value.peek() === undefined || used.users === 1) used.ensure();
    return () => {
      used.users -= 1;
    };
  }, [used]);
  return used.value.value;
}

/** @param {string[] | null} topics  null: all of them */
export function renew(topics) {
  for (const one of known) {
    const old = topics === null || one.topics.some((topic) => topics.includes(topic));
    if (old && (one.users > 0 || one.value.peek() !== undefined)) one.refresh();
  }
}
