/** Progress: how far, in words and as a bar, with a way to stop. */
import { html } from "../lib/html.js";

/**
 * @param {{ label: string, done: number, total: number, text?: string }} props  how many of how many
 */
export function Bar({ label, done, total, text = `${done} of ${total}` }) {
  const share = total > 0 ? Math.min(1, done / total) : 0;
  return html`<div class="bar" role="progressbar" aria-label=${label} aria-valuemin="0" aria-valuemax=${Math.max(total, 1)} aria-valuenow=${done} aria-valuetext=${text}>
    <span class="bar-label">${label}</span><span class="bar-text">${text}</span>
    <span class="bar-track"><span class=${share === 1 ? "bar-fill full" : "bar-fill"} style=${{ width: `${share * 100}%` }}></span></span>
  </div>`;
}

/**
 * Something that runs: its newest sentence, its share where known, and a button that ends it.
 * @param {{ text: string, share: number | null, cancelLabel?: string, onCancel?: () => void }} props
 */
export function Running({ text, share, cancelLabel = "Stop and keep the best", onCancel }) {
  const known = share !== null && share !== undefined;
  return html`<div class="running">
    <div class="running-words"><p role="status">${text}</p>${onCancel && html`<button type="button" class="button" onClick=${onCancel}>${cancelLabel}</button>`}</div>
    <div class="bar-track" role="progressbar" aria-label="Progress" aria-valuemin="0" aria-valuemax="100" aria-valuenow=${known ? Math.round(share * 100) : undefined}>
      <span class=${known ? "bar-fill" : "bar-fill unsure"} style=${known ? { width: `${share * 100}%` } : {}}></span>
    </div>
  </div>`;
}
