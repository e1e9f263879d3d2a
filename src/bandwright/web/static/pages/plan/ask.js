/**
 * Ask the service how a carrier would stand: over the socket, which is quickest, or by a request where it is away.
 * @module pages/plan/ask
 */
import { request } from "../../lib/api.js";
import { on, say } from "../../lib/socket.js";

/** @typedef {import("./types.js").Preview} Preview */

const PATIENCE_MS = 1500;

/** @type {Map<number, (answer: Preview) => void>} */
const waiting = new Map();
let count = 0;

on("preview", (message) => {
  waiting.get(message.n)?.(message);
  waiting.delete(message.n);
});

/**
 * @param {{link: string, hz: number}} question uid of the link, and the carrier @returns {Promise<Preview>}
 * @throws {import("../../lib/api.js").ApiError | import("../../lib/api.js").Unreachable}
 */
export async function askVerdict({ link, hz }) {
  const answer = await overSocket(link, hz);
  return answer ?? request("POST", "/plan/preview", { body: { link, carrier_hz: hz } });
}

/** @param {string} link @param {number} hz @returns {Promise<Preview | null>} null where the socket gave no answer */
function overSocket(link, hz) {
  const n = ++count;
  if (!say({ type: "preview", n, link, carrier_hz: hz })) return Promise.resolve(null);
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
