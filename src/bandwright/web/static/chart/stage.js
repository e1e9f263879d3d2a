/**
 * The spectrum with carriers in lanes over it, and the hand on them.
 * @module chart/stage
 */
import { effect, h, html, untracked, useEffect, useRef } from "../lib/html.js";
import { shown as theme } from "../lib/theme.js";
import { unitOf } from "./axis.js";
import { Carriers, ROW_HEIGHT } from "./carriers.js";
import { gestures } from "./gestures.js";
import { LANE_WORDS } from "./lanes.js";
import { readAt } from "./levels.js";
import { paintOverview, rangeOf } from "./overview.js";
import { Spectrum } from "./spectrum.js";
import { dbText, spanText } from "./words.js";

/**
 * @template T
 * @typedef {import("../vendor/signals.js").ReadonlySignal<T>} Of
 */

/**
 * @typedef {object} Hand  What may be done with a carrier. A page on which nothing moves says so with `mayMove`.
 * @property {Of<string | null>} selected
 * @property {Of<number | null>} hzNow
 * @property {Of<{id: string, hz: number} | null>} trial
 * @property {Of<boolean>} mayMove
 * @property {Of<Set<string>>} culprits
 * @property {import("../vendor/signals.js").Signal<boolean>} held
 * @property {() => string | null} state ok, stops or asking
 * @property {() => {low: number, high: number}} reach
 * @property {(id: string | null) => void} pick
 * @property {(hz: number) => void} tryAt
 * @property {(steps: number) => void} nudge
 * @property {() => void} letGo
 * @property {() => void} putBack
 * @property {() => void} keep
 */

/**
 * @typedef {object} Scene
 * @property {Of<import("./axis.js").Axis>} axis
 * @property {Of<import("./ground.js").Ground>} ground
 * @property {Of<import("./lanes.js").Lanes>} lanes
 * @property {Of<import("./carriers.js").Carrier[]>} carriers
 * @property {Of<import("./levels.js").Trace | null>} trace
 * @property {Of<import("./levels.js").Trace | null>} [before] an older sweep behind it
 * @property {import("./looking.js").Looking} look
 * @property {Hand} hand
 */

const NARROW = 620;
const RIGHT = 14;
const FINE = 0.1;
const MOUSE_REACH = 9;
const FINGER_REACH = 26;
const HELP = "Left and right tune by a step, with Shift by ten; Page Up and Page Down go to the next carrier; Enter keeps it, Escape puts it back; + and − zoom.";

/** @param {number} width page pixels */
const measures = (width) => (width < NARROW ? { left: 44, plot: 150 } : { left: 116, plot: width > 1500 ? 250 : 200 });

