/** Plain words at a figure: what it is and where it comes from; opened by pointer, finger or key. */
import { html, useId, useRef, useState } from "../lib/html.js";
import { useFloating } from "../lib/floating.js";

/**
 * @param {{ about: string, text: any, word?: boolean, field?: string }} props  `about` names the thing; with `word` it is
 *   itself what is pressed, else a small question mark beside it; `field`: it is a cell of a table, reached by arrows
 */
export function Help({ about, text, word = false, field }) {
  const id = useId();
  const [open, setOpen] = useState(false);
  const button = useRef(/** @type {HTMLElement | null} */ (null));
  const told = useRef(/** @type {HTMLElement | null} */ (null));
  useFloating(button, told, open, () => setOpen(false));
  return html`<span class="help">
    <button type="button" ref=${button} class=${word ? "help-word" : "help-button"} aria-expanded=${open} aria-controls=${id} data-field=${field} tabindex=${field ? -1 : undefined} onClick=${() => setOpen(!open)}>
      ${word ? about : html`<span aria-hidden="true">?</span><span class="unseen">What is ${about || "this"}?</span>`}
    </button>
    <span id=${id} ref=${told} class="help-text" role="note" hidden=${!open}>${text}</span>
  </span>`;
}
