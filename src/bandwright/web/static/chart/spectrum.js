/**
 * The spectrum on a canvas: levels by uPlot, the ground under them and the rows below painted by us.
 * @module chart/spectrum
 */
import UPlot from "../vendor/uplot.js";
import { hzAt, ticks, whole } from "./axis.js";
import { inksOf } from "./inks.js";
import { NO_GROUND, ROW, paintCover, paintGround, paintPermits, paintTv } from "./ground.js";
import { MISSING, columns, heldOver, levelRange } from "./levels.js";
import { dbText, khzText } from "./words.js";

/** @typedef {import("./axis.js").Axis} Axis */
/** @typedef {import("./axis.js").View} View */
/** @typedef {import("./ground.js").Ground} Ground */
/** @typedef {import("./levels.js").Trace} Trace */
/** @typedef {{segments: import("./levels.js").Segment[], series: Int16Array[]}} Lines */
/** @typedef {{axis: Axis, ground?: Ground, trace?: Trace | null, before?: Trace | null}} Content
 * `before` is an older sweep, drawn behind */

const TICK_ROOM = 24;
const RIGHT = 14;
const TOP = 20;
const WIDE = 90;

/** @type {[number[], any[], any[], any[], any[]]} */
const NOTHING = [[], [], [], [], []];

export class Spectrum {
  /** @param {HTMLElement} host an empty element; its width counts, its height is ours @param {{plot: number, left: number}} size */
  constructor(host, { plot, left }) {
    this.host = host;
    this.plot = plot;
    this.left = left;
    /** @type {Axis} */
    this.axis = { panels: [{ low: 470e6, high: 694e6, at: 0 }], fold: 0, length: 224e6 };
    this.view = whole(this.axis);
    this.ground = NO_GROUND;
    this.levels = { low: -130, high: -60 };
    this.unit = "";
    /** What levels are in, and over which width. */
    this.per = "";
    this.inks = inksOf(host);
    this.rows = 0;
    this.width = this.#widthNow();
    /** @type {Lines | null} */
    this.lines = null;
    /** Made when there is something to show. @type {UPlot | null} */
    this.chart = null;
  }

  /** Draw another axis, ground or sweep. @param {Content} content @param {View} view */
  show({ axis, ground = NO_GROUND, trace = null, before = null }, view) {
    this.axis = axis;
    this.ground = ground;
    this.view = view;
    this.unit = trace ? trace.unit : "";
    this.per = trace?.segments.length ? `${this.unit} in ${khzText(trace.segments[0].step_hz / 1e3)} kHz` : this.unit;
    this.levels = levelRange(axis, [trace, before].filter((t) => t !== null)) ?? { low: -130, high: -60 };
    const rows = (ground.tv.length ? 1 : 0) + (ground.permits.length ? 1 : 0);
    this.lines = linesOf(trace, before);
    if (!this.chart || rows !== this.rows) this.#remade(rows);
    this.look(view);
  }

