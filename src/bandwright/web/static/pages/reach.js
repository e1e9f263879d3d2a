/** Reach: whether the signal will be there. What is short first, then each link, its chain, and the plan of the place. */
import { h, html } from "../lib/html.js";
import { counted, kept } from "../lib/format.js";
import { useResource } from "../lib/resource.js";
import { brief } from "../lib/state.js";
import { Empty, Failed, Loading, Page } from "../parts/pieces.js";
import { Chain } from "./reach/chain.js";
import { Lacking } from "./reach/lacking.js";
import { Margins } from "./reach/margins.js";
import { figure, reach, standings } from "./reach/model.js";
import { Place } from "./reach/place.js";

/** @param {{ rest: string[] }} props */
export default function Reach({ rest }) {
  const now = useResource(reach);
  useResource(brief);
  if (!now) return reach.error.value ? h(Failed, { error: reach.error.value, onRetry: reach.refresh }) : h(Loading, {});
  if (now.document.links.length === 0) {
    const action = html`<a class="button primary" href="#/kit/link">Write down the links</a>`;
    return h(Page, { title: "Reach" }, h(Empty, { title: "There are no links yet", action }, "Here stands, for each link, whether its signal will be strong enough wherever it is worn or held."));
  }
  const chosen = standings.value.find((one) => one.link.id === rest[0]) ?? standings.value[0];
  return h(
    Page,
    { title: "Reach", lead: lead(), wide: true },
    html`<div class="reach">
      <div class="reach-links">${h(Margins, { chosen: chosen.link.id })}${h(Lacking, {})}</div>
      ${h(Chain, { key: chosen.link.id, standing: chosen })}
      ${h(Place, { standing: chosen })}
      <ul class="reach-cautions soft">${now.document.cautions.map((text) => html`<li key=${text}>${text}</li>`)}</ul>
    </div>`,
  );
}

/** What matters most, in a sentence or two. */
function lead() {
  const all = standings.value;
  const short = all.filter((one) => one.state === "short");
  const open = all.filter((one) => one.state === "open");
  const [worst] = short;
  const parts = [];
  if (worst) parts.push(`${short.length === 1 ? `${worst.link.id} falls` : `${counted(short.length, "link")} of ${all.length} fall`} short${short.length > 1 ? `, ${worst.link.id} most:` : " by"} ${figure(-(worst.reserve ?? 0))} dB ${worst.where}.`);
  if (open.length > 0) parts.push(`Of ${open.length === all.length ? "no link" : counted(open.length, "link")} it can${open.length === all.length ? "" : "not"} be told: facts are missing.`);
  if (parts.length === 0) parts.push(`Every link has what it needs; the least has ${all[0].link.id}: ${figure(all[0].reserve ?? 0)} dB over it ${all[0].where}.`);
  return kept(parts.join(" "));
}
