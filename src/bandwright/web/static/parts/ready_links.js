/** Links by the step that is next for each, by name, with one tap to say that it is done. */
import { h, html, useState } from "../lib/html.js";
import { counted } from "../lib/format.js";
import { mayEdit } from "../lib/state.js";
import { TICKS, isTicked, nextTick, tickLink } from "../lib/ticks.js";
import { Empty } from "./empty.js";
import { Carrier } from "./figure.js";
import { Bar } from "./progress.js";
import { TickBox } from "./tick_box.js";

/** @typedef {import("../lib/types.js").LinkLine} LinkLine */

const SHOWN = 8;

/** @param {{ now: import("../lib/types.js").Readiness }} props */
export function ReadyLinks({ now }) {
  const { all, total } = now.links;
  if (total === 0) {
    return h(Empty, { title: "No links yet", action: html`<a class="button" href="#/kit/link">Write down the links</a>` }, "A link is one carrier: a microphone, an in-ear mix, a talkback.");
  }
  if (!now.plan) return h(Unplanned, { links: all });
  const unplaced = all.filter((link) => link.carrier_hz === null);
  const placed = all.filter((link) => link.carrier_hz !== null);
  return html`<section aria-labelledby="links-title">
    <h2 id="links-title" class="unseen">Links</h2>
    <div class="bars">${TICKS.map(({ tick, word }) => h(Bar, { key: tick, label: word, done: all.filter((link) => isTicked(link, tick)).length, total }))}</div>
    ${unplaced.length > 0 && h(Stage, { key: "unplaced", title: "Without a carrier", links: unplaced })}
    ${TICKS.map((step) => h(Stage, { key: step.tick, title: step.open, links: placed.filter((link) => nextTick(link) === step), step }))}
    ${all.every((link) => nextTick(link) === null) && html`<p class="all-done">${counted(total, "link")}: set, heard and walked.</p>`}
  </section>`;
}

/** @param {{ links: LinkLine[] }} props */
function Unplanned({ links }) {
  return h(Stage, { title: "Waiting for a plan", links });
}

/** @param {{ title: string, links: LinkLine[], step?: typeof TICKS[number] }} props */
function Stage({ title, links, step }) {
  const [whole, setWhole] = useState(false);
  if (links.length === 0) return null;
  const shown = whole ? links : links.slice(0, SHOWN);
  const rest = links.length - shown.length;
  return html`<section class="stage">
    <h3>${title} <span>${links.length}</span></h3>
    <ul>
      ${shown.map((link) => h(StageRow, { key: link.uid, link, step }))}
    </ul>
    ${rest > 0 && html`<button type="button" class="button quiet" onClick=${() => setWhole(true)}>Show ${rest} more</button>`}
  </section>`;
}

/** @param {{ link: LinkLine, step?: typeof TICKS[number] }} props */
function StageRow({ link, step }) {
  const name = link.name === link.id ? "" : link.name;
  return html`<li class=${step ? "stage-row" : "stage-row plain"}>
    <a href=${`#/link/${link.uid}`}><b>${link.id}</b> <bdi>${name}</bdi></a>
    ${step && h(Carrier, { hz: link.carrier_hz })}
    ${step && h(TickBox, { word: step.word, about: `${link.id} ${name}`, disabled: !mayEdit.value, onTick: () => tickLink(link, step.tick) })}
  </li>`;
}