  /** @param {number} rows below the plot */
  #remade(rows) {
    this.chart?.destroy();
    this.rows = rows;
    this.chart = this.#made();
  }

  /** @param {View} view */
  look(view) {
    this.view = view;
    this.chart?.setData(this.#data(), false);
    this.chart?.setScale("x", { min: view.from, max: view.to });
  }

  /** What is drawn of the view: no more points than its pixels can show. @returns {any} */
  #data() {
    const { lines, axis, view } = this;
    return lines ? columns(axis, lines.segments, lines.series, view, this.across * (devicePixelRatio || 1)) : NOTHING;
  }

  /** Take new colours, or a new width or height. @param {{plot?: number, left?: number}} [size] */
  resize({ plot = this.plot, left = this.left } = {}) {
    const sides = left !== this.left;
    this.inks = inksOf(this.host);
    this.width = this.#widthNow();
    this.plot = plot;
    this.left = left;
    if (!this.chart) return;
    if (sides) {
      this.#remade(this.rows);
      this.look(this.view);
    } else {
      this.chart.setSize({ width: this.width, height: this.height });
      this.look(this.view);
      this.chart.redraw(true, true);
    }
  }

  /** Measured once for each size: asking costs a layout. */
  #widthNow() {
    return Math.max(160, this.host.clientWidth);
  }
  get height() {
    return TOP + this.plot + TICK_ROOM + this.rows * ROW;
  }
  /** Where the plot begins, page pixels from the top of the host. */
  get top() {
    return TOP;
  }
  /** Width of the plot itself, page pixels. */
  get across() {
    return this.width - this.left - RIGHT;
  }
  /** @param {number} unit @returns {number} page pixels from the left of the host */
  x(unit) {
    return this.left + ((unit - this.view.from) / (this.view.to - this.view.from)) * this.across;
  }
  /** @param {number} x page pixels from the left of the host @returns {number} units */
  unitAt(x) {
    return this.view.from + ((x - this.left) / this.across) * (this.view.to - this.view.from);
  }
  /** @param {number} x @returns {number} Hz */
  hzAt(x) {
    return hzAt(this.axis, this.unitAt(x));
  }

  destroy() {
    this.chart?.destroy();
  }

  #made() {
    const ink = (/** @type {import("./inks.js").Ink} */ name) => () => this.inks[name];
    const font = () => `12px ${this.inks.font}`;
    /** @type {import("../vendor/uplot.js").default.Options} */
    const options = {
      width: this.width,
      height: this.height,
      padding: [TOP, RIGHT, 0, 0],
      legend: { show: false },
      cursor: { show: false },
      select: { show: false, left: 0, top: 0, width: 0, height: 0 },
      scales: {
        x: { time: false, auto: false, range: () => [this.view.from, this.view.to] },
        y: { auto: false, range: () => [this.levels.low, this.levels.high] },
      },
      axes: [
        {
          size: TICK_ROOM + this.rows * ROW,
          font: font(),
          stroke: ink("muted"),
          gap: 4,
          grid: { show: false },
          ticks: { stroke: ink("muted"), width: 1, size: 4 },
          splits: () => this.#ticks().map((t) => t.at),
          values: () => this.#ticks().map((t) => t.text),
        },
        {
          size: this.left,
          font: font(),
          stroke: ink("muted"),
          gap: 6,
          space: 28,
          grid: { stroke: ink("grid"), width: 1 },
          ticks: { show: false },
          values: (/** @type {any} */ _, /** @type {number[]} */ at) => at.map(dbText),
        },
      ],
      series: [
        {},
        { stroke: ink("other"), width: 1, dash: [2, 3], points: { show: false } },
        { fill: ink("typical"), fillTo: () => this.levels.low, width: 0, points: { show: false } },
        { stroke: ink("trace"), width: 1.1, points: { show: false } },
        { stroke: ink("floor"), width: 1.25, dash: [7, 4], points: { show: false } },
      ],
      hooks: {
        drawClear: [(chart) => paintGround(this.#brush(chart), this.ground)],
        draw: [(chart) => this.#cover(this.#brush(chart))],
      },
    };
    return new UPlot(options, NOTHING, this.host);
  }

  #ticks() {
    return ticks(this.axis, this.view, this.across, 44);
  }

  /** @param {UPlot} chart @returns {import("./ground.js").Brush} */
  #brush({ ctx, bbox }) {
    const scale = devicePixelRatio || 1;
    const x = (/** @type {number} */ unit) => bbox.left + ((unit - this.view.from) / (this.view.to - this.view.from)) * bbox.width;
    return { draw: ctx, axis: this.axis, inks: this.inks, box: bbox, scale, x };
  }

  /** @param {import("./ground.js").Brush} brush */
  #cover(brush) {
    const { draw, box, scale } = brush;
    draw.setLineDash([]);
    draw.save();
    draw.beginPath();
    draw.rect(box.left, box.top, box.width, box.height);
    draw.clip();
    paintCover(brush, this.ground);
    draw.restore();
    draw.strokeStyle = this.inks.muted;
    draw.lineWidth = scale;
    draw.strokeRect(box.left + 0.5, box.top + 0.5, box.width - 1, box.height - 1);
    draw.fillStyle = this.inks.muted;
    draw.font = `${12 * scale}px ${this.inks.font}`;
    draw.textAlign = "right";
    draw.textBaseline = "middle";
    draw.fillText(this.left < WIDE ? this.unit : this.per, box.left - 6 * scale, box.top - 13 * scale);
    let top = box.top + box.height + TICK_ROOM * scale;
    if (this.ground.tv.length) {
      paintTv(brush, this.ground.tv, top);
      top += ROW * scale;
    }
    if (this.ground.permits.length) paintPermits(brush, this.ground.permits, top);
  }
}

/**
 * What is drawn of a sweep and of an older one behind it: their bins, and older, typical, highest and floor over them.
 * @param {Trace | null} trace @param {Trace | null} before @returns {Lines | null}
 */
function linesOf(trace, before) {
  const base = trace ?? before;
  if (!base) return null;
  const none = new Int16Array(base.count).fill(MISSING);
  if (!trace) return { segments: base.segments, series: [base.highest, none, none, none] };
  return { segments: base.segments, series: [before ? heldOver(trace, before) : none, trace.typical, trace.highest, trace.floor] };
}
