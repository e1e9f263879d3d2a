/** The plan of the place: antennas that can be moved, the map of what links have over what they need, where antennas do best. */
import { computed, h, html, signal, useEffect } from "../../lib/html.js";
import { attempt } from "../../lib/attempt.js";
import { kept } from "../../lib/format.js";
import { change, entriesOf, mayEdit } from "../../lib/state.js";
import { Empty, Mark } from "../../parts/pieces.js";
import { DROPOUTS, MARGIN, PlanPicture } from "../../chart/plan_picture.js";
import { areaEntry, figure, overText, reach, shareText, signed, spotText, zoneName } from "./model.js";
import { glance, hold, letGo } from "./glance.js";
import { Spots, rankingFor } from "./spots.js";

/** @typedef {import("./model.js").Standing} Standing */
/** @typedef {import("./model.js").Metres} Metres */

const what = signal(/** @type {"margin" | "dropouts"} */ ("margin"));
/** Which antenna the map is of; "" for all together. */
const of = signal("");
/** The antenna that was moved and where to, until the service answered with a map for it. */
const moved = signal(/** @type {{ uid: string, at: Metres, known: unknown } | null} */ (null));

const area = computed(() => reach.value.value?.document.area ?? null);

/** @param {{ standing: Standing }} props */
export function Place({ standing }) {
  const entry = areaEntry();
  useEffect(() => {
    if (!moved.value || reach.value.value === moved.value.known) return;
    moved.value = null;
    letGo();
  }, [reach.value.value]);
  useEffect(() => letGo, [standing.link.id]);
  if (!entry) return h(NoPlan, {});
  const antennas = entriesOf("antenna").filter((one) => Array.isArray(one.value.at_m));
  return html`<section class="place" aria-labelledby="place-head">
    <div class="place-head"><h2 id="place-head">The place</h2>${h(Choices, { standing })}</div>
    ${antennas.length === 0 && h(NoAntenna, {})}
    <div class=${isTall(outlineOf(entry.value)) ? "place-columns is-tall" : "place-columns"}>${h(PlaceMap, { standing, entry, antennas })}${h(Told, { standing })}</div>
  </section>`;
}

/** What the map shows. @param {{ standing: Standing }} props */
function Choices({ standing }) {
  const names = standing.onPlan?.antennas ?? [];
  if (!area.value || names.length === 0) return null;
  return html`<div class="place-choices">
    <fieldset class="switch"><legend class="unseen">What the map shows</legend>
      ${[["margin", "Margin"], ["dropouts", "Time lost"]].map(([value, word]) => html`<label key=${value}><input type="radio" name="place-what" checked=${what.value === value} onChange=${() => (what.value = /** @type {any} */ (value))} /><span>${word}</span></label>`)}
    </fieldset>
    ${names.length > 1 && html`<label class="field-line"><span class="unseen">With which antenna</span>
      <select value=${names.includes(of.value) ? of.value : ""} onChange=${(/** @type {any} */ event) => (of.value = event.target.value)}>
        <option value="">all its antennas together</option>
        ${names.map((id) => html`<option key=${id} value=${id}>${antennaName(id)} alone</option>`)}
      </select></label>`}
  </div>`;
}

/** @param {string} id */
const antennaName = (id) => entriesOf("antenna").find((one) => one.id === id)?.value.name ?? id;

