/** Dragging a row by its handle, with a pointer or a finger; Escape leaves everything where it was. */

/**
 * @param {PointerEvent} down  on the handle
 * @param {(before: string | null) => void} dropped  with the uid of the row it is to stand before, null for the end
 */
export function dragRow(down, dropped) {
  const handle = /** @type {HTMLElement} */ (down.currentTarget);
  const row = handle.closest("tr");
  const body = row?.parentElement;
  if (!row || !body || down.button !== 0) return;
  /** @type {HTMLElement | null | undefined} */
  let before;
  handle.setPointerCapture(down.pointerId);
  row.classList.add("dragged");

  const move = (/** @type {PointerEvent} */ event) => {
    unmark();
    before = rowBelow(body, event.clientY);
    (before ?? body.lastElementChild)?.classList.add(before ? "drop-before" : "drop-after");
  };
  const unmark = () => body.querySelectorAll(".drop-before, .drop-after").forEach((one) => one.classList.remove("drop-before", "drop-after"));
  const end = (/** @type {boolean} */ kept) => {
    unmark();
    row.classList.remove("dragged");
    for (const [name, listener] of listeners) handle.removeEventListener(name, listener);
    removeEventListener("keydown", escape, true);
    if (kept && before !== undefined && before !== row) dropped(before?.dataset.uid ?? null);
  };
  const escape = (/** @type {KeyboardEvent} */ event) => event.key === "Escape" && end(false);
  /** @type {[string, any][]} */
  const listeners = [
    ["pointermove", move],
    ["pointerup", () => end(true)],
    ["pointercancel", () => end(false)],
  ];
  for (const [name, listener] of listeners) handle.addEventListener(name, listener);
  addEventListener("keydown", escape, true);
}

/** @param {Element} body @param {number} y @returns {HTMLElement | null} the first row whose middle lies below y */
function rowBelow(body, y) {
  const rows = /** @type {HTMLElement[]} */ ([...body.querySelectorAll("tr[data-uid]")]);
  return rows.find((row) => middle(row) > y) ?? null;
}

/** @param {HTMLElement} row */
function middle(row) {
  const box = row.getBoundingClientRect();
  return box.top + box.height / 2;
}
