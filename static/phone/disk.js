// A database of the browser, and transactions that tell when all of it is kept.

// A page that is put by in the middle of a transaction keeps every other page waiting: it ends all
// when it goes and begins none, and no other waits for ever.
const SILENT_MS = 30_000;

// WebKit sends no pagehide to a page that is left before it has loaded, and what such a page had open
// in the store would stay locked for all others: so nothing is begun before. It waits no longer than
// this, as a picture may be long on its way.
const LOADED_MS = 1000;

export const loaded = new Promise((resolve) => {
  if (!self.document || document.readyState === "complete") return resolve();
  setTimeout(resolve, LOADED_MS);
  return addEventListener("load", resolve, { once: true });
});

let going = false;
const open = new Set();

self.addEventListener("pagehide", () => {
  going = true;
  open.forEach(abort);
});

function abort(transaction) {
  try {
    transaction.abort();
  } catch {
    // it has ended already, and says why itself
  }
}

export class Silent extends Error {
  name = "Silent";
}

function within(promise, undo = () => {}) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => {
      reject(new Silent("the browser’s store does not answer"));
      undo();
    }, SILENT_MS);
    promise.then(resolve, reject).finally(() => clearTimeout(timer));
  });
}

export class Disk {
  #opened;
  #name;
  #make;

  // `make` lays out a new database.
  constructor(name, make) {
    this.#name = name;
    this.#make = make;
  }

  #database() {
    this.#opened ??= new Promise((resolve, reject) => {
      const request = indexedDB.open(this.#name, 1);
      request.onupgradeneeded = () => this.#make(request.result);
      request.onsuccess = () => {
        // Another tab clears the phone: let go, so that it can.
        request.result.onversionchange = () => {
          request.result.close();
          this.#opened = undefined;
        };
        resolve(request.result);
      };
      request.onerror = () => reject(request.error);
    });
    this.#opened.catch(() => (this.#opened = undefined));
    return this.#opened;
  }

  // Run `work` in one transaction; resolves when all of it is kept, with what `work` returned.
  async transact(stores, mode, work, durability = "relaxed") {
    await loaded;
    const db = await within(this.#database());
    if (going) throw new Silent("this page is going");
    const transaction = db.transaction(stores, mode, { durability });
    open.add(transaction);
    const done = new Promise((resolve, reject) => {
      let result;
      transaction.oncomplete = () => resolve(result);
      transaction.onabort = () => reject(transaction.error ?? new Error("the phone stopped saving"));
      Promise.resolve(work(transaction)).then(
        (value) => (result = value),
        (error) => {
          abort(transaction);
          reject(error);
        },
      );
    });
    return within(done, () => abort(transaction)).finally(() => open.delete(transaction));
  }

  async wipe() {
    if (this.#opened) (await this.#opened).close();
    this.#opened = undefined;
    await answerOf(indexedDB.deleteDatabase(this.#name));
  }
}

export function answerOf(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}
