/**
 * The carrier in the hand: which one it is, where it is held just now, and what the service says of that place.
 *
 * What is painted is known here at once; the verdict follows. Nothing that others change moves it while it is held.
 * @module pages/plan/hand
 */
import { batch, computed, signal } from "../../lib/html.js";
import { mhz } from "../../lib/format.js";
import { change, mayEdit } from "../../lib/state.js";
import { tell } from "../../lib/toasts.js";
import { newestWins } from "../../chart/newest.js";
import { nearest, reach, stepped } from "../../chart/tuning.js";
import { askVerdict } from "./ask.js";
import { planNow, rowsById } from "./model.js";

/** @typedef {import("./types.js").Preview} Preview */
/** @typedef {import("./types.js").Row} Row */

/** Id of what is picked. @type {import("../../vendor/signals.js").Signal<string | null>} */
export const selected = signal(null);
/** Where it is tried. `base` is the plan it was taken from. @type {import("../../vendor/signals.js").Signal<{id: string, hz: number, base: number | null} | null>} */
export const trial = signal(null);
/** What the service says of the place it is at. @type {import("../../vendor/signals.js").Signal<Preview | null>} */
export const verdict = signal(null);
/** Whether a newer verdict is on its way. */
export const asking = signal(false);
/** Whether a finger or the mouse holds it. */
export const held = signal(false);
export const saving = signal(false);

export const row = computed(() => (selected.value === null ? null : (rowsById.value.get(selected.value) ?? null)));
/** Where the picked carrier is now, Hz. */
export const hzNow = computed(() => trial.value?.hz ?? row.value?.hz ?? null);
/** Whether the picked carrier may be moved by this person. */
export const mayMove = computed(() => !!row.value?.link && !row.value.held && mayEdit.value);

/** Ids of those in the way, or put into trouble. @type {import("../../vendor/signals.js").ReadonlySignal<Set<string>>} */
export const culprits = computed(() => {
  const said = verdict.value;
  if (!said || said.ok) return new Set();
  const named = [...said.violations.flatMap((v) => [...v.sources, v.victim]), ...troubled(said).map((a) => a.id)];
  return new Set(named.filter((id) => id !== selected.value && rowsById.value.has(id)));
});

/** @param {Preview} said @returns {Preview["affected"]} links that a move puts into trouble */
export const troubled = (said) => said.affected.filter((other) => other.ok !== true);

const questions = newestWins(
  askVerdict,
  (answer) => {
    batch(() => {
      verdict.value = answer;
      asking.value = false;
    });
  },
  (error) => {
    asking.value = false;
    if (!held.peek()) tell(/** @type {Error} */ (error).message, { kind: "refused" });
  },
);

/** Pick a carrier; what was tried with another one and not kept is put back, and said. @param {string | null} id */
export function pick(id) {
  if (id === selected.value) return;
  const left = trial.value;
  batch(() => {
    trial.value = null;
    verdict.value = null;
    selected.value = id;
  });
  questions.forget();
  if (left) tell(`${left.id} is back where the plan has it; ${mhz(left.hz)} MHz was not kept.`);
  ask();
}

/** Ask for the verdict on where the picked carrier is. */
export function ask() {
  const of = row.peek();
  const hz = hzNow.peek();
  if (!of?.link || hz === null || !of.uid || !planNow()) return;
  asking.value = true;
  questions.ask({ link: of.uid, hz });
}

/** Try the picked carrier at a frequency, or as near as its radio can be tuned. @param {number} hz @returns {boolean} whether it moved */
export function tryAt(hz) {
  const of = row.peek();
  if (!of?.link || !mayMove.peek()) return false;
  const to = nearest(of.radio, hz);
  if (to === hzNow.peek()) return false;
  const base = trial.peek()?.base ?? planNow()?.number ?? null;
  trial.value = { id: of.id, hz: to, base };
  ask();
  return true;
}

/** Tune by steps of the radio. @param {number} steps */
export function nudge(steps) {
  const hz = hzNow.peek();
  if (hz !== null) tryAt(stepped(row.peek()?.radio, hz, steps));
}

/** The lowest and highest carrier the picked one can be tuned to. */
export const reachNow = () => reach(row.value?.radio);

/** Let go after a drag: a place where every rule is kept is saved at once; any other waits for a word. */
export function letGo() {
  held.value = false;
  const now = trial.peek();
  if (!now) return;
  if (now.hz === row.peek()?.hz) putBack();
  else if (verdict.peek()?.carrier_hz === now.hz && !asking.peek()) settle(now.hz);
  else once(() => !asking.value, () => settle(now.hz));
}

/** @param {number} hz */
function settle(hz) {
  if (held.peek() || trial.peek()?.hz !== hz) return;
  const said = verdict.peek();
  if (said?.carrier_hz === hz && said.ok && troubled(said).length === 0) void keep();
}

/** @param {() => boolean} holds @param {() => void} then */
function once(holds, then) {
  const stop = asking.subscribe(() => {
    if (!holds()) return;
    queueMicrotask(() => {
      stop();
      then();
    });
  });
}

/** Leave it where the plan has it. */
export function putBack() {
  if (!trial.peek()) return;
  trial.value = null;
  ask();
}

/** Make a plan with the picked carrier where it is tried. */
export async function keep() {
  const now = trial.peek();
  const of = row.peek();
  if (!now || !of?.uid || saving.peek()) return;
  saving.value = true;
  try {
    await change("POST", "/plan/move", { link: of.uid, carrier_hz: now.hz, base: now.base });
    tell(`${of.id} is on ${mhz(now.hz)} MHz now.`);
  } catch (error) {
    tell(/** @type {Error} */ (error).message, { kind: "refused" });
    if (trial.peek()) trial.value = { ...now, base: planNow()?.number ?? null };
  } finally {
    saving.value = false;
  }
}

/** When a new plan is in force: a kept trial is the plan now; another one is judged anew. */
export function planChanged() {
  const now = trial.peek();
  if (now && rowsById.peek().get(now.id)?.hz === now.hz) trial.value = null;
  if (!held.peek()) ask();
}

/** How the picked carrier stands, as the chart shows it. */
export function stateNow() {
  const said = verdict.value;
  if (asking.value || !said || said.carrier_hz !== hzNow.value) return "asking";
  return said.ok && troubled(said).length === 0 ? "ok" : "stops";
}

/** The hand as a chart needs it. @type {import("../../chart/stage.js").Hand} */
export const hand = { selected, hzNow, trial, mayMove, culprits, held, state: stateNow, reach: reachNow, pick, tryAt, nudge, letGo, putBack, keep };
