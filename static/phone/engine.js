// The engine's worker: Python in the browser, and in it the same program that runs on the server.
// An answer leaves here only when the entries it made are on this phone's disk.

import { news } from "./exchange.js";
import { openLogFile } from "./logfile.js";
import { clearMemory, keepMemory, openMemory } from "./memory.js";
import * as photos from "./photos.js";
import { BASE, cacheOf, placeOf } from "./state.js";
import * as store from "./store.js";
import { filesOf } from "./unzip.js";

const PACK = "/lib/fieldkit-pack";
const FILE = "/log/fieldkit.db";

// So many entries are read from the store at a time; the first are taken in before the engine is
// ready, the rest in lots that each take about a moment, so that a page waits no longer.
const READ = 200;
const FIRST = 200;
const LEAST = 20;
const MOMENT_MS = 30;
const TELL_MS = 1000;
const PAUSE_MS = 300; // after a page was asked for, as a person at work asks for the next soon;
const LONGEST_MS = 3000; // but no longer than this after the last lot
const WHOLE_MS = 3000; // a page waits so long for the rest of its job

// The runtime would read a list of packages to fetch; here there are none.
const NO_PACKAGES = {
  info: { abi_version: "2026_0", arch: "wasm32", platform: "emscripten_5_0_3", python: "3.14.2", version: "314.0.7" },
  packages: {},
};

const PREPARE = `
import sys
sys.path.insert(0, "${PACK}")
from fieldkit.phone.read_once import read_byte_code_once
read_byte_code_once()
from fieldkit.phone.engine import Engine
fieldkit_engine = Engine()`;

const START = `
from pyodide.ffi import to_js
def start(path, secret, base, cookies, who, company):
    fieldkit_engine.start(path, secret, base, cookies.to_py(), who=who, company=company)
def answer(method, path, headers, body):
    return to_js(tuple(fieldkit_engine.answer(method, path, headers.to_py(), body.to_bytes())))
def take_in(entries, arrived):
    return fieldkit_engine.take_in(entries.to_py(), arrived.to_py())
def cookies():
    return to_js(list(fieldkit_engine.cookies().items()))
def wanted(method, path):
    return to_js(fieldkit_engine.wanted(method, path))
def lend(photos):
    fieldkit_engine.lend({digest: bytes(body) for digest, body in photos.to_py()})
def photos_here(digests):
    fieldkit_engine.photos_here(digests.to_py())
[start, answer, take_in, cookies, wanted, lend, photos_here, fieldkit_engine.server_said]`;

let python;
let calls;
let failed = ""; // why it did not start
let file; // where the copy of the log lies; null where it lies in memory, made anew by each start
let applied = 0; // the number of the last entry that it has taken in
let coming = []; // read from the store, and not taken in yet
let behind = true; // whether there may be more to take in
let lot = FIRST; // how many are taken in at a time
let asked = -PAUSE_MS; // when a page was asked for last
let taken = 0; // when a lot was taken in last
let told = 0; // when the pages heard last how many are left
let mended = 0;
let about;
let keptCookies = "";

// One thing at a time, in the order asked.
let turn = Promise.resolve();
function inTurn(work) {
  turn = turn.then(work).catch((error) => console.error(error));
  return turn;
}

self.onmessage = ({ data, ports }) => {
  if (data.type === "boot") inTurn(() => boot(data));
  if (data.type === "page") {
    asked = performance.now();
    inTurn(() => answer(data, ports[0]));
  }
};

news.addEventListener("message", ({ data }) => {
  if (data.type === "entries" && calls) {
    behind = true;
    inTurn(catchUp);
  }
  if (data.type === "photos" && calls) inTurn(tellPhotos);
  if (data.type === "exchanged" && calls) inTurn(tellServerSaid);
  if (data.type === "mended" && calls) inTurn(openLog);
});

// ── Starting ────────────────────────────────────────────────────────────────────────────────

// The first start is from the pack and leaves a copy of its memory; later ones begin with that. It
// is only a help: where it is of no use, the start is from the pack again.
async function boot(order) {
  const began = performance.now();
  about = order.about;
  try {
    // Perhaps it is what kept the last one from starting; which may hold it for a moment yet.
    if (order.plain) await clearMemory().catch((error) => console.warn("the copy stays:", error));
    const how = (!order.plain && (await startFromMemory())) || (await startFromPack(order.plain));
    calls = python.runPython(START).toJs();
    tellAt("log");
    await openLog();
    self.postMessage({ type: "ready", ms: Math.round(performance.now() - began), how });
  } catch (error) {
    calls = undefined;
    failed = String(error.message ?? error).slice(-500);
    self.postMessage({ type: "failed", why: failed });
  }
}

