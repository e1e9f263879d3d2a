/** The beginning: join the service and show the pages. */
import { h, render } from "./lib/html.js";
import { start } from "./lib/state.js";
import { Shell } from "./parts/shell.js";

const place = /** @type {HTMLElement} */ (document.getElementById("app"));
render(h(Shell, {}), place);
start();
