// The page that takes this phone to the field: fetch, try the engine, say what is kept, clear.

import { exchange, news } from "./exchange.js";
import { enterField, exchangeNow } from "./field.js";
import { lead, seekLead, stopLead } from "./lead.js";
import { BASE, cacheOf, clearCaches, readState, writeState } from "./state.js";
import * as store from "./store.js";
import { speak, tell } from "./words.js";

const KEEP_EVERY = 1_000_000;

const byId = (id) => document.getElementById(id);
const say = (words) => byId("take-say") && (byId("take-say").textContent = words);
const megabytes = (bytes) => (bytes / 1e6).toFixed(1);

let stopping; // the AbortController of a fetch that is going on

async function show() {
  if (!byId("take")) return;
  await speak(document.documentElement.lang);
  byId("take-start").onclick = () => take();
  byId("take-stop").onclick = () => stopping?.abort();
  byId("take-update").onclick = () => update();
  byId("kept-send").onclick = () => sendNow();
  byId("kept-again").onclick = () => store.retryRefused().then(sendNow);
  byId("forget").onclick = () => forget();
  if (!navigator.serviceWorker || !self.caches || !self.DecompressionStream) {
    say(tell("old_browser"));
    return;
  }
  const state = await readState();
  if (state && state.engine !== "untried") await showTaken(state);
  else await offer();
}

function show_(...ids) {
  if (!byId("take")) return; // another page took this one's place
  for (const id of ["take-start", "take-stop", "take-open", "take-update"]) byId(id).hidden = !ids.includes(id);
  byId("take-going").hidden = !ids.includes("take-stop");
}

async function askAbout() {
  const response = await fetch(`${BASE}phone/about.json`, { cache: "no-store", signal: AbortSignal.timeout(10_000) });
  return response.json();
}

async function offer() {
  let about;
  try {
    about = await askAbout();
  } catch {
    say(tell("no_signal_now"));
    return;
  }
  if (!about.ready) {
    say(tell("server_not_ready"));
    return;
  }
  const started = await store.kept("started");
  byId("take-start").textContent = tell(started ? "go_on" : "take");
  say(tell(started ? "to_fetch_more" : "to_fetch", { size: megabytes(about.size) }));
  show_("take-start");
}

// ── Taking it along ─────────────────────────────────────────────────────────────────────────

async function take() {
  try {
    const about = await askAbout();
    await store.keep({ started: true });
    await askToKeep();
    await fetchKit(about);
    await writeState({ about, engine: "untried" });
    await controlled();
    if (about.exchange) {
      say(tell("fetching_jobs"));
      await exchange();
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
    else say(tell("broke_off", { why: error.message }));
    byId("take-start").textContent = tell("go_on");
    show_("take-start");
  }
}

async function fetchKit(about) {
  stopping = new AbortController();
  show_("take-stop");
  say(tell("fetching"));
  const cache = await caches.open(cacheOf(about));
  const older = await readState();
  let done = 0;
  const progress = (bytes) => {
    if (!byId("take")) return;
    byId("take-progress").value = (done + bytes) / about.size;
    byId("take-size").textContent = tell("fetched", { done: megabytes(done + bytes), size: megabytes(about.size) });
  };
  for (const part of about.parts) {
    if (!(await cache.match(BASE + part.place))) {
      const same = older && (await (await caches.open(cacheOf(older.about))).match(BASE + part.place));
      const body = same ? await same.arrayBuffer() : await fetchPart(part, progress, stopping.signal);
      await keepPart(cache, part, body, about.headers);
    }
    done += part.size;
    progress(0);
  }
  stopping = undefined;
  show_();
}

// Fetch a part from where it broke off, unpack it and check it.
async function fetchPart(part, progress, signal) {
  const key = `part ${part.place} ${part.sha256}`;
  let chunks = (await store.kept(key)) ?? [];
  let have = chunks.reduce((sum, one) => sum + one.byteLength, 0);
  const headers = have ? { Range: `bytes=${have}-` } : {};
  let packed = true;
  if (have < part.size) {
    const response = await fetch(`${BASE}${part.place}.gz`, { headers, signal });
    if (!response.ok) throw new Error(tell("answered", { status: response.status }));
    if (response.status !== 206) [chunks, have] = [[], 0]; // it sends from the beginning
    const reader = response.body.getReader();
    let kept = have;
    try {
      for (;;) {
        const { done, value } = await reader.read();
        if (done) break;
        chunks.push(value);
        have += value.byteLength;
        progress(Math.min(have, part.size));
        if (have - kept > KEEP_EVERY) {
          kept = have;
          await store.keep({ [key]: chunks });
        }
      }
    } catch (error) {
      await store.keep({ [key]: chunks });
      throw error;
    }
  }
  // A file host may have unpacked it on the way.
  packed = chunks[0]?.[0] === 0x1f && chunks[0]?.[1] === 0x8b;
  let stream = new Blob(chunks).stream();
  if (packed) stream = stream.pipeThrough(new DecompressionStream("gzip"));
  const body = await new Response(stream).arrayBuffer();
  await store.keep({ [key]: undefined });
  if ((await digestOf(body)) !== part.sha256) throw new Error(tell("damaged"));
  return body;
}

async function digestOf(body) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", body));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function keepPart(cache, part, body, headers) {
  if (part.place.startsWith("phone/small/")) {
    for (const [place, [type, text, how]] of Object.entries(JSON.parse(new TextDecoder().decode(body)))) {
      const held = how === "text" ? text : Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
      await cache.put(BASE + place, new Response(held, { headers: { ...headers, "Content-Type": type } }));
    }
  }
  // Last, as its being there says that all of it is.
  await cache.put(BASE + part.place, new Response(body, { headers: { ...headers, "Content-Type": part.type } }));
  body.transfer?.(0); // its room is free at once
}

