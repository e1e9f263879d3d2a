/** Kinds of companding tried with a sound: what to try, how far it is, what was found by which numbers, and players. */
import { h, html, useRef, useState } from "../../lib/html.js";
import { attempt } from "../../lib/attempt.js";
import { request } from "../../lib/api.js";
import { kept, moment, unit } from "../../lib/format.js";
import { mayEdit } from "../../lib/state.js";
import { Help, Mark, Running } from "../../parts/pieces.js";
import { Players } from "./players.js";
import { bench, called, figure, links, running, sound } from "./model.js";

/** @typedef {import("../../api").SoundCompareDocument} Comparison */

const OURS = [
  ["", "like its source"],
  ["speech", "speech"],
  ["sung", "sung"],
  ["keys", "keys jangling"],
  ["clapper", "clapper"],
];

/** @param {{ link: string | null }} props  the link that is looked at */
export function Trial({ link }) {
  const state = running.value;
  const going = state?.state === "running";
  const known = bench.value.value;
  return html`<section class="sound-trial" aria-labelledby="sound-trial">
    <h2 id="sound-trial">Hear what companding does</h2>
    <p class="soft">Takes the kinds that a radio type can be set to through a simulated link, near, far and at the limit of FM, and says which carries the sound with the least error. Files stay in this computer’s memory.</p>
    ${mayEdit.value && h(Ask, { link, busy: going })}
    ${going && state && h(Running, { text: kept(state.text || "Getting ready"), share: state.share, cancelLabel: "Stop", onCancel: () => attempt(request("POST", "/sound/compare/cancel")) })}
    ${!going && state && state.state !== "done" && html`<p role="status">${h(Mark, { shape: state.state === "cancelled" ? "unknown" : "blocked" })} ${kept(state.text)}</p>`}
    ${known?.tried ? h(Found, { key: known.tried.run, tried: known.tried }) : !going && html`<p class="none">Nothing has been tried yet.</p>`}
  </section>`;
}

/** @param {{ link: string | null, busy: boolean }} props */
function Ask({ link, busy }) {
  const able = (sound.value.value?.comparable ?? []).filter((one) => one.why_not === null);
  const own = bench.value.value?.recording ?? null;
  const subjects = [...links.value.filter((one) => able.some((radio) => radio.radio === one.radio)).map((one) => ({ value: `link ${one.id}`, words: called(one) })), ...able.map((one) => ({ value: `radio ${one.radio}`, words: `radio type ${one.radio}` }))];
  const [chosen, setChosen] = useState("");
  const [what, setWhat] = useState("");
  const [walking, setWalking] = useState(false);
  const subject = subjects.find((one) => one.value === (chosen || `link ${link}`)) ?? subjects[0];
  if (!subject) return h(Unable, {});
  const start = (/** @type {Event} */ event) => {
    event.preventDefault();
    const at = subject.value.indexOf(" ");
    const body = { [subject.value.slice(0, at)]: subject.value.slice(at + 1), sound: what || null, walking };
    void attempt(request("POST", "/sound/compare", { body }));
  };
  return html`<form class="sound-ask" onSubmit=${start}>
    <label class="field"><span>Link or radio type</span><select value=${subject.value} onChange=${(/** @type {any} */ e) => setChosen(e.target.value)}>${subjects.map((one) => html`<option key=${one.value} value=${one.value}>${one.words}</option>`)}</select></label>
    <label class="field"><span>Sound</span><select value=${what} onChange=${(/** @type {any} */ e) => setWhat(e.target.value)}>${OURS.map(([value, words]) => html`<option key=${value} value=${value}>${words}</option>`)}${own && html`<option value="file">${own.name}</option>`}</select></label>
    ${h(OwnFile, { onKept: () => setWhat("file") })}
    <label class="check"><input type="checkbox" checked=${walking} onChange=${() => setWalking(!walking)} /><span>fading as while somebody walks</span></label>
    <button type="submit" class="button primary" disabled=${busy}>Try the kinds</button>
  </form>`;
}

/** Why nothing can be tried, and where that is mended. */
function Unable() {
  const all = sound.value.value?.comparable ?? [];
  return html`<p>Nothing can be tried yet: ${all.map((one) => one.why_not).join("; ")}. <a href="#/kit/radio">State the companding of a radio type</a></p>`;
}