class Driver {
  /** @param {HTMLElement} root @param {Scene} scene */
  constructor(root, scene) {
    this.scene = scene;
    const part = (/** @type {string} */ name) => /** @type {any} */ (root.querySelector(name));
    this.root = root;
    this.layer = /** @type {SVGSVGElement} */ (part(".stage-flags"));
    this.read = /** @type {HTMLElement} */ (part(".stage-read"));
    this.over = /** @type {HTMLCanvasElement} */ (part(".stage-over"));
    this.width = root.clientWidth;
    this.theme = theme.peek();
    this.size = measures(this.width);
    this.spectrum = new Spectrum(part(".stage-plot"), this.size);
    this.carriers = new Carriers(this.layer);
    this.ready = false;
    /** The frame in which the overview is painted anew. @type {number | undefined} */
    this.frame = undefined;
    this.stops = [
      effect(() => this.#content()),
      effect(() => this.#flags()),
      effect(() => this.#looked()),
      effect(() => this.#handed()),
      effect(() => this.#themed(theme.value)),
      gestures(part(".stage-touch"), {
        zoom: (factor, x) => scene.look.zoomBy(factor, this.spectrum.unitAt(x)),
        pan: (dx) => scene.look.panBy((-dx / this.spectrum.across) * this.#width()),
        whole: () => this.#doubled(),
        grab: (event) => this.#grab(event),
        tap: (event) => scene.hand.pick(this.carriers.under(event, event.pointerType === "mouse" ? MOUSE_REACH : FINGER_REACH)),
      }),
      this.#listen(part(".stage-touch"), "pointermove", (event) => this.#hover(event)),
      this.#listen(part(".stage-touch"), "pointerleave", () => (this.read.textContent = "")),
      this.#listen(this.layer, "keydown", (event) => this.#key(event)),
      this.#listen(this.layer, "keyup", () => this.root.classList.add("by-keys")),
      this.#listen(root, "pointerdown", () => this.root.classList.remove("by-keys")),
      this.#listen(this.layer, "focusin", (event) => this.#focused(event)),
      this.#listen(this.over, "pointerdown", (event) => this.#jump(event)),
    ];
    this.watch = new ResizeObserver(() => this.root.clientWidth !== this.width && this.#resized());
    this.watch.observe(root);
    this.ready = true;
    this.#lay();
  }

  destroy() {
    if (this.frame !== undefined) cancelAnimationFrame(this.frame);
    for (const stop of this.stops) stop();
    this.watch.disconnect();
    this.spectrum.destroy();
  }

  /** @param {EventTarget} target @param {string} name @param {(event: any) => void} listener */
  #listen(target, name, listener) {
    target.addEventListener(name, listener);
    return () => target.removeEventListener(name, listener);
  }

  /** Units that are shown. */
  #width() {
    const { from, to } = this.scene.look.view.peek();
    return to - from;
  }

  #content() {
    const { axis, ground, trace, before, look } = this.scene;
    this.spectrum.show({ axis: axis.value, ground: ground.value, trace: trace.value, before: before?.value }, look.view.peek());
    this.#lay();
  }

  #flags() {
    const { rowOf, rows } = this.scene.lanes.value;
    this.laneHeight = rows * ROW_HEIGHT + 8;
    this.root.style.setProperty("--lanes", `${this.laneHeight}px`);
    this.carriers.set(this.scene.carriers.value, rowOf);
    this.#lay();
  }

  #looked() {
    this.spectrum.look(this.scene.look.view.value);
    this.#lay();
  }

  #handed() {
    const { selected, culprits, trial, state, reach } = this.scene.hand;
    const at = trial.value;
    const { low, high } = reach();
    this.carriers.hold({
      selected: selected.value,
      culprits: culprits.value,
      hz: at ? new Map([[at.id, at.hz]]) : new Map(),
      state: selected.value ? state() : null,
      low,
      high,
    });
  }

  /** Put flags and overview where the spectrum is now; whoever changed something calls it, and it follows nothing. */
  #lay() {
    if (this.ready) untracked(() => this.#laid());
  }

  #laid() {
    const { spectrum } = this;
    const { view } = spectrum;
    const top = (this.laneHeight ?? 0) + spectrum.top;
    this.layer.setAttribute("height", String(top + spectrum.plot));
    this.carriers.place({
      x: (unit) => spectrum.x(unit),
      unitOf: (hz) => unitOf(this.scene.axis.peek(), hz),
      left: spectrum.left,
      right: spectrum.left + spectrum.across,
      top,
      bottom: top + spectrum.plot,
      axis: this.scene.axis.peek(),
      key: [spectrum.left, spectrum.across, top, spectrum.plot, view.from, view.to].join(" "),
    });
    this.frame ??= requestAnimationFrame(() => {
      this.frame = undefined;
      this.#overview();
    });
  }

  #overview() {
    if (!this.root.isConnected) return;
    const { ground, trace, carriers, look } = this.scene;
    const own = carriers.peek().filter((c) => c.kind !== "other" && c.kind !== "found").map((c) => c.hz);
    const content = { range: this.#range(), ground: ground.peek(), trace: trace.peek(), own, shown: look.shown() };
    paintOverview(this.over, content, this.spectrum.left, RIGHT);
  }

