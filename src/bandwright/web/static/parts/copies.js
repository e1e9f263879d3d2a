/** Asks how many copies of a row are wanted. */
import { h, html, useState } from "../lib/html.js";
import { closeDialog, openDialog } from "../lib/dialogs.js";
import { copyRow, nameOf } from "../lib/rows.js";

const MOST = 100;

/** @param {import("../lib/types.js").Entry} entry */
export function askCopies(entry) {
  openDialog({ title: `Duplicate ${nameOf(entry)}`, body: () => h(Copies, { entry }) });
}

/** @param {{ entry: import("../lib/types.js").Entry }} props */
function Copies({ entry }) {
  const [count, setCount] = useState("3");
  const submit = (/** @type {Event} */ event) => {
    event.preventDefault();
    closeDialog();
    copyRow(entry, Number(count));
  };
  return html`<form onSubmit=${submit}>
    <label class="field"><span>How many copies</span><input type="number" min="1" max=${MOST} required value=${count} onInput=${(/** @type {any} */ event) => setCount(event.target.value)} /></label>
    <p class="soft">Each gets the next free label. What only one can have, such as a held carrier, is left out.</p>
    <div class="actions end"><button type="button" class="button" onClick=${closeDialog}>Leave it</button><button class="button primary">Duplicate</button></div>
  </form>`;
}
