/** Joining from another device, by the short code that the computer shows. */
import { html, useEffect, useState } from "../lib/html.js";
import { request } from "../lib/api.js";

/** @param {{ rest: string[] }} props  the code, where it came by the address */
export default function Pair({ rest }) {
  const [code, setCode] = useState(rest[0] ?? "");
  const [name, setName] = useState("");
  const [trouble, setTrouble] = useState("");
  useEffect(() => {
    document.title = "Join · Bandwright";
  }, []);
  const join = async (/** @type {Event} */ event) => {
    event.preventDefault();
    try {
      await request("POST", "/pair", { body: { code: code.trim(), name: name.trim() } });
      location.hash = "#/ready";
      location.reload();
    } catch (error) {
      setTrouble(/** @type {Error} */ (error).message);
    }
  };
  return html`<main class="join">
    <h1>Join this job</h1>
    <p>On the computer that runs Bandwright, open <b>Devices</b>. It shows a short code.</p>
    <form onSubmit=${join}>
      <label class="field"><span>The code</span><input class="join-code" value=${code} onInput=${written(setCode)} required autocomplete="one-time-code" autocapitalize="characters" spellcheck=${false} /></label>
      <label class="field"><span>Your name, as others will see it in the history</span><input value=${name} onInput=${written(setName)} required maxlength="60" autocomplete="name" /></label>
      ${trouble && html`<p class="trouble" role="alert">${trouble}</p>`}
      <button class="button primary">Join</button>
    </form>
    <p class="caution-note">What goes over this network can be read by anybody who is on it. Devices that have not joined are refused.</p>
  </main>`;
}

/** @param {(text: string) => void} set */
const written = (set) => (/** @type {Event} */ event) => set(/** @type {HTMLInputElement} */ (event.target).value);
