/**
 * The plan of a place as a picture: bands and lines of a map under it, zones, walls and walks, and antennas that are
 * moved by pointer or arrows.
 * @module chart/plan_picture
 */
import { h, html, useLayoutEffect, useMemo, useRef, useState } from "../lib/html.js";
import { above, lines, spread } from "./contours.js";

/** @typedef {[number, number]} Metres */
/** @typedef {{uid: string, id: string, name: string, at: Metres, own: boolean, facing: number | null}} Antenna */

/**
 * @typedef {object} Scale  how values are banded: lowest band first
 * @property {string} title
 * @property {number[]} levels  between the bands
 * @property {string[]} bands  in words
 * @property {string[]} labels  at the lines
 * @property {number[]} shades  of the bands, 0 for bare paper
 * @property {(string | null)[]} marks  patterns on them
 * @property {(values: (number | null)[][] | null) => (number | null)[][] | null} values
 */

/** @type {Scale} */
export const MARGIN = {
  title: "dB over what the link needs",
  levels: [-10, 0, 6, 12, 20, 30],
  bands: ["more than 10 dB short", "up to 10 dB short", "0 to 6 dB: just enough", "6 to 12 dB", "12 to 20 dB", "20 to 30 dB", "30 dB and more"],
  labels: ["−10", "0 dB", "6", "12", "20", "30"],
  shades: [0, 0, 1, 2, 3, 4, 5],
  marks: ["plan-cross", "plan-hatch", null, null, null, null, null],
  values: (values) => values,
};

/** Dropouts by the power of ten of their share of the time. @type {Scale} */
export const DROPOUTS = {
  title: "share of the time below what the link needs",
  levels: [1, 2, 3, 4, 5],
  bands: ["more than 10 % of the time", "1 to 10 %", "0.1 to 1 %", "0.01 to 0.1 %", "0.001 to 0.01 %", "less than 0.001 %"],
  labels: ["10 %", "1 %", "0.1 %", "0.01 %", "0.001 %"],
  shades: [0, 0, 1, 2, 3, 5],
  marks: ["plan-cross", "plan-hatch", null, null, null, null],
  values: (values) => values?.map((row) => row.map((one) => (one === null ? null : -Math.log10(Math.max(one, 1e-12))))) ?? null,
};

/**
 * @typedef {object} Props
 * @property {Metres[]} outline
 * @property {{from_m: Metres, to_m: Metres, name?: string}[]} walls
 * @property {{id: string, name: string, corners: Metres[], own: boolean}[]} zones
 * @property {{id: string, name: string, along: Metres[]}[]} walks
 * @property {{name: string, at: Metres}[]} transmitters
 * @property {Antenna[]} antennas
 * @property {{id: string, name: string, at: Metres, rank: number}[]} candidates
 * @property {Metres[][]} near
 * @property {{at: Metres, text: string} | null} worst
 * @property {{left: number, low: number, step: number, values: (number | null)[][] | null} | null} grid
 * @property {Scale} scale
 * @property {boolean} old  something was moved that the map does not know yet
 * @property {boolean} editable
 * @property {(uid: string, at: Metres) => void} onMove  it was put down there
 * @property {(uid: string, at: Metres | null) => void} onHold  it is in somebody's hand there; null: no longer
 * @property {string} description
 */

const MOST_HIGH = 640;
const EDGE = 34;
/** Where there is less room than this, spots with a rank and antennas of other links go without their names. */
const NARROW = 480;

