/** Where short messages appear. */
import { html } from "../lib/html.js";
import { dismiss, toasts } from "../lib/toasts.js";

export function ToastPlace() {
  return html`<div class="toasts" role="status" aria-live="polite">
    ${toasts.value.map(
      (toast) => html`<div key=${toast.n} class=${`toast toast-${toast.kind}`}>
        <p>${toast.text}</p>
        ${toast.action &&
        html`<button type="button" class="button quiet" onClick=${() => (dismiss(toast.n), toast.action?.run())}>${toast.action.label}</button>`}
        <button type="button" class="button quiet" aria-label="Dismiss this message" onClick=${() => dismiss(toast.n)}>✕</button>
      </div>`,
    )}
  </div>`;
}
