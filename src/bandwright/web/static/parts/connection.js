/** The state of the connection, said only when there is something to say. */
import { html } from "../lib/html.js";
import { counted } from "../lib/format.js";
import { unreachable, waitingCount } from "../lib/outbox.js";
import { link } from "../lib/socket.js";

export function Connection() {
  const away = link.value === "lost" || unreachable.value;
  const waiting = waitingCount.value;
  return html`<div role="status" class=${away ? "connection away" : "connection"}>
    ${away &&
    html`<p>
      <b>Not connected.</b> The page stays as it is and goes on trying.${" "}
      ${waiting > 0 ? `${counted(waiting, "change")} kept here, sent as soon as the server answers.` : "What you change now is kept here and sent later."}
    </p>`}
  </div>`;
}
