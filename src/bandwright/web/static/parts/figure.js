/** Figures: carriers large, units small, both read out as one. */
import { h, html } from "../lib/html.js";
import { mhz } from "../lib/format.js";
import { Help } from "./help.js";

/**
 * A carrier. The last decimals beyond kHz stand smaller.
 * @param {{ hz: number | null | undefined, size?: "row" | "large" | "huge", held?: boolean }} props
 */
export function Carrier({ hz, size = "row", held = false }) {
  if (hz === null || hz === undefined) return html`<span class="none">no carrier</span>`;
  const text = mhz(hz);
  const cut = text.indexOf(".") + 4;
  return html`<span class=${`carrier carrier-${size}`}
    ><b>${text.slice(0, cut)}${text.length > cut && html`<small>${text.slice(cut)}</small>`}</b
    ><span class="unit"> MHz</span>${held && html`<span class="held"> held</span>`}</span
  >`;
}

/**
 * A figure with its unit and, where asked, a word of help.
 * @param {{ value: number | string | null | undefined, unit?: string, help?: string, missing?: string }} props
 */
export function Figure({ value, unit = "", help, missing = "not known" }) {
  if (value === null || value === undefined || value === "") return html`<span class="none">${missing}</span>`;
  return html`<span class="figure"
    ><span class="value">${value}</span>${unit && html`<span class="unit"> ${unit}</span>`}${help && h(Help, { about: unit, text: help })}</span
  >`;
}
