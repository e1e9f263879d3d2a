/** The open dialog, and questions before something that is hard to take back. */
import { h, html, useEffect, useRef } from "../lib/html.js";
import { closeDialog, dialog, openDialog } from "../lib/dialogs.js";

export function DialogPlace() {
  const root = useRef(/** @type {HTMLDialogElement | null} */ (null));
  const open = dialog.value;
  useEffect(() => {
    const element = root.current;
    if (!element) return;
    if (open && !element.open) element.showModal();
    if (!open && element.open) element.close();
  }, [open]);
  const clicked = (/** @type {MouseEvent} */ event) => event.target === root.current && closeDialog();
  return html`<dialog ref=${root} class=${open?.wide ? "dialog wide" : "dialog"} aria-labelledby="dialog-title" onClose=${closeDialog} onClick=${clicked}>
    ${open &&
    html`<div class="dialog-inside">
      <header><h2 id="dialog-title" tabindex="-1" autofocus>${open.title}</h2><button type="button" class="button quiet" aria-label="Close" onClick=${closeDialog}>✕</button></header>
      ${h(open.body, {})}
    </div>`}
  </dialog>`;
}

/**
 * Ask before doing something.
 * @param {{ title: string, text: string, yes: string, run: () => void }} question
 */
export function ask({ title, text, yes, run }) {
  const answer = () => {
    closeDialog();
    run();
  };
  openDialog({
    title,
    body: () => html`<p>${text}</p>
      <div class="actions end">
        <button type="button" class="button" onClick=${closeDialog}>Leave it</button>
        <button type="button" class="button primary" onClick=${answer}>${yes}</button>
      </div>`,
  });
}
