/**
 * The map while an antenna is in somebody's hand: asked for on few points at each place it comes to, over the socket or
 * by a request where that is away; the newest wins. It stays until the fine map for where it was put down has come.
 * @module pages/reach/glance
 */
import { signal } from "../../lib/html.js";
import { request } from "../../lib/api.js";
import { on, say } from "../../lib/socket.js";
import { newestWins } from "../../chart/newest.js";

/** @typedef {import("../../api").GlanceModel} Glance */
/** @typedef {import("./model.js").Metres} Metres */
/** @typedef {{link: string, antenna: string, at: Metres}} Question  ids, and where the antenna is held */

/** What is known of the antenna in hand; null while none is. */
export const glance = signal(/** @type {(Question & {found: Glance}) | null} */ (null));

const PATIENCE_MS = 1500;
/** @type {Map<number, (answer: any) => void>} */
const waiting = new Map();
let count = 0;

on("place", (message) => {
  waiting.get(message.n)?.(message);
  waiting.delete(message.n);
});

const newest = newestWins(ask, (found, question) => (glance.value = { ...question, found }), () => (glance.value = null));

/** @param {Question} question */
export const hold = (question) => newest.ask(question);

/** Nothing that is on the way counts any more, and the map is the kept one again. */
export function letGo() {
  newest.forget();
  glance.value = null;
}

/** @param {Question} question @returns {Promise<Glance>} */
async function ask(question) {
  const answer = await overSocket(question);
  if (answer && !answer.errors) return answer;
  return request("POST", "/reach/preview", { body: { link: question.link, antenna: question.antenna, at_m: question.at } });
}

/** @param {Question} question @returns {Promise<any>} null where the socket gave no answer */
function overSocket({ link, antenna, at }) {
  const n = ++count;
  if (!say({ type: "place", n, link, antenna, at_m: at })) return Promise.resolve(null);
  return new Promise((resolve) => {
    const timer = setTimeout(() => {
      waiting.delete(n);
      resolve(null);
    }, PATIENCE_MS);
    waiting.set(n, (answer) => {
      clearTimeout(timer);
      resolve(answer);
    });
  });
}
