/** Devices: let a phone in by a code or a picture of it, see who is in, and shut somebody out. */
import { h, html, useEffect, useRef, useState } from "../lib/html.js";
import { attempt } from "../lib/attempt.js";
import { ApiError, get, request } from "../lib/api.js";
import { ago, moment } from "../lib/format.js";
import { resource, useResource } from "../lib/resource.js";
import { job } from "../lib/state.js";
import { tell } from "../lib/toasts.js";
import { Failed, Loading, Page, ask } from "../parts/pieces.js";

/** @typedef {import("../api").DeviceLine} Device */
/** @typedef {import("../api").PairingOffer} Offer */

/** @type {import("../lib/resource.js").Resource<import("../api").DevicesAnswer>} */
const devices = resource("/devices", ["devices"]);

const ROLES = { edit: "may change things", look: "may look only" };
const NOTICE =
  "Devices that are not paired are refused. What paired devices send and get is not secret: it goes unencrypted, and anybody on the same network can read it. Use a network of your own.";

export default function DevicesPage() {
  const known = useResource(devices);
  if (devices.error.value && !known) return h(Failed, { error: devices.error.value, onRetry: devices.refresh });
  if (!known) return h(Loading, {});
  const local = job.value.value?.me.local;
  return html`<${Page} title="Devices" lead=${known.notice ?? NOTICE}>
    <div class="devices-page">
      ${local ? h(Pairing, { lan: known.lan, devices: known.devices }) : html`<section><h2>Pairing</h2><p>New devices are let in on the laptop that runs Bandwright.</p></section>`}
      ${h(List, { devices: known.devices.filter((d) => !d.revoked), local: !!local })}
    </div>
  <//>`;
}

/** @param {{lan: boolean, devices: Device[]}} props */
function Pairing({ lan, devices: all }) {
  const [offer, setOffer] = useState(/** @type {Offer | null} */ (null));
  const [role, setRole] = useState(/** @type {"edit" | "look"} */ ("edit"));
  const paired = all.length;
  useEffect(() => {
    get("/pairing").then(setOffer, told);
  }, [paired]);
  if (!lan) {
    return html`<section class="pairing"><h2>Only this laptop</h2>
      <p>Bandwright listens to this laptop alone now, so no other device can reach it. Start it with <kbd>bandwright serve --lan</kbd> to let phones in.</p></section>`;
  }
  const make = async () => {
    try {
      setOffer(await request("POST", "/pairing", { body: { role } }));
    } catch (error) {
      told(/** @type {Error} */ (error));
    }
  };
  return html`<section class="pairing" aria-labelledby="pairing">
    <h2 id="pairing">Let a device in</h2>
    <fieldset class="pairing-role"><legend class="unseen">What it may do</legend>
      ${/** @type {const} */ (["edit", "look"]).map((r) => html`<label key=${r}><input type="radio" name="role" checked=${role === r} onChange=${() => setRole(r)} /> <span>${ROLES[r]}</span></label>`)}
    </fieldset>
    <button type="button" class=${offer ? "button" : "button primary"} onClick=${make}>${offer ? "Make another code" : "Make a code"}</button>
    ${offer && h(Shown, { offer })}
  </section>`;
}

/** @param {Error} error */
const told = (error) => (error instanceof ApiError && error.status === 403 ? undefined : tell(error.message, { kind: "refused" }));

/** The code, large, and the same as a picture for a camera. @param {{offer: Offer}} props */
function Shown({ offer }) {
  return html`<div class="pairing-offer">
    ${h(Picture, { svg: offer.qr_svg })}
    <div>
      <p class="pairing-code" aria-label=${`Code ${[...offer.code].join(" ")}`}>${offer.code}</p>
      <p>Photograph the picture with the phone, or open <b>${address(offer.url)}</b> there and type the code.</p>
      <p class="none">It lets one device in, which then ${ROLES[offer.role]}; good until ${moment(offer.expires)}.</p>
    </div>
  </div>`;
}

/** @param {string} url */
const address = (url) => url.replace(/#.*$/, "").replace(/\/$/, "");

/** A drawing from the service, put in as elements and never as markup. @param {{svg: string}} props */
function Picture({ svg }) {
  const place = useRef(/** @type {HTMLElement | null} */ (null));
  useEffect(() => {
    const drawn = new DOMParser().parseFromString(svg.includes("xmlns=") ? svg : svg.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"'), "image/svg+xml").documentElement;
    place.current?.replaceChildren(document.importNode(drawn, true));
  }, [svg]);
  return html`<div class="pairing-picture" ref=${place} role="img" aria-label="The code as a picture for a camera"></div>`;
}

/** @param {{devices: Device[], local: boolean}} props */
function List({ devices: all, local }) {
  return html`<section aria-labelledby="devices-list">
    <h2 id="devices-list">Who is in</h2>
    <ul class="devices-list">${all.map((d) => h(One, { key: d.uid, device: d, local }))}</ul>
    ${all.length === 0 && html`<p class="none">Nobody but this laptop.</p>`}
  </section>`;
}

/** @param {{device: Device, local: boolean}} props */
function One({ device, local }) {
  const { uid, name, role, paired, expires, last_seen, me, here } = device;
  const out = () => ask({ title: `Shut ${name} out?`, text: "It is refused from now on. It can be let in again with a new code.", yes: "Shut it out", run: () => void attempt(request("DELETE", `/devices/${uid}`), `${name} is shut out.`) });
  const other = role === "edit" ? "look" : "edit";
  return html`<li>
    <p><b>${name}</b>${me && html` <span class="none">this one</span>`}</p>
    <p class="none">${[ROLES[role], here ? "has a page open" : last_seen && `last here ${ago(last_seen)}`, paired && `paired ${moment(paired)}`, expires && `until ${moment(expires)}`].filter(Boolean).join("; ")}</p>
    ${local && paired && html`<div class="actions">
      <button type="button" class="button small" onClick=${() => attempt(request("PATCH", `/devices/${uid}`, { body: { role: other } }), `${name} ${ROLES[other]} now.`)}>${other === "edit" ? "Let it change things" : "Let it look only"}</button>
      <button type="button" class="button small" onClick=${out}>Shut it out</button>
    </div>`}
  </li>`;
}
