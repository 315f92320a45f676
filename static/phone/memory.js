// The engine's memory, kept in a file by one start for the next. It is written from where it lies and
// read back into place, so that it is never held twice.
//
// The file: how long its head is and how long the memory, then both. The lengths are written last,
// so a file that was cut short has none.

const BEGINNING = "fieldkit-memory-";
const LENGTHS = 8;

const nameFor = (about) => BEGINNING + about.version;

const folder = () => navigator.storage.getDirectory();

// Keep the memory of an engine that nothing of anybody is in yet.
export async function keepMemory(about, python) {
  await clearMemory(); // what an older version left
  try {
    await writeMemory(about, python);
  } catch (error) {
    await clearMemory(); // what there was no room for must not take any
    throw error;
  }
}

async function writeMemory(about, python) {
  const file = await (await (await folder()).getFileHandle(nameFor(about), { create: true })).createSyncAccessHandle();
  try {
    const head = headOf(python);
    const memory = python._module.HEAPU8;
    write(file, head, LENGTHS);
    write(file, memory, LENGTHS + head.length);
    file.flush();
    write(file, new Uint32Array([head.length, memory.length]), 0);
    file.flush();
  } finally {
    file.close();
  }
}

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

function write(file, bytes, at) {
  if (file.write(bytes, { at }) !== bytes.byteLength) throw new Error("the copy was not written to its end");
}

// The kept memory, open to be read, or null: none is kept, or not all of it.
export async function openMemory(about) {
  const file = await fileOf(about);
  if (!file) return null;
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

async function fileOf(about) {
  try {
    return await (await (await folder()).getFileHandle(nameFor(about))).createSyncAccessHandle();
  } catch {
    return null; // there is none, or no such files
  }
}

export async function clearMemory() {
  if (!navigator.storage?.getDirectory) return; // this browser has no such files
  const all = await folder();
  for await (const name of all.keys()) {
    if (name.startsWith(BEGINNING)) await all.removeEntry(name);
  }
}
