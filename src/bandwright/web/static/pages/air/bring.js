/**
 * Bringing a sweep: dropped or picked, and what the file cannot know said beside it.
 * @module pages/air/bring
 */
import { h, html, signal, useState } from "../../lib/html.js";
import { request } from "../../lib/api.js";
import { closeDialog, openDialog } from "../../lib/dialogs.js";
import { go } from "../../lib/router.js";
import { change } from "../../lib/state.js";
import { tell } from "../../lib/toasts.js";
import { spectrum } from "../plan/model.js";
import { sweeps } from "./sweeps.js";

/** Names of files that are being read just now. */
export const reading = signal(/** @type {string[]} */ ([]));

/** @typedef {{own: string, place: string, antenna: string, gain: string}} Stated */

/** @param {Iterable<File>} files */
export function bring(files) {
  const some = [...files];
  if (some.length) openDialog({ title: some.length === 1 ? some[0].name : `${some.length} files`, body: () => h(Ask, { files: some }) });
}

/** @param {{files: File[]}} props */
function Ask({ files }) {
  const [stated, setStated] = useState(/** @type {Stated} */ ({ own: "unknown", place: "", antenna: "", gain: "" }));
  const take = (/** @type {Event} */ event) => {
    event.preventDefault();
    closeDialog();
    for (const file of files) void upload(file, stated);
  };
  return html`<form class="air-state" onSubmit=${take}>
    ${h(StateFields, { stated, onChange: setStated })}
    <div class="actions end"><button type="submit" class="button primary">Read ${files.length === 1 ? "it" : "them"}</button></div>
  </form>`;
}

/** @param {{stated: Stated, onChange: (next: Stated) => void}} props */
export function StateFields({ stated, onChange }) {
  const places = spectrum.value.value?.places ?? [];
  const set = (/** @type {Partial<Stated>} */ some) => onChange({ ...stated, ...some });
  const value = (/** @type {Event} */ event) => /** @type {HTMLInputElement} */ (event.target).value;
  return html`<fieldset>
      <legend>Our own transmitters during the sweep</legend>
      <div class="air-own">
        ${[["off", "off", "energy on a planned carrier is an intruder"], ["on", "on", "our own carriers are expected there"], ["unknown", "nobody said", "treated as off"]].map(
          ([id, word, note]) => html`<label key=${id} class="air-choice"><input type="radio" name="own" checked=${stated.own === id} onChange=${() => set({ own: id })} /><span><b>${word}</b> <small>${note}</small></span></label>`,
        )}
      </div>
    </fieldset>
    ${places.length > 1 &&
    html`<label class="field"><span>Where it was made</span>
      <select value=${stated.place} onChange=${(/** @type {Event} */ e) => set({ place: value(e) })}><option value="">not said</option>${places.map((p) => html`<option key=${p.id} value=${p.id}>${p.name}</option>`)}</select></label>`}
    <label class="field"><span>Antenna, in your words</span><input value=${stated.antenna} onInput=${(/** @type {Event} */ e) => set({ antenna: value(e) })} /></label>
    <label class="field"><span>Gain between antenna and receiver in dB; a loss is negative</span><input inputmode="decimal" value=${stated.gain} onInput=${(/** @type {Event} */ e) => set({ gain: value(e) })} /></label>`;
}

/** What is stated of antenna and gain, as the service takes it. @param {Stated} stated */
export const beside = ({ antenna, gain }) => ({
  antenna: antenna || null,
  gain_ahead_db: gain.trim() === "" ? null : Number(gain.replace(",", ".")),
});

/** @param {File} file @param {Stated} stated */
async function upload(file, stated) {
  reading.value = [...reading.value, file.name];
  const query = new URLSearchParams({ name: file.name, own_transmitters: stated.own });
  if (stated.place) query.set("place", stated.place);
  try {
    const { uid } = await request("POST", `/sweeps?${query}`, { raw: file });
    if (stated.antenna || stated.gain) await change("PATCH", `/sweeps/${uid}`, beside(stated));
    await sweeps.refresh();
    go(`#/air/${uid}`);
    tell(`${file.name} is read.`);
  } catch (error) {
    tell(`${file.name}: ${/** @type {Error} */ (error).message}`, { kind: "refused" });
  } finally {
    reading.value = reading.value.filter((name) => name !== file.name);
  }
}
