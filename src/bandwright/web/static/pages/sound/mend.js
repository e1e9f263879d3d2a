/** What is wrong and how it is mended, and what cannot be told with the cells where it is filled in. */
import { h, html } from "../../lib/html.js";
import { kept } from "../../lib/format.js";
import { heading } from "../../lib/kinds.js";
import { entriesOf } from "../../lib/state.js";
import { Mark } from "../../parts/pieces.js";
import { cellFor, lacks } from "../reach/model.js";
import { called, links, sound, troubles } from "./model.js";

/** @typedef {import("../../api").GapModel} Gap */

const MOST = 6;

export function ToMend() {
  const wrong = troubles("wrong");
  const clocks = (sound.value.value?.document.clocks ?? []).filter((clock) => clock.one === false);
  if (wrong.length + clocks.length === 0) return null;
  return html`<section class="sound-mend" aria-labelledby="sound-mend">
    <h2 id="sound-mend">To mend</h2>
    <ul>
      ${wrong.map(
        (trouble) => html`<li key=${trouble.text}>
          ${h(Mark, { shape: "blocked" })}
          <p><b>${h(Names, { links: trouble.links })}</b> ${kept(trouble.text)}${trouble.basis === "common practice" && html` <span class="none">(common practice)</span>`} ${h(Where, { code: trouble.code, link: trouble.links[0] })}</p>
        </li>`,
      )}
      ${clocks.map((clock) => html`<li key=${clock.device}>${h(Mark, { shape: "blocked" })}<p><b>${clock.device}</b> Two clocks meet in it: ${clock.masters.map((master) => `${master.clock ?? "nobody says which"} (${master.links.join(", ")})`).join(" and ")}. One master, or a converter of rates. <a href="#/kit/feed">Outputs and inputs</a></p></li>`)}
    </ul>
  </section>`;
}

/** @param {{ links: import("./model.js").Link[] }} props */
function Names({ links: some }) {
  const first = some.slice(0, MOST);
  return html`${first.map((link, at) => html`${at > 0 && ", "}<a key=${link.id} href=${`#/sound/${encodeURIComponent(link.id)}`}>${some.length > 2 ? link.id : called(link)}</a>`)}${some.length > MOST && ` and ${some.length - MOST} more`}:`;
}

/** Which cell mends it, by what the remark is about: of the link, of its radio type, or of the input it goes to. @type {{ [code: string]: [string, string] }} */
const CELLS = {
  pairing: ["link", "receiver_companding"],
  "no-such-setting": ["link", "gain_db"],
  plug: ["feed", "input"],
  clips: ["feed", "pad_db"],
  hot: ["feed", "pad_db"],
  powering: ["microphone", "needs"],
  phantom: ["feed", "phantom"],
};

/** @param {{ code: string, link: import("./model.js").Link }} props */
function Where({ code, link }) {
  const [table, key] = CELLS[code] ?? ["link", "radio"];
  const [way] = link.ways;
  const id = { link: link.id, feed: way?.feed, microphone: way?.microphone }[table];
  return id && html`<a href=${cellFor({ table, id, key, meanwhile: null }).href}>Go to the cell “${heading(key)}”</a>`;
}

/** Facts without which links cannot be told. */
export function ToFillIn() {
  const open = links.value.filter((link) => link.state === "open");
  const blocking = lacks(open.flatMap((link) => link.missing.filter((gap) => gap.meanwhile === null)));
  const known = new Set(blocking.map((lack) => `${lack.table} ${lack.key}`));
  const clocks = sound.value.value?.document.clocks ?? [];
  const every = lacks([...links.value.flatMap((link) => link.missing), ...clocks.flatMap((clock) => clock.missing)]);
  const more = every.filter((lack) => !known.has(`${lack.table} ${lack.key}`));
  return html`${blocking.length > 0 &&
    html`<section class="sound-fill" aria-labelledby="sound-fill">
      <h2 id="sound-fill">To fill in</h2>
      <p class="soft">Without these it cannot be told how ${open.length > MOST ? `${open.length} links` : open.map((link) => link.id).join(", ")} will sound.</p>
      ${h(List, { lacks: blocking })}
    </section>`}
  ${more.length > 0 && html`<details class="sound-fill"><summary>What else would tell more (${more.length})</summary>${h(List, { lacks: more })}</details>`}`;
}

/** Facts without which one link cannot be told. @param {{ link: import("./model.js").Link }} props */
export function MissingOf({ link }) {
  const blocking = lacks(link.missing.filter((gap) => gap.meanwhile === null));
  return blocking.length > 0 && html`<div class="sound-fill"><h3>To fill in first</h3>${h(List, { lacks: blocking })}</div>`;
}

/** What a fact is called where its heading says too little beside "of". @type {{ [key: string]: string }} */
const FACTS = { for: "Where the output goes", audio: "Inputs, outputs and noise", "audio.gains": "Gain settings" };
const factName = (/** @type {string} */ key) => FACTS[key] ?? heading(key.replace("audio.", ""));

/** @param {{ lacks: import("../reach/model.js").Lack[] }} props */
function List({ lacks: all }) {
  return html`<ul>
    ${all.map(
      (lack) => html`<li key=${lack.table + lack.key}>
        <b>${factName(lack.key)}</b> of
        ${lack.gaps.slice(0, MOST).map((gap, at) => html`${at > 0 ? ", " : " "}<a key=${gap.id} href=${href(gap)} aria-label=${`${heading(lack.key)} of ${gap.id}: fill it in`}>${gap.id}</a>`)}${lack.gaps.length > MOST && ` and ${lack.gaps.length - MOST} more`}
        ${lack.meanwhile && html`<span class="soft">; until then ${kept(lack.meanwhile)}</span>`}
      </li>`,
    )}
  </ul>`;
}

/** The cell of a fact; "for" of a feed is told by the link that no feed names. @param {Gap} gap */
function href(gap) {
  if (gap.table === "feed" && !entriesOf("feed").some((entry) => entry.id === gap.id)) return "#/kit/feed";
  return cellFor({ ...gap, key: gap.key.split(/[.:]/)[0] }).href;
}
