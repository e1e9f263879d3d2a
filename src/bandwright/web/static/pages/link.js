/** One link in the largest type: to be held up, read out, and ticked. */
import { h, html } from "../lib/html.js";
import { kept, moment } from "../lib/format.js";
import { cards } from "../lib/link_cards.js";
import { useResource } from "../lib/resource.js";
import { shownText } from "../lib/cell_text.js";
import { brief, entriesOf, mayEdit, plan, readiness } from "../lib/state.js";
import { TICKS, isTicked, takeBack, tickLink } from "../lib/ticks.js";
import { Empty, Failed, Loading } from "../parts/empty.js";
import { Facts } from "../parts/facts.js";
import { Carrier } from "../parts/figure.js";
import { Notes } from "../parts/notes.js";
import { Page } from "../parts/page.js";
import { Status } from "../parts/status.js";
import { TickBox } from "../parts/tick_box.js";

/** @typedef {import("../lib/link_cards.js").Card} Card */
/** @typedef {import("../lib/types.js").LinkLine} LinkLine */

/** @param {{ rest: string[] }} props */
export default function Link({ rest }) {
  const now = useResource(readiness);
  const whole = useResource(brief);
  const known = /** @type {any} */ (useResource(plan));
  const failed = brief.error.value ?? readiness.error.value;
  if (!whole || !now) return failed ? h(Failed, { error: failed, onRetry: readiness.refresh }) : h(Loading, {});
  const all = cards(now.links.all, known?.document);
  const at = all.findIndex((one) => one.link.uid === rest[0]);
  if (at < 0) return h(Page, { title: "Link" }, h(Empty, { title: "This link is gone", action: html`<a class="button" href="#/links">All links</a>` }));
  const card = all[at];
  const { link } = card;
  return html`<article class="page one-link">
    <header class="one-head">
      <p><b>${link.id}</b>${card.value.hold_mhz !== undefined && html`<span class="held">held</span>`}</p>
      <h1 tabindex="-1"><bdi>${card.name || link.id}</bdi></h1>
    </header>
    ${h(Carrier, { hz: link.carrier_hz, size: "huge" })}
    ${link.carrier_hz === null ? html`<p class="lead">${reasons(known?.document, link.id)}</p>` : h(Placed, { card, texts: known?.texts?.[link.id] })}
    ${h(Facts, { large: true, facts: facts(card, known?.document) })}
    <section class="one-notes">
      <h2>Notes</h2>
      ${h(Notes, { about: link.uid, empty: "Nothing noted about this link." })}
    </section>
    ${inEars(card) && html`<p class="caution-note">In-ear levels can harm hearing: start low. Never retune or switch a transmitter that is in somebody’s ears.</p>`}
    ${h(Neighbours, { before: all[at - 1]?.link, after: all[at + 1]?.link })}
  </article>`;
}

/** @param {{ card: Card, texts: { closest: string, noise: string, cautions: string[] } | undefined }} props */
function Placed({ card, texts }) {
  return html`<div class="standing">
      <p>${h(Status, { state: card.link.status ?? "clear" })}</p>
      ${texts?.cautions?.map((text) => html`<p key=${text}>${kept(text)}</p>`)}
      ${texts?.closest && html`<p class="soft">${kept(texts.closest)}</p>`}
    </div>
    ${h(Ticks, { card })}`;
}

/** @param {any} document @param {string} id @returns {string} why it has no carrier */
function reasons(document, id) {
  const unplaced = document?.unplaced?.find((/** @type {any} */ link) => link.id === id);
  return unplaced ? unplaced.reasons.map((/** @type {any} */ reason) => kept(reason.text)).join(" ") : "There is no plan with this link yet.";
}

/** @param {{ card: Card }} props */
function Ticks({ card: { link, name } }) {
  return html`<ul class="one-ticks">
    ${TICKS.map(({ tick, word }) => {
      const said = link.ticks[tick];
      const ticked = isTicked(link, tick);
      const run = () => (said ? takeBack(said.uid) : tickLink(link, tick));
      return html`<li key=${tick}>
        ${h(TickBox, { word, about: `${link.id} ${name}`, ticked, large: true, disabled: !mayEdit.value || (ticked && !said), onTick: run })}
        <span class="soft">${said ? `${said.who}, ${moment(said.at)}` : ""}</span>
      </li>`;
    })}
  </ul>`;
}

/** @param {Card} card @param {any} document @returns {import("../parts/facts.js").Fact[]} */
function facts(card, document) {
  const { value, planned } = card;
  const spares = (document?.spares ?? []).filter((/** @type {any} */ spare) => spare.radio === value.radio);
  return [
    { term: "Role", value: value.role },
    { term: "Preset", value: planned?.preset },
    { term: "Radio", value: value.radio },
    { term: "Power", value: card.power },
    { term: "Worn", value: value.worn },
    { term: "TV channel", value: planned?.tv_channel },
    { term: "Receiver", value: value.receiver ?? value.unit },
    { term: "Antenna", value: value.antenna },
    { term: "Rack", value: value.rack },
    { term: "Desk input", value: value.desk_input },
    { term: "On the air", value: shownText(value.on_air) },
    { term: "Permit", value: planned?.permit },
    { term: "Spare carriers of its type", value: spares.map((/** @type {any} */ spare) => spare.carrier_mhz).join(", ") },
    { term: "Note", value: value.note },
  ];
}

/** @param {Card} card */
const inEars = (card) => entriesOf("radio").some((radio) => radio.id === card.value.radio?.split("/")[0] && radio.value.direction === "to-person");

/** @param {{ before: LinkLine | undefined, after: LinkLine | undefined }} props */
function Neighbours({ before, after }) {
  return html`<nav class="neighbours" aria-label="Other links">
    ${before ? html`<a class="button" href=${`#/link/${before.uid}`}>← ${before.id}</a>` : html`<span></span>`}
    <a class="button quiet" href="#/links">All links</a>
    ${after ? html`<a class="button" href=${`#/link/${after.uid}`}>${after.id} →</a>` : html`<span></span>`}
  </nav>`;
}
