/** The chosen link: its figures, and the way of its signal as a picture with the decibels along it; parts are changed here. */
import { h, html, signal, useEffect } from "../../lib/html.js";
import { attempt } from "../../lib/attempt.js";
import { interferenceFact } from "../../lib/interference.js";
import { kept, unit } from "../../lib/format.js";
import { change, entriesOf, mayEdit } from "../../lib/state.js";
import { Carrier, Facts, Help, Status } from "../../parts/pieces.js";
import { figure, heardText, partsOf, reach, shareText, signed, spotText, useRatio } from "./model.js";

/** @typedef {import("./model.js").Standing} Standing */
/** @typedef {import("./model.js").Branch} Branch */

/** What the chosen link had over what it needs before a part was changed. */
const before = signal(/** @type {number | null} */ (null));

const STATES = { enough: "fine", short: "blocked", open: "unknown" };

const BELOW = matchMedia("(max-width: 1080px)");
let going = false;

/** A link is being picked: where its chain does not stand beside the list, bring that into view when it is there. */
export function goToChain() {
  going = BELOW.matches;
}

/** @param {{ standing: Standing }} props */
export function Chain({ standing }) {
  const { link, reserve, state, where, at, besides } = standing;
  useEffect(() => {
    before.value = null;
    if (going) requestAnimationFrame(() => document.querySelector(".chain")?.scrollIntoView({ block: "start" }));
    going = false;
  }, [link.id]);
  const ratio = useRatio(link.id);
  const was = before.value;
  const moved = was !== null && reserve !== null && Math.abs(was - reserve) >= 0.05;
  const said = state === "enough" ? "enough" : state === "short" ? "short" : "cannot be told yet";
  return html`<section class="chain" aria-labelledby="chain-head">
    <header class="chain-head">
      <div>
        <h2 id="chain-head">${link.id}${link.name !== link.id && html` <span>${link.name}</span>`}</h2>
        <p class="soft">${[at && `That point is ${spotText(at)}.`, besides].filter(Boolean).join(" ")}</p>
      </div>
      <p class="chain-reserve" role="status">
        ${reserve !== null && html`<b>${signed(reserve)}</b><span class="unit"> dB ${reserve < 0 ? "against" : "over"} what it needs ${where}</span>`}
        ${h(Status, { state: STATES[state] }, said)}
        ${moved && html`<span class="chain-was">was ${signed(was)} dB: <b>${signed(reserve - was)} dB</b></span>`}
      </p>
    </header>
    ${link.branches.map((branch, at) => h(Way, { key: branch.run ?? at, branch, link, reserve }))}
    ${h(Facts, { facts: factsOf(standing, ratio) })}
    ${link.advice.length > 0 && html`<ul class="chain-advice">${link.advice.map((one) => html`<li key=${one.text}>${kept(one.text)}</li>`)}</ul>`}
  </section>`;
}

/** @param {Standing} standing @param {ReturnType<typeof useRatio>} ratio */
function factsOf({ link, onPlan }, ratio) {
  const { walk, squelch } = link;
  const far = link.distance_m === null ? "" : ` at ${link.distance_m} m`;
  const there = onPlan?.worst ? " at the worst point" : far;
  const outage = onPlan?.worst?.outage ?? walk?.outage;
  const heard = onPlan?.worst ? onPlan.worst.audible_dropouts_per_min : walk?.audible_dropouts_per_min;
  return [
    { term: "Carrier", value: html`${h(Carrier, { hz: link.carrier_hz })} <span class="unit">MHz, ${link.carrier_from}</span>` },
    { term: `Margin${far}`, value: link.margin_db === null ? null : unit(figure(link.margin_db), "dB"), help: "By how much the usual level that far away lies over what the receiver needs; the mean of its antennas." },
    { term: `Asked for by fading${far}`, value: walk && unit(figure(walk.needed_db), "dB"), help: `So much margin keeps dropouts that are heard to one in ten minutes of walking${walk && walk.antennas > 1 ? `; with one antenna it would be ${figure(walk.needed_with_one_antenna_db)} dB` : ""}.` },
    { term: `Dropouts heard${there}`, value: walk && heard !== undefined ? heardText(heard) : null, help: walk ? `While somebody walks there: dips below what the receiver needs that last longer than ${walk.audible_ms} ms${walk.audible_stated ? "" : ", which is assumed; the radio type may state it"}.` : "" },
    { term: `Time lost${there}`, value: outage === undefined ? null : shareText(outage), help: "The part of the time in which somebody who walks there is below what the receiver needs, dips that nobody hears included." },
    onPlan && onPlan.enough !== null && { term: `Enough in`, value: `${Math.floor(onPlan.enough * 100)} % of its zone` },
    interferenceFact(ratio),
    squelch && squelch.level_dbm !== null && { term: "Squelch", value: unit(figure(squelch.level_dbm), "dBm"), help: "Where to set it, at the receiver’s input: over the noise, and at least 10 dB under the lowest level of the walk (common practice). Never raise it to hide an interferer." },
  ].filter((fact) => fact && fact.value !== null);
}

