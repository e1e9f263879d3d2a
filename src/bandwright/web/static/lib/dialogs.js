/** Dialogs: one at a time, over the page. The browser's own `dialog` keeps the focus inside and gives it back. */
import { signal } from "./html.js";

/** @typedef {{ title: string, body: () => any, wide?: boolean }} Dialog */

/** @type {import("../vendor/signals.js").Signal<Dialog | null>} */
export const dialog = signal(null);

/** @param {Dialog} wanted */
export function openDialog(wanted) {
  dialog.value = wanted;
}

export function closeDialog() {
  dialog.value = null;
}
