/**
 * Carriers over a spectrum: marks in lanes, stems down through the levels. Each that can be moved is a slider.
 *
 * Painted straight into SVG, outside of the page's components: a drag must be on the screen within one frame.
 * @module chart/carriers
 */
import { hit, labelled } from "./lanes.js";
import { mhz } from "../lib/format.js";

/** @typedef {import("./lanes.js").Kind} Kind */
/**
 * @typedef {object} Carrier
 * @property {string} id
 * @property {string} name
 * @property {Kind} kind
 * @property {number} hz
 * @property {number} bandwidth Hz
 * @property {"clear" | "caution" | "blocked" | null} status
 * @property {boolean} movable whether a hand may move it
 * @property {string} [label] what stands at its mark instead of the id
 */
/** @typedef {{x: (unit: number) => number, unitOf: (hz: number) => number, left: number, right: number, top: number,
 *    bottom: number, axis: object, key: string}} Geometry page pixels; `top` and `bottom` of the plot; with the same axis
 *    and the same key every place is the same */
/** @typedef {{selected: string | null, culprits: Set<string>, hz: Map<string, number>, state: string | null,
 *    low: number, high: number}} Hand `hz` of carriers that are elsewhere than planned; the reach of the selected one */

export const ROW_HEIGHT = 17;
const SVG = "http://www.w3.org/2000/svg";
const HALF = 4.75;
const LETTER = 7.3;

/** @type {Record<Kind, string>} */
const SHAPES = {
  microphone: `M${-HALF} 0a${HALF} ${HALF} 0 1 0 ${2 * HALF} 0a${HALF} ${HALF} 0 1 0 ${-2 * HALF} 0`,
  "in-ear": `M${-HALF} ${-HALF}H${HALF}L0 ${HALF}Z`,
  talkback: `M${-HALF} ${-HALF}H${HALF}V${HALF}H${-HALF}Z`,
  spare: `M${-HALF + 0.8} 0a${HALF - 0.8} ${HALF - 0.8} 0 1 0 ${2 * HALF - 1.6} 0a${HALF - 0.8} ${HALF - 0.8} 0 1 0 ${1.6 - 2 * HALF} 0`,
  other: `M0 ${-HALF - 0.7}L${HALF + 0.7} 0L0 ${HALF + 0.7}L${-HALF - 0.7} 0Z`,
  found: `M${-HALF} ${HALF}L0 ${-HALF}L${HALF} ${HALF}Z`,
};

/** What is cut out of a mark, so that a status is not told by colour alone. @type {Record<string, string>} */
const CUTS = { caution: "M0 -2.9V0.7M0 2.2V3", blocked: "M-2.2 -2.2L2.2 2.2M2.2 -2.2L-2.2 2.2" };

/** More carriers than this in view are a crowd: labels only for the picked one and those in trouble. */
const CROWD = 60;

/**
 * @typedef {object} Parts
 * @property {SVGGElement} group
 * @property {SVGLineElement} stem
 * @property {SVGRectElement} band
 * @property {SVGPathElement} mark
 * @property {SVGPathElement | null} cut
 * @property {SVGTextElement | null} label
 * @property {string} words of the label
 * @property {string} kind its classes, without those of the hand
 * @property {string} worn all its classes now
 * @property {string} tab its tabindex now
 * @property {boolean} raised whether it was put over the others
 */

export class Carriers {
  /** @param {SVGSVGElement} svg */
  constructor(svg) {
    this.svg = svg;
    /** @type {Carrier[]} */
    this.all = [];
    /** @type {Map<string, Parts>} */
    this.parts = new Map();
    /** @type {Map<string, number>} */
    this.rowOf = new Map();
    /** Where each mark is on the screen. @type {Map<string, import("./lanes.js").Tag>} */
    this.tags = new Map();
    /** @type {Hand} */
    this.hand = { selected: null, culprits: new Set(), hz: new Map(), state: null, low: 0, high: 0 };
    /** @type {Geometry | null} */
    this.geometry = null;
  }

  /** @param {Carrier[]} all @param {Map<string, number>} rowOf */
  set(all, rowOf) {
    this.all = all;
    this.rowOf = rowOf;
    const known = new Set(all.map((c) => c.id));
    for (const [id, { group }] of this.parts) {
      if (known.has(id)) continue;
      group.remove();
      this.parts.delete(id);
      this.tags.delete(id);
    }
    const more = document.createDocumentFragment();
    for (const carrier of all) dress(this.parts.get(carrier.id) ?? this.#made(carrier, more), carrier);
    if (more.hasChildNodes()) for (const parts of this.parts.values()) parts.raised = false; // they come on top of all
    this.svg.append(more);
    for (const carrier of all) this.#mark(carrier);
    this.#placed();
  }

  /** Put every carrier where the view has it. @param {Geometry} geometry */
  place(geometry) {
    const moved = this.geometry?.key !== geometry.key || this.geometry.axis !== geometry.axis;
    this.geometry = geometry;
    if (moved) this.#placed();
  }

  #placed() {
    if (!this.geometry) return;
    for (const carrier of this.all) this.#put(carrier);
    this.#labels();
  }