/** @param {{ branch: Branch, link: Standing["link"], reserve: number | null }} props  one run, from the transmitter on */
function Way({ branch, link, reserve }) {
  const run = entriesOf("run").find((entry) => entry.id === branch.run);
  const inward = link.direction !== "to-person";
  /** @type {any[]} */
  const parts = run?.value.parts ?? [];
  const owners = partsOf(branch, inward, parts.length);
  const { steps } = branch;
  const title = run ? `By ${run.value.name ?? run.id}` : "Straight to the receiver";
  if (steps.length === 0) return html`<div class="way"><h3>${title}</h3><p class="soft">Its levels cannot be told yet; what is missing stands under To fill in.</p></div>`;
  const edit = (/** @type {number} */ at, /** @type {{[key: string]: any}} */ values) => {
    before.value = reserve;
    const next = parts.map((part, index) => (index === at ? { ...part, ...values } : part));
    return attempt(change("PATCH", `/entries/${run?.uid}`, { base: run?.revision, changes: { parts: next } }));
  };
  return html`<div class="way">
    <h3>${title}${branch.level_dbm !== null && html` <span>${figure(branch.level_dbm)} dBm at the receiver${branch.lowest_level_dbm !== null ? `, ${figure(branch.lowest_level_dbm)} at worst` : ""}</span>`}</h3>
    <div class="way-scroller" tabindex="0" role="region" aria-label=${`${title}: the signal step by step`}>
      <div class="way-inner" style=${{ "--steps": steps.length }}>
        ${h(Picture, { branch })}
        <ol class="way-steps">
          ${steps.map((step, at) => {
            const part = owners[at];
            return html`<li key=${at} class=${`way-step is-${step.what}`}>
              <b class="way-gain">${at === 0 ? unit(figure(step.level_dbm), "dBm") : unit(signed(step.gain_db), "dB")}</b>
              <span class="way-name">${step.name}</span>
              ${at > 0 && html`<span class="unseen">: ${figure(step.level_dbm)} dBm after it</span>`}
              ${part !== null && run && mayEdit.value && h(PartFields, { part: parts[part], name: `${title}, ${step.name}`, onChange: (values) => edit(part, values) })}
            </li>`;
          })}
        </ol>
      </div>
    </div>
  </div>`;
}

const HIGH = 132;

