// The page that takes this phone to the field: fetch, try the engine, say what is kept, clear.

import { LIMITS, askAbout, news } from "./exchange.js";
import { enterField, exchangeNow } from "./field.js";
import { lead, seekLead, stopLead } from "./lead.js";
import { clearLogFile } from "./logfile.js";
import { countWords, photoCount, sendsOnlyOpen, toSendWords } from "./line.js";
import { clearMemory } from "./memory.js";
import * as photos from "./photos.js";
import { BASE, clearCaches, markLeaving, readState, writeState } from "./state.js";
import * as store from "./store.js";
import { speak, stoppedWords, tell } from "./words.js";

// The page that shows this. Another may take its place while an answer is waited for; what is
// written then goes to the one that is gone, and hurts nobody.
let page = document.body;

const byId = (id) => page.querySelector(`#${id}`);
const say = (words) => (byId("take-say").textContent = words);
const megabytes = (bytes) => (bytes / 1e6).toFixed(1);

const CONTROLLED_MS = 60_000;

let fetching; // the worker that fetches, while it does

async function show() {
  if (!document.getElementById("take")) return;
  page = document.body;
  await speak(document.documentElement.lang);
  if (!self.isSecureContext) {
    say(tell("not_secure"));
    byId("take-insecure").hidden = false;
    return;
  }
  byId("take-start").onclick = () => take();
  byId("take-stop").onclick = () => fetching?.postMessage({ stop: true });
  byId("take-update").onclick = () => update();
  byId("kept-send").onclick = () => sendNow();
  byId("kept-again").onclick = () => retry();
  byId("rewritten-seen").onclick = () => putAway();
  byId("forget").onclick = () => forget();
  if (!navigator.serviceWorker || !self.caches || !self.DecompressionStream) {
    say(tell("old_browser"));
    return;
  }
  // Only the browser of one kind of phone has this word: whether this page was begun from its icon.
  if (navigator.standalone === false) {
    byId("take-home").hidden = false;
    byId("take-start").className = "other"; // what leads on there is the icon
  }
  const state = await readState();
  if (state && state.engine !== "untried") await showTaken(state);
  else await offer();
}

function show_(...ids) {
  for (const id of ["take-start", "take-stop", "take-open", "take-update"]) byId(id).hidden = !ids.includes(id);
  byId("take-going").hidden = !ids.includes("take-stop");
}

async function offer() {
  let about;
  try {
    about = await askKit();
  } catch (error) {
    say(whyNot(error));
    return;
  }
  const started = await store.kept("started");
  const first = byId("take-home").hidden ? "take" : "take_in_browser";
  byId("take-start").textContent = tell(started ? "go_on" : first);
  say(tell(started ? "to_fetch_more" : "to_fetch", { size: megabytes(about.size) }));
  show_("take-start");
}

async function askKit() {
  const about = await askAbout();
  if (!about.ready) throw { why: "ready" };
  return about;
}

function whyNot({ why }) {
  const words = { ready: "server_not_ready", server: "server_trouble", garbled: "another_answers", login: "log_in" };
  return tell(words[why] ?? "no_signal_now");
}

// ── Taking it along ─────────────────────────────────────────────────────────────────────────

async function take() {
  show_();
  try {
    const about = await askKit();
    await store.keep({ started: true });
    say(tell("fetching"));
    askToKeep();
    await register();
    await fetchKit(about);
    await writeState({ about, engine: "untried" });
    await controlled();
    if (about.exchange) {
      say(tell("fetching_jobs"));
      await inWorker({});
    }
    say(tell("trying"));
    const why = await tryEngine(about);
    const state = why ? { about, engine: "failed", why } : { about, engine: "ready" };
    await writeState(state);
    await store.keep({ started: false });
    await enterField(state);
    await showTaken(state);
  } catch (error) {
    if (error.name === "QuotaExceededError") say(tell("no_room_for_it"));
    else if (error.name === "AbortError") say(tell("stopped"));
    else if (error.why) say(whyNot(error));
    else say(tell("broke_off", { why: error.message }));
    byId("take-start").textContent = tell("go_on");
    show_("take-start");
  }
}

async function fetchKit(about) {
  show_("take-stop");
  say(tell("fetching"));
  await inWorker({ about, older: (await readState())?.about });
  show_();
}

