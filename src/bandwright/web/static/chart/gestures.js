/**
 * Wheel, drag and pinch over a chart, written by hand. They tell how a view should change; who draws it is not known here.
 * @module chart/gestures
 */

/** @typedef {{zoom: (factor: number, x: number) => boolean, pan: (dx: number) => boolean, whole: () => void,
 *    grab?: (event: PointerEvent) => boolean, tap?: (event: PointerEvent) => void}} Wishes
 * `x` in pixels from the left of the element; `zoom` and `pan` say whether anything changed; `grab` whether it takes the
 * pointer for itself. */

/**
 * @param {HTMLElement | SVGElement} element @param {Wishes} wishes @returns {() => void} takes the listeners off again
 */
export function gestures(element, wishes) {
  /** @type {Map<number, number>} */
  const held = new Map();
  let moved = 0;
  const left = () => element.getBoundingClientRect().left;

  /** Where there is nothing left to zoom out of, the wheel goes on scrolling the page. @param {WheelEvent} event */
  const wheel = (event) => {
    const unit = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? 400 : 1;
    const across = Math.abs(event.deltaX) > Math.abs(event.deltaY);
    const factor = Math.exp(event.deltaY * unit * (event.ctrlKey ? 0.01 : 0.0018));
    const took = across ? wishes.pan(-event.deltaX * unit) : wishes.zoom(factor, event.clientX - left());
    if (took || event.ctrlKey) event.preventDefault();
  };

  /** @param {PointerEvent} event */
  const down = (event) => {
    if (event.button !== 0 || (held.size === 0 && wishes.grab?.(event))) return;
    held.set(event.pointerId, event.clientX);
    moved = 0;
    element.setPointerCapture(event.pointerId);
  };
  /** @param {PointerEvent} event */
  const move = (event) => {
    const before = held.get(event.pointerId);
    if (before === undefined) return;
    const dx = event.clientX - before;
    moved += Math.abs(dx);
    if (held.size === 1) {
      if (moved > 3) wishes.pan(dx);
    } else {
      const other = [...held].find(([id]) => id !== event.pointerId)?.[1] ?? before;
      const was = Math.abs(before - other);
      const is = Math.abs(event.clientX - other);
      if (was > 8 && is > 8) wishes.zoom(was / is, other - left());
    }
    held.set(event.pointerId, event.clientX);
  };
  /** @param {PointerEvent} event */
  const up = (event) => {
    if (!held.delete(event.pointerId)) return;
    if (event.type === "pointerup" && moved <= 3) wishes.tap?.(event);
  };

  /** @type {[string, any, AddEventListenerOptions?][]} */
  const listeners = [
    ["wheel", wheel, { passive: false }],
    ["pointerdown", down],
    ["pointermove", move],
    ["pointerup", up],
    ["pointercancel", up],
    ["dblclick", () => wishes.whole()],
  ];
  for (const [name, listener, options] of listeners) element.addEventListener(name, listener, options);
  return () => {
    for (const [name, listener] of listeners) element.removeEventListener(name, listener);
  };
}
