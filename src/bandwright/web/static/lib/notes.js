/** Notes of people's own, about the whole job or one link. They wait in the outbox like edits. */
import { computed } from "./html.js";
import { ApiError } from "./api.js";
import { waitingChanges } from "./outbox.js";
import { resource } from "./resource.js";
import { change, undo } from "./state.js";
import { tell } from "./toasts.js";

/**
 * @typedef {import("../api").Note} Note
 */

/** @type {import("./resource.js").Resource<{ notes: Note[] }>} */
export const notes = resource("/notes", ["notes", "brief", "plan"]);

/** Notes that were written here and have no answer yet. */
export const notesWaiting = computed(() =>
  waitingChanges.value.filter((item) => item.method === "POST" && item.path === "/notes").map((item) => ({ key: item.key, text: item.body.text, about: item.body.about ?? null })),
);

/** @param {string | null} about  uid of a link; null: the whole job @returns {Note[]} the oldest first */
export const notesAbout = (about) => (notes.value.value?.notes ?? []).filter((note) => note.about === about && note.plan === null);

/** @param {string} text @param {string | null} about */
export const addNote = (text, about) => told(change("POST", "/notes", { text, about: about ?? undefined }));

/** @param {Note} note */
export async function removeNote(note) {
  const done = await told(change("DELETE", `/notes/${note.uid}`));
  if (done) tell("Note removed", { action: { label: "Undo", run: undo } });
}

/**
 * @param {Note} note
 * @param {string} text
 * @param {number} base  revision when writing began
 * @returns {Promise<{ theirs: string | null, by: string } | null>} what somebody else wrote meanwhile; null where it was taken
 */
export async function setNote(note, text, base) {
  try {
    await change("PATCH", `/notes/${note.uid}`, { text, base });
    await notes.refresh();
    return null;
  } catch (error) {
    if (error instanceof ApiError && error.status === 409) {
      await notes.refresh();
      return { theirs: error.body.theirs?.text ?? null, by: error.body.by };
    }
    tell(/** @type {Error} */ (error).message, { kind: "refused" });
    return null;
  }
}

/** @param {Promise<any>} sent @returns {Promise<boolean>} whether it was taken */
async function told(sent) {
  try {
    await sent;
    await notes.refresh();
    return true;
  } catch (error) {
    tell(/** @type {Error} */ (error).message, { kind: "refused" });
    return false;
  }
}
