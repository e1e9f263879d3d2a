/** A place where nothing is yet: what it is for, and what to do next. */
import { h, html } from "../lib/html.js";
import { ApiError } from "../lib/api.js";
import { BriefFaults } from "./brief_faults.js";

/** @param {{ title: string, children?: any, action?: any }} props */
export function Empty({ title, children, action }) {
  return html`<div class="empty"><h2>${title}</h2>${children && html`<p>${children}</p>`}${action && html`<div class="actions">${action}</div>`}</div>`;
}

/**
 * Instead of a page that could not be made: because nobody answers, or because the brief does not say enough for it.
 * @param {{ error: Error, onRetry?: () => void }} props
 */
export function Failed({ error, onRetry }) {
  if (error instanceof ApiError && error.status === 422) return h(NotYet, { error });
  return html`<div class="empty" role="alert">
    <h1>This could not be read</h1>
    <p>${error.message}</p>
    ${onRetry && html`<div class="actions"><button type="button" class="button" onClick=${onRetry}>Try again</button></div>`}
  </div>`;
}

/** @param {{ error: ApiError }} props */
function NotYet({ error }) {
  return html`<div class="empty">
    <h1>The brief does not say enough yet</h1>
    ${h(BriefFaults, { faults: error.errors })}
    <div class="actions"><a class="button primary" href="#/kit">Go to kit and links</a></div>
  </div>`;
}

/** What stands where something is still on its way; said only when it takes long. */
export function Loading() {
  return html`<p class="loading" role="status">One moment…</p>`;
}
