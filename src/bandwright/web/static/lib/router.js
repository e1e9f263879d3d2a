/** Which page is shown, by what stands after # in the address. */
import { signal } from "./html.js";

/** @typedef {{ name: string, rest: string[], query: URLSearchParams, hash: string }} Route */

/** @param {string} hash @returns {Route} */
export function parse(hash) {
  const [path, query = ""] = hash.replace(/^#\/?/, "").split("?");
  const [name = "", ...rest] = path.split("/").map(decodeURIComponent);
  return { name: name || "ready", rest: rest.filter(Boolean), query: new URLSearchParams(query), hash };
}

export const route = signal(parse(location.hash));

addEventListener("hashchange", () => {
  route.value = parse(location.hash);
});

/** @param {string} hash  such as "#/plan" */
export function go(hash) {
  location.hash = hash;
}
