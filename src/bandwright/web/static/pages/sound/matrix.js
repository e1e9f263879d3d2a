/** Which transmitters and receivers of the kit go together: a table of words and shapes, and why for the one pressed. */
import { h, html, useState } from "../../lib/html.js";
import { kept } from "../../lib/format.js";
import { Help, Status } from "../../parts/pieces.js";
import { MATCHES, sound } from "./model.js";

/** @typedef {import("./model.js").Pairing} Pairing */
/** @typedef {Pairing["transmitter"]} End */

const keyOf = (/** @type {End} */ end) => `${end.radio} ${end.kind ?? ""}`;
const nameOf = (/** @type {End} */ end) => (end.kind === null ? end.radio : `${end.radio}: ${end.kind}`);

/** @param {End[]} ends @returns {End[]} each once */
const each = (ends) => [...new Map(ends.map((end) => [keyOf(end), end])).values()];

export function Matrix() {
  const pairs = sound.value.value?.document.matrix ?? [];
  const [chosen, setChosen] = useState("");
  if (pairs.length === 0) return null;
  const senders = each(pairs.map((pair) => pair.transmitter));
  const receivers = each(pairs.map((pair) => pair.receiver));
  const known = new Map(pairs.map((pair) => [`${keyOf(pair.transmitter)} to ${keyOf(pair.receiver)}`, pair]));
  const open = known.get(chosen);
  return html`<section class="sound-matrix" aria-labelledby="sound-matrix">
    <h2 id="sound-matrix">What goes together${h(Help, { about: "this table", text: "Kinds of companding are compared by what they do: ratio, emphasis, detector, times, bands, expansion at the receiver. Up to 4 dB of level or treble counts as a loss, more as wrong. Where a loss ends is common practice." })}</h2>
    <div class="scroller" tabindex="0" role="region" aria-label="Transmitters and receivers">
      <table class="list keep">
        <thead><tr><td class="soft">Transmitter ↓ · receiver →</td>${receivers.map((end) => html`<th key=${keyOf(end)} scope="col">${nameOf(end)}</th>`)}</tr></thead>
        <tbody>
          ${senders.map(
            (end) => html`<tr key=${keyOf(end)}>
              <th scope="row">${nameOf(end)} <small class="soft">${kept(end.about)}</small></th>
              ${receivers.map((other) => {
                const key = `${keyOf(end)} to ${keyOf(other)}`;
                return html`<td key=${key}>${h(Cell, { pair: known.get(key), chosen: key === chosen, onChoose: () => setChosen(key === chosen ? "" : key) })}</td>`;
              })}
            </tr>`,
          )}
        </tbody>
      </table>
    </div>
    <div role="status">${open ? h(Why, { pair: open }) : html`<p class="soft">Press a field to see why, and what to set.</p>`}</div>
  </section>`;
}

/** @param {{ pair: Pairing | undefined, chosen: boolean, onChoose: () => void }} props */
function Cell({ pair, chosen, onChoose }) {
  if (!pair) return html`<span class="none" title="Not compared: emission (analogue, digital) or use (microphone, in-ear, talkback) differ">–<span class="unseen">not for each other</span></span>`;
  const { word, status } = MATCHES[pair.match];
  return html`<button type="button" class=${`sound-cell match-${pair.match}`} aria-pressed=${chosen} onClick=${onChoose}>${h(Status, { state: status }, word)}</button>`;
}

/** @param {{ pair: Pairing }} props */
function Why({ pair }) {
  const says = [...pair.faults, ...pair.losses, ...pair.notes].map((text) => `${text[0].toUpperCase()}${text.slice(1)}.`);
  if (pair.not_stated.length > 0) says.push(`Not stated: ${pair.not_stated.join(", ")}.`);
  if (says.length === 0) says.push("Nothing that is stated differs.");
  return html`<p class="sound-why"><b>${nameOf(pair.transmitter)} into ${nameOf(pair.receiver)}: ${MATCHES[pair.match].word}.</b> ${kept(says.join(" "))}${pair.fix && html` <b>${kept(`${pair.fix[0].toUpperCase()}${pair.fix.slice(1)}.`)}</b>`}</p>`;
}
