/**
 * What the service sends, as types for the checker; no code. They are those of the API's own description, which
 * `python -m tools.make_schemas` writes to tools/api.d.ts: what no answer holds is found when pages are checked.
 *
 * @typedef {string | number | boolean | null | Value[] | { [key: string]: Value }} Value
 * @typedef {import("../api").ErrorModel} Told
 * @typedef {Pick<Told, "code" | "text"> & Partial<Told>} Fault  A thing wrong, in the service's words or in those of a page.
 * @typedef {import("../api").Entry} Entry  One table of the brief.
 * @typedef {import("../api").Change} Changed  The answer to a change.
 * @typedef {import("../api").Head} Job
 * @typedef {import("../api").Said} Statement
 * @typedef {import("../api").LinkLine} LinkLine  A link with its carrier in the plan in force, and its ticks.
 * @typedef {import("../api").Point} Point
 * @typedef {import("../api").ReadinessNow} Readiness
 */
export {};
