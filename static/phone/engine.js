// The engine's worker: Python in the browser, and in it the same program that runs on the server.
// An answer leaves here only when the entries it made are on this phone's disk.

import { news } from "./exchange.js";
import * as photos from "./photos.js";
import { BASE, cacheOf, placeOf } from "./state.js";
import * as store from "./store.js";
import { filesOf } from "./unzip.js";

const PACK = "/lib/fieldkit-pack";
const FILE = "/log/fieldkit.db";
const SAVE_MS = 2000;

// Made here by one start for the next, and kept with the kit that it was made from.
const MADE = {
  stdlib: `${BASE}phone/runtime/made/python_stdlib.zip`, // with byte code
  code: `${BASE}phone/runtime/made/code.zip`, // byte code of our pack
  memory: `${BASE}phone/runtime/made/memory`, // the engine's memory, begun with that byte code
};
const CHUNK = 1 << 20;
const COMPILE_SECONDS = 0.03;

// The runtime would read a list of packages to fetch; here there are none.
const NO_PACKAGES = {
  info: { abi_version: "2026_0", arch: "wasm32", platform: "emscripten_5_0_3", python: "3.14.2", version: "314.0.7" },
  packages: {},
};

const PREPARE = `
import sys
sys.path.insert(0, "${PACK}")
from fieldkit.phone.engine import Engine
fieldkit_engine = Engine()`;

const COMPILE = `
def compiling():
    import sys
    from fieldkit.phone.bytecode import ByteCode
    from pyodide.ffi import to_js
    made = ByteCode("${PACK}", next(place for place in sys.path if place.endswith(".zip")))
    return to_js([
        lambda: made.work(${COMPILE_SECONDS}),
        lambda: to_js(made.standard_library()),
        lambda: to_js(made.beside_sources()),
    ])
compiling()`;

const START = `
from pyodide.ffi import to_js
def start(path, secret, base, cookies, who, company):
    fieldkit_engine.start(path, secret, base, cookies.to_py(), who=who, company=company)
def answer(method, path, headers, body):
    return to_js(tuple(fieldkit_engine.answer(method, path, headers.to_py(), body.to_bytes())))
def take_in(entries):
    return fieldkit_engine.take_in(entries.to_py())
def cookies():
    return to_js(list(fieldkit_engine.cookies().items()))
def wanted(method, path):
    return to_js(fieldkit_engine.wanted(method, path))
def lend(photos):
    fieldkit_engine.lend({digest: bytes(body) for digest, body in photos.to_py()})
def photos_here(digests):
    fieldkit_engine.photos_here(digests.to_py())
[start, answer, take_in, cookies, wanted, lend, photos_here]`;

let python;
let calls;
let applied = 0;
let about;
let saving;
let keptCookies = "";

// One thing at a time, in the order asked.
let turn = Promise.resolve();
function inTurn(work) {
  turn = turn.then(work).catch((error) => console.error(error));
  return turn;
}

self.onmessage = ({ data, ports }) => {
  if (data.type === "boot") inTurn(() => boot(data));
  if (data.type === "page") inTurn(() => answer(data, ports[0]));
  if (data.type === "save") inTurn(save);
  if (data.type === "end") inTurn(save).then(() => self.postMessage({ type: "ended" }));
};

news.addEventListener("message", ({ data }) => {
  if (data.type === "entries" && calls) inTurn(catchUp);
  if (data.type === "photos" && calls) inTurn(tellPhotos);
});

// ── Starting ────────────────────────────────────────────────────────────────────────────────

// A start leaves the next one less to do: from the sources, then with byte code, then from a copy
// of the memory. What was left is only a help; a start that cannot use it begins one step before.
async function boot(order) {
  const began = performance.now();
  about = order.about;
  try {
    const cache = await caches.open(cacheOf(about));
    const how = await startFrom(cache, order.plain ? ["sources"] : ["memory", "code", "sources"]);
    calls = python.runPython(START).toJs();
    await openLog();
    self.postMessage({ type: "ready", ms: Math.round(performance.now() - began), how });
    if (how === "sources" && !order.plain) makeByteCode(cache);
  } catch (error) {
    self.postMessage({ type: "failed", why: String(error.message ?? error).slice(-500) });
  }
}

const STARTS = {
  memory: { needs: ["memory", "stdlib"], spoils: ["memory"], start: fromMemory },
  code: { needs: ["code", "stdlib"], spoils: ["code", "stdlib", "memory"], start: fromCode },
  sources: { needs: [], spoils: [], start: fromSources },
};

