/** What stands around every page: navigation, the stamp of the plan, undo, the state of the connection, messages. */
import { h, html, useEffect, useRef, useState } from "../lib/html.js";
import { ApiError } from "../lib/api.js";
import { route, go } from "../lib/router.js";
import { listen } from "../lib/shortcuts.js";
import { job, redo, undo } from "../lib/state.js";
import { PAGES, pageNamed } from "../pages/index.js";
import { Connection } from "./connection.js";
import { DialogPlace } from "./dialog.js";
import { Failed, Loading } from "./empty.js";
import { showKeys } from "./keys.js";
import { BottomBar, Sidebar, TopBar } from "./nav.js";
import { ToastPlace } from "./toasts.js";

export function Shell() {
  useEffect(() => listen(shortcuts()), []);
  useEffect(bringPages, []);
  if (isLockedOut(job.error.value) || route.value.name === "pair") return h(Lazy, { key: "pair", load: () => import("../pages/pair.js"), rest: route.value.rest });
  if (!job.value.value) return job.error.value ? h(Failed, { error: job.error.value, onRetry: job.refresh }) : h(Loading, {});
  return html`<div class="shell">
    <a class="skip" href="#main" onClick=${skip}>To the page</a>
    ${h(Sidebar, {})}
    <div class="beside">
      ${h(TopBar, {})}${h(Connection, {})}
      <main id="main" tabindex="-1">${h(CurrentPage, {})}</main>
    </div>
    ${h(BottomBar, {})}${h(ToastPlace, {})}${h(DialogPlace, {})}
  </div>`;
}

/** @param {Error | null} error */
const isLockedOut = (error) => error instanceof ApiError && error.status === 401;

/** @param {Event} event */
function skip(event) {
  event.preventDefault();
  document.getElementById("main")?.focus();
}

function CurrentPage() {
  const { name, rest, query } = route.value;
  const page = pageNamed(name);
  const first = useRef(true);
  useEffect(() => {
    if (!first.current) {
      scrollTo(0, 0);
      document.getElementById("main")?.focus({ preventScroll: true });
    }
    first.current = false;
  }, [name, rest.join("/")]);
  if (!page) return h(Failed, { error: new Error(`There is no page "${name}" here.`), onRetry: () => go("#/ready") });
  return h(Lazy, { key: name, name, load: page.load, rest, query });
}

/** @param {{ name?: string, load: () => Promise<{ default: any }>, rest?: string[], query?: URLSearchParams }} props */
function Lazy({ name = "", load, rest = [], query = new URLSearchParams() }) {
  const [part, setPart] = useState(/** @type {{ show: any } | null} */ (null));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  const fetched = () => {
    setError(null);
    load().then((module) => setPart({ show: module.default }), setError);
  };
  useEffect(fetched, []);
  useEffect(() => {
    const main = document.getElementById("main");
    if (main && (part || error)) main.dataset.page = [name, ...rest].join("/"); // what stands there now, for whoever waits for it
  });
  if (error) return h(Failed, { error: new Error(whyNotHere(error)), onRetry: fetched });
  return part ? h(part.show, { rest, query }) : h(Loading, {});
}

/** @param {Error} error @returns {string} a module that cannot be had is a TypeError; any other comes from running it */
const whyNotHere = (error) => (error instanceof TypeError ? "This page is not here yet, and the server does not answer." : `This page does not run in this browser: ${error.message}.`);

const QUIET_MS = 1500;

/** Bring all pages while the server is there, so that each opens later without it. */
function bringPages() {
  const timer = setTimeout(() => PAGES.forEach((page) => page.load().catch(() => {})), QUIET_MS);
  return () => clearTimeout(timer);
}

function shortcuts() {
  const pages = PAGES.filter((page) => page.key).map((page) => ({
    keys: `g ${page.key}`,
    text: page.title,
    run: () => go(`#/${page.name}`),
  }));
  return [
    ...pages,
    { keys: "Ctrl+Z", text: "Undo", run: undo },
    { keys: "Ctrl+Shift+Z", text: "Redo", run: redo },
    { keys: "?", text: "All keys", run: showKeys },
  ];
}