/** Somebody's own recording. @param {{ onKept: () => void }} props */
function OwnFile({ onKept }) {
  const input = useRef(/** @type {HTMLInputElement | null} */ (null));
  const [reading, setReading] = useState(false);
  const taken = async (/** @type {Event} */ event) => {
    const target = /** @type {HTMLInputElement} */ (event.target);
    const file = target.files?.[0];
    target.value = "";
    if (!file) return;
    setReading(true);
    const query = new URLSearchParams({ name: file.name });
    if (await attempt(request("POST", `/sound/recording?${query}`, { raw: file }), `${file.name} is ready; its first 30 s count.`)) {
      await bench.refresh();
      onKept();
    }
    setReading(false);
  };
  return html`<div><button type="button" class="button" disabled=${reading} onClick=${() => input.current?.click()}>${reading ? "Reading…" : "A WAV of your own…"}</button><input ref=${input} class="unseen" type="file" accept=".wav,audio/wav" tabindex="-1" aria-label="A WAV of your own" onChange=${taken} /></div>`;
}

/** @param {{ tried: import("../../api").Tried }} props */
function Found({ tried }) {
  const { document } = tried;
  const { found } = document;
  if (!found) return null;
  const subject = document.link ?? document.radio;
  const what = document.sound.file ?? document.sound.what;
  const rest = found.decided_by === "rest_468_db";
  const alike = found.alike.filter((name) => name !== found.kind);
  const number = rest ? "noise at rest" : "weighted error";
  return html`<div class="sound-found">
    ${tried.stale && html`<p>${h(Mark, { shape: "caution" })} ${kept(tried.stale)}</p>`}
    <p class="sound-verdict">
      Found among ${document.kinds.length} for ${subject}, ${what}: <b>${found.kind}</b>
    </p>
    <p>
      Decided by the ${number}${h(Help, { about: number, text: rest ? "Noise in silence against full modulation, weighted as Rec. ITU-R BS.468 weights it: it decides between kinds whose errors are within 1 dB." : "What came out less what went in, against the sound, weighted as Rec. ITU-R BS.468 weights noise. The kind with the least at its worst level is found." })}: <b>${unit(figure(found.value_db), "dB")}</b> ${rest ? "" : `at the level “${found.level}”`}${found.next !== null && found.next_db !== null ? html`; next is ${found.next} with ${unit(figure(found.next_db), "dB")}` : ""}${found.margin_db !== null ? html`: a margin of <b>${unit(figure(found.margin_db), "dB")}</b>` : ""}.
      ${alike.length > 0 && ` Within 1 dB of it: ${alike.join(", ")}.`}
      <span class="none"> ${moment(tried.ended)}</span>
    </p>
    ${h(Players, { tried })}
    ${h(Numbers, { document })}
  </div>`;
}

/** Axes that nobody stated, in words. @type {{ [axis: string]: string }} */
const ASSUMED = { bands: "one band", peak_deviation_hz: "peak deviation, a quarter of the bandwidth", detector: "an rms detector", attack_ms: "5 ms attack", release_ms: "100 ms release", preemphasis_us: "50 µs pre-emphasis" };

/** @param {{ document: Comparison }} props */
function Numbers({ document }) {
  return html`<details><summary>All numbers, and what was assumed</summary>
    <div class="scroller" tabindex="0" role="region" aria-label="All numbers of the comparison">
      <table class="list keep sound-numbers">
        <thead><tr><th scope="col">Kind</th><th scope="col">Level</th><th scope="col" class="number">C/N, dB</th><th scope="col" class="number">Error, dB</th><th scope="col" class="number">Error 468, dB</th><th scope="col" class="number">Clean, dB</th><th scope="col" class="number">At rest 468, dB</th><th scope="col" class="number">Rises behind a tone, dB</th><th scope="col" class="number">Burst lost, dB</th><th scope="col" class="number">Limited, %</th></tr></thead>
        <tbody>
          ${document.cases.map(
            (one) => html`<tr key=${one.kind + one.level}>
              <th scope="row">${one.kind}</th><td>${one.level}</td><td class="number">${one.cn_db === null ? "none" : figure(one.cn_db)}</td><td class="number">${figure(one.error_db)}</td><td class="number">${figure(one.error_468_db)}</td><td class="number">${figure(one.tracking_468_db)}</td><td class="number">${figure(one.noise.rest_468_db)}</td><td class="number">${figure(one.noise.rise_db)}</td><td class="number">${figure(one.burst.error_db)}</td><td class="number">${figure(Number(one.limited_percent), 2)}</td>
            </tr>`,
          )}
        </tbody>
      </table>
    </div>
    <ul class="sound-kinds">${document.kinds.map((kind) => html`<li key=${kind.name}><b>${kind.name}</b>: ${kept(kind.words)}${kind.assumed.length > 0 && html`<span class="soft">; assumed by common practice: ${kind.assumed.map((name) => ASSUMED[name] ?? name.replaceAll("_", " ")).join(", ")}</span>`}</li>`)}</ul>
  </details>`;
}
