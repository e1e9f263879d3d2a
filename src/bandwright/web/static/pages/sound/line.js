/** The line-up of one link: what to set, what is left over and under it, and its levels from mouth to recorder. */
import { h, html, useState } from "../../lib/html.js";
import { kept, unit } from "../../lib/format.js";
import { entriesOf } from "../../lib/state.js";
import { LineUp } from "../../chart/lineup.js";
import { Facts, Help, Mark, Status } from "../../parts/pieces.js";
import { MissingOf } from "./mend.js";
import { MATCHES, STATES, called, figure, setting, unitOf } from "./model.js";

/** @typedef {import("./model.js").Link} Link */
/** @typedef {import("./model.js").Way} Way */

/** @param {{ link: Link }} props */
export function Line({ link }) {
  const [at, setAt] = useState(0);
  const way = link.ways[Math.min(at, link.ways.length - 1)];
  const { word, status } = STATES[link.state];
  return html`<section class="sound-line" aria-labelledby="sound-line">
    <header>
      <h2 id="sound-line"><b>${link.id}</b> ${link.name !== link.id && html`<bdi>${link.name}</bdi>`}</h2>
      <p>${h(Status, { state: status }, word)} <span class="soft">${roadOf(link, way)}</span></p>
    </header>
    ${link.ways.length > 1 &&
    html`<div class="switch" role="radiogroup" aria-label="Where its output goes">
      ${link.ways.map((one, i) => html`<label key=${i}><input type="radio" name="sound-way" checked=${i === at} onChange=${() => setAt(i)} /><span>${nameOf("feed", one.feed) ?? "nowhere that is stated"}</span></label>`)}
    </div>`}
    ${link.state === "open" && h(MissingOf, { link })}
    ${way && html`${h(Settings, { way })}${h(Margins, { way })}${h(LineUp, { points: way.points, label: `Levels of ${called(link)}, point by point`, figure, unitOf })}
      <p class="lineup-key soft" aria-hidden="true" hidden=${way.points.every((point) => point.peak === null)}><span class="key-noise">noise</span><span class="key-core">quietest to loudest</span><span class="key-peak">peaks over it</span><span class="key-clip">clips</span><span class="key-tone">1 kHz tone</span><span>dB against full deviation, or full scale</span></p>
      ${h(Remarks, { way, link })}`}
  </section>`;
}

/** @param {string} kind @param {string | null} id @returns {string | null} what an entry is called */
export function nameOf(kind, id) {
  if (id === null) return null;
  return entriesOf(kind).find((entry) => entry.id === id)?.value.name ?? id;
}

/** @param {Link} link @param {Way | undefined} way */
function roadOf(link, way) {
  const from = nameOf("source", way?.source ?? null);
  const to = nameOf("feed", way?.feed ?? null);
  return [from ?? "source not stated", nameOf("radio", link.radio) ?? link.radio, to ?? "goes nowhere that is stated"].join(" → ");
}

/** @type {{ [what: string]: string }} */
const WHAT = {
  "transmitter gain": "The highest setting of the transmitter that leaves the headroom asked for over the loudest peak.",
  "receiver output": "Set so that full deviation reads at most 0 dBFS at the next device: whatever the transmitter lets through, that cannot clip. Common practice.",
  "input trim": "The next device’s own gain; set together with the receiver’s output.",
};

/** @param {{ way: Way }} props */
function Settings({ way }) {
  if (way.settings.length === 0) return null;
  return html`<dl class="sound-settings">
    ${way.settings.map((one) => {
      const better = one.stated && one.recommended_db !== null && one.recommended_db !== one.value_db;
      const fixed = one.step_db === null;
      return html`<div key=${one.what} class=${one.what === "transmitter gain" ? "sound-gain" : ""}>
        <dt>${one.what}${WHAT[one.what] && h(Help, { about: one.what, text: WHAT[one.what] })}</dt>
        <dd>
          <b>${setting(one.stated ? one.value_db : (one.recommended_db ?? one.value_db))}</b><span class="unit"> dB</span>
          <small>${better ? html`${h(Mark, { shape: "caution" })} set; ${setting(one.recommended_db)} dB suits better` : one.stated ? "set, and it suits" : fixed ? "no control stated" : `recommended; steps of ${figure(one.step_db, 0)} dB`}</small>
        </dd>
      </div>`;
    })}
  </dl>`;
}

/** @param {{ way: Way }} props */
function Margins({ way }) {
  const first = way.points.find((point) => point.where === way.clips_first);
  const low = way.headroom_db !== null && way.headroom_db < 0;
  const last = way.points.at(-1);
  return h(Facts, {
    facts: [
      { term: "Headroom over the loudest peak", strong: true, value: way.headroom_db === null ? "not known" : html`${low && h(Mark, { shape: "blocked" })} ${unit(figure(way.headroom_db), "dB")}`, help: "By how much the source could still rise before something clips." },
      first && { term: "Clips first", value: first.name },
      { term: "Quietest over the noise", strong: true, value: way.over_noise_db === null ? "not known" : unit(figure(way.over_noise_db), "dB"), help: "The quietest that counts against all noise of the way, added up by power. Under 20 dB it is told as a caution." },
      way.tone_dbfs !== null && last && { term: `Tone on ${last.name}`, strong: true, value: unit(figure(way.tone_dbfs), "dBFS") },
      { term: "Arrives after", value: way.arrival.total_ms === null ? "not known" : unit(figure(way.arrival.total_ms, 2), "ms"), help: "Air from the source to the microphone, what is before the transmitter, the link itself, and what lies behind it." },
      { term: "Polarity", value: way.inverts === null ? "not known" : way.inverts ? "turned over" : "kept" },
    ],
  });
}

/** @param {{ way: Way, link: Link }} props */
function Remarks({ way, link }) {
  const pair = link.pairing;
  const { word, status } = MATCHES[pair.match];
  const shape = (/** @type {string} */ grade) => (grade === "wrong" ? "blocked" : grade === "caution" ? "caution" : "stated");
  return html`<ul class="sound-remarks">
    ${way.remarks.map((one) => html`<li key=${one.text}>${h(Mark, { shape: shape(one.grade) })}<p>${one.grade !== "note" && html`<span class="unseen">${one.grade}: </span>`}${kept(one.text)}${one.basis === "common practice" && html` <span class="none">(common practice)</span>`}</p></li>`)}
    <li>${h(Mark, { shape: status === "fine" ? "fine" : status === "blocked" ? "blocked" : status === "caution" ? "caution" : "unknown" })}<p>Companding: both ends ${word === "same" ? "the same" : word} (${pair.transmitter.about}).${pair.fix && ` ${pair.fix[0].toUpperCase()}${pair.fix.slice(1)}.`}</p></li>
  </ul>`;
}
