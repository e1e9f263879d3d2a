/** Light or dark: the system's choice, or the one made here. */
import { effect, signal } from "./html.js";

const NAME = "bandwright.theme";
const dark = matchMedia("(prefers-color-scheme: dark)");

/** @typedef {"system" | "light" | "dark"} Choice */

/** @type {import("../vendor/signals.js").Signal<Choice>} */
export const choice = signal(stored());
/** What is shown now. @type {import("../vendor/signals.js").Signal<"light" | "dark">} */
export const shown = signal("light");

const settle = () => {
  shown.value = choice.value === "system" ? (dark.matches ? "dark" : "light") : choice.value;
};
dark.addEventListener("change", settle);

effect(() => {
  if (choice.value === "system") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = choice.value;
  settle();
});

/** @param {Choice} wanted */
export function choose(wanted) {
  choice.value = wanted;
  try {
    localStorage.setItem(NAME, wanted);
  } catch {
    // not kept: it counts until the page is closed
  }
}

/** @returns {Choice} */
function stored() {
  try {
    const text = localStorage.getItem(NAME);
    return text === "light" || text === "dark" ? text : "system";
  } catch {
    return "system";
  }
}
