/** Requests to the service. Every failure is an `ApiError` with the service's own sentences, or `Unreachable`. */

/** @typedef {import("./types.js").Fault} Fault */

export class ApiError extends Error {
  /**
   * @param {number} status
   * @param {{ errors?: Fault[], [key: string]: any }} body
   */
  constructor(status, body) {
    super(sentence(status, body.errors));
    this.status = status;
    /** @type {Fault[]} */
    this.errors = body.errors ?? [];
    this.body = body;
  }
}

/** Nobody answered: the server is away or the network is. */
export class Unreachable extends Error {
  constructor() {
    super("No answer from the computer that runs Bandwright.");
  }
}

/**
 * @param {number} status
 * @param {Fault[] | undefined} errors
 */
function sentence(status, errors) {
  const texts = (errors ?? []).map((error) => [error.text, error.hint].filter(Boolean).join(" "));
  return texts.join(" ") || `The service answered with error ${status} and no explanation.`;
}

/**
 * @template {string} M
 * @template {string} P
 * @typedef {import("../api").Answer<M, P>} Answer
 */

/**
 * Ask the service. While pages are checked, a path that leads to no call of the API is an error, also one that is put
 * together (`/sweeps/${uid}/trace`), and the answer has the type that the API describes.
 * @template {string} M
 * @template {string} const P
 * @param {M} method
 * @param {P & import("../api").Known<M, P>} path  below /api
 * @param {{ body?: unknown, raw?: BodyInit, signal?: AbortSignal }} [options]
 * @returns {Promise<Answer<M, P>>} the JSON of the answer; null where it has none
 * @throws {ApiError | Unreachable}
 */
export async function request(method, path, { body, raw, signal } = {}) {
  const answer = await answered(`/api${path}`, {
    method,
    signal,
    headers: body === undefined ? {} : { "content-type": "application/json" },
    body: body === undefined ? raw : JSON.stringify(body),
  });
  const text = answer.status === 204 ? "" : await answer.text();
  const content = text === "" ? null : parsed(text);
  if (!answer.ok) throw new ApiError(answer.status, content ?? {});
  return content;
}

/**
 * @template {string} const P
 * @param {P & import("../api").Known<"GET", P>} path  below /api
 * @returns {Promise<Answer<"GET", P>>}
 */
export const get = (path) => request("GET", /** @type {any} */ (path));

/**
 * Numbers in arrays of bytes (levels of a sweep).
 * @param {string} path  below /api
 * @returns {Promise<ArrayBuffer>}
 */
export async function getBytes(path) {
  const answer = await answered(`/api${path}`, {});
  if (!answer.ok) throw new ApiError(answer.status, parsed(await answer.text()) ?? {});
  return answer.arrayBuffer();
}

/** What lib/first_paint.js asked for before any module was here; each answer counts once. @type {Map<string, Promise<Response>>} */
const early = /** @type {any} */ (globalThis).early ?? new Map();

/** Nothing that was asked for so early counts any more: something has changed since. */
export const forgetEarly = () => early.clear();

/**
 * @param {string} url
 * @param {RequestInit} options
 */
async function answered(url, options) {
  const known = (options.method ?? "GET") === "GET" ? early.get(url) : undefined;
  early.delete(url);
  try {
    return await (known ?? fetch(url, { credentials: "same-origin", ...options }));
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    throw new Unreachable();
  }
}

/** @param {string} text */
function parsed(text) {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