/** @param {Props} props */
export function PlanPicture(props) {
  const root = useRef(/** @type {HTMLElement | null} */ (null));
  const [width, setWidth] = useState(720);
  useLayoutEffect(() => {
    const watch = new ResizeObserver(([entry]) => setWidth(Math.max(240, Math.floor(entry.contentRect.width))));
    if (root.current) watch.observe(root.current);
    return () => watch.disconnect();
  }, []);
  const frame = useMemo(() => frameOf(props, width), [props.outline, props.antennas, props.candidates, props.transmitters, width]);
  return html`<figure ref=${root} class=${props.old ? "plan-picture is-old" : "plan-picture"}>
    <svg width=${frame.width} height=${frame.height} role="group" aria-label="Plan of the place">
      <defs>
        <pattern id="plan-hatch" width="8" height="8" patternUnits="userSpaceOnUse"><path class="plan-mark" d="M-2 2l4-4M0 8l8-8M6 10l4-4" /></pattern>
        <pattern id="plan-cross" width="8" height="8" patternUnits="userSpaceOnUse"><path class="plan-mark" d="M-2 2l4-4M0 8l8-8M6 10l4-4M-2 6l4 4M0 0l8 8M6-2l4 4" /></pattern>
        <clipPath id="plan-outline"><path d=${frame.closed(props.outline)} /></clipPath>
      </defs>
      <path class="plan-ground" d=${frame.closed(props.outline)} />
      ${h(Ground, { grid: props.grid, scale: props.scale, frame, keep: [...[...props.antennas, ...props.candidates, ...props.transmitters].map((one) => one.at), ...(props.worst ? [props.worst.at] : [])] })}
      ${h(Axes, { frame })}
      ${props.zones.map((zone) => html`<path key=${zone.id} class=${zone.own ? "plan-zone is-own" : "plan-zone"} d=${frame.closed(zone.corners)} />`)}
      ${props.walks.map((walk) => html`<path key=${walk.id} class="plan-walk" d=${frame.line(walk.along)} />`)}
      ${props.near.map((ring, at) => html`<path key=${at} class="plan-near" d=${frame.closed(ring)} />`)}
      <path class="plan-edge" d=${frame.closed(props.outline)} />
      ${props.walls.map((wall, at) => html`<path key=${at} class="plan-wall" d=${frame.line([wall.from_m, wall.to_m])} />`)}
      ${props.zones.map((zone) => h(Word, { key: zone.id, at: frame.at(middleLow(zone.corners)), dy: -7, text: zone.name, name: "plan-zone-name" }))}
      ${props.candidates.map((one) => h(Candidate, { key: one.id, one, at: frame.at(one.at), named: one.rank === 0 || !frame.narrow, above: props.antennas.some((mast) => near(frame.at(mast.at), frame.at(one.at))) }))}
      ${props.transmitters.map((one) => html`<g key=${one.name} class="plan-sender" transform=${`translate(${frame.at(one.at).join(" ")})`}><path d="M0-7L6.5 5h-13z" />${h(Word, { at: [0, 0], dy: 19, text: one.name, name: "plan-name", anchor: sideOf(frame.at(one.at)[0], frame) })}</g>`)}
      ${props.worst && h(Worst, { at: frame.at(props.worst.at), text: props.worst.text, frame })}
      ${props.antennas.map((antenna) => h(Mast, { key: antenna.uid, antenna, frame, editable: props.editable, onMove: props.onMove, onHold: props.onHold }))}
    </svg>
    <figcaption class="unseen">${props.description}</figcaption>
  </figure>`;
}

/** @typedef {ReturnType<typeof frameOf>} Frame */

/** @param {Props} props @param {number} wide  units of the picture that there are */
function frameOf({ outline, antennas, candidates, transmitters }, wide) {
  const points = [...outline, ...antennas.map((one) => one.at), ...candidates.map((one) => one.at), ...transmitters.map((one) => one.at)];
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  const room = Math.max(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys), 1) * 0.03;
  const [left, right, low, high] = [Math.min(...xs) - room, Math.max(...xs) + room, Math.min(...ys) - room, Math.max(...ys) + room];
  const scale = Math.min((wide - EDGE - 6) / (right - left), MOST_HIGH / (high - low));
  /** @param {Metres} spot @returns {Metres} */
  const at = ([x, y]) => [EDGE + (x - left) * scale, 6 + (high - y) * scale];
  const line = (/** @type {Metres[]} */ spots) => spots.map((spot, index) => `${index === 0 ? "M" : "L"}${at(spot).map((value) => value.toFixed(1)).join(" ")}`).join("");
  return { narrow: wide < NARROW, left, right, low, high, scale, at, line, closed: (/** @type {Metres[]} */ spots) => `${line(spots)}Z`, width: Math.round(EDGE + 6 + (right - left) * scale), height: Math.round((high - low) * scale + 6 + 26) };
}