  /** Take the inks of another theme, once the page has them. @param {"light" | "dark"} now */
  #themed(now) {
    if (now !== this.theme) requestAnimationFrame(() => this.#resized());
    this.theme = now;
  }

  #resized() {
    this.width = this.root.clientWidth;
    this.size = measures(this.width);
    this.spectrum.resize(this.size);
    this.#lay();
  }

  #range() {
    return rangeOf(
      this.scene.trace.peek(),
      this.scene.ground.peek().permits.flatMap((p) => p.windows),
    );
  }

  /** @param {PointerEvent} event */
  #jump(event) {
    const { low, high } = this.#range();
    const part = (event.offsetX - this.spectrum.left) / this.spectrum.across;
    this.scene.look.closeUp(low + part * (high - low), Math.min(4e6, this.scene.axis.peek().length / 8));
  }

  #doubled() {
    const hz = this.scene.hand.hzNow.peek();
    if (hz !== null && this.#width() > 8e6) this.scene.look.closeUp(hz);
    else this.scene.look.zoomOut();
  }

  /** Take a carrier with the mouse or a pen; a finger picks, and nudges afterwards. @param {PointerEvent} event @returns {boolean} */
  #grab(event) {
    if (event.pointerType === "touch") return false;
    const id = this.carriers.under(event, MOUSE_REACH);
    if (!id) return false;
    this.scene.hand.pick(id);
    this.carriers.focus(id);
    event.preventDefault();
    if (!this.scene.hand.mayMove.peek()) return true;
    this.#drag(event);
    return true;
  }

  /** @param {PointerEvent} event */
  #drag(event) {
    const { hand, axis } = this.scene;
    const target = /** @type {HTMLElement} */ (event.currentTarget);
    const left = this.root.getBoundingClientRect().left;
    const start = event.clientX - left;
    const x0 = this.spectrum.x(unitOf(axis.peek(), hand.hzNow.peek() ?? 0));
    target.setPointerCapture(event.pointerId);
    hand.held.value = true;
    const move = (/** @type {PointerEvent} */ next) => {
      if (next.pointerId !== event.pointerId) return;
      const away = (next.clientX - left - start) * (next.shiftKey ? FINE : 1);
      if (away !== 0) hand.tryAt(this.spectrum.hzAt(x0 + away));
    };
    const end = (/** @type {PointerEvent} */ next) => {
      if (next.pointerId !== event.pointerId) return;
      for (const [name, listener] of /** @type {[string, any][]} */ (listeners)) target.removeEventListener(name, listener);
      if (next.type === "pointerup") return hand.letGo();
      hand.held.value = false;
      hand.putBack();
    };
    const listeners = [["pointermove", move], ["pointerup", end], ["pointercancel", end], ["lostpointercapture", end]];
    for (const [name, listener] of /** @type {[string, any][]} */ (listeners)) target.addEventListener(name, listener);
  }

  /** @param {PointerEvent} event */
  #hover(event) {
    if (event.pointerType === "touch" || this.scene.hand.held.peek()) return;
    const x = event.clientX - this.root.getBoundingClientRect().left;
    const { trace } = this.scene;
    this.root.classList.toggle("over-flag", this.carriers.under(event, MOUSE_REACH) !== null);
    if (x < this.spectrum.left || x > this.spectrum.left + this.spectrum.across) {
      this.read.textContent = "";
      return;
    }
    const hz = this.spectrum.hzAt(x);
    const unit = this.spectrum.unit;
    const sweep = trace.peek();
    const levels = sweep && readAt(sweep, hz);
    const floor = levels?.floor == null ? "" : `, floor ${dbText(levels.floor)}`;
    const said = levels ? `highest ${dbText(levels.highest)}${floor} ${unit}` : sweep ? "not measured" : "";
    this.read.textContent = `${(hz / 1e6).toFixed(3)} MHz${said ? `  ${said}` : ""}`;
  }

  /** @param {FocusEvent} event */
  #focused(event) {
    const id = /** @type {SVGElement} */ (event.target).dataset?.id;
    if (id && id !== this.scene.hand.selected.peek()) this.scene.hand.pick(id);
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const steps = event.shiftKey ? 10 : 1;
    const { hand, look } = this.scene;
    /** @type {{[key: string]: () => void}} */
    const keys = {
      ArrowRight: () => hand.nudge(steps),
      ArrowUp: () => hand.nudge(steps),
      ArrowLeft: () => hand.nudge(-steps),
      ArrowDown: () => hand.nudge(-steps),
      PageUp: () => this.#other(1),
      PageDown: () => this.#other(-1),
      Home: () => this.#other(-Infinity),
      End: () => this.#other(Infinity),
      Enter: () => hand.keep(),
      Escape: () => (hand.trial.peek() ? hand.putBack() : hand.pick(null)),
      "+": () => look.zoomMiddle(0.5),
      "-": () => look.zoomMiddle(2),
      0: () => look.zoomOut(),
    };
    const run = keys[event.key];
    if (!run || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    event.stopPropagation();
    run();
    const hz = hand.hzNow.peek();
    if (event.key.startsWith("Arrow") && hz !== null) look.bring(hz);
  }

  /** Go to the next carrier up or down the spectrum. @param {number} way */
  #other(way) {
    const { carriers, hand, look } = this.scene;
    const all = [...carriers.peek()].sort((a, b) => a.hz - b.hz);
    const at = all.findIndex((c) => c.id === hand.selected.peek());
    const next = all[Math.min(Math.max(Number.isFinite(way) ? at + way : way, 0), all.length - 1)];
    if (!next) return;
    look.bring(next.hz);
    hand.pick(next.id);
    this.carriers.focus(next.id);
  }
}