async function startFrom(cache, ways) {
  for (const way of ways) {
    const { needs, spoils, start } = STARTS[way];
    const made = await Promise.all(needs.map((one) => cache.match(MADE[one])));
    if (!made.every(Boolean)) continue;
    try {
      await start(cache, made[0]);
      return way;
    } catch (error) {
      if (way === ways.at(-1)) throw error;
      console.warn(`no start from ${way}:`, error);
      await Promise.all(spoils.map((one) => cache.delete(MADE[one])));
    }
  }
}

async function load(stdLibURL, options) {
  const { loadPyodide } = await import(placeOf(about, "phone/runtime/", "/pyodide.mjs"));
  const runtime = placeOf(about, "phone/runtime/", "/python_stdlib.zip");
  python = await loadPyodide({
    indexURL: runtime.slice(0, runtime.lastIndexOf("/") + 1),
    stdLibURL: stdLibURL ?? runtime,
    lockFileContents: JSON.stringify(NO_PACKAGES),
    ...options,
  });
}

// Lay files out for Python to find. Their bytes stay where they are: `zip` is the disk.
function layOut(zip) {
  const made = new Set();
  return Array.from(filesOf(zip), ([place, bytes]) => {
    const path = `${PACK}/${place}`;
    const folder = path.slice(0, path.lastIndexOf("/"));
    if (!made.has(folder)) python.FS.mkdirTree(folder);
    made.add(folder);
    python.FS.writeFile(path, bytes, { canOwn: true });
    return path;
  });
}

async function layOutPack(cache) {
  layOut(await bytesOf(await cache.match(placeOf(about, "phone/pack/"))));
}

const bytesOf = async (response) => new Uint8Array(await response.arrayBuffer());

async function fromSources(cache) {
  await load();
  await layOutPack(cache);
  python.runPython(PREPARE);
}

async function fromCode(cache, code) {
  await load(MADE.stdlib, { _makeSnapshot: true });
  await layOutPack(cache);
  const laid = layOut(await bytesOf(code));
  python.runPython(PREPARE);
  for (const path of laid) python.FS.unlink(path); // what it held is imported
  try {
    // All is loaded, and nothing of anybody is in it yet: the next start begins from here. It is
    // written while this one goes on.
    const copy = python.makeMemorySnapshot();
    keepMade(cache, "memory", copy).catch((error) => console.warn("no copy was kept:", error));
  } catch (error) {
    console.warn("no copy of the memory was made:", error);
  }
}

// Bytes that are given to a response whole are copied first; given piece by piece they are not.
async function keepMade(cache, what, bytes) {
  let at = 0;
  const pieces = new ReadableStream({
    pull(controller) {
      if (at < bytes.length) controller.enqueue(bytes.subarray(at, (at += CHUNK)));
      else controller.close();
    },
  });
  await cache.put(MADE[what], new Response(pieces, { headers: { "X-Size": bytes.length } }));
  bytes.buffer.transfer?.(0); // their room is free at once
}

// The copy is a short head, which the runtime reads, and then its memory, which is read straight
// into its place: it is never held twice.
async function fromMemory(cache, kept) {
  const asm = await import(placeOf(about, "phone/runtime/", "/pyodide.asm.mjs"));
  const size = Number(kept.headers.get("X-Size"));
  const reader = kept.body.getReader();
  const [head, first] = await headOf(reader);
  await load(MADE.stdlib, {
    _loadSnapshot: head,
    createPyodideModule: async (settings) => {
      const module = await asm.default(settings);
      // The memory must have grown before it is filled, and no further than needed.
      for (let more = 1 << 22; module.HEAPU8.length < size - head.length; more += 1 << 22) {
        module._free(module._malloc(more));
      }
      let at = 0;
      for (let chunk = first; chunk; chunk = (await reader.read()).value) {
        module.HEAPU8.set(chunk, at);
        at += chunk.length;
      }
      if (at !== size - head.length) throw new Error("the copy of the memory was cut short");
      return module;
    },
  });
  await layOutPack(cache);
}

async function headOf(reader) {
  let read = new Uint8Array(0);
  for (;;) {
    const { value } = await reader.read();
    if (!value) throw new Error("the copy of the memory has no head");
    const both = new Uint8Array(read.length + value.length);
    both.set(read);
    both.set(value, read.length);
    read = both;
    const length = read.length >= 8 && new DataView(read.buffer).getUint32(4, true);
    if (length && read.length >= length) return [read.slice(0, length), read.subarray(length)];
  }
}

