/** When sound arrives: ways that carry one and the same sound, somebody's own voice, levels at the ear, clocks. */
import { h, html } from "../../lib/html.js";
import { kept, unit } from "../../lib/format.js";
import { Help, Status } from "../../parts/pieces.js";
import { called, figure, links, sound } from "./model.js";
import { nameOf } from "./line.js";

/** @typedef {import("../../api").TogetherModel} Together */

const COMB = "Mixed with the latest of them, sound at these frequencies cancels where both are equally loud: a comb. The delay evens that out.";

export function Times() {
  const known = sound.value.value?.document;
  if (!known) return null;
  return html`<section class="sound-times" aria-labelledby="sound-times">
    <h2 id="sound-times">Timing</h2>
    ${known.together.length === 0 && html`<p class="soft">No source is stated to be one sound that several links hear at the same time. Where one is, the delays that even it out stand here: <a href="#/kit/source">mark it as one</a>.</p>`}
    ${known.together.map((one) => h(OneSound, { key: `${one.source} ${one.device}`, together: one }))}
    ${known.own_voice.map(
      (loop) => html`<p key=${loop.microphone + loop.ear}><b>${loop.wearer}</b> hears the own voice ${loop.total_ms === null ? "after a time that is not known" : html`after <b>${unit(figure(loop.total_ms, 1), "ms")}</b>`} (${loop.microphone} to ${loop.ear}).${h(Help, { about: "the own voice", text: "From about 10 ms on it disturbs; below that it colours with what comes through the head. Common practice." })}</p>`,
    )}
    ${known.clocks.filter((clock) => clock.one !== false).map((clock) => h(Clock, { key: clock.device, clock }))}
  </section>`;
}

/** @param {{ together: Together }} props */
function OneSound({ together }) {
  const head = `${nameOf("source", together.source)} in ${together.device ?? "a device that is not named"}`;
  return html`<div class="sound-together">
    <h3>${head}</h3>
    <table class="list">
      <thead><tr><th scope="col">Link</th><th scope="col" class="number">Arrives</th><th scope="col" class="number">Add</th><th scope="col" class="number">Samples at ${together.sample_rate_hz / 1000} kHz</th><th scope="col" class="number">As air</th><th scope="col">Comb notches${h(Help, { about: "comb notches", text: COMB })}</th></tr></thead>
      <tbody>
        ${together.members.map(
          (one) => html`<tr key=${one.link}>
            <th scope="row">${one.link}</th>
            <td class="number" data-heading="Arrives">${unit(figure(one.total_ms, 2), "ms")}</td>
            <td class="number sound-add" data-heading="Add"><b>${unit(figure(one.early_ms, 2), "ms")}</b></td>
            <td class="number" data-heading="Samples">${one.delay_samples}</td>
            <td class="number" data-heading="As air">${unit(figure(one.delay_m, 2), "m")}</td>
            <td data-heading="Comb notches">${one.notches_hz.length > 0 ? `${one.notches_hz.map((hz) => figure(hz, 0)).join(", ")} Hz and on` : html`<span class="none">the latest</span>`}</td>
          </tr>`,
        )}
      </tbody>
    </table>
    ${together.inverted.length > 0 && html`<p>${h(Status, { state: "caution" }, "polarity")} ${together.inverted.join(", ")} arrives turned over against the others: turn it at the desk.</p>`}
  </div>`;
}

/** @param {{ clock: import("../../api").ClockModel }} props */
function Clock({ clock }) {
  const masters = clock.masters.map((master) => `${master.clock ?? "a clock that nobody names"} (${master.links.join(", ")})`).join("; ");
  return html`<p>${h(Status, { state: clock.one ? "fine" : "unknown" }, clock.one ? "one clock" : "clock not stated")} Digital into <b>${clock.device}</b>: ${masters}.</p>`;
}

/** Levels at the ear, as a caution: no more than is known. */
export function Ears() {
  const known = sound.value.value?.document;
  const ears = links.value.flatMap((link) => link.ways.filter((way) => way.ear !== null).map((way) => ({ link, ear: /** @type {import("../../api").EarModel} */ (way.ear) })));
  if (!known || ears.length === 0) return null;
  return html`<section class="sound-ears" aria-labelledby="sound-ears">
    <h2 id="sound-ears">At the ear</h2>
    <ul>
      ${ears.map(({ link, ear }) => {
        const limit = ear.by_loudest.find((one) => one.name === "upper action value") ?? ear.by_loudest[0];
        const over = limit?.kept === false;
        return html`<li key=${link.id}>
          <span>${called(link)}</span>
          <span>${h(Status, { state: over ? "caution" : limit?.kept ? "fine" : "unknown" }, over ? "stated hours too long" : limit?.kept ? "stated hours keep the limit" : "hours not stated")}</span>
          <span><b>${ear.loudest_db === null ? "?" : figure(ear.loudest_db, 0)}</b><span class="unit"> dB SPL, the loudest</span>${limit && html`<span class="soft">; may last ${lasting(limit.hours)} a day</span>${h(Help, { about: "how long it may last", text: `By the ${limit.name} of ${limit.over_8h_db} dB over 8 h, half as long for each 3 dB more (${limit.source}). ${ear.limited ? "A limiter holds it there." : "No limiter is stated: the most that can come is " + figure(ear.most_db, 0) + " dB SPL."}` })}`}</span>
        </li>`;
      })}
    </ul>
    ${known.cautions.map((text) => html`<p key=${text} class="caution-note">${kept(text)}</p>`)}
  </section>`;
}

/** @param {number} hours @returns {string} */
function lasting(hours) {
  if (hours >= 24) return "all";
  if (hours >= 1) return unit(figure(hours, 1), "h");
  return hours * 60 >= 1 ? unit(figure(hours * 60, 0), "min") : unit(figure(hours * 3600, 0), "s");
}