/** Levels after each step as a line that falls and rises, what the receiver needs, and the noise. @param {{ branch: Branch }} props */
function Picture({ branch }) {
  const { steps } = branch;
  const needs = branch.level_dbm !== null && branch.margin_db !== null ? branch.level_dbm - branch.margin_db : null;
  const noise = steps.map((step) => step.noise_dbm);
  const all = [...steps.map((step) => step.level_dbm), needs, ...noise].filter((value) => value !== null);
  const top = Math.max(...all) + 6;
  const low = Math.min(...all) - 6;
  const y = (/** @type {number} */ dbm) => ((top - dbm) / (top - low)) * HIGH;
  const x = (/** @type {number} */ at) => at * 100 + 50;
  const line = steps.map((step, at) => `${at === 0 ? "M" : "L"}${x(at)} ${y(step.level_dbm).toFixed(1)}`).join("");
  const told = noise.flatMap((value, at) => (value === null ? [] : [`${x(at)} ${y(value).toFixed(1)}`]));
  const wide = steps.length * 100;
  return html`<div class="way-picture" aria-hidden="true">
    <svg viewBox=${`0 0 ${wide} ${HIGH}`} preserveAspectRatio="none" width="100%" height=${HIGH} focusable="false">
      ${needs !== null && html`<line class="needs" x1="0" x2=${wide} y1=${y(needs)} y2=${y(needs)} />`}
      ${told.length > 1 && html`<path class="noise" d=${`M${told.join("L")}`} />`}
      <path class="level" d=${line} />
    </svg>
    ${steps.map((step, at) => html`<span key=${at} class="way-level" style=${{ left: `${((at + 0.5) / steps.length) * 100}%`, top: `${y(step.level_dbm)}px` }}>${figure(step.level_dbm, 0)}</span>`)}
    ${needs !== null && html`<span class="way-needs" style=${{ top: `${y(needs)}px` }}>needs ${figure(needs, 0)} dBm</span>`}
    ${told.length > 1 && html`<span class="way-noise" style=${{ top: `${y(/** @type {number} */ (noise.at(-1) ?? noise.find((value) => value !== null)))}px` }}>noise ${figure(/** @type {number} */ (noise.at(-1) ?? noise.find((value) => value !== null)), 0)}</span>`}
  </div>`;
}

/** What is changed of each kind of part. @type {{[what: string]: {field: string, unit: string, words: string}[]}} */
const FIELDS = {
  cable: [{ field: "length_m", unit: "m", words: "length" }],
  splitter: [{ field: "ways", unit: "ways", words: "ways" }],
  amplifier: [{ field: "gain_db", unit: "dB", words: "gain" }],
  pad: [{ field: "loss_db", unit: "dB", words: "loss" }],
  filter: [{ field: "loss_db", unit: "dB", words: "loss" }],
};

/** @param {{ part: {[field: string]: any}, name: string, onChange: (values: {[field: string]: any}) => Promise<any> }} props */
function PartFields({ part, name, onChange }) {
  const types = reach.value.value?.cables ?? [];
  const put = (/** @type {string} */ field, /** @type {HTMLInputElement} */ input) => {
    const text = input.value.trim().replace(",", ".");
    const value = Number(text);
    if (text === String(part[field] ?? "") || text === "" || !Number.isFinite(value)) {
      input.value = part[field] ?? "";
      return;
    }
    onChange({ [field]: value });
  };
  const keys = (/** @type {KeyboardEvent} */ event) => {
    const input = /** @type {HTMLInputElement} */ (event.currentTarget);
    if (event.key === "Enter") input.blur();
    if (event.key === "Escape") {
      input.value = input.defaultValue;
      input.blur();
    }
  };
  return html`<span class="way-fields" data-owns-keys>
    ${(FIELDS[part.what] ?? []).map(
      ({ field, unit: word, words }) => html`<label key=${field}><span class="unseen">${name}: ${words}</span>
        <input key=${String(part[field])} inputmode="decimal" autocomplete="off" defaultValue=${part[field] ?? ""} onKeyDown=${keys} onBlur=${(/** @type {any} */ event) => put(field, event.currentTarget)} /> ${word}</label>`,
    )}
    ${part.what === "cable" &&
    html`<label><span class="unseen">${name}: type</span>
      <select value=${part.type ?? ""} onChange=${(/** @type {any} */ event) => onChange({ type: event.target.value || null })}>
        ${!types.includes(part.type) && html`<option value=${part.type ?? ""}>${part.type ?? "no type"}</option>`}
        ${types.map((type) => html`<option key=${type} value=${type}>${type}</option>`)}
      </select></label>`}
  </span>`;
}
