/** Navigation: a sidebar on a wide screen, a bar under the thumb on a phone. */
import { h, html } from "../lib/html.js";
import { closeDialog, openDialog } from "../lib/dialogs.js";
import { moment } from "../lib/format.js";
import { route } from "../lib/router.js";
import { job, readiness, redo, undo } from "../lib/state.js";
import { useResource } from "../lib/resource.js";
import { choice, choose } from "../lib/theme.js";
import { PAGES } from "../pages/index.js";
import { showKeys } from "./keys.js";

/** @typedef {import("../pages/index.js").PageEntry} PageEntry */

const onDesk = PAGES.filter((page) => page.bar === "desk" || page.bar === "both");
const onPhone = PAGES.filter((page) => page.bar === "phone" || page.bar === "both");
const inMore = PAGES.filter((page) => page.bar === "desk");

export function Sidebar() {
  return html`<aside class="side">
    ${h(Stamp, {})}
    <nav aria-label="Pages">
      <ul>
        ${onDesk.map((page) => html`<li key=${page.name}>${h(PageLink, { page })}</li>`)}
      </ul>
    </nav>
    <div class="side-foot">
      ${h(Who, {})}${h(ThemeSwitch, {})}
      <button type="button" class="button quiet small" onClick=${showKeys}>Keys <kbd>?</kbd></button>
    </div>
  </aside>`;
}

/** The job and the number of its plan, as on every sheet. */
export function Stamp() {
  const known = useResource(readiness);
  const plan = known?.plan;
  return html`<div class="stamp">
    <p class="stamp-title">${job.value.value?.title}</p>
    ${job.value.value?.invented && html`<p class="stamp-note">Invented example</p>`}
    ${plan &&
    html`<p class="stamp-plan">Plan ${plan.number} <b>${plan.check_phrase}</b></p>
      <p class="stamp-note">made ${moment(plan.made)}${plan.stale ? ", older than the brief" : ""}</p>`}
    ${known && !plan && html`<p class="stamp-note">No plan yet</p>`}
  </div>`;
}

/** @param {{ page: PageEntry, short?: boolean }} props */
function PageLink({ page, short = false }) {
  const here = route.value.name === page.name || (page.name === "links" && route.value.name === "link");
  return html`<a href=${`#/${page.name}`} aria-current=${here ? "page" : undefined}>
    <svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false"><path d=${page.icon} /></svg>
    <span>${page.title}</span>${!short && page.key && html`<kbd aria-hidden="true">g ${page.key}</kbd>`}
  </a>`;
}

export function TopBar() {
  const known = job.value.value;
  const plan = readiness.value.value?.plan;
  return html`<header class="top">
    <p class="top-job"><b>${known?.title}</b>${plan && html`<span>Plan ${plan.number} <b>${plan.check_phrase}</b></span>`}</p>
    <div class="top-undo">
      ${h(Step, { word: "Undo", what: known?.undo, run: undo, keys: "Control+Z", glyph: "M9 5L4 10l5 5M4.5 10H14a5 5 0 0 1 0 10h-3" })}
      ${h(Step, { word: "Redo", what: known?.redo, run: redo, keys: "Control+Shift+Z", glyph: "M15 5l5 5-5 5M19.5 10H10a5 5 0 0 0 0 10h3" })}
    </div>
  </header>`;
}

/** @param {{ word: string, what: string | null | undefined, run: () => void, keys: string, glyph: string }} props */
function Step({ word, what, run, keys, glyph }) {
  return html`<button type="button" class="button quiet step" disabled=${!what} onClick=${run} aria-keyshortcuts=${keys}>
    <svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false"><path d=${glyph} /></svg>
    <span class="step-word">${word}</span>${what && html`<span class="step-what">${what}</span>`}
  </button>`;
}

export function BottomBar() {
  return html`<nav class="bottom" aria-label="Pages">
    ${onPhone.map((page) => h(PageLink, { page, short: true, key: page.name }))}
    <button type="button" aria-haspopup="dialog" aria-current=${inMore.some((page) => page.name === route.value.name) ? "true" : undefined} onClick=${openMore}>
      <svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false"><path d="M4 7h16M4 12h16M4 17h16" /></svg><span>More</span>
    </button>
  </nav>`;
}

function openMore() {
  openDialog({
    title: "More",
    body: () => html`<ul class="more" onClick=${(/** @type {Event} */ event) => event.target instanceof Element && event.target.closest("a") && closeDialog()}>
        ${inMore.map((page) => html`<li key=${page.name}>${h(PageLink, { page, short: true })}</li>`)}
      </ul>
      ${h(Who, {})}${h(ThemeSwitch, {})}`,
  });
}

/** Who this device is to the others, and what it may do. */
function Who() {
  const me = job.value.value?.me;
  return me ? html`<p class="who">You are <b><bdi>${me.name}</bdi></b>${me.role === "look" && ". You may look, not change"}.</p>` : null;
}

/** @type {{ value: import("../lib/theme.js").Choice, word: string }[]} */
const THEMES = [
  { value: "light", word: "Light" },
  { value: "dark", word: "Dark" },
  { value: "system", word: "As system" },
];

export function ThemeSwitch() {
  return html`<fieldset class="switch">
    <legend class="unseen">Theme</legend>
    ${THEMES.map(
      (theme) => html`<label key=${theme.value}
        ><input type="radio" name="theme" checked=${choice.value === theme.value} onChange=${() => choose(theme.value)} /><span>${theme.word}</span></label
      >`,
    )}
  </fieldset>`;
}