  /** Show what is in the hand. @param {Hand} hand */
  hold(hand) {
    const touched = new Set([...this.hand.hz.keys(), ...hand.hz.keys()]);
    const changed = hand.selected !== this.hand.selected || !same(hand.culprits, this.hand.culprits);
    const before = this.hand;
    this.hand = hand;
    if (!this.geometry) return;
    for (const carrier of this.all) {
      const turned = carrier.id === before.selected || carrier.id === hand.selected;
      if (turned || touched.has(carrier.id)) this.#put(carrier);
      if (turned || before.culprits.has(carrier.id) !== hand.culprits.has(carrier.id) || !hand.selected !== !before.selected) this.#mark(carrier);
    }
    if (changed) this.#labels();
    else this.#ownLabel();
  }

  /** The carrier under a point of the page. @param {{clientX: number, clientY: number}} event @param {number} reach */
  under(event, reach) {
    const box = this.svg.getBoundingClientRect();
    const x = event.clientX - box.left;
    const y = event.clientY - box.top;
    const { geometry, hand } = this;
    if (!geometry || x < geometry.left - reach) return null;
    const selected = this.tags.get(hand.selected ?? "");
    if (selected && Math.abs(selected.x - x) <= Math.min(reach, 6) && y >= geometry.top && y <= geometry.bottom) return selected.id;
    return hit([...this.tags.values()], { x, y, rowHeight: ROW_HEIGHT, reach, selected: hand.selected });
  }

  /** Give the focus to a carrier. @param {string} id */
  focus(id) {
    this.parts.get(id)?.group.focus({ preventScroll: true });
  }

  /** @param {Carrier} carrier */
  #hz = (carrier) => this.hand.hz.get(carrier.id) ?? carrier.hz;

  /** @param {Carrier} carrier */
  #put(carrier) {
    const g = this.geometry;
    const parts = this.parts.get(carrier.id);
    if (!g || !parts) return;
    const hz = this.#hz(carrier);
    const unit = g.unitOf(hz);
    const x = g.x(unit);
    const seen = x >= g.left - 1 && x <= g.right + 1;
    parts.group.style.display = seen ? "" : "none";
    const row = this.rowOf.get(carrier.id) ?? 0;
    const y = (row + 0.5) * ROW_HEIGHT;
    if (!seen) {
      this.tags.delete(carrier.id);
      return;
    }
    this.tags.set(carrier.id, { id: carrier.id, x, row, width: 6 + (carrier.label ?? carrier.id).length * LETTER });
    parts.group.setAttribute("transform", `translate(${x.toFixed(2)} 0)`);
    parts.stem.setAttribute("y1", String(y));
    parts.stem.setAttribute("y2", String(g.bottom));
    const size = carrier.id === this.hand.selected ? " scale(1.35)" : "";
    parts.mark.setAttribute("transform", `translate(0 ${y})${size}`);
    parts.cut?.setAttribute("transform", `translate(0 ${y})${size}`);
    parts.label?.setAttribute("y", String(y + 4.2));
    const half = Math.max(0.5, g.x(unit + carrier.bandwidth / 2) - x);
    parts.band.setAttribute("x", String(-half));
    parts.band.setAttribute("width", String(2 * half));
    parts.band.setAttribute("y", String(g.top));
    parts.band.setAttribute("height", String(g.bottom - g.top));
    if (carrier.movable) {
      parts.group.setAttribute("aria-valuenow", (hz / 1e6).toFixed(4));
      parts.group.setAttribute("aria-valuetext", `${mhz(hz)} MHz`);
    }
  }

  /** @param {Carrier} carrier */
  #mark(carrier) {
    const { selected, culprits, state, low, high } = this.hand;
    const parts = this.parts.get(carrier.id);
    if (!parts) return;
    const { group } = parts;
    const chosen = carrier.id === selected;
    wear(parts, [parts.kind, chosen && "chosen", culprits.has(carrier.id) && "culprit", chosen && state && `verdict-${state}`]);
    const tab = chosen || (!selected && carrier === this.all[0]) ? "0" : "-1";
    if (tab !== parts.tab) group.setAttribute("tabindex", tab); // setting it anew has the browser work out every style
    parts.tab = tab;
    if (chosen && carrier.movable) {
      group.setAttribute("aria-valuemin", (low / 1e6).toFixed(4));
      group.setAttribute("aria-valuemax", (high / 1e6).toFixed(4));
    }
    const onTop = chosen || culprits.has(carrier.id);
    if (!onTop) parts.raised = false;
    else if (!parts.raised && group !== document.activeElement) {
      parts.raised = true;
      this.svg.append(group);
    }
  }

  #labels() {
    const { selected, culprits } = this.hand;
    const g = this.geometry;
    if (!g) return;
    const crowd = this.tags.size > CROWD;
    this.svg.classList.toggle("crowd", crowd);
    const wanted = [...this.tags.values()].filter(({ id }) => !crowd || id === selected || culprits.has(id));
    const sides = labelled([...this.tags.values()], wanted, { selected, marked: culprits, left: g.left, right: g.right });
    for (const tag of this.tags.values()) this.#label(tag, sides.get(tag.id));
  }

  /** While the picked carrier moves, its label goes along and the others stay as they are. */
  #ownLabel() {
    const tag = this.tags.get(this.hand.selected ?? "");
    if (!tag || !this.geometry) return;
    this.#label(tag, tag.x + tag.width > this.geometry.right ? "left" : "right");
  }

  /** Show a label beside its mark, or none; it is made when it is first shown. @param {import("./lanes.js").Tag} tag @param {import("./lanes.js").Side} [side] */
  #label({ id, row }, side) {
    const parts = this.parts.get(id);
    if (!parts || (!side && !parts.label)) return;
    if (!parts.label) {
      parts.label = made("text", "label");
      parts.label.textContent = parts.words;
      parts.label.setAttribute("y", String((row + 0.5) * ROW_HEIGHT + 4.2));
      parts.group.append(parts.label);
    }
    parts.label.style.display = side ? "" : "none";
    if (!side) return;
    const away = id === this.hand.selected ? 11 : 9;
    parts.label.setAttribute("x", String(side === "left" ? -away : away));
    parts.label.setAttribute("text-anchor", side === "left" ? "end" : "start");
  }

  /** @param {Carrier} carrier @param {DocumentFragment} into @returns {Parts} */
  #made(carrier, into) {
    const group = made("g");
    group.dataset.id = carrier.id;
    group.setAttribute("tabindex", "-1");
    const band = made("rect", "band");
    const stem = made("line", "stem");
    const mark = made("path", "mark");
    group.append(band, stem, mark);
    into.append(group);
    /** @type {Parts} */
    const parts = { group, stem, band, mark, cut: null, label: null, words: "", kind: "", worn: "", tab: "-1", raised: false };
    this.parts.set(carrier.id, parts);
    return parts;
  }
}

