// The engine's copy of the log, in a file of the browser's: its database reads and writes there in
// place, so that it is never held whole and never written whole.
//
// Before the pages of the database stands a head: how many of the kept entries it has taken in, by
// which version, and whether it was at rest. One that was cut off in the middle is made anew.

const NAME = "fieldkit-log";
const HEAD = 4096;
const TRIES = 10;
const TRY_MS = 100;

const folder = () => navigator.storage.getDirectory();

// The file, or null: this browser has no such files, or another tab, frozen, still holds it.
export async function openLogFile() {
  for (let n = 0; n < TRIES; n++) {
    try {
      return new LogFile(await (await (await folder()).getFileHandle(NAME, { create: true })).createSyncAccessHandle());
    } catch (error) {
      if (error.name !== "NoModificationAllowedError") return null;
      await new Promise((resolve) => setTimeout(resolve, TRY_MS));
    }
  }
  return null;
}

// Remove it, as soon as the worker that held it is gone.
export async function clearLogFile() {
  const all = await Promise.resolve().then(folder).catch(() => null);
  for (let n = 0; all && n < TRIES; n++) {
    try {
      return await all.removeEntry(NAME);
    } catch (error) {
      if (error.name === "NotFoundError") return undefined;
      await new Promise((resolve) => setTimeout(resolve, TRY_MS));
    }
  }
  return undefined;
}

class LogFile {
  #handle;
  #before; // what stood where this work has written, to be put back

  constructor(handle) {
    this.#handle = handle;
  }

  // What the last work left behind, or null.
  head() {
    const bytes = new Uint8Array(HEAD);
    try {
      const read = this.#handle.read(bytes, { at: 0 });
      return JSON.parse(new TextDecoder().decode(bytes.subarray(0, read)));
    } catch {
      return null; // it is new
    }
  }

  #write(head) {
    this.#handle.write(new TextEncoder().encode(JSON.stringify(head).padEnd(HEAD)), { at: 0 });
  }

  clear() {
    this.#handle.truncate(0);
    this.#handle.truncate(HEAD);
  }

  // Something will be written: until `end`, what is here is of no use to another start.
  begin({ undo = false } = {}) {
    this.#before = undo ? { size: this.#handle.getSize(), pages: [] } : undefined;
    this.#write({ rest: false });
    this.#handle.flush();
  }

  end(head) {
    this.#before = undefined;
    this.#handle.flush();
    this.#write({ ...head, rest: true });
  }

  // As it was at `begin`.
  undo(head) {
    const { size, pages } = this.#before;
    this.#before = undefined;
    for (const [at, bytes] of pages.reverse()) this.#handle.write(bytes, { at });
    this.#handle.truncate(size);
    this.end(head);
  }

  // Let what Python opens at `path` be this file.
  attach(FS, path) {
    FS.writeFile(path, new Uint8Array(0));
    const { node } = FS.lookupPath(path);
    const [handle, files] = [this.#handle, node.node_ops];
    Object.defineProperty(node, "usedBytes", { get: () => Math.max(0, handle.getSize() - HEAD), set() {} });
    node.node_ops = {
      ...files,
      setattr(which, { size, ...more }) {
        if (size !== undefined) handle.truncate(HEAD + size);
        files.setattr(which, more);
      },
    };
    node.stream_ops = {
      ...node.stream_ops,
      read: (_stream, buffer, offset, length, place) =>
        handle.read(buffer.subarray(offset, offset + length), { at: HEAD + place }),
      write: (_stream, buffer, offset, length, place) => {
        this.#remember(HEAD + place, length);
        return handle.write(buffer.subarray(offset, offset + length), { at: HEAD + place });
      },
    };
  }

  #remember(at, length) {
    if (!this.#before) return;
    const bytes = new Uint8Array(length);
    const read = this.#handle.read(bytes, { at });
    this.#before.pages.push([at, bytes.subarray(0, read)]);
  }
}
