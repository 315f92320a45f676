// The engine's worker: Python in the browser, and in it the same program that runs on the server.
// An answer leaves here only when the entries it made are on this phone's disk.

import { news } from "./exchange.js";
import { BASE, cacheOf, placeOf } from "./state.js";
import * as store from "./store.js";

const PACK = "/lib/fieldkit-pack";
const FILE = "/log/fieldkit.db";
const SNAPSHOT = `${BASE}phone/made/memory`;
const SAVE_MS = 2000;

// The runtime would read a list of packages to fetch; here there are none.
const NO_PACKAGES = {
  info: { abi_version: "2026_0", arch: "wasm32", platform: "emscripten_5_0_3", python: "3.14.2", version: "314.0.7" },
  packages: {},
};

const UNPACK = `
def unpack(data, where):
    import io, os, sys, zipfile
    with zipfile.ZipFile(io.BytesIO(data.to_bytes())) as pack:
        pack.extractall(where)
    if where not in sys.path:
        sys.path.insert(0, where)
unpack`;

const PREPARE = `
from fieldkit.phone.engine import Engine
fieldkit_engine = Engine()`;

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
[start, answer, take_in, cookies, fieldkit_engine.close]`;

let python;
let calls;
let applied = 0;
let about;
let saving;

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
};

news.addEventListener("message", ({ data }) => {
  if (data.type === "entries" && calls) inTurn(catchUp);
});

// ── Starting ────────────────────────────────────────────────────────────────────────────────

async function boot(order) {
  const began = performance.now();
  about = order.about;
  try {
    const cache = await caches.open(cacheOf(about));
    const pack = cache.match(placeOf(about, "phone/pack/")).then((found) => found.arrayBuffer());
    const memory = order.plain ? null : await cache.match(SNAPSHOT);
    let how = "memory";
    try {
      if (memory) await fromMemory(await memory.arrayBuffer(), await pack);
    } catch (error) {
      console.warn("starting anew:", error);
      await cache.delete(SNAPSHOT);
      python = undefined;
    }
    if (!python) {
      how = "anew";
      await anew(cache, await pack);
    }
    calls = python.runPython(START).toJs();
    await openLog();
    self.postMessage({ type: "ready", ms: Math.round(performance.now() - began), how });
  } catch (error) {
    self.postMessage({ type: "failed", why: String(error.message ?? error).slice(-500) });
  }
}

async function load(options) {
  const { loadPyodide } = await import(placeOf(about, "phone/runtime/", "/pyodide.mjs"));
  const stdLibURL = placeOf(about, "phone/runtime/", "/python_stdlib.zip");
  python = await loadPyodide({
    indexURL: stdLibURL.slice(0, stdLibURL.lastIndexOf("/") + 1),
    stdLibURL,
    lockFileContents: JSON.stringify(NO_PACKAGES),
    ...options,
  });
}

function unpack(pack) {
  const call = python.runPython(UNPACK);
  call(new Uint8Array(pack), PACK);
  call.destroy();
}

async function anew(cache, pack) {
  await load({ _makeSnapshot: true });
  unpack(pack);
  python.runPython(PREPARE);
  try {
    // All is loaded, and nothing of anybody is in it yet: the next start begins from here.
    await cache.put(SNAPSHOT, new Response(python.makeMemorySnapshot()));
  } catch (error) {
    console.warn("no copy of the memory was kept:", error);
  }
}

async function fromMemory(copy, pack) {
  const asm = await import(placeOf(about, "phone/runtime/", "/pyodide.asm.mjs"));
  let bytes = new Uint8Array(copy);
  await load({
    _loadSnapshot: bytes,
    createPyodideModule: async (settings) => {
      const module = await asm.default(settings);
      // The memory must have grown before it is filled, and no further than needed.
      for (let more = 1 << 22; module.HEAPU8.length < bytes.length; more += 1 << 22) {
        module._free(module._malloc(more));
      }
      return module;
    },
  });
  // The copy is in place. Who still holds it would hold its memory twice.
  bytes = null;
  if (python._api?.config) python._api.config._loadSnapshot = undefined;
  unpack(pack);
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
  await catchUp();
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

async function answer({ method, path, headers, body }, port) {
  let said;
  try {
    said = calls[1](method, path, headers, new Uint8Array(body ?? 0));
  } catch (error) {
    console.error(error);
    port.postMessage({ failed: "stumbled" });
    return;
  }
  const [status, named, bytes, entries] = said;
  if (entries.length) {
    try {
      await store.addOwn(entries);
    } catch (error) {
      console.warn("not saved:", error);
      await openLog(); // without what could not be kept
      port.postMessage({ status: 507, headers: [["Content-Type", "text/plain"]], body: "no room" });
      return;
    }
    news.postMessage({ type: "saved" });
  }
  port.postMessage({ status, headers: named, body: bytes }, [bytes.buffer]);
  if (method !== "GET") saveSoon();
}