/** Bands from below up, each over the one before it, then lines with their figures. @param {{grid: Props["grid"], scale: Scale, frame: Frame, keep: Metres[]}} props */
function Ground({ grid, scale, frame, keep }) {
  const field = useMemo(() => (grid?.values ? spread(grid.values) : null), [grid?.values]);
  const drawn = useMemo(() => {
    if (!field || !grid) return null;
    const spot = (/** @type {Metres} */ [column, row]) => /** @type {Metres} */ ([grid.left + (column - 0.5) * grid.step, grid.low + (row - 0.5) * grid.step]);
    const taken = keep.map(frame.at);
    return scale.levels.map((level, at) => {
      const pieces = lines(field, level).map((ends) => /** @type {[Metres, Metres]} */ ([frame.at(spot(ends[0])), frame.at(spot(ends[1]))]));
      return {
        band: above(field, level).map((corners) => frame.closed(corners.map(spot))).join(""),
        line: pieces.map(([one, two]) => `M${one.map((v) => v.toFixed(1)).join(" ")}L${two.map((v) => v.toFixed(1)).join(" ")}`).join(""),
        label: labelSpot(pieces, taken, frame),
        text: scale.labels[at],
      };
    });
  }, [field, grid?.left, grid?.low, grid?.step, scale, frame]);
  if (!drawn) return null;
  return html`<g class="plan-map" clip-path="url(#plan-outline)">
    <rect width=${frame.width} height=${frame.height} class=${`band band-${scale.shades[0]}`} />
    <rect width=${frame.width} height=${frame.height} fill=${`url(#${scale.marks[0]})`} />
    ${drawn.map((one, at) => html`<g key=${at}><path class=${`band band-${scale.shades[at + 1]}`} d=${one.band} />${scale.marks[at + 1] && html`<path d=${one.band} fill=${`url(#${scale.marks[at + 1]})`} />`}</g>`)}
    ${drawn.map((one, at) => html`<path key=${`line ${at}`} class=${scale.labels[at] === "0 dB" ? "plan-line is-limit" : "plan-line"} d=${one.line} />`)}
    ${drawn.map((one, at) => one.label && h(Word, { key: `label ${at}`, at: one.label, dy: 4, text: one.text, name: "plan-figure" }))}
  </g>`;
}

/**
 * Where the figure of a line has most room: far from figures that stand, from antennas and from the edge.
 * @param {[Metres, Metres][]} pieces @param {Metres[]} taken  gets the spot too @param {Frame} frame @returns {Metres | null}
 */
function labelSpot(pieces, taken, frame) {
  let best = null;
  let most = 26;
  for (const [one, two] of pieces) {
    const [x, y] = [(one[0] + two[0]) / 2, (one[1] + two[1]) / 2];
    const edge = Math.min(x - EDGE - 12, frame.width - 22 - x, y - 16, frame.height - 40 - y);
    if (edge < 8) continue;
    const room = Math.min(edge * 2, ...taken.map(([tx, ty]) => Math.hypot(tx - x, ty - y)));
    if (room > most) [most, best] = [room, /** @type {Metres} */ ([x, y])];
  }
  if (best) taken.push(best);
  return best;
}

const minus = (/** @type {number} */ value) => String(value).replace("-", "−");

/** Metres along two edges. @param {{frame: Frame}} props */
function Axes({ frame }) {
  const step = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000].find((one) => one * frame.scale >= 56) ?? 2000;
  const ticks = (/** @type {number} */ from, /** @type {number} */ to) => Array.from({ length: Math.floor(to / step) - Math.ceil(from / step) + 1 }, (_none, index) => (Math.ceil(from / step) + index) * step);
  const base = frame.height - 26;
  return html`<g class="plan-axes" aria-hidden="true">
    ${ticks(frame.left, frame.right).map((x, at, all) => html`<g key=${`x${x}`}><path d=${`M${frame.at([x, 0])[0].toFixed(1)} ${base}v4`} /><text x=${frame.at([x, 0])[0]} y=${base + 17} text-anchor="middle">${minus(x)}${at === all.length - 1 ? " m" : ""}</text></g>`)}
    ${ticks(frame.low, frame.high).map((y) => html`<g key=${`y${y}`}><path d=${`M${EDGE - 4} ${frame.at([0, y])[1].toFixed(1)}h4`} /><text x=${EDGE - 8} y=${frame.at([0, y])[1] + 4} text-anchor="end">${minus(y)}</text></g>`)}
  </g>`;
}

/** @param {Metres[]} corners @returns {Metres} the middle of the lower edge */
const middleLow = (corners) => [(Math.min(...corners.map(([x]) => x)) + Math.max(...corners.map(([x]) => x))) / 2, Math.min(...corners.map(([, y]) => y))];

/** @param {{at: Metres, dy: number, text: string, name: string, anchor?: string, dx?: number}} props */
const Word = ({ at, dx = 0, dy, text, name, anchor = "middle" }) => html`<text class=${name} x=${at[0] + dx} y=${at[1] + dy} text-anchor=${anchor}>${text}</text>`;

/** Which end of a name stands at its sign, so that it stays in the picture. @param {number} x @param {Frame} frame */
const sideOf = (x, frame) => (x > frame.width - 70 ? "end" : x < 90 ? "start" : "middle");

/** Whether the names of two signs would lie on each other. @param {Metres} one @param {Metres} two */
const near = (one, two) => Math.abs(one[0] - two[0]) < 80 && Math.abs(one[1] - two[1]) < 22;

/** A spot where an antenna might stand; its name is over it where an antenna's is under it. @param {{one: Props["candidates"][number], at: Metres, named: boolean, above: boolean}} props */
const Candidate = ({ one, at, named, above }) => html`<g class="plan-candidate" transform=${`translate(${at.join(" ")})`}>
  <path d="M0-10L10 0 0 10-10 0z" />${one.rank > 0 && h(Word, { at: [0, 0], dy: 4, text: String(one.rank), name: "plan-rank" })}${named && h(Word, { at: [0, 0], dy: above ? -15 : 24, text: one.name, name: "plan-name" })}
</g>`;

/** @param {{at: Metres, text: string, frame: Frame}} props */
function Worst({ at, text, frame }) {
  const right = at[0] < frame.width / 2;
  return html`<g class="plan-worst" transform=${`translate(${at.join(" ")})`}><circle r="9" /><path d="M-4.5-4.5l9 9M4.5-4.5l-9 9" />${h(Word, { at: [0, 0], dx: right ? 14 : -14, dy: 5, text, name: "plan-worst-name", anchor: right ? "start" : "end" })}</g>`;
}

/** @type {{[key: string]: Metres}} */
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const PAUSE_MS = 600;

/** An antenna: dragged by pointer, moved by arrows; kept when let go. @param {{antenna: Antenna, frame: Frame, editable: boolean, onMove: Props["onMove"], onHold: Props["onHold"]}} props */
function Mast({ antenna, frame, editable, onMove, onHold }) {
  const [hand, setHand] = useState(/** @type {Metres | null} */ (null));
  const grip = useRef(/** @type {{from: Metres, frame: Frame, x: number, y: number, at: Metres | null, timer: number} | null} */ (null));
  const spot = hand ?? antenna.at;
  const at = (grip.current?.frame ?? frame).at(spot);
  const take = (/** @type {number} */ x, /** @type {number} */ y) => (grip.current = { from: antenna.at, frame, x, y, at: null, timer: 0 });
  const put = (/** @type {Metres} */ next) => {
    const before = grip.current?.at ?? spot;
    if (grip.current) grip.current.at = next;
    setHand(next);
    if (next[0] !== before[0] || next[1] !== before[1]) onHold(antenna.uid, next);
  };
  const letGo = (/** @type {boolean} */ keep) => {
    const held = grip.current;
    if (!held) return;
    clearTimeout(held.timer);
    grip.current = null;
    setHand(null);
    if (keep && held.at && (held.at[0] !== held.from[0] || held.at[1] !== held.from[1])) onMove(antenna.uid, held.at);
    else onHold(antenna.uid, null);
  };
  const down = (/** @type {PointerEvent} */ event) => {
    if (event.button !== 0) return;
    const target = /** @type {Element} */ (event.currentTarget);
    try {
      target.setPointerCapture(event.pointerId);
    } catch {
      // a pointer that is gone already
    }
    take(event.clientX, event.clientY);
  };
  const move = (/** @type {PointerEvent} */ event) => {
    const held = grip.current;
    if (!held || (event.buttons === 0 && event.pointerType === "mouse")) return;
    put([tidy(held.from[0] + (event.clientX - held.x) / held.frame.scale), tidy(held.from[1] - (event.clientY - held.y) / held.frame.scale)]);
  };
  const key = (/** @type {KeyboardEvent} */ event) => {
    if (event.key === "Escape") letGo(false);
    if (event.key === "Enter") letGo(true);
    const way = ARROWS[event.key];
    if (!way || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const held = grip.current ?? take(0, 0);
    const by = event.shiftKey ? 0.1 : 0.5;
    const [x, y] = held.at ?? held.from;
    put([tidy(x + way[0] * by), tidy(y + way[1] * by)]);
    clearTimeout(held.timer);
    held.timer = window.setTimeout(() => letGo(true), PAUSE_MS);
  };
  const doing = editable
    ? { tabindex: 0, role: "slider", "data-owns-keys": true, "aria-label": antenna.name, "aria-valuenow": spot[0], "aria-valuemin": Math.round(frame.left), "aria-valuemax": Math.round(frame.right), "aria-valuetext": `x ${spot[0]}, y ${spot[1]} m`, onPointerDown: down, onPointerMove: move, onPointerUp: () => letGo(true), onPointerCancel: () => letGo(false), onKeyDown: key, onBlur: () => letGo(true) }
    : { role: "img", "aria-label": `${antenna.name}: x ${spot[0]}, y ${spot[1]} m` };
  const wide = sideOf(at[0], frame);
  return html`<g class=${`plan-mast${antenna.own ? " is-own" : ""}${hand ? " is-held" : ""}`} transform=${`translate(${at.join(" ")})`} ...${doing}>
    <circle class="plan-grip" r="20" />
    ${antenna.facing !== null && html`<path class="plan-look" d="M0-12L5-19H-5z" transform=${`rotate(${antenna.facing})`} />`}
    <circle class="plan-dot" r="9" /><path class="plan-sign" d="M0 5V-4M-4.5-4.5L0 0l4.5-4.5" />
    ${(antenna.own || hand || !frame.narrow) && h(Word, { at: [0, 0], dy: 26, text: hand ? `${spot[0]}, ${spot[1]} m` : antenna.name, name: "plan-name", anchor: wide })}
  </g>`;
}

/** @param {number} metres */
const tidy = (metres) => Math.round(metres * 10) / 10;
