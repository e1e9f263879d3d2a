/** History: who did what and when, the last thing undone, and versions that can be compared and gone back to. */
import { h, html, useEffect, useState } from "../lib/html.js";
import { attempt } from "../lib/attempt.js";
import { get } from "../lib/api.js";
import { kept, moment } from "../lib/format.js";
import { resource, useResource } from "../lib/resource.js";
import { go } from "../lib/router.js";
import { change, job, mayEdit, undo } from "../lib/state.js";
import { rowOf } from "../lib/link_cards.js";
import { notes } from "../lib/notes.js";
import { OneNote } from "../parts/notes.js";
import { Empty, Failed, Loading, Page, ask } from "../parts/pieces.js";

/** @typedef {import("../api").EventLine} Event */
/** @typedef {import("../api").VersionLine} Version */

const STEP = 200;
let wanted = STEP;

/** @type {import("../lib/resource.js").Resource<{events: Event[]}>} */
const events = resource(() => `/events?limit=${wanted}`, ["brief", "plan", "sweeps", "readiness", "devices", "versions", "notes"]);
/** @type {import("../lib/resource.js").Resource<{versions: Version[]}>} */
const versions = resource("/versions", ["versions", "brief"]);

/** @param {{rest: string[]}} props */
export default function HistoryPage({ rest }) {
  const known = useResource(events);
  const named = useResource(versions);
  if (events.error.value && !known) return h(Failed, { error: events.error.value, onRetry: events.refresh });
  if (!known) return h(Loading, {});
  const last = job.value.value?.undo;
  const actions = mayEdit.value && html`<button type="button" class="button" disabled=${!last} onClick=${undo}>Undo the last</button>`;
  return html`<${Page} title="History" wide=${true} lead=${last ? kept(`Last: ${last}`) : undefined} actions=${actions}>
    <div class="past-page">
      <div class="past-events">${known.events.length ? h(Days, { events: known.events }) : html`<${Empty} title="Nothing has happened yet">Every change is kept here, with who made it and when.<//>`}</div>
      <div class="past-versions">${named && h(Versions, { versions: named.versions, open: rest[0] })}${h(AllNotes, {})}</div>
    </div>
  <//>`;
}

/** Events by day, the newest first; what one change did stands together. @param {{events: Event[]}} props */
function Days({ events: all }) {
  const newest = [...all].sort((a, b) => b.seq - a.seq);
  const once = newest.filter((e, i) => i === 0 || e.change !== newest[i - 1].change || e.what !== newest[i - 1].what);
  /** @type {Map<string, Event[]>} */
  const days = new Map();
  for (const event of once) {
    const day = new Date(event.at).toLocaleDateString("en-GB", { weekday: "long", day: "numeric", month: "long", year: "numeric" });
    const some = days.get(day);
    some ? some.push(event) : days.set(day, [event]);
  }
  return html`${[...days].map(
      ([day, some]) => html`<section key=${day} aria-label=${day}>
        <h2>${day}</h2>
        <ol class="past-list">${some.map((e) => html`<li key=${e.seq}><time datetime=${e.at}>${clock(e.at)}</time><p>${kept(e.what)}</p><span class="none">${e.who}</span></li>`)}</ol>
      </section>`,
    )}
    ${all.length >= wanted && html`<button type="button" class="button" onClick=${more}>Show earlier ones</button>`}`;
}

function more() {
  wanted += STEP;
  void events.refresh();
}

/** @param {string} at */
const clock = (at) => new Date(at).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });

/** Every note of the job, with what it is about. */
function AllNotes() {
  const known = useResource(notes);
  if (!known) return null;
  const all = [...known.notes].reverse();
  return html`<section class="past-notes" aria-labelledby="past-notes">
    <h2 id="past-notes">Notes</h2>
    <div class="notes">
      ${all.length > 0 ? html`<ul>${all.map((note) => h(OneNote, { key: note.uid, note, subject: h(Subject, { note }) }))}</ul>` : html`<p class="soft">Nobody noted anything yet. Notes about the job are written on the page Ready, those about a link at that link.</p>`}
    </div>
  </section>`;
}

/** @param {{note: import("../lib/notes.js").Note}} props */
function Subject({ note }) {
  if (note.subject === null) return html`<span>about the job</span>`;
  const link = note.about !== null && !note.gone && rowOf(note.about)?.kind === "link";
  return html`about ${link ? html`<a href=${`#/link/${note.about}`}>${note.subject}</a>` : note.subject}${note.gone && ", which is gone"}`;
}

/** @param {{versions: Version[], open: string | undefined}} props */
function Versions({ versions: all, open }) {
  return html`<section aria-labelledby="past-versions">
    <h2 id="past-versions">Versions</h2>
    <p class="none">A version keeps the whole brief and plan under a name, to compare with and to go back to.</p>
    ${mayEdit.value && h(Naming, {})}
    <ol class="past-named">
      ${[...all].sort((a, b) => b.number - a.number).map((v) => h(OneVersion, { key: v.number, version: v, open: open === String(v.number) }))}
    </ol>
  </section>`;
}

function Naming() {
  const [name, setName] = useState("");
  const keep = async (/** @type {globalThis.Event} */ event) => {
    event.preventDefault();
    if (!name.trim()) return;
    await attempt(change("POST", "/versions", { name: name.trim() }), `Kept as “${name.trim()}”.`);
    setName("");
    void versions.refresh();
  };
  return html`<form class="past-name" onSubmit=${keep}>
    <label class="field"><span>Name for how things are now</span><input value=${name} maxlength="80" placeholder="as rehearsed" onInput=${(/** @type {any} */ e) => setName(e.target.value)} /></label>
    <button type="submit" class="button">Keep</button>
  </form>`;
}

/** @param {{version: Version, open: boolean}} props */
function OneVersion({ version, open }) {
  const { number, name, made, by } = version;
  const back = () =>
    ask({
      title: `Go back to “${name}”?`,
      text: "Brief and plan become what they were then. What is there now stays in the history, and undo brings it back.",
      yes: "Go back to it",
      run: () => void attempt(change("POST", `/versions/${number}/restore`), `Everything is as in “${name}”.`),
    });
  return html`<li>
    <p><b>${name}</b> <span class="none">${moment(made)}, ${by}</span></p>
    <div class="actions">
      <button type="button" class="button small" aria-expanded=${open} onClick=${() => go(open ? "#/history" : `#/history/${number}`)}>Compare with now</button>
      ${mayEdit.value && html`<button type="button" class="button small" onClick=${back}>Go back to it</button>`}
    </div>
    ${open && h(Difference, { number })}
  </li>`;
}

/** @param {{number: number}} props */
function Difference({ number }) {
  const [found, setFound] = useState(/** @type {{same: boolean, lines: {text: string}[]} | null} */ (null));
  const [error, setError] = useState(/** @type {Error | null} */ (null));
  useEffect(() => {
    get(`/versions/${number}/difference?against=now`).then(setFound, setError);
  }, [number, job.value.value?.seq]);
  if (error) return html`<p role="alert">${error.message}</p>`;
  if (!found) return h(Loading, {});
  if (found.same) return html`<p>Nothing has changed since.</p>`;
  return html`<ul class="past-difference">${found.lines.map((line) => html`<li key=${line.text}>${kept(line.text)}</li>`)}</ul>`;
}