// How far the start has come: the page waits for each step, not for all of them.
function tellAt(at) {
  self.postMessage({ type: "at", at });
}

async function load(options) {
  const script = placeOf(about, "phone/runtime/", "/pyodide.mjs");
  const { loadPyodide } = await import(script);
  tellAt("runtime");
  const none = noProgram();
  const started = loadPyodide({
    indexURL: script.slice(0, script.lastIndexOf("/") + 1),
    stdLibURL: placeOf(about, "phone/library/"),
    lockFileContents: JSON.stringify(NO_PACKAGES),
    ...options,
  });
  python = await Promise.race([started, none]);
}

// Where its program cannot be had, the runtime only writes that down and waits for ever.
function noProgram() {
  return new Promise((_, reject) => {
    for (const how of ["instantiate", "instantiateStreaming"]) {
      const usual = WebAssembly[how];
      WebAssembly[how] = (...given) => {
        const made = usual.apply(WebAssembly, given);
        made.catch(reject);
        return made;
      };
    }
  });
}

// Lay the pack out for Python to find.
async function layOut(wanted = () => true) {
  const cache = await caches.open(cacheOf(about));
  const made = new Set();
  for await (const [place, bytes] of filesOf((await cache.match(placeOf(about, "phone/pack/"))).body)) {
    if (!wanted(place)) continue;
    const path = `${PACK}/${place}`;
    const folder = path.slice(0, path.lastIndexOf("/"));
    if (!made.has(folder)) python.FS.mkdirTree(folder);
    made.add(folder);
    python.FS.writeFile(path, bytes, { canOwn: true });
  }
}

async function startFromPack(plain) {
  await load({ _makeSnapshot: !plain });
  tellAt("pack");
  await layOut();
  tellAt("program");
  python.runPython(PREPARE);
  if (!plain) await keepMemory(about, python).catch((error) => console.warn(`no copy of the memory: ${error}`));
  return "pack";
}

async function startFromMemory() {
  const kept = await openMemory(about);
  if (!kept) return undefined;
  try {
    const asm = await import(placeOf(about, "phone/runtime/", "/pyodide.asm.mjs"));
    await load({
      _loadSnapshot: await kept.head(),
      createPyodideModule: async (settings) => {
        const module = await asm.default(settings);
        // It must have grown before it is filled, and no further than needed.
        for (let more = 1 << 22; module.HEAPU8.length < kept.size; more += 1 << 22) {
          module._free(module._malloc(more));
        }
        await kept.fill(module.HEAPU8);
        return module;
      },
    });
    await layOut((place) => !place.endsWith(".pyc")); // what that holds is in the memory
    return "memory";
  } catch (error) {
    console.warn("no start from the copy of the memory:", error);
    return undefined;
  } finally {
    kept.close();
  }
}

// ── The log ─────────────────────────────────────────────────────────────────────────────────

async function openLog() {
  let secret = await store.kept("secret");
  if (!secret) {
    secret = Array.from(crypto.getRandomValues(new Uint8Array(32)), (b) => b.toString(16).padStart(2, "0")).join("");
    await store.keep({ secret });
  }
  mended = (await store.kept("mended")) ?? 0;
  file ??= await openLogFile();
  const head = file?.head();
  // An older program may have passed over what a newer one understands: read all again; and when
  // texts were put right since.
  const fits = head?.rest && head.version === about.version && head.mended === mended;
  python.FS.mkdirTree("/log");
  try {
    await startWith(fits ? head.applied : 0, secret);
  } catch (error) {
    console.warn("the copy of the log is made again:", error);
    await startWith(0, secret);
  }
}

async function startWith(from, secret) {
  const [start] = calls;
  for (const end of ["", "-journal"]) {
    if (python.FS.analyzePath(FILE + end).exists) python.FS.unlink(FILE + end);
  }
  applied = from;
  coming = [];
  behind = true;
  if (!from) file?.clear();
  file?.attach(python.FS, FILE);
  const cookies = (await store.kept("cookies")) ?? {};
  await changing(() => start(FILE, secret, BASE, cookies, about.who ?? "", about.company ?? ""));
  await tellPhotos();
  await tellServerSaid();
  await takeLot(FIRST);
  inTurn(catchUp);
}

