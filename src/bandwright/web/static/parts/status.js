/** A state, said by word, shape and colour; the shapes are those of the sheets. */
import { h, html } from "../lib/html.js";

/** @typedef {"fine" | "stated" | "open" | "unknown" | "caution" | "blocked" | "working"} Shape */

/** @type {{ [state: string]: Shape }} */
const SHAPES = {
  clear: "fine",
  fine: "fine",
  done: "fine",
  granted: "fine",
  exempt: "fine",
  stated: "stated",
  open: "open",
  applied: "caution",
  caution: "caution",
  stale: "caution",
  blocked: "blocked",
  unplaced: "blocked",
  expired: "blocked",
  failed: "blocked",
  running: "working",
};

/** @param {string} state @returns {Shape} */
export const shapeOf = (state) => SHAPES[state] ?? "unknown";

/**
 * The shape alone; beside it must stand a word.
 * @param {{ shape: Shape }} props
 */
export function Mark({ shape }) {
  return html`<svg class=${`mark mark-${shape}`} viewBox="0 0 20 20" aria-hidden="true" focusable="false">${DRAWN[shape]()}</svg>`;
}

/**
 * @param {{ state: string, children?: any }} props  the word shown is the state's own unless children say another
 */
export function Status({ state, children }) {
  const shape = shapeOf(state);
  return html`<span class=${`status status-${shape}`}>${h(Mark, { shape })}<span>${children ?? state}</span></span>`;
}

/** @type {Record<Shape, () => any>} */
const DRAWN = {
  fine: () => html`<path class="stroke" d="M3.5 10.5l4.2 4.5L16.5 5" />`,
  stated: () => html`<circle class="stroke" cx="10" cy="10" r="7.2" /><path class="stroke thin" d="M6.4 10.3l2.5 2.6 4.7-5.4" />`,
  open: () => html`<circle class="stroke" cx="10" cy="10" r="7.2" />`,
  unknown: () => html`<circle class="stroke dashed" cx="10" cy="10" r="7.2" />`,
  caution: () => html`<path class="fill" d="M10 1.5L19 18.5H1z" /><path class="cut" d="M10 7.5v5M10 14.6v1.6" />`,
  blocked: () => html`<path class="fill" d="M1.5 1.5h17v17h-17z" /><path class="cut" d="M6 6l8 8M14 6l-8 8" />`,
  working: () => html`<circle class="stroke" cx="10" cy="10" r="7.2" /><path class="fill" d="M10 10V2.8a7.2 7.2 0 0 1 0 14.4z" />`,
};
