/** Everything that pages are made of, at one door. */
export { ask } from "./dialog.js";
export { Empty, Failed, Loading } from "./empty.js";
export { Facts } from "./facts.js";
export { Carrier, Figure } from "./figure.js";
export { Help } from "./help.js";
export { Page } from "./page.js";
export { Bar, Running } from "./progress.js";
export { TickBox } from "./tick_box.js";
export { Mark, Status, shapeOf } from "./status.js";
