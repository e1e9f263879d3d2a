/** Notes about one thing: what was written, by whom and when; written, changed and taken away where they stand. */
import { h, html, useState } from "../lib/html.js";
import { moment } from "../lib/format.js";
import { addNote, notes, notesAbout, notesWaiting, removeNote, setNote } from "../lib/notes.js";
import { useResource } from "../lib/resource.js";
import { mayEdit } from "../lib/state.js";

/** @typedef {import("../lib/notes.js").Note} Note */

const LONGEST = 2000;

/** @param {{ about: string | null, empty: string }} props  `about`: uid of a link, null for the whole job; `empty`: said where there are none */
export function Notes({ about, empty }) {
  const known = useResource(notes);
  const [writing, setWriting] = useState(false);
  if (!known) return null;
  const all = notesAbout(about);
  const waiting = notesWaiting.value.filter((note) => note.about === about);
  const write = (/** @type {string} */ text) => {
    setWriting(false);
    if (text) void addNote(text, about);
  };
  return html`<div class="notes">
    ${all.length + waiting.length > 0
      ? html`<ul>
          ${all.map((note) => h(OneNote, { key: note.uid, note }))}
          ${waiting.map((note) => html`<li key=${note.key} class="note-waiting"><p class="note-text">${note.text}</p><p class="soft">not saved yet</p></li>`)}
        </ul>`
      : !writing && html`<p class="soft">${empty}</p>`}
    ${mayEdit.value && (writing ? h(NoteForm, { text: "", label: "The note", yes: "Keep it", onDone: write }) : html`<button type="button" class="button small" onClick=${() => setWriting(true)}>Write a note</button>`)}
  </div>`;
}

/** @param {{ note: Note, subject?: any }} props  `subject`: what it is about, where that is not plain from the place */
export function OneNote({ note, subject }) {
  const [editing, setEditing] = useState(/** @type {{ text: string, base: number, clash?: { theirs: string | null, by: string } } | null} */ (null));
  const change = async (/** @type {string} */ text) => {
    const base = editing?.base ?? note.revision;
    setEditing(null);
    if (!text || text === note.text) return;
    const clash = await setNote(note, text, base);
    const now = notes.value.peek()?.notes.find((one) => one.uid === note.uid);
    if (clash) setEditing({ text, base: now?.revision ?? base, clash });
  };
  if (editing) {
    return html`<li>
      ${editing.clash && html`<p class="cell-note" role="alert">${editing.clash.by} ${editing.clash.theirs === null ? "took this note away while you were writing." : html`wrote meanwhile: “${editing.clash.theirs}”`}</p>`}
      ${h(NoteForm, { text: editing.text, label: "The note", yes: editing.clash ? "Put mine" : "Keep it", onDone: change })}
    </li>`;
  }
  return html`<li>
    ${subject && html`<p class="note-subject">${subject}</p>`}
    <p class="note-text"><bdi>${note.text}</bdi></p>
    <div class="note-foot">
      <span class="soft">${note.who}, ${moment(note.at)}</span>
      ${mayEdit.value &&
      html`<button type="button" class="button quiet small" aria-label=${`Change: ${start(note.text)}`} onClick=${() => setEditing({ text: note.text, base: note.revision })}>Change</button>
        <button type="button" class="button quiet small" aria-label=${`Remove: ${start(note.text)}`} onClick=${() => removeNote(note)}>Remove</button>`}
    </div>
  </li>`;
}

/** @param {string} text @returns {string} its beginning, for somebody who only hears the button */
const start = (text) => (text.length > 40 ? `${text.slice(0, 40)}…` : text);

/** @param {{ text: string, label: string, yes: string, onDone: (text: string) => void }} props  an empty text leaves all as it was */
function NoteForm({ text, label, yes, onDone }) {
  const [given, setGiven] = useState(text);
  const submit = (/** @type {Event} */ event) => {
    event.preventDefault();
    onDone(given.trim());
  };
  const pressed = (/** @type {KeyboardEvent} */ event) => {
    if (event.key === "Escape") onDone("");
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) submit(event);
  };
  return html`<form class="note-form" onSubmit=${submit}>
    <label class="field"><span class="unseen">${label}</span><textarea rows="3" maxlength=${LONGEST} value=${given} ref=${focused} onInput=${(/** @type {any} */ event) => setGiven(event.target.value)} onKeyDown=${pressed}></textarea></label>
    <div class="actions"><button class="button small" disabled=${!given.trim()}>${yes}</button><button type="button" class="button quiet small" onClick=${() => onDone("")}>Leave it</button></div>
  </form>`;
}

/** @param {HTMLElement | null} element */
const focused = (element) => element && !element.closest("form")?.contains(document.activeElement) && element.focus();
