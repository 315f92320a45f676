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

// What a phone is taken along with, in pieces as it came: a browser is quicker by seconds with a few
// pieces than with each entry. They go to the entries one after the other as the engine reads on.
const PIECE = 100;

const packed = new Disk("fieldkit-packed", (made) => made.createObjectStore("pieces"));

const idOf = (text) => JSON.parse(text).id;

// ── Entries ─────────────────────────────────────────────────────────────────────────────────

// Keep entries that came from the server, [text, when it arrived there] and the id of each, with what is
// noted of how far its log was read. Where an older program kept a text as a browser writes it, the
// text that was sealed takes its place; resolves with how often. `mended` tells the engine that its
// copy is of no use.
export async function addTheirs({ entries, ids }, values) {
  let put = 0;
  await transact(
    ["entries", "kept"],
    "readwrite",
    async (transaction) => {
      const [here, kept] = ["entries", "kept"].map((name) => transaction.objectStore(name));
      const came = new Map(entries.map(([text, received], i) => [ids?.[i] ?? idOf(text), { text, received }]));
      const found = [...came.keys()].map((id) => answerOf(here.index("id").get(id))); // all asked at once
      for (const [id, { text, received }] of came) {
        const one = await found.shift();
        if (!one) here.add({ id, text, received });
        else if (!one.wait && one.text !== text && read(one.text) === read(text)) {
          here.put({ ...one, text, received });
          put += 1;
        }
      }
      if (put) kept.put(((await answerOf(kept.get("mended"))) ?? 0) + 1, "mended");
      for (const [key, value] of Object.entries(values)) kept.put(value, key);
    },
    "strict",
  );
  return put;
}

const read = (text) => JSON.stringify(JSON.parse(text));

// Keep the same in pieces, where no entries are here yet. What was kept twice is unpacked once.
export async function addFirst({ entries, ids }, values) {
  const came = performance.timeOrigin + performance.now();
  await packed.transact(
    "pieces",
    "readwrite",
    (transaction) => {
      for (let i = 0; i < entries.length; i += PIECE) {
        const piece = { entries: entries.slice(i, i + PIECE), ids: ids.slice(i, i + PIECE) };
        transaction.objectStore("pieces").add(piece, [came, i, piece.ids.length]);
      }
    },
    "strict",
  );
  await keep(values); // not before they are on the disk
}

// Let the piece that came first be entries like all others; whether there was one.
export async function unpack() {
  const [keys, pieces] = await packed.transact("pieces", "readonly", (transaction) => {
    const all = transaction.objectStore("pieces");
    return Promise.all([answerOf(all.getAllKeys(null, 1)), answerOf(all.getAll(null, 1))]);
  });
  if (!keys.length) return false;
  await addTheirs(pieces[0], {});
  await packed.transact("pieces", "readwrite", (transaction) => transaction.objectStore("pieces").delete(keys[0]));
  return true;
}

async function countPacked() {
  const keys = await packed.transact("pieces", "readonly", (transaction) =>
    answerOf(transaction.objectStore("pieces").getAllKeys()),
  );
  return keys.reduce((sum, [, , size]) => sum + size, 0);
}

// Keep entries made on this phone. When this resolves they are on its disk.
export function addOwn(texts) {
  return transact(
    "entries",
    "readwrite",
    async (transaction) => {
      const entries = transaction.objectStore("entries");
      for (const text of texts) {
        const id = idOf(text);
        if ((await answerOf(entries.index("id").getKey(id))) === undefined) entries.add({ id, text, wait: UNSENT });
      }
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

// How many the engine has not read yet.
export async function countAfter(n) {
  return (await unread(n)) + (await countPacked());
}

// The same without those in pieces.
export function unread(n) {
  return transact("entries", "readonly", (transaction) =>
    answerOf(transaction.objectStore("entries").count(IDBKeyRange.lowerBound(n, true))),
  );
}

// Whether no entries are here but those in pieces.
export function isEmpty() {
  return transact("entries", "readonly", async (transaction) =>
    (await answerOf(transaction.objectStore("entries").getAllKeys(null, 1))).length === 0,
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

// Note what became of entries that were sent: kept there, or refused with a reason, and until when;
// and with it what is known of the log that has them.
export function settle(kept, refused, values = {}) {
  return transact(
    ["entries", "kept"],
    "readwrite",
    async (transaction) => {
      for (const [key, value] of Object.entries(values)) transaction.objectStore("kept").put(value, key);
      const entries = transaction.objectStore("entries");
      const reasons = new Map(refused.map((one) => [one.id, one]));
      for (const id of [...kept, ...reasons.keys()]) {
        const one = await answerOf(entries.index("id").get(id));
        if (!one) continue;
        delete one.wait;
        delete one.why;
        if (reasons.has(id)) Object.assign(one, reasons.get(id), { wait: REFUSED });
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

// Let refused entries be sent again: all, or those that were too early and whose time has come.
export function retryRefused(now) {
  return transact("entries", "readwrite", async (transaction) => {
    const entries = transaction.objectStore("entries");
    for (const { why, until, ...one } of await answerOf(entries.index("wait").getAll(REFUSED))) {
      if (now === undefined || until <= now) entries.put({ ...one, wait: UNSENT });
    }
  });
}

// The server's log is not the one we knew, or an older copy of it: send all, read all.
export async function startOver() {
  await keep({ overAgain: true });
  for await (const page of pages()) {
    await transact("entries", "readwrite", (transaction) => {
      const entries = transaction.objectStore("entries");
      for (const one of page) entries.put({ ...one, wait: one.wait ?? UNSENT });
    });
  }
  await keep({ overAgain: undefined, jobs: undefined });
}

// Let go of what is of none of these jobs, once there is more here than `most`; never of what waits.
// The engine's copy is made anew by its next start.
export async function leaveOut(jobs, most) {
  if ((await counts()).all <= most) return;
  const stay = new Set(jobs);
  let left = 0;
  for await (const page of pages()) {
    const going = page.filter((one) => !one.wait && !stay.has(JSON.parse(one.text).job));
    left += going.length;
    await transact("entries", "readwrite", (transaction) => {
      for (const { n } of going) transaction.objectStore("entries").delete(n);
    });
  }
  if (left) await keep({ mended: ((await kept("mended")) ?? 0) + 1 });
}

async function* pages() {
  while (await unpack());
  for (let page = await after(0); page.length; page = await after(page.at(-1).n)) yield page;
}

export async function counts() {
  const here = await transact("entries", "readonly", async (transaction) => {
    const entries = transaction.objectStore("entries");
    return { all: await answerOf(entries.count()), ...(await waitingIn(entries)) };
  });
  return { ...here, all: here.all + (await countPacked()) };
}

// The same without all: a save waits while a long log is counted.
export function waiting() {
  return transact("entries", "readonly", (transaction) => waitingIn(transaction.objectStore("entries")));
}

async function waitingIn(entries) {
  const index = entries.index("wait");
  const [toSend, notTaken] = await Promise.all([UNSENT, REFUSED].map((one) => answerOf(index.count(one))));
  return { toSend, notTaken };
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
  return Promise.all([disk.wipe(), packed.wipe()]);
}