/** @param {{ standing: Standing, entry: import("../../lib/types.js").Entry, antennas: import("../../lib/types.js").Entry[] }} props */
function PlaceMap({ standing, entry, antennas }) {
  const plan = area.value;
  const inHand = glance.value?.link === standing.link.id ? glance.value.found : null;
  const map = inHand ? inHand.map : (plan?.maps.find((one) => one.links.includes(standing.link.id)) ?? null);
  const frame = inHand ?? plan;
  const worst = inHand ? inHand.worst : standing.onPlan?.worst;
  const scale = what.value === "margin" ? MARGIN : DROPOUTS;
  const own = new Set(standing.onPlan?.antennas ?? []);
  const hand = moved.value;
  const shown = antennas.map((one) => {
    const at = /** @type {Metres} */ (hand?.uid === one.uid ? hand.at : one.value.at_m);
    return { uid: one.uid, id: one.id ?? "", name: one.value.name ?? one.id ?? "", at, own: own.has(one.id ?? ""), facing: plan?.antennas.find((spot) => spot.id === one.id)?.facing_deg ?? null };
  });
  const ranked = rankingFor(standing.link.id)?.best.flatMap((one) => one.candidates) ?? [];
  const candidates = (entry.value.candidates ?? []).map((/** @type {any} */ one) => ({ id: one.id, name: one.name ?? one.id, at: one.at_m, rank: ranked.indexOf(one.id) + 1 }));
  const near = nearest();
  const move = async (/** @type {string} */ uid, /** @type {Metres} */ at) => {
    const known = reach.value.peek();
    const row = entriesOf("antenna").find((one) => one.uid === uid);
    moved.value = { uid, at, known };
    const went = await attempt(change("PATCH", `/entries/${uid}`, { base: row?.revision, changes: { at_m: at } }));
    if (went) return;
    moved.value = null;
    letGo();
  };
  const held = (/** @type {string} */ uid, /** @type {Metres | null} */ at) => {
    const antenna = entriesOf("antenna").find((one) => one.uid === uid)?.id;
    if (at === null) letGo();
    else if (antenna && own.has(antenna)) hold({ link: standing.link.id, antenna, at });
  };
  return html`<div class="place-map">
    ${h(PlanPicture, {
      outline: outlineOf(entry.value),
      walls: entry.value.walls ?? [],
      zones: (entry.value.zones ?? []).map((/** @type {any} */ one) => ({ id: one.id, name: one.name ?? one.id, corners: one.corners_m, own: one.id === standing.onPlan?.zone })),
      walks: (entry.value.walks ?? []).map((/** @type {any} */ one) => ({ id: one.id, name: one.name ?? one.id, along: one.along_m })),
      transmitters: (entry.value.transmitters ?? []).map((/** @type {any} */ one) => ({ name: one.name ?? "transmitter", at: one.at_m })),
      antennas: shown,
      candidates,
      near: near.map((one) => one.ring_m),
      worst: worst ? { at: worst.at_m, text: `${standing.link.id} ${what.value === "margin" ? `${signed(worst.reserve_db)} dB` : shareText(worst.outage)}` } : null,
      grid: frame && map ? { left: frame.left_m, low: frame.low_m, step: frame.step_m, values: scale.values(valuesOf(map, inHand?.needed_db ?? standing.onPlan?.needed_db)) } : null,
      scale,
      old: hand !== null && own.has(shown.find((one) => one.uid === hand.uid)?.id ?? "") && !inHand,
      editable: mayEdit.value,
      onMove: move,
      onHold: held,
      description: describe(standing),
    })}
    ${antennas.length > 0 && mayEdit.value && html`<p class="soft place-hint desk-only">Drag an antenna, or focus it and use the arrows (with Shift by 0.1 m); it is kept when you let go, and can be undone.</p>`}
  </div>`;
}

/** The field that is drawn: all together, or one antenna. @param {import("../../api").KindMapModel} map @param {readonly number[] | undefined} needs  the margin asked for with one antenna, two, and so on @returns {(number | null)[][] | null} */
function valuesOf(map, needs) {
  const at = map.antennas.indexOf(of.value);
  if (what.value === "dropouts") return (at < 0 ? map.outage : map.outages?.[at]) ?? null;
  if (at < 0) return map.reserve_db;
  const needed = needs?.[0] ?? 0;
  return map.margins_db?.[at].map((row) => row.map((value) => (value === null ? null : value - needed))) ?? null;
}

/** @param {{[field: string]: any}} value @returns {Metres[]} */
function outlineOf({ outline_m, width_m, depth_m }) {
  if (outline_m) return outline_m;
  const [width, depth] = [width_m ?? depth_m ?? 10, depth_m ?? width_m ?? 10];
  return [[0, 0], [width, 0], [width, depth], [0, depth]];
}

/** @param {Standing} standing @returns {string} for who does not see the map */
function describe({ link, onPlan }) {
  const worst = onPlan?.worst;
  if (!worst) return `The plan of the place. Nothing can be told of ${link.id} on it yet.`;
  const enough = onPlan.enough === null ? "" : ` It is enough in ${Math.floor(onPlan.enough * 100)} % of ${zoneName(onPlan.zone)}.`;
  return `Map of ${link.id} ${link.name} on the plan of the place. Its worst point is at ${spotText(worst.at_m)}: ${overText(worst.reserve_db)}.${enough}`;
}

/** In words beside the map: the scale, the worst point, walks, the best spots, what is too near. @param {{ standing: Standing }} props */
function Told({ standing }) {
  const plan = area.value;
  if (!plan) return null;
  const { link, onPlan } = standing;
  const scale = what.value === "margin" ? MARGIN : DROPOUTS;
  const worst = onPlan?.worst;
  const near = nearest();
  return html`<div class="place-told"><div>
    ${worst && html`<ul class="place-scale" aria-label=${scale.title}>
      ${scale.bands.map((band, at) => html`<li key=${band}><svg width="30" height="18" aria-hidden="true" focusable="false"><rect class=${`band band-${scale.shades[at]}`} width="30" height="18" />${scale.marks[at] && html`<rect width="30" height="18" fill=${`url(#${scale.marks[at]})`} />`}</svg> ${band}</li>`)}
    </ul>`}
    ${onPlan && !worst && html`<p>${h(Mark, { shape: "unknown" })} Of ${link.id} nothing can be told on the plan yet: facts are missing.</p>`}
    ${worst &&
    html`<h3>Worst point of ${zoneName(onPlan.zone)}</h3>
      <p>${link.id} at ${spotText(worst.at_m)}: <b>${overText(worst.reserve_db)}</b>, ${shareText(worst.outage)} of the time below it.
      ${Object.entries(worst.levels_dbm).map(([id, dbm]) => (link.direction === "to-person" ? ` From ${antennaName(id)} ${figure(dbm)} dBm arrive.` : ` ${antennaName(id)} hears ${figure(dbm)} dBm.`))}</p>`}
    ${onPlan && onPlan.walks.length > 0 && html`<ul>${onPlan.walks.map((walk) => html`<li key=${walk.walk}>Along ${walk.name} the lowest is at ${spotText(walk.lowest.at_m)}: ${signed(walk.lowest.reserve_db)} dB.</li>`)}</ul>`}
    </div><div>${h(Spots, { link: link.id })}
    ${near.length > 0 && html`<h3>Too near</h3><ul>${near.map((one) => html`<li key=${one.antenna}>${one.enters && h(Mark, { shape: "caution" })} Within ${figure(one.radius_m)} m of ${antennaName(one.antenna)} a pack such as ${one.link} drives ${one.first} to where it clips${one.enters ? `; ${zoneName(one.zone)} reaches in there` : ""}.</li>`)}</ul>`}
    ${h(Senders, {})}</div>
  </div>`;
}

