/** Sound: will it sound right. What is wrong first, then each link from mouth to recorder, what goes together, timing. */
import { h, html } from "../lib/html.js";
import { counted, kept } from "../lib/format.js";
import { useResource } from "../lib/resource.js";
import { brief } from "../lib/state.js";
import { Empty, Failed, Loading, Page, Status } from "../parts/pieces.js";
import { Line } from "./sound/line.js";
import { Matrix } from "./sound/matrix.js";
import { ToFillIn, ToMend } from "./sound/mend.js";
import { STATES, bench, figure, links, setting, sound } from "./sound/model.js";
import { Ears, Times } from "./sound/times.js";
import { Trial } from "./sound/trial.js";

/** @param {{ rest: string[] }} props */
export default function Sound({ rest }) {
  const now = useResource(sound);
  useResource(bench);
  useResource(brief);
  if (!now) return sound.error.value ? h(Failed, { error: sound.error.value, onRetry: sound.refresh }) : h(Loading, {});
  if (now.document.links.length === 0) {
    const action = html`<a class="button primary" href="#/kit/link">Write down the links</a>`;
    return h(Page, { title: "Sound" }, h(Empty, { title: "There are no links yet", action }, "Here stands, for each link, which gain to set, what is left over the loudest moment, and what the 1 kHz tone must read on the way."));
  }
  const chosen = links.value.find((link) => link.id === rest[0]) ?? null;
  const shown = chosen ?? links.value[0];
  return h(
    Page,
    { title: "Sound", lead: lead(), wide: true },
    html`<div class=${chosen ? "sound sound-one" : "sound"}>
      <div class="sound-first">${h(ToMend, {})}<div>${h(ToFillIn, {})}</div></div>
      ${chosen && html`<a class="sound-back" href="#/sound">All links</a>`}
      <div class="sound-lines">${h(List, { shown: shown.id })}${h(Line, { key: shown.id, link: shown })}</div>
      ${h(Matrix, {})}
      ${h(Trial, { link: shown.id })}
      <div class="sound-rest">${h(Times, {})}${h(Ears, {})}</div>
    </div>`,
  );
}

/** What matters most, in a sentence. */
function lead() {
  const all = links.value;
  const of = (/** @type {string} */ state) => all.filter((link) => link.state === state).length;
  const [wrong, open, cautions] = [of("wrong"), of("open"), of("caution")];
  const parts = [];
  if (wrong > 0) parts.push(`${counted(wrong, "link")} will sound wrong`);
  if (open > 0) parts.push(`how ${open === all.length ? "any of them" : wrong > 0 ? `${open} others` : counted(open, "link")} will sound cannot be told yet`);
  if (parts.length === 0) parts.push(`${all.length === 1 ? "The link fits" : `All ${all.length} links fit`} from mouth to recorder${cautions > 0 ? `, ${cautions} with a caution` : ""}`);
  const text = parts.join("; ");
  return kept(`${text[0].toUpperCase()}${text.slice(1)}.`);
}

/** @param {{ shown: string }} props */
function List({ shown }) {
  return html`<nav class="sound-list" aria-label="Links">
    <ul>
      ${links.value.map((link) => {
        const way = link.ways[0];
        const gain = way?.settings.find((one) => one.what === "transmitter gain");
        const { word, status } = STATES[link.state];
        const db = gain ? (gain.stated ? gain.value_db : (gain.recommended_db ?? null)) : null;
        return html`<li key=${link.id}>
          <a href=${`#/sound/${encodeURIComponent(link.id)}`} aria-current=${link.id === shown ? "true" : undefined}>
            <span class="sound-who"><b>${link.id}</b> ${link.name !== link.id && html`<bdi>${link.name}</bdi>`}</span>
            <span class="sound-list-gain">${db === null ? html`<span class="none">no gain</span>` : html`<b>${setting(db)}</b><span class="unit"> dB</span>`}</span>
            <span class="sound-list-state">${h(Status, { state: status }, word)}${way && way.headroom_db !== null && html`<span class="soft">${figure(way.headroom_db)} dB left</span>`}</span>
          </a>
        </li>`;
      })}
    </ul>
  </nav>`;
}
