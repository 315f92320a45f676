// The line on every page: what is saved here, what is sent, and whether there is signal.

import { BASE } from "./state.js";
import * as store from "./store.js";

export async function showLine(state) {
  const { toSend, notTaken } = await store.counts();
  const why = await store.kept("why"); // of the last exchange, by whichever tab
  const silent = !navigator.onLine || why === "signal";
  const sentAt = await store.kept("sentAt");
  const newest = await store.kept("newest");
  const said = [];
  if (!state.about.exchange) said.push("Kept on this phone only.");
  else if (toSend) said.push(silent ? "No signal." : "", `Saved on this phone, ${toSend} to send.`);
  else if (silent) said.push("No signal.", sentAt ? `All was sent at ${clock(sentAt)}.` : "");
  else if (sentAt) said.push(`All sent at ${clock(sentAt)}.`);
  if (why === "server") said.push("The server did not take it. It stays here.");
  const line = document.getElementById("signal");
  if (!line) return;
  const words = said.filter(Boolean).join(" ");
  const more = [];
  if (notTaken) more.push(`${notTaken} refused: see why`);
  if (newest && newest !== state.about.version) more.push("A newer version can be fetched");
  const wanted = [words, ...more].join("|");
  if (line.dataset.said === wanted) return; // or a screen reader would say it again
  line.dataset.said = wanted;
  line.replaceChildren(words);
  for (const text of more) {
    const link = document.createElement("a");
    Object.assign(link, { href: `${BASE}phone`, textContent: text });
    line.append(" ", link);
  }
  line.hidden = !words && !more.length;
}

function clock(at) {
  const time = new Date(at);
  return `${String(time.getHours()).padStart(2, "0")}:${String(time.getMinutes()).padStart(2, "0")}`;
}