// Let a worker of its own fetch: the kit it is told `about`, or else the jobs.
async function inWorker(order) {
  const worker = (fetching = new Worker(`${BASE}static/phone/fetch.js`, { type: "module" }));
  try {
    await new Promise((resolve, reject) => {
      worker.onmessage = ({ data }) => {
        if (data.type === "fetched") showProgress(data.bytes, order.about.size);
        else if (data.type === "all") resolve();
        else reject(brokenOff(data));
      };
      worker.onerror = () => reject(new Error("fetch.js"));
      worker.postMessage(order);
    });
  } finally {
    worker.terminate();
    fetching = undefined;
  }
}

function showProgress(bytes, size) {
  byId("take-progress").value = bytes / size;
  byId("take-size").textContent = tell("fetched", { done: megabytes(bytes), size: megabytes(size) });
}

function brokenOff({ name, message, status }) {
  const words = { damaged: "damaged", silent: "silence", TypeError: "silence", answered: "answered" };
  return Object.assign(new Error(words[name] ? tell(words[name], { status }) : message), { name });
}

// Before all that is fetched: an older browser takes no service worker that is a module; and one that
// never says whether it did keeps nobody waiting.
async function register() {
  const options = { type: "module", scope: BASE, updateViaCache: "none" };
  const registered = navigator.serviceWorker.register(`${BASE}sw.js`, options).catch((error) => {
    console.warn("no service worker:", error);
    throw new Error(tell("too_old"));
  });
  const late = new Promise((_, reject) => setTimeout(() => reject(new Error(tell("no_worker"))), CONTROLLED_MS));
  await Promise.race([registered, late]);
}

