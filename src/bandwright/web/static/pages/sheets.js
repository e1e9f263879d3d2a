/** Sheets: what goes on the wall and into pockets; printed, as PDF or as a table, and told apart from what is newer. */
import { h, html, signal, useEffect, useRef, useState } from "../lib/html.js";
import { attempt } from "../lib/attempt.js";
import { counted, kept as together, moment } from "../lib/format.js";
import { keep, kept } from "../lib/kept.js";
import { useResource } from "../lib/resource.js";
import { change, mayEdit, plan, readiness } from "../lib/state.js";
import { Empty, Loading, Mark, Page } from "../parts/pieces.js";

/** @typedef {{names: string, order: string, paper: string}} Wishes */

/** @type {import("../vendor/signals.js").Signal<Wishes>} */
const wishes = signal(kept("sheets", { names: "full", order: "list", paper: "a4" }));

/** @type {{key: keyof Wishes, word: string, note?: string, of: [string, string][]}[]} */
const CHOICES = [
  { key: "names", word: "Names", note: "A sheet on a wall with names and carriers lets anyone listen.", of: [["full", "full"], ["initials", "initials"], ["roles", "roles"]] },
  { key: "order", word: "Order", of: [["list", "as in the job"], ["rack", "by rack"], ["running", "running order"]] },
  { key: "paper", word: "Paper", of: [["a4", "A4"], ["letter", "Letter"]] },
];

const FILES = [
  { name: "sheet.pdf", word: "PDF", note: "the sheet as it prints" },
  { name: "carriers.csv", word: "CSV", note: "carriers for other programs" },
  { name: "brief.toml", word: "TOML", note: "the whole brief as text" },
];

export default function SheetsPage() {
  const now = useResource(plan);
  const known = useResource(readiness);
  if (now === undefined) return h(Loading, {});
  if (now === null) {
    return html`<${Page} title="Sheets"><${Empty} title="There is nothing to print yet" action=${html`<a class="button primary" href="#/plan">Make a plan</a>`}>A sheet shows the carriers of a plan with their evidence, and a plan has not been made.<//><//>`;
  }
  const print = mayEdit.value ? h(Printed, { number: now.number }) : null;
  return html`<${Page} title="Sheets" wide=${true} lead=${`Plan ${now.number} ${now.check_phrase}, made ${moment(now.made)}`} actions=${html`${print}<button type="button" class="button primary" onClick=${printed}>Print</button>`}>
    ${known && h(Since, { lines: known.since_print })}
    <div class="paper-page">
      <div class="paper-wishes">${h(Choices, {})}${h(Files, {})}</div>
      ${h(Preview, { number: now.number })}
    </div>
  <//>`;
}

/** @param {{lines: string[]}} props  what changed since the printed sheet */
function Since({ lines }) {
  if (!lines.length) return null;
  return html`<section class="paper-since">
    <h2>${h(Mark, { shape: "caution" })} ${lines.length === 1 ? "One thing" : counted(lines.length, "thing")} changed since the sheet was printed</h2>
    <ul>${lines.map((line) => html`<li key=${line}>${together(line)}</li>`)}</ul>
  </section>`;
}

function Choices() {
  return CHOICES.map(
    ({ key, word, note, of }) => html`<fieldset key=${key} class="paper-choice">
      <legend>${word}</legend>
      ${of.map(
        ([value, text]) => html`<label key=${value}><input type="radio" name=${`paper-${key}`} checked=${wishes.value[key] === value} onChange=${() => wish(key, value)} /> <span>${text}</span></label>`,
      )}
      ${note && html`<p class="none">${note}</p>`}
    </fieldset>`,
  );
}

/** @param {keyof Wishes} key @param {string} value */
function wish(key, value) {
  wishes.value = { ...wishes.value, [key]: value };
  keep("sheets", wishes.value);
}

function Files() {
  const query = new URLSearchParams(wishes.value);
  return html`<section>
    <h2>Files</h2>
    <ul class="paper-files">${FILES.map(
      (file) => html`<li key=${file.name}><a class="button" href=${`/api/sheets/${file.name}?${query}`} download=${file.name}>${file.word}</a> <span class="none">${file.note}</span></li>`,
    )}</ul>
  </section>`;
}

/** @type {{frame: HTMLIFrameElement | null}} */
const shown = { frame: null };

function printed() {
  shown.frame?.contentWindow?.print();
}

/** @param {{number: number}} props */
function Preview({ number }) {
  const place = useRef(/** @type {HTMLElement | null} */ (null));
  const frame = useRef(/** @type {HTMLIFrameElement | null} */ (null));
  const [made, setMade] = useState("");
  const fitted = () => fit(place.current, frame.current);
  useEffect(() => {
    shown.frame = frame.current;
    const watch = new ResizeObserver(fitted);
    if (place.current) watch.observe(place.current);
    return () => {
      watch.disconnect();
      shown.frame = null;
    };
  }, []);
  const source = `/api/sheets/sheet.html?${new URLSearchParams(wishes.value)}`;
  const loaded = () => {
    setMade(`${number} ${source}`);
    fitted();
  };
  return html`<div class="paper-preview" ref=${place}>
    ${made !== `${number} ${source}` && html`<p class="paper-wait" role="status">Making the sheet…</p>`}
    <iframe key=${number} ref=${frame} title="Preview of the sheet" src=${source} onLoad=${loaded}></iframe>
  </div>`;
}

const ACROSS = 1120;
const PHONE = 600;

/**
 * Show a sheet as wide as it lies on paper, made smaller where the screen is not; on a phone it is as wide as the phone.
 * The preview takes the height of its sheet, so that the page scrolls and not the sheet inside it.
 * @param {HTMLElement | null} place @param {HTMLIFrameElement | null} frame
 */
function fit(place, frame) {
  const inside = frame?.contentDocument?.documentElement;
  if (!place || !frame || !inside) return;
  const room = place.clientWidth;
  const width = room < PHONE ? room : Math.max(room, ACROSS);
  frame.style.width = `${width}px`;
  const height = Math.max(480, inside.scrollHeight);
  frame.style.height = `${height}px`;
  frame.style.transform = `scale(${room / width})`;
  place.style.height = `${Math.ceil((height * room) / width)}px`;
}

/** Says that this plan hangs on the wall now; what changes later is told here and on Ready. @param {{number: number}} props */
function Printed({ number }) {
  const mark = () => attempt(change("POST", "/statements", { what: "printed", plan: number }), "Marked as printed. What changes from now on is listed here and on Ready.");
  return html`<button type="button" class="button" onClick=${mark}>Mark as printed</button>`;
}
