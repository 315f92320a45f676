// Answers for the network, once this phone was taken to the field: pages come from the engine in
// one of the open tabs, files from what was fetched. What is left goes to the network untouched.

import { exchange, fetchPhoto, leave } from "./static/phone/exchange.js";
import { bytesOf } from "./static/phone/photos.js";
import { BASE, LOOKS, cacheOf, hasLeft, hasToLeave, hold, languageNow, lookOfLeaving, readState } from "./static/phone/state.js";
import { speak, stoppedWords, tell } from "./static/phone/words.js";

const HEARD_MS = 3000;
const WAIT_MS = 60_000;
const NETWORK_MS = 5000;

// Always asked of the server itself.
const SERVER = /^(sw\.js$|phone\/(about\.json|token|send|since|jobs)$|phone\/photo\/|.*\.gz$)/;

// Who may enter is known to the server alone; so is what it refused.
const PEOPLE = /^(enter$|leave$|join\/|people(\/|$)|me(\/|$)|refused(\/|$))/;

// A photo, by the digest of its bytes.
const PHOTO = /^joint\/[^/]+\/photos\/([0-9a-f]{64})\.jpg$/;

// Kept files, which never depend on who asks.
const FILES = /^(static\/|phone\/(runtime|library|pack|small|words)\/|manifest\.webmanifest$)/;

