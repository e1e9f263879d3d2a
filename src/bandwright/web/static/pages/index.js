/**
 * All pages. A page is one file with a default export (a component that gets `rest` and `query` of the address) and
 * one line here.
 *
 * @typedef {object} PageEntry
 * @property {string} name  its address: #/name
 * @property {string} title
 * @property {string} [key]  "g" and this letter goes there
 * @property {"desk" | "both" | "phone" | "none"} bar  which navigation shows it
 * @property {string} icon  a path in a box of 24
 * @property {() => Promise<{ default: any }>} load
 */

/** @type {PageEntry[]} */
export const PAGES = [
  { name: "ready", title: "Ready", key: "r", bar: "both", icon: "M5 21V4h13l-3 4.5 3 4.5H5", load: () => import("./ready.js") },
  { name: "links", title: "Links", key: "l", bar: "phone", icon: "M9 3h6v9a3 3 0 0 1-6 0zM5.5 11a6.5 6.5 0 0 0 13 0M12 17.5V21", load: () => import("./links.js") },
  { name: "kit", title: "Kit and links", key: "k", bar: "desk", icon: "M6 9h9v12H6zM15 9l3-7M9 13h3", load: () => import("./kit.js") },
  { name: "air", title: "Air", key: "a", bar: "desk", icon: "M2 19h3l2-4 2 3 3-13 3 12 2-3 2 5h3", load: () => import("./air.js") },
  { name: "plan", title: "Plan", key: "p", bar: "both", icon: "M3 20h18M6 20v-6M10 20V5M14.5 20v-9M18.5 20V8", load: () => import("./plan.js") },
  { name: "reach", title: "Reach", key: "e", bar: "both", icon: "M12 21V9M8.5 5.5L12 9l3.5-3.5M5 16a9 9 0 0 1-1.5-9M19 16a9 9 0 0 0 1.5-9M7.6 13.5A5 5 0 0 1 7 9M16.4 13.5A5 5 0 0 0 17 9", load: () => import("./reach.js") },
  { name: "sound", title: "Sound", key: "o", bar: "both", icon: "M3 12h2M7 8v8M11 4v16M15 7v10M19 10v4M21 12h1", load: () => import("./sound.js") },
  { name: "sheets", title: "Sheets", key: "s", bar: "both", icon: "M6 3h9l4 4v14H6zM9 11h7M9 15h7M15 3v4h4", load: () => import("./sheets.js") },
  { name: "history", title: "History", key: "h", bar: "desk", icon: "M4 4v5h5M4.6 9a8.5 8.5 0 1 1-.9 5M12 8v4.5l3 2", load: () => import("./history.js") },
  { name: "devices", title: "Devices", key: "d", bar: "desk", icon: "M7 2.5h10v19H7zM10.5 18.5h3", load: () => import("./devices.js") },
  { name: "link", title: "Link", bar: "none", icon: "", load: () => import("./link.js") },
];

/** @param {string} name @returns {PageEntry | undefined} */
export const pageNamed = (name) => PAGES.find((page) => page.name === name);