async function controlled() {
  await navigator.serviceWorker.register(`${BASE}sw.js`, { type: "module", scope: BASE, updateViaCache: "none" });
  await navigator.serviceWorker.ready;
  if (!navigator.serviceWorker.controller) {
    await new Promise((resolve) => navigator.serviceWorker.addEventListener("controllerchange", resolve, { once: true }));
  }
}

// Resolves with why it does not work, or with nothing when it does.
function tryEngine(about) {
  return new Promise((resolve) => {
    seekLead(about, (how) => {
      document.documentElement.dataset.engine = how;
      if (how === "ready") resolve("");
      if (how === "failed") resolve(lead.why);
    });
  });
}

async function askToKeep() {
  const storage = navigator.storage;
  const promised = (await storage?.persisted?.()) || (await storage?.persist?.());
  await store.keep({ promised: Boolean(promised) });
}

// ── What is kept here ───────────────────────────────────────────────────────────────────────

async function showTaken(state) {
  const promised = await store.kept("promised");
  if (!byId("take")) return;
  show_("take-open");
  if (state.engine === "ready") say(tell("ready"));
  else say(tell("no_start", { why: state.why }));
  byId("take-kept").hidden = false;
  byId("take-kept").textContent = tell(promised ? "promised" : "not_promised");
  byId("kept").hidden = false;
  await showKept(state);
  await offerUpdate(state);
}

async function showKept(state) {
  const { all, toSend, notTaken } = await store.counts();
  const refused = await store.refused();
  if (!byId("kept")) return;
  const sent = state.about.exchange ? tell("to_send", { n: toSend }) : "";
  const left = notTaken ? tell("refused_here", { n: notTaken }) : "";
  byId("kept-say").textContent = [tell("kept", { n: all }), sent, left].filter(Boolean).join(" ");
  byId("kept-send").hidden = !state.about.exchange;
  byId("kept-again").hidden = !notTaken;
  byId("kept-refused").replaceChildren(
    ...refused.map((one) => {
      const item = document.createElement("li");
      const entry = JSON.parse(one.text);
      item.textContent = tell("refused_one", { kind: entry.kind, at: entry.at.slice(0, 16).replace("T", " "), why: one.why });
      return item;
    }),
  );
}

async function sendNow() {
  const state = await readState();
  byId("kept-say").textContent = tell("sending");
  const done = await exchangeNow();
  await showKept(state);
  const why = { signal: tell("not_sent"), server: tell("not_taken", { why: done?.say }) };
  if (byId("kept") && why[done?.why]) byId("kept-say").textContent += ` ${why[done.why]}`;
}

news.addEventListener("message", async ({ data }) => {
  if (data.type === "exchanged" || data.type === "saved") {
    const state = await readState();
    if (state && state.engine !== "untried") await showKept(state);
  }
});

// ── A newer version ─────────────────────────────────────────────────────────────────────────

async function offerUpdate(state) {
  let about;
  try {
    about = await askAbout();
  } catch {
    return;
  }
  if (about.ready && about.version !== state.about.version && byId("take")) byId("take-update").hidden = false;
}

async function update() {
  const state = await readState();
  try {
    const about = await askAbout();
    await fetchKit(about);
    (await navigator.serviceWorker.getRegistration())?.waiting?.postMessage({ type: "skip-waiting" });
    await writeState({ about, engine: "ready", previous: state.about });
    location.reload();
  } catch (error) {
    say(tell("not_updated", { why: error.message }));
    show_("take-open", "take-update");
  }
}

// ── Leaving the field ───────────────────────────────────────────────────────────────────────

let asked = false;

async function forget() {
  const { toSend, notTaken } = await store.counts();
  const lost = toSend + notTaken;
  if (lost && !asked) {
    asked = true;
    byId("forget-ask").hidden = false;
    byId("forget-ask").textContent = tell("only_here", { n: lost });
    byId("forget").textContent = tell("clear");
    return;
  }
  stopLead();
  const registration = await navigator.serviceWorker.getRegistration();
  await registration?.unregister();
  await clearCaches();
  await store.wipe();
  news.postMessage({ type: "forgotten" });
  location.href = `${BASE}phone`;
}

document.addEventListener("turbo:load", show);
await show();
