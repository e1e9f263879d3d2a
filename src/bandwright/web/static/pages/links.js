/** Links as cards, for a phone in the hand: who, on which carrier, and what is to be ticked next. */
import { h, html, useState } from "../lib/html.js";
import { useResource } from "../lib/resource.js";
import { cards } from "../lib/link_cards.js";
import { brief, mayEdit, plan, readiness } from "../lib/state.js";
import { TICKS, isTicked, nextTick, tickLink } from "../lib/ticks.js";
import { Empty, Failed, Loading } from "../parts/empty.js";
import { Carrier } from "../parts/figure.js";
import { Page } from "../parts/page.js";
import { Status } from "../parts/status.js";
import { TickBox } from "../parts/tick_box.js";

export default function Links() {
  const [sought, setSought] = useState("");
  const [open, setOpen] = useState(false);
  const now = useResource(readiness);
  const whole = useResource(brief);
  const document = /** @type {any} */ (useResource(plan))?.document;
  const failed = brief.error.value ?? readiness.error.value;
  if (!whole || !now) return failed ? h(Failed, { error: failed, onRetry: readiness.refresh }) : h(Loading, {});
  const all = cards(now.links.all, document);
  const shown = all.filter((card) => card.words.includes(sought.trim().toLowerCase()) && !(open && nextTick(card.link) === null));
  if (all.length === 0) return h(Page, { title: "Links" }, h(Empty, { title: "No links yet", action: html`<a class="button" href="#/kit/link">Write down the links</a>` }));
  return h(
    Page,
    { title: "Links" },
    html`<div class="cards-head">
        <label class="field"><span>Find by label, name or carrier</span><input type="search" value=${sought} onInput=${(/** @type {any} */ event) => setSought(event.target.value)} /></label>
        <label class="check"><input type="checkbox" checked=${open} onChange=${() => setOpen(!open)} /><span>Only what is still open</span></label>
      </div>
      <ul class="cards">
        ${shown.map((card) => h(Card, { key: card.link.uid, card }))}
      </ul>
      ${shown.length === 0 && html`<p class="soft">No link fits that.</p>`}
      <p class="cards-foot soft">The screen may go dark while you walk. What you ticked is kept in this device, and sent when the server is in reach.</p>`,
  );
}

/** @param {{ card: import("../lib/link_cards.js").Card }} props */
function Card({ card }) {
  const { link, name, value, planned } = card;
  const step = nextTick(link);
  const done = TICKS.filter((one) => isTicked(link, one.tick)).map((one) => one.tick);
  return html`<li class="card">
    <a href=${`#/link/${link.uid}`}>
      <span class="card-who"><b>${link.id}</b> <bdi>${name}</bdi></span>
      ${h(Carrier, { hz: link.carrier_hz, size: "large", held: value.hold_mhz !== undefined })}
      <span class="card-facts">${[planned?.preset && `preset ${planned.preset}`, value.radio, card.power].filter(Boolean).join(" · ")}</span>
      ${link.status && link.status !== "clear" && html`<span>${h(Status, { state: link.status })}</span>`}
    </a>
    <div class="card-ticks">
      <span class="soft">${done.join(", ")}</span>
      ${step && link.carrier_hz !== null && h(TickBox, { word: step.word, about: `${link.id} ${name}`, disabled: !mayEdit.value, onTick: () => tickLink(link, step.tick) })}
    </div>
  </li>`;
}