/** @param {{scene: Scene, label: string}} props */
export function Stage({ scene, label }) {
  const root = useRef(/** @type {HTMLElement | null} */ (null));
  useEffect(() => {
    const driver = new Driver(/** @type {HTMLElement} */ (root.current), scene);
    return () => driver.destroy();
  }, []);
  return html`<div class="stage chart" ref=${root}>
    ${h(LaneWords, { lanes: scene.lanes })}
    <div class="stage-touch" data-owns-keys>
      <div class="stage-plot" role="img" aria-label=${label}></div>
      <svg class="stage-flags" role="group" aria-label="Carriers" aria-describedby="stage-help"></svg>
    </div>
    <p class="stage-read" aria-hidden="true"></p>
    <p class="stage-help" id="stage-help">${HELP}</p>
    <canvas class="stage-over" aria-hidden="true"></canvas>
  </div>`;
}

/** @param {{lanes: Scene["lanes"]}} props */
function LaneWords({ lanes }) {
  return html`<ul class="stage-words" aria-hidden="true">
    ${lanes.value.lanes.map(
      (lane) => html`<li key=${lane.kind} style=${{ top: `${lane.first * ROW_HEIGHT}px` }}><span class=${`kind-mark is-${lane.kind}`}></span><span class="kind-word">${LANE_WORDS[lane.kind]}</span> ${lane.count}</li>`,
    )}
  </ul>`;
}

/** What a chart shows, for those who do not see it. @param {Scene} scene @returns {string} */
export function sceneWords({ ground, carriers }) {
  const { permits, tv, gaps, shallow } = ground.value;
  const taken = tv.filter((c) => c.word).map((c) => `${c.channel} ${c.word}`);
  const list = (/** @type {import("./axis.js").Span[]} */ spans) => spans.slice(0, 8).map((s) => spanText(s.low, s.high)).join(", ");
  return [
    "Spectrum.",
    permits.length && `Permits: ${permits.map((p) => `${p.reference} ${list(p.windows)}`).join("; ")}.`,
    taken.length && `TV channels not to be used: ${taken.join(", ")}.`,
    gaps.length && `Not measured: ${list(gaps)}.`,
    shallow.length && `Too shallow: ${list(shallow)}.`,
    `${carriers.value.length} carriers; the tables on this page list them.`,
  ]
    .filter(Boolean)
    .join(" ");
}
