// Whether this phone was taken to the field, and with which version. It is one small record in
// the cache, because the page, the worker and the service worker all can read it there.

const CACHE = "fieldkit-state";

// The site's base: this script lies at static/phone/ below it.
export const BASE = new URL("../../", import.meta.url).href;

const PLACE = `${BASE}phone/state.json`;

// {about, engine: "untried" | "ready" | "failed", why}, or null: not taken to the field.
export async function readState() {
  if (!self.caches) return null; // an address without https: nothing can be kept
  const found = await caches.match(PLACE, { cacheName: CACHE }); // opening it would make it
  return found ? found.json() : null;
}

export async function writeState(state) {
  await (await caches.open(CACHE)).put(PLACE, new Response(JSON.stringify(state)));
}

export const cacheOf = (about) => `fieldkit-${about.version}`;

export function placeOf(about, beginning, end = "") {
  const part = about.parts.find((one) => one.place.startsWith(beginning) && one.place.endsWith(end));
  return BASE + part.place;
}

// ── Forms that were sent while nothing here could answer ────────────────────────────────────

const heldPlace = (id) => `${BASE}phone/held/${id}`;

export async function hold(request, body) {
  const id = crypto.randomUUID();
  const headers = {
    "Content-Type": request.headers.get("Content-Type") ?? "",
    "X-Path": request.url,
  };
  await (await caches.open(CACHE)).put(heldPlace(id), new Response(body, { headers }));
  return heldPlace(id);
}

export async function takeHeld(url) {
  const cache = await caches.open(CACHE);
  const found = await cache.match(url);
  if (!found) return null;
  return {
    url: found.headers.get("X-Path"),
    type: found.headers.get("Content-Type"),
    body: await found.arrayBuffer(),
    done: () => cache.delete(url),
  };
}

// ── The language that this phone's pages were last told in ──────────────────────────────────

const TOLD_IN = `${BASE}phone/told-in`;

export async function keepLanguage(language) {
  if (!self.caches) return;
  const kept = (await caches.open(CACHE)).put(TOLD_IN, new Response(language));
  await kept.catch((error) => console.warn("not kept:", error)); // a full disk must not stop the page
}

// The browser's own until a page was told.
export async function languageNow() {
  const found = await caches.match(TOLD_IN, { cacheName: CACHE });
  return found ? found.text() : navigator.language.split("-")[0];
}

// ── Signed out here, and the server does not know it yet ────────────────────────────────────

const LEAVING = "left-fieldkit"; // stays when the others are cleared

export const LOOKS = ["colours", "page"].map((one) => `${BASE}static/${one}.css`);

// `words` are what a page says meanwhile, beside its looks; all else is cleared.
export async function markLeaving(words) {
  const cache = await caches.open(LEAVING);
  for (const place of LOOKS) {
    const found = await caches.match(place);
    if (found) await cache.put(place, found);
  }
  await cache.put(PLACE, new Response(JSON.stringify(words)));
}

export const lookOfLeaving = (place) => caches.match(place, { cacheName: LEAVING });

// Those words, or null: this phone has not been signed out, or the server knows.
export async function hasToLeave() {
  const found = await caches.match(PLACE, { cacheName: LEAVING });
  return found ? found.json() : null;
}

export async function hasLeft() {
  await caches.delete(LEAVING);
}

// ── All of it away ──────────────────────────────────────────────────────────────────────────

export async function clearCaches(keepName = "") {
  for (const name of await caches.keys()) {
    if (name.startsWith("fieldkit-") && name !== keepName && (name !== CACHE || !keepName)) {
      await caches.delete(name);
    }
  }
}
