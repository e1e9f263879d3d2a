/** Before and after, by ear: one player, and a field for each sound, which goes on where the one before it was. */
import { h, html, useEffect, useRef, useState } from "../../lib/html.js";
import { kept } from "../../lib/format.js";
import { figure } from "./model.js";

/** @typedef {import("../../api").HeardFile} HeardFile */

/** Sound starts low: noise and crackle jump. */
const VOLUME = 0.25;
/** @type {{ [level: string]: string }} */
const LEVELS = { near: "near", far: "far", limit: "limit of FM" };

/** @param {{ tried: import("../../api").Tried }} props */
export function Players({ tried }) {
  const { files, document, run } = tried;
  const player = useRef(/** @type {HTMLAudioElement | null} */ (null));
  const [chosen, setChosen] = useState("sent");
  useEffect(() => {
    if (player.current) player.current.volume = VOLUME;
  }, []);
  if (files.length === 0) return null;
  const src = (/** @type {string} */ name) => `/api/sound/compare/wav/${encodeURIComponent(name)}?run=${encodeURIComponent(run)}`;
  const choose = (/** @type {string} */ name) => {
    const audio = player.current;
    setChosen(name);
    if (!audio) return;
    const at = name === chosen && audio.ended ? 0 : audio.currentTime;
    if (name !== chosen) audio.src = src(name);
    audio.currentTime = at;
    void audio.play().catch(() => {}); // somebody pressed another one meanwhile
  };
  const levels = [...new Set(document.cases.map((one) => one.level))];
  const of = new Map(files.map((file) => [`${file.kind} ${file.level}`, file]));
  const error = new Map(document.cases.map((one) => [`${one.kind} ${one.level}`, one.error_468_db]));
  const now = files.find((file) => file.name === chosen);
  return html`<div class="sound-players">
    <ul class="sound-cautions">${document.cautions.map((text) => html`<li key=${text} class="caution-note">${kept(text)}</li>`)}</ul>
    <div class="sound-player">
      <button type="button" class="button sound-play" aria-pressed=${chosen === "sent"} onClick=${() => choose("sent")}>${h(Play, {})}Before: as sent</button>
      <audio ref=${player} controls preload="none" src=${src("sent")} aria-label=${now ? heard(now) : "Sound"}></audio>
      <p class="soft" role="status">${now ? heard(now) : ""}</p>
    </div>
    <table class="list keep sound-after">
      <caption class="unseen">After: each kind at each level, to listen to, with its weighted error in dB</caption>
      <thead><tr><th scope="col">After, by weighted error</th>${levels.map((level) => html`<th key=${level} scope="col">${LEVELS[level] ?? level}</th>`)}</tr></thead>
      <tbody>
        ${document.kinds.map(
          (kind) => html`<tr key=${kind.name} class=${kind.name === document.found?.kind ? "chosen" : ""}>
            <th scope="row">${kind.name}${kind.name === document.found?.kind && html` <small>found</small>`}</th>
            ${levels.map((level) => {
              const file = of.get(`${kind.name} ${level}`);
              const db = error.get(`${kind.name} ${level}`);
              return html`<td key=${level}>${file ? html`<button type="button" class="button sound-play" aria-pressed=${chosen === file.name} onClick=${() => choose(file.name)}>${h(Play, {})}<span class="unseen">Listen to ${heard(file)}; weighted error </span>${figure(db)}<span class="unit">dB</span></button>` : html`<span class="none">${figure(db)} dB</span>`}</td>`;
            })}
          </tr>`,
        )}
      </tbody>
    </table>
  </div>`;
}

const Play = () => html`<svg class="sound-arrow" viewBox="0 0 10 12" aria-hidden="true" focusable="false"><path d="M0 0l10 6-10 6z" /></svg>`;

/** @param {HeardFile} file @returns {string} */
function heard(file) {
  const lowered = file.lowered_db >= 0.05 ? `, lowered by ${figure(file.lowered_db)} dB` : "";
  return file.kind === null ? "As it was sent" : `${file.kind}, ${LEVELS[file.level ?? ""] ?? file.level}${lowered}`;
}
