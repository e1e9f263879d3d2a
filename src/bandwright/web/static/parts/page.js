/** The frame of a page: its one heading, what can be done, and the heavy rule that the sheets have too. */
import { html, useEffect } from "../lib/html.js";

/**
 * @param {{ title: string, lead?: any, actions?: any, children?: any, wide?: boolean }} props
 */
export function Page({ title, lead, actions, children, wide = false }) {
  useEffect(() => {
    document.title = `${title} · Bandwright`;
  }, [title]);
  return html`<div class=${wide ? "page page-wide" : "page"}>
    <header class="page-head">
      <div><h1 tabindex="-1">${title}</h1>${lead && html`<p class="lead">${lead}</p>`}</div>
      ${actions && html`<div class="actions">${actions}</div>`}
    </header>
    ${children}
  </div>`;
}
