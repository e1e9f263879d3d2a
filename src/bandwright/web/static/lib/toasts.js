/** Short messages at the edge of the screen. They are read out politely and never take the focus. */
import { signal } from "./html.js";

/** @typedef {{ n: number, text: string, kind: "done" | "refused", action?: { label: string, run: () => void } }} Toast */

const SHOWN_MS = { done: 6000, refused: 20000 };
let count = 0;

/** @type {import("../vendor/signals.js").Signal<Toast[]>} */
export const toasts = signal([]);

/**
 * @param {string} text
 * @param {{ kind?: "done" | "refused", action?: { label: string, run: () => void } }} [options]
 */
export function tell(text, { kind = "done", action } = {}) {
  const toast = { n: ++count, text, kind, action };
  toasts.value = [...toasts.value.slice(-2), toast];
  setTimeout(() => dismiss(toast.n), SHOWN_MS[kind]);
}

/** What a message offered to take back is no longer the newest change: the offer goes. */
export function expireOffers() {
  toasts.value = toasts.value.filter((toast) => !toast.action);
}

/** @param {number} n */
export function dismiss(n) {
  toasts.value = toasts.value.filter((toast) => toast.n !== n);
}
