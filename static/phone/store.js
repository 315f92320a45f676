// What this phone keeps. The entries here are the truth: a page may say "saved" only after
// addOwn() has answered. The engine's own file is a copy that can be made again from them.

import { Disk, answerOf } from "./disk.js";

const UNSENT = 1;
const REFUSED = 2;

const disk = new Disk("fieldkit", (made) => {
  const entries = made.createObjectStore("entries", { keyPath: "n", autoIncrement: true });
  entries.createIndex("id", "id", { unique: true });
  entries.createIndex("wait", "wait"); // only what waits has it: unsent or refused
  made.createObjectStore("kept");
});

const transact = disk.transact.bind(disk);

const idOf = (text) => JSON.parse(text).id;

// ── Entries ─────────────────────────────────────────────────────────────────────────────────

// Keep entries made on this phone. When this resolves they are on its disk.
export function addOwn(texts) {
  return add(texts, UNSENT, () => {});
}

// Keep entries that came from the server, with how far its log has been read.
export function addTheirs(texts, cursor) {
  return add(texts, undefined, (transaction) => transaction.objectStore("kept").put(cursor, "cursor"));
}

function add(texts, wait, also) {
  return transact(
    ["entries", "kept"],
    "readwrite",
    async (transaction) => {
      const entries = transaction.objectStore("entries");
      for (const text of texts) {
        const id = idOf(text);
        if ((await answerOf(entries.index("id").getKey(id))) === undefined) {
          entries.add(wait ? { id, text, wait } : { id, text });
        }
      }
      also(transaction);
    },
    "strict",
  );
}

// Entries kept after number n, in the order in which they came here.
export function after(n, limit = 500) {
  return transact("entries", "readonly", (transaction) =>
    answerOf(transaction.objectStore("entries").getAll(IDBKeyRange.lowerBound(n, true), limit)),
  );
}

// A page of what is to be sent: whole entries, up to so many characters, at least one.
export async function unsent(limit, characters) {
  const found = await transact("entries", "readonly", (transaction) =>
    answerOf(transaction.objectStore("entries").index("wait").getAll(UNSENT, limit)),
  );
  let size = 0;
  return found.filter((one, i) => (size += one.text.length) <= characters || i === 0);
}

// Note what became of entries that were sent: kept there, or refused with a reason.
export function settle(kept, refused) {
  return transact(
    "entries",
    "readwrite",
    async (transaction) => {
      const entries = transaction.objectStore("entries");
      const reasons = new Map(refused.map((one) => [one.id, one.why]));
      for (const id of [...kept, ...reasons.keys()]) {
        const one = await answerOf(entries.index("id").get(id));
        if (!one) continue;
        delete one.wait;
        delete one.why;
        if (reasons.has(id)) Object.assign(one, { wait: REFUSED, why: reasons.get(id) });
        entries.put(one);
      }
    },
    "strict",
  );
}

export function refused() {
  return transact("entries", "readonly", (transaction) =>
    answerOf(transaction.objectStore("entries").index("wait").getAll(REFUSED)),
  );
}

export function retryRefused() {
  return transact("entries", "readwrite", async (transaction) => {
    const entries = transaction.objectStore("entries");
    for (const one of await answerOf(entries.index("wait").getAll(REFUSED))) {
      delete one.why;
      entries.put({ ...one, wait: UNSENT });
    }
  });
}

// The server's log is not the one we knew, or an older copy of it: send all, read all.
export function startOver() {
  return transact(["entries", "kept"], "readwrite", async (transaction) => {
    const entries = transaction.objectStore("entries");
    for (const one of await answerOf(entries.getAll())) entries.put({ ...one, wait: one.wait ?? UNSENT });
    transaction.objectStore("kept").put(0, "cursor");
  });
}

export function counts() {
  return transact("entries", "readonly", async (transaction) => {
    const entries = transaction.objectStore("entries");
    const waiting = entries.index("wait");
    const [all, toSend, notTaken] = await Promise.all(
      [entries.count(), waiting.count(UNSENT), waiting.count(REFUSED)].map(answerOf),
    );
    return { all, toSend, notTaken };
  });
}

// ── Named values ────────────────────────────────────────────────────────────────────────────

export function kept(key) {
  return transact("kept", "readonly", (transaction) => answerOf(transaction.objectStore("kept").get(key)));
}

export function keep(values) {
  return transact("kept", "readwrite", (transaction) => {
    for (const [key, value] of Object.entries(values)) transaction.objectStore("kept").put(value, key);
  });
}

// Keep what can be done without: a full disk must not stop what goes on.
export function note(values) {
  return keep(values).catch((error) => console.warn("not noted:", error));
}

export function wipe() {
  return disk.wipe();
}
