/** The box of the wall sheet, to be ticked with one tap. */
import { html } from "../lib/html.js";

/**
 * @param {{ word: string, about: string, ticked?: boolean, disabled?: boolean, large?: boolean, onTick: () => void }} props
 */
export function TickBox({ word, about, ticked, disabled = false, large = false, onTick }) {
  return html`<button type="button" class=${large ? "tick tick-large" : "tick"} aria-label=${`${word}: ${about}`} aria-pressed=${ticked} disabled=${disabled} onClick=${onTick}>
    <svg class="tick-box" viewBox="0 0 20 20" aria-hidden="true" focusable="false">
      <path d="M1.5 1.5h17v17h-17z" />${ticked && html`<path class="tick-mark" d="M5 10.5l3.6 4L15.5 5.5" />`}
    </svg>
    <span>${word}</span>
  </button>`;
}