/** Give a flag the shape, the status and the name of its carrier. @param {Parts} parts @param {Carrier} carrier */
function dress(parts, carrier) {
  const { group, mark, label } = parts;
  const words = carrier.label ?? carrier.id;
  mark.setAttribute("d", SHAPES[carrier.kind]);
  parts.kind = carrier.status ? `flag is-${carrier.kind} at-${carrier.status}` : `flag is-${carrier.kind}`;
  group.setAttribute("role", carrier.movable ? "slider" : "img");
  group.setAttribute("aria-label", carrier.movable ? carrier.name : `${carrier.name}, ${mhz(carrier.hz)} MHz`);
  for (const [name, value] of SLIDER) {
    if (carrier.movable) group.setAttribute(name, group.getAttribute(name) ?? value);
    else group.removeAttribute(name);
  }
  const shape = CUTS[carrier.status ?? ""];
  if (!shape) parts.cut?.remove();
  parts.cut = shape ? (parts.cut ?? mark.parentNode?.insertBefore(made("path", "cut"), mark.nextSibling) ?? null) : null;
  parts.cut?.setAttribute("d", shape);
  if (label && words !== parts.words) label.textContent = words;
  parts.words = words;
}

/** @param {Parts} parts @param {(string | false | null)[]} classes */
function wear(parts, classes) {
  const all = classes.filter(Boolean).join(" ");
  if (all !== parts.worn) parts.group.setAttribute("class", all);
  parts.worn = all;
}

/** What a slider says of itself before it was placed. */
const SLIDER = [["aria-orientation", "horizontal"], ["aria-valuemin", "0"], ["aria-valuemax", "10000"], ["aria-valuenow", "0"], ["aria-valuetext", ""]];

/**
 * @template {keyof SVGElementTagNameMap} K
 * @param {K} name @param {string} [css] @returns {SVGElementTagNameMap[K]}
 */
function made(name, css) {
  const element = /** @type {SVGElementTagNameMap[K]} */ (document.createElementNS(SVG, name));
  if (css) element.setAttribute("class", css);
  return element;
}

/** @param {Set<string>} one @param {Set<string>} two */
const same = (one, two) => one.size === two.size && [...one].every((id) => two.has(id));