/** Of each antenna the widest limit that no pack may pass; none where that lies over everybody's head. */
function nearest() {
  /** @type {Map<string, import("../../api").NearModel>} */
  const found = new Map();
  for (const one of area.value?.near ?? []) {
    const known = found.get(one.antenna);
    if (one.radius_m > 0 && (!known || one.radius_m > known.radius_m)) found.set(one.antenna, one);
  }
  return [...found.values()];
}

/** What transmitters that stay put do to antennas: the loud ones by name, the rest in a sentence. */
function Senders() {
  const strong = area.value?.strong ?? [];
  if (strong.length === 0) return null;
  const same = (/** @type {typeof strong[0]} */ one) => `${one.antenna} ${one.level_dbm} ${one.limit_dbm}`;
  const alike = [...new Set(strong.map(same))].map((key) => strong.filter((one) => same(one) === key));
  const loud = alike.filter(([one]) => one.level_dbm > one.limit_dbm - LOUD_DB);
  const least = Math.min(...alike.filter((some) => !loud.includes(some)).map(([one]) => one.limit_dbm - one.level_dbm));
  return html`<h3>Transmitters that stay put</h3>
    ${loud.length > 0 && html`<ul>${loud.map(([one, ...more]) => html`<li key=${one.transmitter + one.antenna}>${h(Mark, { shape: "caution" })} ${one.transmitter}${more.length > 0 ? ` (and ${more.length} more like it)` : ""} brings ${figure(one.level_dbm)} dBm to ${antennaName(one.antenna)}; from ${figure(one.limit_dbm)} dBm on something clips.</li>`)}</ul>`}
    ${Number.isFinite(least) && html`<p>${loud.length > 0 ? "The others come" : "What they bring to antennas comes"} no nearer than ${figure(least, 0)} dB to what makes something clip.</p>`}`;
}

const LOUD_DB = 3;

/** @param {Metres[]} outline @returns {boolean} whether the words have more room beside it than it needs */
function isTall(outline) {
  const [xs, ys] = [outline.map(([x]) => x), outline.map(([, y]) => y)];
  return Math.max(...ys) - Math.min(...ys) > 1.05 * (Math.max(...xs) - Math.min(...xs));
}

function NoPlan() {
  const add = () => attempt(change("POST", "/entries", { kind: "area", value: { width_m: 24, depth_m: 16 } }));
  const action = mayEdit.value && html`<button type="button" class="button" onClick=${add}>Begin with 24 by 16 m</button>`;
  return html`<section class="place">${h(
    Empty,
    { title: "No plan of the place yet", action },
    kept("With the place in metres, its zones and its antennas, every link is judged all over it: a map, the worst point by name, and where antennas do best. Begin with a rectangle, and change it afterwards."),
  )}</section>`;
}

function NoAntenna() {
  const add = async () => {
    const outline = outlineOf(areaEntry()?.value ?? {});
    const [left, right, low] = [Math.min(...outline.map(([x]) => x)), Math.max(...outline.map(([x]) => x)), Math.min(...outline.map(([, y]) => y))];
    const [unplaced] = entriesOf("antenna");
    const at_m = [(left + right) / 2, low];
    if (unplaced) return attempt(change("PATCH", `/entries/${unplaced.uid}`, { base: unplaced.revision, changes: { at_m } }));
    const made = await change("POST", "/entries", { kind: "antenna", value: { name: "Antenna 1", at_m } }).catch(() => null);
    const antenna = made?.entries?.find((/** @type {any} */ one) => one.kind === "antenna");
    return antenna && attempt(change("POST", "/entries", { kind: "run", value: { antenna: antenna.id } }), "An antenna stands at the lower edge: drag it to its place, and say under Kit and links what lies behind it.");
  };
  return html`<div class="caution-note place-empty">
    <p>No antenna stands on the plan yet, so nothing can be told of it.</p>
    ${mayEdit.value && html`<button type="button" class="button small" onClick=${add}>Put an antenna on the plan</button>`}
  </div>`;
}
