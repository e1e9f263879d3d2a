/** The home of a job: what is next and for whom it waits, then all that still stands between it and going on air. */
import { h, html, useEffect } from "../lib/html.js";
import { kept } from "../lib/format.js";
import { useResource } from "../lib/resource.js";
import { job, readiness } from "../lib/state.js";
import { Failed, Loading } from "../parts/empty.js";
import { Notes } from "../parts/notes.js";
import { ReadyAside } from "../parts/ready_aside.js";
import { ReadyLinks } from "../parts/ready_links.js";
import { ReadyPoints } from "../parts/ready_points.js";
import { ReadyStrip } from "../parts/ready_strip.js";

export default function Ready() {
  const now = useResource(readiness);
  useEffect(() => {
    document.title = "Ready · Bandwright";
  }, []);
  if (!now) return readiness.error.value ? h(Failed, { error: readiness.error.value, onRetry: readiness.refresh }) : h(Loading, {});
  return html`<div class="page ready">
    ${h(NextStep, { next: now.next })}
    ${h(ReadyStrip, { now })}
    <div class="ready-columns">
      <div class="ready-main">${h(ReadyLinks, { now })}${h(JobNotes, {})}</div>
      <div class="ready-side">${h(ReadyPoints, { points: now.points })}${h(ReadyAside, { now })}</div>
    </div>
    ${job.value.value?.first_run && h(FirstRun, {})}
  </div>`;
}

function JobNotes() {
  return html`<section class="aside">
    <h2>Notes</h2>
    ${h(Notes, { about: null, empty: "Nothing noted about the job. What concerns one link is noted at that link; both are printed on the sheet." })}
  </section>`;
}

const LONG = 95;
/** @type {{ [page: string]: string }} */
const WAYS = { kit: "Go to kit and links", plan: "Go to the plan", air: "Go to the air", sheets: "Go to the sheets", links: "Go to the links", devices: "Go to the devices" };

/** @param {{ next: import("../lib/types.js").Readiness["next"] }} props */
function NextStep({ next }) {
  const way = WAYS[/^#\/(\w+)/.exec(next.href ?? "")?.[1] ?? ""];
  const somebody = next.waits_for && next.waits_for !== "nobody";
  return html`<header class=${next.text.length > LONG ? "next next-long" : "next"}>
    <h1 tabindex="-1">${kept(next.text)}</h1>
    <div class="next-foot">
      ${somebody && html`<p>It waits for <b>${next.waits_for}</b>.</p>`}
      ${way && html`<a class="button primary" href=${next.href}>${way}</a>`}
    </div>
  </header>`;
}

function FirstRun() {
  return html`<section class="first-run">
    <h2>This is the demonstration</h2>
    <p>
      Everything in it is invented: look around, change anything, plan again. Your own job is one file: make it
      with <b>bandwright job new</b>, or, from a brief,
      with <b>bandwright job import BRIEF JOB</b>, and open it with <b>bandwright serve JOB</b>.
    </p>
  </section>`;
}
