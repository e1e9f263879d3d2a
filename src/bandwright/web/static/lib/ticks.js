/** Ticks: set, heard and walked for each link, and the points that somebody states. They wait in the outbox like edits. */
import { computed, signal } from "./html.js";
import { waitingChanges } from "./outbox.js";
import { change, readiness } from "./state.js";
import { tell } from "./toasts.js";

/** @typedef {import("./types.js").LinkLine} LinkLine */
/** @typedef {"set" | "heard" | "walked"} Tick */

/** What is ticked of each link, in the order in which it is done, with the words around it. */
export const TICKS = /** @type {const} */ ([
  { tick: "set", open: "Not set", word: "Set" },
  { tick: "heard", open: "Set, not heard", word: "Heard" },
  { tick: "walked", open: "Heard, not walked", word: "Walked" },
]);

/** Ticks of this page that what the service says does not hold yet, as "set uid". */
const tapped = signal(/** @type {string[]} */ ([]));
/** Those, and the ones that an earlier page left waiting. */
const onTheirWay = computed(() => {
  const sent = waitingChanges.value.filter((item) => item.method === "POST" && item.path === "/statements");
  return new Set([...tapped.value, ...sent.map((item) => `${item.body.what} ${item.body.about ?? ""}`)]);
});

/** @param {LinkLine} link @param {Tick} tick @returns {boolean} whether it is ticked, or was tapped here a moment ago */
export const isTicked = (link, tick) => link.ticks[tick] !== null || onTheirWay.value.has(`${tick} ${link.uid}`);

/** @param {LinkLine} link @returns {typeof TICKS[number] | null} what is to be ticked next; null where all is done */
export const nextTick = (link) => TICKS.find((step) => !isTicked(link, step.tick)) ?? null;

/** @param {LinkLine} link @param {Tick} tick */
export const tickLink = (link, tick) => state(tick, { about: link.uid, said: `${link.id}: ${tick}` });

/**
 * State something: now, or when the server is back; it counts from now, and for the plan that is on screen now.
 * @param {string} what  set, heard, walked, printed or a point
 * @param {{ about?: string, note?: string, said: string }} options  `said` is what is told when it is done
 */
export async function state(what, { about, note, said }) {
  const plan = readiness.value.peek()?.plan?.number;
  const body = { what, about, note, plan, client_time: new Date().toISOString() };
  const mark = `${what} ${about ?? ""}`;
  tapped.value = [...tapped.value, mark];
  const answer = await told(change("POST", "/statements", body));
  tapped.value = tapped.value.filter((other) => other !== mark);
  if (answer) tell(said, { action: { label: "Take back", run: () => takeBack(answer.uid) } });
}

/** @param {string} uid  of the statement */
export async function takeBack(uid) {
  if (await told(change("DELETE", `/statements/${uid}`))) tell("Taken back");
}

/** @param {Promise<any>} sent @returns {Promise<any>} the answer; null where it was refused, and that was told */
async function told(sent) {
  try {
    const answer = await sent;
    await readiness.refresh();
    return answer;
  } catch (error) {
    tell(/** @type {Error} */ (error).message, { kind: "refused" });
    await readiness.refresh();
    return null;
  }
}