// Where the engine's copy stands.
const head = () => ({ applied, mended, version: about.version });

// Do what changes the copy. One that is cut off in the middle is known as such.
async function changing(work) {
  file?.begin();
  const done = await work();
  file?.end(head());
  return done;
}

// How far this phone's clock is ahead of the server's, the head of its log, and what stays there.
async function tellServerSaid() {
  const { size, root } = (await store.kept("head")) ?? { size: 0, root: "" };
  const { left, found } = (await store.kept("field")) ?? {};
  calls[7]((await store.kept("ahead")) ?? 0, size, root, JSON.stringify({ left, found }));
}

async function tellPhotos() {
  calls[6](await photos.digests());
}

// Take in what came, a lot at a time: whoever asks for a page meanwhile does not wait for all of it,
// and goes before the next lot. What is touched last came first.
async function catchUp() {
  const wait = Math.min(asked + PAUSE_MS, taken + LONGEST_MS) - performance.now();
  if (wait > 0) return void setTimeout(() => inTurn(catchUp), wait);
  const more = (behind = await takeLot(lot));
  if (!more || performance.now() - told > TELL_MS) {
    told = performance.now();
    news.postMessage({ type: "reading", left: more ? await store.countAfter(applied) : 0 });
  }
  // What was taken along in pieces is unpacked while no page waits for it.
  if (more) unpackSome().catch((error) => console.warn(error)).then(() => inTurn(catchUp));
}

async function unpackSome() {
  if ((await store.unread(applied)) < READ) await store.unpack();
}

// A page shows no half of a job of which the rest is just being read; but nobody waits for long.
async function readToTheEnd(path) {
  const [, what, id] = /^\/(job|joint)\/([^/?]+)/.exec(path) ?? [];
  const end = performance.now() + WHOLE_MS;
  const ofIt = ({ text }) => text.includes(`"${what}":"${id}"`);
  while (id && behind && performance.now() < end && (await fetchMore()) && coming.some(ofIt)) await takeLot(lot);
}

async function fetchMore() {
  while (!coming.length) {
    coming = await store.after(applied, READ);
    if (!coming.length && !(await store.unpack())) return false;
  }
  return true;
}

// Whether there may be more.
async function takeLot(most) {
  await fetchMore();
  const some = coming.slice(0, most);
  if (!some.length) return false;
  const began = performance.now();
  await changing(() => {
    calls[2](some.map((one) => one.text), some.map((one) => one.received ?? ""));
    applied = some.at(-1).n;
  });
  coming = coming.slice(some.length);
  taken = performance.now();
  const fits = Math.round((some.length * MOMENT_MS) / (performance.now() - began + 1));
  lot = Math.max(LEAST, Math.min(READ, fits));
  return true;
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
  if (!calls) return port.postMessage({ failed: "engine_stopped", why: failed });
  let said;
  const reads = method === "GET" || method === "HEAD";
  try {
    await readToTheEnd(path).catch((error) => console.warn(error));
    await lendPhotos(method, path);
    if (!reads) file?.begin({ undo: true });
    said = calls[1](method, path, headers, new Uint8Array(body ?? 0));
  } catch (error) {
    console.error(error);
    if (!reads) file?.end(head());
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
      file?.undo(head());
      await openLog(); // without what could not be kept
      const why = error.name === "Silent" ? "silent_store" : "no_room"; // a key of the words
      port.postMessage({ status: 507, headers: [["Content-Type", "text/plain"]], body: why });
      return;
    }
    news.postMessage({ type: "saved" });
  }
  if (!reads) file?.end(head());
  if (!reads) await keepCookies();
  port.postMessage({ status, headers: named, body: bytes }, [bytes.buffer]);
}

// What was chosen counts from the next start on, however soon that comes.
async function keepCookies() {
  const cookies = Object.fromEntries(calls[3]());
  const now = JSON.stringify(cookies);
  if (now === keptCookies) return;
  keptCookies = now;
  await store.keep({ cookies }).catch((error) => console.warn("not kept:", error));
}