self.addEventListener("install", () => {
  if (!self.registration.active) self.skipWaiting();
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("message", (event) => {
  if (event.data.type === "skip-waiting") self.skipWaiting();
  if (event.data.type === "claim") event.waitUntil(self.clients.claim());
});
self.addEventListener("sync", (event) => event.waitUntil(inBackground()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (!request.url.startsWith(BASE)) return;
  const path = request.url.slice(BASE.length).split(/[?#]/)[0];
  if (SERVER.test(path)) return;
  if (FILES.test(path)) {
    if (request.method === "GET") event.respondWith(file(request));
    return;
  }
  const photo = request.method === "GET" && PHOTO.exec(path);
  event.respondWith(photo ? image(request, photo[1]) : page(event, path));
});

async function inBackground() {
  if (await hasToLeave()) return endSession();
  return exchange();
}

async function file(request) {
  const state = await readState();
  const url = request.url.split(/[?#]/)[0];
  const found = state ? await (await caches.open(cacheOf(state.about))).match(url) : await lookOfLeaving(url);
  return found ?? fetch(request);
}

// An image and nothing else, whatever somebody made of its bytes.
async function image(request, digest) {
  const state = await readState();
  if (!state) return leaveFirst(request);
  if (state.engine === "untried") return fetch(request);
  const fetched = () => (state.about.exchange ? fetchPhoto(digest).catch(() => null) : null);
  const body = (await bytesOf(digest)) ?? (await fetched());
  if (!body) return new Response(null, { status: 404 });
  const headers = { ...state.about.headers, "Content-Type": "image/jpeg" };
  return new Response(body, { headers: { ...headers, "Content-Security-Policy": "default-src 'none'; sandbox" } });
}

async function page(event, path) {
  const { request } = event;
  const state = await readState();
  if (!state) return leaveFirst(request);
  if (state.engine === "untried") return fetch(request);
  if (PEOPLE.test(path) && state.about.exchange) return ofPeople(request, path, state);
  if (state.engine === "failed") return withoutEngine(request, state);
  if (request.url.startsWith(`${BASE}phone/held/`)) return plainPage("phone/shell", state);
  const body = ["GET", "HEAD"].includes(request.method) ? null : await request.arrayBuffer();
  const navigates = request.mode === "navigate";
  const deadline = Date.now() + WAIT_MS;
  do {
    const leader = await leaderTab();
    const answer = leader === "silent" ? leader : leader && (await askLeader(leader, request, body, navigates));
    if (answer?.failed) return (body === null && (await keptPage(path, state))) || withoutAnswer(answer, request, body, state);
    if (answer?.status) return responseOf(answer, state, navigates);
    leaderId = undefined;
    if (navigates) return shellFor(request, body, state);
    if (answer === "silent") await takeOver(event.clientId);
    await new Promise((resolve) => setTimeout(resolve, 100));
  } while (Date.now() < deadline);
  return sorry(state, "no_tab");
}

// The tab whose engine answers is the one that holds the lock. The lock does not say which tab
// that is, so each is asked, and the one that leads says so.
let leaderId;

async function leaderTab() {
  const { held } = await navigator.locks.query();
  if (!held.some((one) => one.name === "fieldkit-engine")) return null;
  const known = leaderId && (await self.clients.get(leaderId));
  if (known) return known;
  const tabs = await self.clients.matchAll({ includeUncontrolled: true });
  const asked = tabs.map(
    (tab) =>
      new Promise((resolve, reject) => {
        const { port1, port2 } = new MessageChannel();
        port1.onmessage = ({ data }) => (data.leads ? resolve(tab) : reject());
        setTimeout(reject, HEARD_MS);
        tab.postMessage({ type: "leads" }, [port2]);
      }),
  );
  const found = await Promise.any(asked).catch(() => "silent");
  if (found !== "silent") leaderId = found.id;
  return found;
}

function askLeader(leader, request, body, navigates) {
  return new Promise((resolve) => {
    const { port1, port2 } = new MessageChannel();
    let timer = setTimeout(() => resolve("silent"), HEARD_MS);
    port1.onmessage = ({ data }) => {
      clearTimeout(timer);
      if (data.heard) timer = setTimeout(() => resolve(null), WAIT_MS);
      else resolve(data);
    };
    // What the browser adds on the way to a server, it does not show here.
    const headers = { "Accept-Language": languagesAsked() };
    for (const name of ["Content-Type", "Accept"]) {
      if (request.headers.has(name)) headers[name] = request.headers.get(name);
    }
    const path = request.url.slice(BASE.length - 1).split("#")[0];
    leader.postMessage({ type: "page", method: request.method, path, headers, body, navigates }, [port2]);
  });
}

function languagesAsked() {
  const ranked = navigator.languages.slice(0, 9).map((one, n) => `${one};q=${(1 - n / 10).toFixed(1)}`);
  return ranked.join(", ");
}

async function takeOver(clientId) {
  (await self.clients.get(clientId))?.postMessage({ type: "take-over" });
}

function responseOf(answer, state, navigates) {
  if (answer.status === 507 && navigates) {
    return sorry(state, answer.body);
  }
  const bodyless = [204, 205, 304].includes(answer.status);
  return new Response(bodyless ? null : answer.body, { status: answer.status, headers: answer.headers });
}

// An engine that did not start is tried again by the page that comes: its shell says how it went.
function withoutAnswer(answer, request, body, state) {
  const again = answer.failed === "engine_stopped" && request.mode === "navigate";
  return again ? shellFor(request, body, state) : sorry(state, answer.failed, { why: answer.why });
}

// A page stands in until the engine runs; a form that was sent is held until then.
async function shellFor(request, body, state) {
  if (body !== null) return Response.redirect(await hold(request, body), 303);
  return plainPage("phone/shell", state);
}

async function plainPage(place, state) {
  return (await keptPage(place, state)) ?? sorry(state, "not_kept");
}

// Each is kept in every language, English under its plain address.
async function keptPage(place, state) {
  const cache = await caches.open(cacheOf(state.about));
  return (await cache.match(`${BASE}${place}?in=${await languageNow()}`)) ?? cache.match(BASE + place);
}

// This phone was cleared and has not told the server yet: nobody sees a page of the one who left.
async function leaveFirst(request) {
  if (!(await hasToLeave())) return fetch(request);
  try {
    await endSession();
  } catch {
    return stopped(await hasToLeave(), { "Content-Security-Policy": "default-src 'none'; style-src 'self'" });
  }
  return fetch(request);
}

async function endSession() {
  await leave();
  await hasLeft();
  await self.registration.unregister();
}

// Logging out is clearing the phone, which asks first what is to become of what was not sent.
async function ofPeople(request, path, state) {
  if (path === "leave") return Response.redirect(`${BASE}phone#forget`, 303);
  try {
    return await fetch(request);
  } catch {
    return sorry(state, "on_server");
  }
}

// Phones whose engine cannot start: the network first, then the pages that need no engine.
async function withoutEngine(request, state) {
  const late = new Promise((_, reject) => setTimeout(reject, NETWORK_MS));
  try {
    return await Promise.race([fetch(request), late]);
  } catch {
    const place = request.url.slice(BASE.length).split(/[?#]/)[0];
    return (await keptPage(place, state)) ?? plainPage("phone/shell", state);
  }
}

async function sorry(state, key, parts) {
  const cacheName = cacheOf(state.about);
  const wanted = await languageNow();
  const known = await caches.match(`${BASE}phone/words/${wanted}.json`, { cacheName });
  const language = known ? wanted : "en";
  await speak(language, cacheName);
  return stopped(stoppedWords(language, [tell(key, parts), tell("safe")]), state.about.headers);
}

// A page that needs no engine and nothing that is kept.
function stopped({ language, heading, lines, first }, headers) {
  const looks = LOOKS.map((one) => `<link rel="stylesheet" href="${one}">`).join("");
  return new Response(
    `<!doctype html><html lang="${language}"><head><meta charset="utf-8"><title>${heading} – fieldkit</title>` +
      `<meta name="viewport" content="width=device-width">${looks}</head>` +
      `<body><main class="sheet"><h1>${heading}</h1>${lines.map((one) => `<p>${one}</p>`).join("")}` +
      `<div class="act"><a class="other" href="${BASE}">${first}</a></div></main></body></html>`,
    { status: 503, headers: { ...headers, "Content-Type": "text/html; charset=utf-8" } },
  );
}
