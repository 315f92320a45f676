// The photos that this phone keeps, each under the digest of its bytes: those taken here, until
// the server has them and after, and those of others that were fetched. They lie beside the
// entries, in a database of their own that an older version of the scripts does not know.

import { Disk, answerOf } from "./disk.js";

const UNSENT = 1;
const REFUSED = 2;
const WANTED = 3; // an entry names it, and the picture is not here

const disk = new Disk("fieldkit-photos", (made) => {
  const about = made.createObjectStore("about", { keyPath: "digest" });
  about.createIndex("wait", "wait");
  made.createObjectStore("bytes");
});

// `work` gets the two stores; one that changes something ends on the disk.
function change(work) {
  return disk.transact(
    ["about", "bytes"],
    "readwrite",
    (transaction) => work(transaction.objectStore("about"), transaction.objectStore("bytes")),
    "strict",
  );
}

function look(store, work) {
  return disk.transact(store, "readonly", (transaction) => answerOf(work(transaction.objectStore(store))));
}

const waiting = (wait) => look("about", (about) => about.index("wait").getAll(wait));

// Keep photos taken on this phone: [digest, bytes] each. When this resolves they are on its disk;
// it gives the digests of those that were not here before.
export function addOwn(taken) {
  return change(async (about, bytes) => {
    const added = [];
    for (const [digest, body] of taken) {
      const known = await answerOf(about.get(digest));
      if (known && known.wait !== WANTED) continue;
      bytes.add(body, digest);
      about.put({ digest, size: body.byteLength, at: Date.now(), wait: UNSENT });
      added.push(digest);
    }
    return added;
  });
}

// Those just taken, when their entries could not be kept.
export function discard(digests) {
  return change((about, bytes) => {
    for (const digest of digests) {
      about.delete(digest);
      bytes.delete(digest);
    }
  });
}

// ── Sending ─────────────────────────────────────────────────────────────────────────────────

export async function unsent() {
  return (await waiting(UNSENT)).sort((a, b) => a.at - b.at);
}

// Note what became of one that was sent: kept there, or refused with a reason.
export function settle(digest, why = "") {
  return change(async (about) => {
    const one = await answerOf(about.get(digest));
    if (!one) return;
    delete one.wait;
    about.put(why ? { ...one, wait: REFUSED, why } : one);
  });
}

export const refused = () => waiting(REFUSED);

export function retryRefused() {
  return change(async (about) => {
    for (const { why, ...one } of await answerOf(about.index("wait").getAll(REFUSED))) {
      about.put({ ...one, wait: UNSENT });
    }
  });
}

// The server's log is not the one we knew: send again what is here.
export function startOver() {
  return change(async (about) => {
    for (const one of await answerOf(about.getAll())) if (!one.wait) about.put({ ...one, wait: UNSENT });
  });
}

// ── Fetching ────────────────────────────────────────────────────────────────────────────────

// Note photos that entries name: {digest, size, at} each.
export function want(named) {
  return change(async (about) => {
    for (const one of named) {
      if (!(await answerOf(about.get(one.digest)))) about.put({ ...one, wait: WANTED, after: 0 });
    }
  });
}

// What can be fetched now, the newest first.
export async function wanted(now) {
  return (await waiting(WANTED)).filter((one) => one.after <= now).sort((a, b) => b.at - a.at);
}

// The server has not got it yet either.
export function askLater(digest, after) {
  return change(async (about) => {
    const one = await answerOf(about.get(digest));
    if (one?.wait === WANTED) about.put({ ...one, after });
  });
}

export function addTheirs(digest, body) {
  return change(async (about, bytes) => {
    const one = (await answerOf(about.get(digest))) ?? { digest, at: Date.now() };
    if (one.wait && one.wait !== WANTED) return;
    bytes.put(body, digest);
    about.put({ digest, at: one.at, size: body.byteLength });
  });
}

// ── What is here ────────────────────────────────────────────────────────────────────────────

export const bytesOf = (digest) => look("bytes", (bytes) => bytes.get(digest));

export const digests = () => look("bytes", (bytes) => bytes.getAllKeys());

export async function counts() {
  const all = await look("about", (about) => about.getAll());
  const of = (wait) => all.filter((one) => one.wait === wait);
  const here = all.filter((one) => one.wait !== WANTED);
  return {
    here: here.length,
    bytes: here.reduce((sum, one) => sum + one.size, 0),
    toSend: of(UNSENT).length,
    notTaken: of(REFUSED).length,
    elsewhere: of(WANTED).length,
  };
}

export function wipe() {
  return disk.wipe();
}
