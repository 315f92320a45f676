// The engine's memory, kept by one start for the next. It is written from where it lies and read back
// into place, piece by piece, so that it is never held twice.
//
// It lies in a file of the browser's. Where there is none to be had, as in a private window, it lies
// in a cache. Either holds a head and the memory; how long both are is written last, so one that was
// cut short has no lengths.

const BEGINNING = "fieldkit-memory-";
const CACHE = "memory-of-fieldkit-"; // not cleared with the version that went before
const LENGTHS = 8;
const PIECE = 1 << 22;

const folder = () => navigator.storage.getDirectory();

// Keep the memory of an engine that nothing of anybody is in yet.
export async function keepMemory(about, python) {
  await clearMemory(); // what an older version left
  const [head, memory] = [headOf(python), python._module.HEAPU8];
  try {
    const file = await openFile(about, { create: true });
    await (file ? writeFile(file, head, memory) : writeCache(about, head, memory));
  } catch (error) {
    await clearMemory(); // what there was no room for must not take any
    throw error;
  }
}

function writeFile(file, head, memory) {
  try {
    write(file, head, LENGTHS);
    write(file, memory, LENGTHS + head.length);
    file.flush();
    write(file, new Uint32Array([head.length, memory.length]), 0);
    file.flush();
  } finally {
    file.close();
  }
}

function write(file, bytes, at) {
  if (file.write(bytes, { at }) !== bytes.byteLength) throw new Error("the copy was not written to its end");
}

async function writeCache(about, head, memory) {
  const cache = await caches.open(CACHE + about.version);
  const put = (name, bytes) => cache.put(placeIn(name), new Response(bytes));
  await put("head", head);
  for (let at = 0; at < memory.length; at += PIECE) await put(at, memory.slice(at, at + PIECE));
  await put("size", `${memory.length}`);
}

const placeIn = (name) => new URL(`phone/memory/${name}`, self.location.origin).href;

// The runtime puts head and memory together in one large copy; without a memory it gives the head.
function headOf(python) {
  const { _module: module } = python;
  const all = module.HEAP8;
  const none = new Int8Array(0);
  module.HEAP8 = none;
  try {
    return python.makeMemorySnapshot();
  } finally {
    if (module.HEAP8 === none) module.HEAP8 = all;
  }
}

// The kept memory, open to be read, or null: none is kept, or not all of it.
export async function openMemory(about) {
  const file = await openFile(about);
  return file ? inFile(file) : inCache(about);
}

function inFile(file) {
  const lengths = new Uint32Array(2);
  file.read(lengths, { at: 0 });
  const [head, size] = lengths;
  if (!head || file.getSize() !== LENGTHS + head + size) {
    file.close();
    return null;
  }
  return {
    size,
    head() {
      const bytes = new Uint8Array(head);
      file.read(bytes, { at: LENGTHS });
      return bytes;
    },
    fill(memory) {
      if (file.read(memory.subarray(0, size), { at: LENGTHS + head }) !== size) throw new Error("it was cut short");
    },
    close: () => file.close(),
  };
}

async function inCache(about) {
  const cacheName = CACHE + about.version;
  const found = await caches.match(placeIn("size"), { cacheName });
  if (!found) return null;
  const size = Number(await found.text());
  const get = async (name) => new Uint8Array(await (await caches.match(placeIn(name), { cacheName })).arrayBuffer());
  return {
    size,
    head: () => get("head"),
    async fill(memory) {
      for (let at = 0; at < size; at += PIECE) memory.set(await get(at), at);
    },
    close() {},
  };
}

// A file that can be read and written at once; null where there is none, or the browser has no such
// files, or another tab holds it.
async function openFile(about, how) {
  try {
    return await (await (await folder()).getFileHandle(BEGINNING + about.version, how)).createSyncAccessHandle();
  } catch {
    return null;
  }
}

export async function clearMemory() {
  for (const name of await caches.keys()) if (name.startsWith(CACHE)) await caches.delete(name);
  if (!navigator.storage?.getDirectory) return; // this browser has no such files
  const all = await folder().catch(() => null); // nor has a private window
  if (!all) return;
  for await (const name of all.keys()) {
    if (name.startsWith(BEGINNING)) await all.removeEntry(name);
  }
}
