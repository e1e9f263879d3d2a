/** The list of keys. */
import { html } from "../lib/html.js";
import { openDialog } from "../lib/dialogs.js";
import { lettersOn, setLetters } from "../lib/shortcuts.js";
import { PAGES } from "../pages/index.js";

const IN_TABLES = [
  ["arrows, Home, End", "move between cells"],
  ["Enter or F2, or just type", "change a cell"],
  ["Enter, Tab", "keep it; down, or to the next cell"],
  ["Escape", "leave the cell as it was"],
  ["Delete", "empty the cell"],
  ["Ctrl V", "paste rows from a spreadsheet"],
  ["Ctrl D", "duplicate the row"],
  ["Alt ↑ ↓", "move the row"],
  ["Shift Space", "all facts of the row"],
];
const ANYWHERE = [
  ["Ctrl Z, Ctrl Shift Z", "undo, redo"],
  ["?", "this list"],
];

export function showKeys() {
  openDialog({ title: "Keys", body: Keys, wide: true });
}

function Keys() {
  const pages = PAGES.filter((page) => page.key).map((page) => [`g ${page.key}`, page.title]);
  return html`<div class="keys">
      ${group("Go to", pages)}${group("Anywhere", ANYWHERE)}${group("In a table", IN_TABLES)}
    </div>
    <label class="check"><input type="checkbox" checked=${lettersOn.value} onChange=${toggled} /><span>Single letters do something</span></label>`;
}

/** @param {Event} event */
const toggled = (event) => setLetters(/** @type {HTMLInputElement} */ (event.target).checked);

/** @param {string} title @param {string[][]} rows */
const group = (title, rows) =>
  html`<section>
    <h3>${title}</h3>
    <dl>
      ${rows.map(([keys, text]) => html`<div key=${keys}><dt><kbd>${keys}</kbd></dt><dd>${text}</dd></div>`)}
    </dl>
  </section>`;