// A busy phone may start it only to stop it again: it is asked until it answers for this page.
async function controlled() {
  const end = Date.now() + CONTROLLED_MS;
  while (!navigator.serviceWorker.controller) {
    if (Date.now() > end) throw new Error(tell("no_worker"));
    (await navigator.serviceWorker.getRegistration())?.active?.postMessage({ type: "claim" });
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}

// Resolves with why it does not work, or with nothing when it does; another tab may be trying it.
function tryEngine(about) {
  return new Promise((resolve) => {
    const hear = (how, why) => {
      if (how === "ready") resolve("");
      if (how === "failed") resolve(why);
    };
    news.addEventListener("message", ({ data }) => data.type === "here" && hear(data.standing, data.why));
    seekLead(about, (how) => {
      document.documentElement.dataset.engine = how;
      hear(how, lead.why);
    });
  });
}

// A browser may put this to the person, who answers when they like: nothing waits for it. It is
// asked again whenever this page is opened, as some promise only what is used often.
async function askToKeep() {
  const storage = navigator.storage;
  if (!(await storage?.persisted?.())) showPromise("may_ask");
  const promised = (await storage?.persisted?.()) || (await storage?.persist?.());
  await store.note({ promised: Boolean(promised) });
  showPromise(promised ? "promised" : "not_promised");
}

function showPromise(key) {
  byId("take-kept").hidden = false;
  byId("take-kept").textContent = tell(key);
}

// ── What is kept here ───────────────────────────────────────────────────────────────────────

async function showTaken(state) {
  show_("take-open");
  if (state.engine === "ready") say(tell("ready"));
  else say(tell("no_start", { why: state.why }));
  showPromise((await store.kept("promised")) ? "promised" : "not_promised");
  askToKeep();
  byId("kept").hidden = false;
  await showKept(state);
  await offerUpdate(state);
}

async function showKept(state) {
  const [entries, pictures] = [await store.counts(), await photos.counts()];
  const refused = [...(await store.refused()).map(ofEntry), ...(await photos.refused()).map(ofPhoto)];
  const here = countWords(entries.all, pictures.here) || tell("entry_count", { n: 0 });
  const said = [tell("kept", { what: here })];
  if (pictures.elsewhere) said.push(tell("elsewhere", { photos: photoCount(pictures.elsewhere) }));
  if (state.about.exchange) said.push(tell("to_send", { n: toSendWords(entries.toSend, pictures.toSend) }));
  if (state.about.exchange && sendsOnlyOpen()) said.push(tell("while_open"));
  if (refused.length) said.push(tell("refused_here", { n: refused.length }));
  byId("kept-say").textContent = said.join(" ");
  byId("kept-send").hidden = !state.about.exchange;
  byId("kept-again").hidden = !refused.length;
  byId("kept-refused").replaceChildren(
    ...refused.map((words) => Object.assign(document.createElement("li"), { textContent: words })),
  );
  await showRewritten();
  await showLimits(state);
  const who = state.about.who;
  if (who) byId("forget").textContent = tell("sign_out", { who });
}

// That the server's log is not the one seen before, with both heads, to be compared and passed on.
async function showRewritten() {
  const found = await store.kept("rewritten");
  byId("rewritten").hidden = !found;
  if (!found) return;
  const head = (one) => (one ? `${one.size}:${one.root}` : "–");
  byId("rewritten-say").textContent = tell(`log_${found.how}`);
  byId("rewritten-heads").textContent = tell("log_heads", { seen: head(found.seen), now: head(found.now) });
}

async function showLimits(state) {
  const [limits, field] = [(await store.kept("limits")) ?? LIMITS, await store.kept("field")];
  const form = byId("limits");
  if (form.contains(document.activeElement)) return;
  form.hidden = !state.about.exchange;
  for (const [name, value] of Object.entries(limits)) byId(`limits-${name}`).value = value;
  if (field?.left) byId("limits-say").textContent = tell("left", { n: field.left });
  form.onsubmit = async (event) => {
    event.preventDefault();
    const chosen = Object.keys(LIMITS).map((name) => [name, Number(byId(`limits-${name}`).value)]);
    await store.keep({ limits: Object.fromEntries(chosen) });
    document.activeElement.blur();
    await sendNow();
  };
}

async function putAway() {
  await store.keep({ rewritten: undefined });
  await showRewritten();
  news.postMessage({ type: "exchanged" });
}

const minute = (at) => at.slice(0, 16).replace("T", " ");

function ofEntry({ text, why }) {
  const entry = JSON.parse(text);
  return tell("refused_one", { kind: tell(`kind_${entry.kind}`) || entry.kind, at: minute(entry.at), why });
}

function ofPhoto({ at, why }) {
  return tell("refused_photo", { at: minute(new Date(at).toISOString()), why });
}

async function retry() {
  await store.retryRefused();
  await photos.retryRefused();
  await sendNow();
}

async function sendNow() {
  const state = await readState();
  byId("kept-say").textContent = tell("sending");
  const done = await exchangeNow();
  await showKept(state);
  const why = {
    signal: tell("not_sent"),
    server: tell("server_trouble"),
    garbled: tell("another_answers"),
    room: tell("no_room_to_note"),
    login: tell("log_in"),
    person: tell("another_person", { who: state.about.who }),
    company: tell("another_company"),
  };
  if (why[done?.why]) byId("kept-say").textContent += ` ${why[done.why]}`;
}

news.addEventListener("message", async ({ data }) => {
  if (page.isConnected && (data.type === "exchanged" || data.type === "saved")) {
    const state = await readState();
    if (state && state.engine !== "untried") await showKept(state);
  }
});

// ── A newer version ─────────────────────────────────────────────────────────────────────────

async function offerUpdate(state) {
  const about = await askKit().catch(() => state.about);
  if (about.version !== state.about.version) byId("take-update").hidden = false;
}

async function update() {
  const state = await readState();
  try {
    const newer = await askKit();
    const { who, company } = state.about; // whose this phone is does not change with a version
    const about = { ...newer, who: who ?? newer.who, company: company ?? newer.company };
    await fetchKit(about);
    (await navigator.serviceWorker.getRegistration())?.waiting?.postMessage({ type: "skip-waiting" });
    await writeState({ about, engine: "ready", previous: state.about });
    location.reload();
  } catch (error) {
    say(error.why ? whyNot(error) : tell("not_updated", { why: error.message }));
    show_("take-open", "take-update");
  }
}

// ── Leaving the field ───────────────────────────────────────────────────────────────────────

let asked = false;

async function forget() {
  const [entries, pictures] = [await store.counts(), await photos.counts()];
  const lost = countWords(entries.toSend + entries.notTaken, pictures.toSend + pictures.notTaken);
  const state = await readState();
  if (lost && !asked) {
    asked = true;
    byId("forget-ask").hidden = false;
    byId("forget-ask").textContent = tell("only_here", { what: lost });
    byId("forget").textContent = tell("clear");
    byId("forget-ask").focus();
    return;
  }
  stopLead();
  if (state.about.who) {
    const words = [tell("signed_out"), tell("server_hears")];
    await markLeaving(stoppedWords(document.documentElement.lang, words, tell("signed_out_head")));
  }
  // Not in the middle of an exchange.
  await navigator.locks.request("fieldkit-exchange", async () => {
    await clearCaches();
    await clearMemory();
    await clearLogFile();
    await store.wipe();
    await photos.wipe();
  });
  const registration = await navigator.serviceWorker.getRegistration();
  if (state.about.who) {
    // The service worker ends the session at the server before it lets any page through.
    await registration?.sync?.register("fieldkit").catch(() => {});
  } else {
    await registration?.unregister();
  }
  news.postMessage({ type: "forgotten" });
  location.href = `${BASE}phone`;
}

document.addEventListener("turbo:load", show);
show();
