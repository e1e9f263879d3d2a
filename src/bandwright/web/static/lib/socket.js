/** The one connection on which the server tells what changed; it comes back by itself. */
import { signal } from "./html.js";

/** "joining" at the start, "open", or "lost" while the server or the network is away. */
export const link = signal(/** @type {"joining" | "open" | "lost"} */ ("joining"));

/** @type {Map<string, Set<(message: any) => void>>} */
const listeners = new Map();
/** @type {{ socket: WebSocket | null, tries: number, timer: number | undefined }} */
const state = { socket: null, tries: 0, timer: undefined };
const LONGEST_PAUSE_MS = 5000;
/** How the server closes a connection of a device that may no longer look, or whose role changed. */
const SHUT_OUT = 4401;
const ASK_AGAIN = 4000;

/**
 * @param {string} type  of the messages: hello, changed, run, preview; "role" when what this device may do has changed
 * @param {(message: any) => void} listener
 * @returns {() => void} stop listening
 */
export function on(type, listener) {
  const known = listeners.get(type) ?? new Set();
  listeners.set(type, known.add(listener));
  return () => known.delete(listener);
}

/**
 * @param {object} message
 * @returns {boolean} whether there is a connection to carry it
 */
export function say(message) {
  if (state.socket?.readyState !== WebSocket.OPEN) return false;
  state.socket.send(JSON.stringify(message));
  return true;
}

/** Join, and join again whenever the connection breaks, a phone wakes up or the network comes back. */
export function join() {
  connect();
  addEventListener("online", hurry);
  document.addEventListener("visibilitychange", () => document.hidden || hurry());
}

function connect() {
  clearTimeout(state.timer);
  const scheme = location.protocol === "https:" ? "wss" : "ws";
  const socket = new WebSocket(`${scheme}://${location.host}/api/socket`);
  state.socket = socket;
  socket.onmessage = (event) => heard(JSON.parse(event.data));
  socket.onclose = ({ code }) => {
    if (socket !== state.socket) return;
    if (code === SHUT_OUT || code === ASK_AGAIN) spread({ type: "role" });
    if (code === SHUT_OUT) return;
    link.value = "lost";
    state.timer = setTimeout(connect, pause());
  };
}

/** @param {{ type: string }} message */
function heard(message) {
  if (message.type === "hello") {
    state.tries = 0;
    link.value = "open";
  }
  spread(message);
}

/** @param {{ type: string }} message */
function spread(message) {
  for (const listener of [...(listeners.get(message.type) ?? [])]) listener(message);
}

/** @returns {number} milliseconds: half a second, then twice as long each time, up to five seconds */
const pause = () => Math.min(500 * 2 ** state.tries++, LONGEST_PAUSE_MS);

function hurry() {
  if (link.value === "open") return;
  state.tries = 0;
  if (state.socket?.readyState !== WebSocket.CONNECTING) connect();
}
