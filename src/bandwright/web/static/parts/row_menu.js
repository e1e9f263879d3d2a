/** What can be done with a row, beside its button. */
import { html, useEffect, useRef } from "../lib/html.js";
import { useFloating } from "../lib/floating.js";

/** @typedef {{ word: string, keys?: string, run: () => void }} Item */

/** @param {{ items: Item[], anchor: HTMLElement, label: string, close: () => void }} props */
export function RowMenu({ items, anchor, label, close }) {
  const menu = useRef(/** @type {HTMLElement | null} */ (null));
  useFloating({ current: anchor }, menu, true, close);
  useEffect(() => {
    /** @type {HTMLElement | null | undefined} */ (menu.current?.querySelector("button"))?.focus();
  }, []);
  const pressed = (/** @type {KeyboardEvent} */ event) => {
    const buttons = /** @type {HTMLElement[]} */ ([...(menu.current?.querySelectorAll("button") ?? [])]);
    const at = buttons.indexOf(/** @type {HTMLElement} */ (document.activeElement));
    const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: buttons.length - 1 }[event.key];
    if (event.key === "Tab") return close();
    if (to === undefined) return undefined;
    event.preventDefault();
    event.stopPropagation();
    return buttons[(to + buttons.length) % buttons.length].focus();
  };
  const chosen = (/** @type {Item} */ item) => () => {
    close();
    anchor.focus();
    item.run();
  };
  return html`<div class="menu" role="menu" aria-label=${label} ref=${menu} data-owns-keys onKeyDown=${pressed}>
    ${items.map(
      (item) => html`<button key=${item.word} type="button" role="menuitem" tabindex="-1" onClick=${chosen(item)}>
        <span>${item.word}</span>${item.keys && html`<kbd aria-hidden="true">${item.keys}</kbd>`}
      </button>`,
    )}
  </div>`;
}
