/** Things that float beside what opened them: placed on screen, closed by Escape, by a press elsewhere, by scrolling away. */
import { useEffect, useLayoutEffect } from "./html.js";

const GAP = 6;

/**
 * @param {{ current: HTMLElement | null }} anchor
 * @param {{ current: HTMLElement | null }} floating
 * @param {boolean} open
 * @param {() => void} close
 */
export function useFloating(anchor, floating, open, close) {
  useLayoutEffect(() => {
    if (open && anchor.current && floating.current) place(anchor.current, floating.current);
  }, [open]);
  useEffect(() => {
    if (!open) return undefined;
    const away = (/** @type {Event} */ event) => {
      const inside = [anchor, floating].some((one) => one.current?.contains(/** @type {Node} */ (event.target)));
      if (!inside) close();
    };
    const began = anchor.current?.getBoundingClientRect().top ?? 0;
    const scrolled = () => {
      if (Math.abs((anchor.current?.getBoundingClientRect().top ?? 0) - began) > GAP) close();
    };
    const escape = (/** @type {KeyboardEvent} */ event) => {
      if (event.key !== "Escape") return;
      event.stopPropagation();
      event.preventDefault();
      close();
      anchor.current?.focus();
    };
    addEventListener("pointerdown", away, true);
    addEventListener("scroll", scrolled, true);
    addEventListener("keydown", escape, true);
    return () => {
      removeEventListener("pointerdown", away, true);
      removeEventListener("scroll", scrolled, true);
      removeEventListener("keydown", escape, true);
    };
  }, [open]);
}

/** @param {HTMLElement} anchor @param {HTMLElement} floating */
function place(anchor, floating) {
  const around = anchor.getBoundingClientRect();
  const { offsetWidth: width, offsetHeight: height } = floating;
  const below = around.bottom + GAP;
  const fits = below + height < innerHeight || around.top < height + GAP;
  floating.style.left = `${Math.max(GAP, Math.min(around.left, innerWidth - width - GAP))}px`;
  const top = fits ? below : around.top - height - GAP;
  floating.style.top = `${Math.max(GAP, Math.min(top, innerHeight - height - GAP))}px`;
}
