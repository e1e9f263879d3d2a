/** What changed since the printed sheet, and the permits the job stands on. */
import { h, html } from "../lib/html.js";
import { moment } from "../lib/format.js";
import { Status } from "./status.js";

/** @param {{ now: import("../lib/types.js").Readiness }} props */
export function ReadyAside({ now }) {
  return html`${now.since_print.length > 0 &&
    html`<section class="aside">
      <h2>Since the printed sheet</h2>
      <ul class="told">${now.since_print.map((text) => html`<li key=${text}>${text}</li>`)}</ul>
      <p><a href="#/sheets">Print it again</a></p>
    </section>`}
    ${now.permits.length > 0 &&
    html`<section class="aside">
      <h2>Permits</h2>
      <ul class="permits">
        ${now.permits.map(
          (permit) => html`<li key=${permit.id}>
            <p><b>${permit.reference}</b> ${h(Status, { state: permit.over ? "expired" : permit.state })}</p>
            <p class="soft">${permit.text}${permit.expires && !permit.text && ` until ${moment(permit.expires)}`}</p>
          </li>`,
        )}
      </ul>
      <p class="caution-note">
        Spectrum law is local. Shipped figures are dated copies to start from; the regulator’s current text decides.
      </p>
    </section>`}`;
}
