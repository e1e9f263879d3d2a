/**
 * The level diagram of one way of sound, from the mouth down to the recorder: a row for each point. Heights of the sound
 * stay where they are, for each point has its own unit; what moves is the noise at the left and the ceiling at the right.
 * It is a table with figures: what is drawn in it says nothing that does not stand there in words.
 * @module chart/lineup
 */
import { h, html } from "../lib/html.js";
import { Help } from "../parts/help.js";

/** @typedef {import("../api").WayModel["points"][number]} Point */

/** How far above full deviation a ceiling is still drawn where it is. */
const MOST_DB = 24;
const STEP_DB = 20;

/**
 * @typedef {object} Scale
 * @property {number} low
 * @property {number} high
 * @property {(db: number) => number} at  in percent of the width
 */

/** @typedef {(value: number | null | undefined) => string} Figures */

/**
 * @param {{ points: Point[], label: string, figure: Figures, unitOf: (point: Point) => string }} props
 */
export function LineUp({ points, label, figure, unitOf }) {
  const shift = shifts(points);
  const scale = scaleOf(points, shift);
  const tones = points.some((point) => point.tone !== null);
  return html`<table class="lineup keep" aria-label=${label}>
    ${tones && html`<caption class="lineup-phone" aria-hidden="true">The large figures: what the 1 kHz tone reads.</caption>`}
    <thead>
      <tr>
        <th scope="col">${points.at(-1)?.where === "ear" ? "From desk to ear" : "From mouth to recorder"}</th>
        <th scope="col" class="lineup-axis">${scale ? h(Axis, { scale }) : "Levels"}</th>
        ${tones && html`<th scope="col" class="lineup-tone-head">1 kHz tone reads${h(Help, { about: "the 1 kHz tone", text: "Worked out backwards from the alignment of the last device: with the tone at its reference there, this is what each point before it must read." })}</th>`}
      </tr>
    </thead>
    <tbody>
      ${points.map((point, row) => h(Row, { key: `${row} ${point.where}`, point, shift: shift[row], scale, figure, unit: unitOf(point), tones }))}
    </tbody>
  </table>`;
}

/** @param {{ scale: Scale }} props */
function Axis({ scale }) {
  const ticks = [];
  for (let db = Math.ceil(scale.low / STEP_DB) * STEP_DB; db <= scale.high; db += STEP_DB) ticks.push(db);
  return html`<span class="unseen">Noise, quietest, loudest, peak and where it clips, in the unit of the point</span>
    <span class="lineup-scale" aria-hidden="true">${ticks.map((db) => html`<i key=${db} style=${{ left: `${scale.at(db)}%` }}>${String(db).replace("-", "−")}</i>`)}</span>`;
}

/** @param {{ point: Point, shift: number | null, scale: Scale | null, figure: Figures, unit: string, tones: boolean }} props */
function Row({ point, shift, scale, figure, unit, tones }) {
  const over = point.clip !== null && point.peak !== null && point.peak > point.clip;
  return html`<tr class=${over ? "lineup-over" : ""}>
    <th scope="row"><span>${point.name}</span> <small>${unit}</small></th>
    <td class="lineup-plot">
      <span class="unseen">${told(point, unit, figure)}</span>
      ${scale && shift !== null ? h(Strip, { point, shift, scale, figure, over }) : html`<span class="none" aria-hidden="true">levels are not known here</span>`}
    </td>
    ${tones && html`<td class="lineup-tone">${point.tone === null ? html`<span class="none">not known</span>` : html`<b>${figure(point.tone)}</b> <span class="unit">${unit}</span>`}</td>`}
  </tr>`;
}

/** One row in words. @param {Point} point @param {string} unit @param {Figures} figure */
function told(point, unit, figure) {
  /** @type {[string, number | null][]} */
  const all = [["noise", point.noise], ["quietest", point.quietest], ["loudest", point.loudest], ["peak", point.peak], ["clips at", point.clip]];
  const known = all.filter(([, value]) => value !== null).map(([word, value]) => `${word} ${figure(value)}`);
  const over = point.clip !== null && point.peak !== null && point.peak > point.clip ? "; the peak clips here" : "";
  return known.length > 0 ? `${known.join(", ")} ${unit}${over}` : "levels are not known";
}

/** @param {{ point: Point, shift: number, scale: Scale, figure: Figures, over: boolean }} props */
function Strip({ point, shift, scale, figure, over }) {
  const at = (/** @type {number | null} */ value) => (value === null ? null : scale.at(Math.min(value - shift, MOST_DB)));
  const [noise, quietest, loudest, peak, clip, tone] = [point.noise, point.quietest, point.loudest, point.peak, point.clip, point.tone].map(at);
  const mark = (/** @type {string} */ name, /** @type {number | null} */ x, /** @type {number | null} */ value, word = /** @type {any} */ (null)) =>
    x !== null && html`<span class=${`lineup-${name}`} style=${{ left: `${x}%` }}>${word}${figure(value)}</span>`;
  return html`<div class="lineup-strip" aria-hidden="true">
    ${noise !== null && html`<span class="lineup-noise-fill" style=${{ width: `${noise}%` }}></span>`}
    ${quietest !== null && peak !== null && html`<span class="lineup-band" style=${{ left: `${quietest}%`, width: `${peak - quietest}%` }}></span>`}
    ${quietest !== null && loudest !== null && html`<span class="lineup-core" style=${{ left: `${quietest}%`, width: `${loudest - quietest}%` }}></span>`}
    ${peak !== null && html`<span class="lineup-peak-line" style=${{ left: `${peak}%` }}></span>`}
    ${clip !== null && html`<span class="lineup-ceiling" style=${{ left: `${clip}%` }}></span>`}
    ${over && clip !== null && peak !== null && html`<span class="lineup-lost" style=${{ left: `${clip}%`, width: `${peak - clip}%` }}></span>`}
    ${tone !== null && html`<span class="lineup-diamond" style=${{ left: `${tone}%` }}></span>`}
    ${mark("noise", noise, point.noise)}${mark("quietest", quietest, point.quietest)}${mark("loudest", loudest, point.loudest)}
    ${mark("peak", peak, point.peak)}${mark("clip", clip, point.clip, html`<i>clips </i>`)}
  </div>`;
}

/**
 * What stands for full deviation at each point, in its own unit: there sound goes by the same number of dB.
 * @param {Point[]} points @returns {(number | null)[]}
 */
function shifts(points) {
  const sent = points.find((point) => point.where === "transmitter");
  const before = sent?.peak ?? null;
  return points.map((point) => point.full ?? (point.peak === null || before === null ? null : point.peak - before));
}

/** @param {Point[]} points @param {(number | null)[]} shift @returns {Scale | null} null where no level is known */
function scaleOf(points, shift) {
  const all = points.flatMap((point, row) => {
    const by = shift[row];
    return by === null ? [] : [point.noise, point.quietest, point.peak, point.clip].flatMap((value) => (value === null ? [] : [value - by]));
  });
  if (points.every((point) => point.peak === null)) return null;
  const low = Math.floor((Math.min(...all) - 12) / 10) * 10;
  const high = MOST_DB + 14;
  return { low, high, at: (db) => (Math.max(0, Math.min(1, (db - low) / (high - low)))) * 100 };
}
