// The line on every page: what is saved here, what is sent, and whether there is signal.

import { BASE } from "./state.js";
import * as store from "./store.js";
import { tell } from "./words.js";

export async function showLine(state) {
  const { toSend, notTaken } = await store.counts();
  const why = await store.kept("why"); // of the last exchange, by whichever tab
  const silent = !navigator.onLine || why === "signal";
  const sentAt = await store.kept("sentAt");
  const newest = await store.kept("newest");
  const said = [];
  if (!state.about.exchange) said.push(tell("here_only"));
  else if (toSend) said.push(silent ? tell("silent") : "", tell("saved_to_send", { n: toSend }));
  else if (silent) said.push(tell("silent"), sentAt ? tell("all_was_sent", { time: clock(sentAt) }) : "");
  else if (sentAt) said.push(tell("all_sent", { time: clock(sentAt) }));
  if (why === "server") said.push(tell("server_refused"));
  const line = document.getElementById("signal");
  if (!line) return;
  const words = said.filter(Boolean).join(" ");
  const more = [];
  if (notTaken) more.push(tell("refused_why", { n: notTaken }));
  if (newest && newest !== state.about.version) more.push(tell("newer"));
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
