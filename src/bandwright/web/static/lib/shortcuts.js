/** Keys that work everywhere: "g" and a letter goes to a page, "?" shows them all; they can be switched off. */
import { signal } from "./html.js";
import { keep, kept } from "./kept.js";

/** Whether single letters do something. */
export const lettersOn = signal(kept("letters", true));

/** @param {boolean} on */
export function setLetters(on) {
  lettersOn.value = on;
  keep("letters", on);
}

/** @typedef {{ keys: string, text: string, run: () => void }} Shortcut */

const LEADER = "g";
const LEADER_MS = 1500;

/**
 * @param {Shortcut[]} shortcuts  keys such as "g r", "?", "Ctrl+Z"
 * @returns {() => void} stop listening
 */
export function listen(shortcuts) {
  const table = new Map(shortcuts.map((one) => [one.keys, one.run]));
  let led = -Infinity;
  /** @param {KeyboardEvent} event */
  const pressed = (event) => {
    if (event.defaultPrevented || document.querySelector("dialog[open]")) return;
    const name = chord(event);
    const single = !name.includes("+");
    if (isText(event.target) || (single && (!lettersOn.value || ownsKeys(event.target)))) return;
    const lately = event.timeStamp - led < LEADER_MS;
    led = name === LEADER ? event.timeStamp : -Infinity;
    const run = table.get(lately ? `${LEADER} ${name}` : name);
    if (!run) return;
    event.preventDefault();
    run();
  };
  addEventListener("keydown", pressed);
  return () => removeEventListener("keydown", pressed);
}

/** @param {KeyboardEvent} event @returns {string} "Ctrl+Shift+Z", "g", "?" */
export function chord(event) {
  const key = event.key.length === 1 && (event.ctrlKey || event.metaKey) ? event.key.toUpperCase() : event.key;
  const held = [event.ctrlKey || event.metaKey ? "Ctrl" : "", event.altKey ? "Alt" : ""];
  if (event.shiftKey && (event.ctrlKey || event.metaKey || event.altKey || key.length > 1 || key === " ")) held.push("Shift");
  return [...held.filter(Boolean), key].join("+");
}

/** @param {EventTarget | null} target @returns {boolean} whether keys there are text */
const isText = (target) => target instanceof Element && target.closest("input, textarea, select, [contenteditable]") !== null;

/** @param {EventTarget | null} target @returns {boolean} whether single keys there are the business of a table or a chart */
const ownsKeys = (target) => target instanceof Element && target.closest("[data-owns-keys]") !== null;
