/**
 * Columns as wide as what stands in them, then held: they do not jump while somebody types, and with hundreds of rows a
 * changed cell costs a fifth of the layout.
 */
import { useLayoutEffect } from "./html.js";

/**
 * @param {{ current: HTMLElement | null }} table
 * @param {unknown[]} when  values whose change makes the widths be found again
 */
export function useHeldWidths(table, when) {
  useLayoutEffect(() => {
    const element = table.current;
    const around = element?.parentElement;
    if (!element || !around) return undefined;
    let width = 0;
    const watch = new ResizeObserver(() => {
      if (around.clientWidth === width) return;
      width = around.clientWidth;
      hold(/** @type {HTMLTableElement} */ (element));
    });
    watch.observe(around);
    return () => watch.disconnect();
  }, when);
}

/** @param {HTMLTableElement} table */
function hold(table) {
  const heads = [...table.rows[0].cells];
  table.style.tableLayout = "";
  table.parentElement?.classList.remove("fits");
  for (const head of heads) head.style.width = "";
  if (getComputedStyle(table).display !== "table") return;
  const widths = heads.map((head) => head.getBoundingClientRect().width);
  heads.forEach((head, index) => {
    head.style.width = `${widths[index]}px`;
  });
  table.style.tableLayout = "fixed";
  // a table that fits needs no scrolling of its own, and its headings can stay in sight
  table.parentElement?.classList.toggle("fits", table.offsetWidth <= table.parentElement.clientWidth + 1);
}
