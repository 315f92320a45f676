// The line on every page: what is saved here, what is sent, and whether there is signal.

import * as photos from "./photos.js";
import { BASE } from "./state.js";
import * as store from "./store.js";
import { tell } from "./words.js";

export async function showLine(state) {
  const [entries, pictures] = [await store.waiting(), await photos.counts()];
  const notTaken = entries.notTaken + pictures.notTaken;
  const why = await store.kept("why"); // of the last exchange, by whichever tab
  const silent = !navigator.onLine || why === "signal";
  const hindered = silent || why === "server" || why === "garbled";
  const sentAt = await store.kept("sentAt");
  const newest = await store.kept("newest");
  const said = [];
  if (!state.about.exchange) said.push(tell("here_only"));
  else if (entries.toSend || pictures.toSend) {
    said.push(silent ? tell("silent") : "", tell("saved_to_send", { n: toSendWords(entries.toSend, pictures.toSend) }));
    if (silent && sendsOnlyOpen()) said.push(tell("while_open"));
  } else if (hindered) said.push(silent ? tell("silent") : "", sentAt ? tell("all_was_sent", { time: clock(sentAt) }) : "");
  else if (sentAt) said.push(tell("all_sent", { time: clock(sentAt) }));
  if (why === "server" && !silent) said.push(tell("server_trouble"));
  if (why === "garbled" && !silent) said.push(tell("another_answers"));
  if (why === "room") said.push(tell("no_room_to_note"));
  if (why === "person") said.push(tell("another_person", { who: state.about.who }));
  if (why === "company") said.push(tell("another_company"));
  if (state.reading) said.push(tell("reading", { n: state.reading }));
  const rewritten = await store.kept("rewritten");
  if (rewritten) said.push(tell(`log_${rewritten.how}`));
  const line = document.getElementById("signal");
  if (!line) return;
  const words = said.filter(Boolean).join(" ");
  const more = [];
  if (why === "login" || why === "person") more.push([tell("log_in"), `enter?next=${encodeURIComponent("/phone")}`]);
  if (rewritten) more.push([tell("log_look"), "phone"]);
  if (notTaken) more.push([tell("refused_why", { n: notTaken }), "phone"]);
  if (newest && newest !== state.about.version) more.push([tell("newer"), "phone"]);
  const wanted = [words, ...more].join("|");
  if (line.dataset.said === wanted) return; // or a screen reader would say it again
  line.dataset.said = wanted;
  line.replaceChildren(words);
  for (const [text, place] of more) {
    const link = document.createElement("a");
    Object.assign(link, { href: BASE + place, textContent: text });
    line.append(" ", link);
  }
  line.hidden = false;
}

// Whether nothing can be sent when no page is open.
export const sendsOnlyOpen = () => !("sync" in ServiceWorkerRegistration.prototype);

// “3”, “1 entry and 1 photo”, “2 photos”
export const toSendWords = (entries, pictures) => (pictures ? countWords(entries, pictures) : `${entries}`);

// “1 entry and 2 photos”
export const countWords = (entries, pictures) => joined([counted("entry", entries), photoCount(pictures)]);

export const photoCount = (n) => counted("photo", n);

const counted = (what, n) => (n ? tell(n === 1 ? `one_${what}` : `${what}_count`, { n }) : "");

function joined(parts) {
  const [first, second] = parts.filter(Boolean);
  return second ? tell("both", { first, second }) : `${first ?? ""}`;
}

function clock(at) {
  const time = new Date(at);
  return `${String(time.getHours()).padStart(2, "0")}:${String(time.getMinutes()).padStart(2, "0")}`;
}