// ── Byte code for the next start ────────────────────────────────────────────────────────────

// A little at a time: pages that are asked for meanwhile are answered between.
function makeByteCode(cache) {
  const compiling = python.runPython(COMPILE);
  const step = async () => {
    if (compiling[0]()) return soon();
    try {
      await cache.delete(MADE.memory); // it counts on the library that it was begun with
      await keepMade(cache, "stdlib", compiling[1]());
      await keepMade(cache, "code", compiling[2]());
      self.postMessage({ type: "made" });
    } catch (error) {
      console.warn("no byte code was kept:", error);
    }
  };
  const soon = () => void setTimeout(() => inTurn(step));
  soon();
}

// ── The log ─────────────────────────────────────────────────────────────────────────────────

async function openLog() {
  let secret = await store.kept("secret");
  if (!secret) {
    secret = Array.from(crypto.getRandomValues(new Uint8Array(32)), (b) => b.toString(16).padStart(2, "0")).join("");
    await store.keep({ secret });
  }
  const saved = await store.kept("db");
  // An older program may have passed over what a newer one understands: read all again.
  const fits = saved && saved.version === about.version;
  python.FS.mkdirTree("/log");
  try {
    await startWith(fits ? saved : null, secret);
  } catch (error) {
    console.warn("the copy of the log is made again:", error);
    await startWith(null, secret);
  }
}

async function startWith(saved, secret) {
  const [start] = calls;
  for (const end of ["", "-journal"]) {
    if (python.FS.analyzePath(FILE + end).exists) python.FS.unlink(FILE + end);
  }
  applied = 0;
  if (saved) {
    python.FS.writeFile(FILE, saved.bytes);
    applied = saved.applied;
  }
  start(FILE, secret, BASE, (await store.kept("cookies")) ?? {}, about.who ?? "", about.company ?? "");
  await tellPhotos();
  await catchUp();
}

async function tellPhotos() {
  calls[6](await photos.digests());
}

async function catchUp() {
  const [, , takeIn] = calls;
  for (;;) {
    const page = await store.after(applied);
    if (!page.length) return;
    takeIn(page.map((one) => one.text));
    applied = page.at(-1).n;
    saveSoon();
  }
}

function saveSoon() {
  saving ??= setTimeout(() => inTurn(save), SAVE_MS);
}

// Only a copy, so that the next start has less to read: it may fail.
async function save() {
  clearTimeout(saving);
  saving = undefined;
  if (!calls) return;
  try {
    const bytes = python.FS.readFile(FILE);
    const cookies = Object.fromEntries(calls[3]());
    await store.keep({ db: { bytes, applied, version: about.version }, cookies });
  } catch (error) {
    console.warn("the copy of the log was not saved:", error);
  }
}

// ── Answering ───────────────────────────────────────────────────────────────────────────────

// A file to hand over holds its photos whole.
async function lendPhotos(method, path) {
  const lent = [];
  for (const digest of calls[4](method, path)) {
    const body = await photos.bytesOf(digest);
    if (body) lent.push([digest, new Uint8Array(body)]);
  }
  if (lent.length) calls[5](lent);
}

async function answer({ method, path, headers, body }, port) {
  let said;
  try {
    await lendPhotos(method, path);
    said = calls[1](method, path, headers, new Uint8Array(body ?? 0));
  } catch (error) {
    console.error(error);
    port.postMessage({ failed: "stumbled" });
    return;
  }
  const [status, named, bytes, entries, taken] = said;
  if (entries.length || taken.length) {
    let added = [];
    try {
      added = await photos.addOwn(taken.map(([digest, body]) => [digest, body.slice().buffer]));
      await store.addOwn(entries);
      if (added.length) await tellPhotos();
    } catch (error) {
      console.warn("not saved:", error);
      await photos.discard(added).catch((also) => console.warn(also));
      await openLog(); // without what could not be kept
      port.postMessage({ status: 507, headers: [["Content-Type", "text/plain"]], body: "no room" });
      return;
    }
    news.postMessage({ type: "saved" });
  }
  if (method !== "GET") await keepCookies();
  port.postMessage({ status, headers: named, body: bytes }, [bytes.buffer]);
  if (method !== "GET") saveSoon();
}

// What was chosen counts from the next start on, however soon that comes.
async function keepCookies() {
  const cookies = Object.fromEntries(calls[3]());
  const now = JSON.stringify(cookies);
  if (now === keptCookies) return;
  keptCookies = now;
  await store.keep({ cookies }).catch((error) => console.warn("not kept:", error));
}
