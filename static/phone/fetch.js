// A worker that fetches the kit part by part, unpacks each, checks and keeps it, and then the jobs. All
// the room that it takes is free again when it ends, where a page would hold it until the browser
// thinks of it.

import { digestOf, exchange } from "./exchange.js";
import { BASE, cacheOf } from "./state.js";
import * as store from "./store.js";

const KEEP_EVERY = 1_000_000;
const SILENT_MS = 30_000;

const stopping = new AbortController();
let silence;

// A network that has gone silent does not say so: what brings nothing for so long has broken off.
function listen() {
  clearTimeout(silence);
  silence = setTimeout(() => stopping.abort(Object.assign(new Error(), { name: "silent" })), SILENT_MS);
}

self.onmessage = async ({ data: { about, older, stop } }) => {
  if (stop) {
    stopping.abort();
    return;
  }
  try {
    await (about ? fetchKit(about, older) : exchange());
    self.postMessage({ type: "all" });
  } catch ({ name, message, status }) {
    self.postMessage({ type: "broken", name, message, status });
  }
};

async function fetchKit(about, older) {
  const cache = await caches.open(cacheOf(about));
  const before = older && (await caches.open(cacheOf(older)));
  let done = 0;
  for (const part of about.parts) {
    const fetched = (bytes) => self.postMessage({ type: "fetched", bytes: done + Math.min(bytes, part.size) });
    if (!(await cache.match(BASE + part.place))) {
      const same = await before?.match(BASE + part.place);
      await keep(cache, about, part, same ? await same.arrayBuffer() : await unpacked(await fetchPart(part, fetched)));
    }
    done += part.size;
    fetched(0);
  }
}

// Fetch a part from where it broke off; packed, as it came.
async function fetchPart(part, fetched) {
  const key = keyOf(part);
  let chunks = (await store.kept(key)) ?? [];
  let have = chunks.reduce((sum, one) => sum + one.byteLength, 0);
  if (have >= part.size) return chunks;
  const headers = have ? { Range: `bytes=${have}-` } : {};
  listen();
  const response = await fetch(`${BASE}${part.place}.gz`, { headers, signal: stopping.signal });
  if (!response.ok) throw Object.assign(new Error(), { name: "answered", status: response.status });
  if (response.status !== 206) [chunks, have] = [[], 0]; // it sends from the beginning
  const reader = response.body.getReader();
  let kept = have;
  try {
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return chunks;
      chunks.push(value);
      have += value.byteLength;
      listen();
      fetched(have);
      if (have - kept > KEEP_EVERY) {
        kept = have;
        await store.keep({ [key]: chunks });
      }
    }
  } catch (error) {
    await store.keep({ [key]: chunks });
    throw error;
  } finally {
    clearTimeout(silence);
  }
}

const keyOf = (part) => `part ${part.place} ${part.sha256}`;

function unpacked(chunks) {
  const packed = chunks[0]?.[0] === 0x1f && chunks[0]?.[1] === 0x8b; // or a file host unpacked it
  const stream = new Blob(chunks).stream();
  return new Response(packed ? stream.pipeThrough(new DecompressionStream("gzip")) : stream).arrayBuffer();
}

async function keep(cache, about, part, body) {
  if ((await digestOf(body)) !== part.sha256) {
    await store.keep({ [keyOf(part)]: undefined });
    throw Object.assign(new Error(), { name: "damaged" });
  }
  const put = (place, held, type) =>
    cache.put(BASE + place, new Response(held, { headers: { ...about.headers, "Content-Type": type } }));
  if (part.place.startsWith("phone/small/")) {
    for (const [place, [type, text, how]] of Object.entries(JSON.parse(new TextDecoder().decode(body)))) {
      await put(place, how === "text" ? text : Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)), type);
    }
  }
  // Last, as its being there says that all of it is.
  await put(part.place, body, part.type);
  await store.keep({ [keyOf(part)]: undefined });
}
