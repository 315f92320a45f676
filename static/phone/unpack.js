// A worker that unpacks parts of the kit, checks them and keeps them. All the room that it takes
// is free again when it ends, where a page would hold it until the browser thinks of it.

import { digestOf } from "./exchange.js";
import { BASE, cacheOf } from "./state.js";

self.onmessage = async ({ data: { about, part, chunks, older } }) => {
  try {
    const body = await (chunks ? unpacked(chunks) : ofOlder(older, part));
    if ((await digestOf(body)) !== part.sha256) throw Object.assign(new Error(), { name: "damaged" });
    await keep(await caches.open(cacheOf(about)), part, body, about.headers);
    self.postMessage({});
  } catch ({ name, message }) {
    self.postMessage({ name, message });
  }
};

async function ofOlder(about, part) {
  return (await (await caches.open(cacheOf(about))).match(BASE + part.place)).arrayBuffer();
}

function unpacked(chunks) {
  const packed = chunks[0]?.[0] === 0x1f && chunks[0]?.[1] === 0x8b; // or a file host unpacked it
  const stream = new Blob(chunks).stream();
  return new Response(packed ? stream.pipeThrough(new DecompressionStream("gzip")) : stream).arrayBuffer();
}

async function keep(cache, part, body, headers) {
  if (part.place.startsWith("phone/small/")) {
    for (const [place, [type, text, how]] of Object.entries(JSON.parse(new TextDecoder().decode(body)))) {
      const held = how === "text" ? text : Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
      await cache.put(BASE + place, new Response(held, { headers: { ...headers, "Content-Type": type } }));
    }
  }
  // Last, as its being there says that all of it is.
  await cache.put(BASE + part.place, new Response(body, { headers: { ...headers, "Content-Type": part.type } }));
}
