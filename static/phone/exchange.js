// Send what this phone has and fetch what it has not, page by page, photos after their entries. It
// needs no engine, so a page and the service worker can do it alike; a lock lets one at a time.

import * as photos from "./photos.js";
import { BASE, readState } from "./state.js";
import * as store from "./store.js";
import { follows } from "./witness.js";

const PAGE = 200;
const CHARACTERS = 1_000_000;
const PHOTO_PART = 128 * 1024;
const WAIT_MS = 8000;
const WAIT_SENDING_MS = 30_000;

// Photos of others are fetched for the field up to so many bytes; the rest is shown with signal.
const PHOTO_ROOM = 60_000_000;
const ASK_AGAIN_MS = 10 * 60_000;

// The server takes nothing whose time is further ahead; and a clock this near to its own is right.
const EARLY_MS = 5 * 60_000;
const RIGHT_MS = 60_000;

export const news = new BroadcastChannel("fieldkit");

// Returns {at} when all was sent, {why} when not; null when it is not this one's turn. `why` is
// "none": a copy without a server; "signal"; "login": the session there has ended; "person":
// somebody else is logged in; "company": another company's log answers; "room": what was sent could
// not be marked as sent, for want of room; "garbled": what answers there is not our server;
// "server": it does not answer as it should.
export function exchange() {
  return navigator.locks.request("fieldkit-exchange", { ifAvailable: true }, async (lock) => {
    // A phone that was cleared a moment ago keeps nothing and asks for nothing.
    const mine = lock && (await readState())?.about;
    if (!mine) return null;
    if (!mine.exchange) return { why: "none" }; // a copy without a server
    let at;
    try {
      const about = await askAbout();
      sameOwner(mine, about);
      if (about.ready) await store.note({ newest: about.version });
      const ahead = Date.now() - about.now;
      await store.note({ ahead: Math.abs(ahead) > RIGHT_MS ? ahead : 0 });
      await store.retryRefused(about.now);
      await sameLog(about.log);
      if (await store.kept("overAgain")) await sendAllAgain(); // it was cut short
      const send = sender(about.company);
      await push(send);
      await pushPhotos(send);
      await pull(send);
      at = Date.now();
      await store.note({ sentAt: at, why: "" });
    } catch (error) {
      console.warn("not exchanged:", error);
      const why = error instanceof Refusal ? error.why : (STORE_FAULTS[error.name] ?? "garbled");
      await store.note({ why });
      return { why };
    } finally {
      news.postMessage({ type: "exchanged" });
    }
    // What was saved is safe by now. Pictures of others may come, or not.
    await pullPhotos().catch((error) => console.warn("not all photos came:", error));
    return { at };
  });
}

// What the browser's store says when it is full, or silent.
const STORE_FAULTS = { QuotaExceededError: "room", Silent: "room" };

class Refusal extends Error {
  constructor(message, why = "server") {
    super(message);
    this.why = why;
  }
}

const noSignal = ({ message }) => {
  throw new Refusal(message, "signal");
};

function reach(path, options = {}) {
  return fetch(BASE + path, {
    cache: "no-store",
    signal: AbortSignal.timeout(options.body ? WAIT_SENDING_MS : WAIT_MS),
    ...options,
  }).catch(noSignal);
}

async function ask(path, options) {
  const response = await reach(path, options);
  if (!response.ok) throw refusalOf(path, response);
  return read(response);
}

// What cannot be read came from something else: the page where a network wants to be paid, perhaps.
async function read(response) {
  const text = await response.text().catch(noSignal);
  try {
    return JSON.parse(text);
  } catch {
    throw new Refusal("it could not be read", "garbled");
  }
}

function refusalOf(path, { status }) {
  return new Refusal(`${path.split("?")[0]} answered ${status}`, status === 401 ? "login" : "server");
}

export async function askAbout() {
  const about = await ask("phone/about.json");
  if (typeof about?.ready !== "boolean") throw new Refusal("it says nothing of itself", "garbled");
  return about;
}

// What is on this phone belongs to who took it along, and to the log it was taken from.
function sameOwner(mine, about) {
  if ((mine.company ?? about.company) !== about.company) {
    throw new Refusal("this address now answers for another company", "company");
  }
  if (mine.who && mine.who !== about.who) throw new Refusal(`it was taken along by ${mine.who}`, "person");
}

async function sameLog(log) {
  const known = await store.kept("log");
  if (known !== log) {
    if (known !== undefined) {
      await sendAllAgain();
      await store.keep({ head: undefined, rewritten: { how: "copy", seen: await store.kept("head"), at: Date.now() } });
    }
    await store.keep({ log });
  }
}

async function sendAllAgain() {
  await store.startOver();
  await photos.startOver();
}

// ── Entries ─────────────────────────────────────────────────────────────────────────────────

// Posts to the server, with the token of its session, fetched once when it is needed.
function sender(company) {
  let token;
  return {
    company,
    async post(path, type, body) {
      token ??= (await ask("phone/token")).token;
      return reach(path, { method: "POST", headers: { "Content-Type": type, "X-CSRFToken": token }, body });
    },
  };
}

async function push({ company, post }) {
  for (;;) {
    const page = await store.unsent(PAGE, CHARACTERS);
    if (!page.length) return;
    const entries = page.map((one) => one.text).join(",");
    const seen = await store.kept("head");
    const response = await post(
      `phone/send?seen=${seen?.size ?? 0}`,
      "application/json",
      `{"company":${JSON.stringify(company ?? "")},"entries":[${entries}]}`,
    );
    if (!response.ok) throw refusalOf("phone/send", response);
    const said = await read(response);
    const until = new Map(page.map((one) => [one.id, Date.parse(JSON.parse(one.text).at) - EARLY_MS]));
    const refused = said.refused.map(({ id, problem }) => ({
      id,
      why: `${problem.wrong} ${problem.instead}`,
      ...(problem.field === "at" && { until: until.get(id) }),
    }));
    const { grown, values } = said.head ? await headOf(seen, said.head) : { grown: true };
    await store.settle(said.kept, refused, values);
    if (!grown) {
      await sendAllAgain();
      continue;
    }
    const settled = new Set([...said.kept, ...refused.map((one) => one.id)]);
    if (!page.some((one) => settled.has(one.id))) throw new Refusal("the server said nothing of what was sent");
  }
}

async function pull(send) {
  const company = encodeURIComponent(send.company ?? "");
  // An older program kept texts as a browser writes them: read all anew, once.
  if (!(await store.kept("asSealed"))) await store.keep({ jobs: undefined, asSealed: true });
  await takeJobs(company);
  for (;;) {
    const cursor = (await store.kept("cursor")) ?? 0;
    const seen = await store.kept("head");
    const page = await ask(`phone/since?seq=${cursor}&company=${company}&seen=${seen?.size ?? 0}`);
    if (!(await witness(seen, page.head)) || page.last < cursor) {
      await sendAllAgain(); // it was rewritten, or an older copy was put back in place
      await push(send);
      await pushPhotos(send);
      await takeJobs(company);
      continue;
    }
    if (page.entries.length) await addOfJobsHere(page);
    if (page.upto >= page.last || !page.entries.length) break;
  }
  await takeJobs(company); // one of those that came may be of a job that was not here
}

// ── Jobs ────────────────────────────────────────────────────────────────────────────────────

// What a phone takes along: finished jobs for so many days, and about so many entries in all.
export const LIMITS = { days: 90, most: 5000 };

const JOBS = 20;
const LOOK_AGAIN_MS = 12 * 3_600_000;
const SPARE = 1.25;

// Take along, whole, the jobs that belong to the field and are not here yet. `jobs` are those that
// are here; `field` says which the server named last, and what stays with it.
async function takeJobs(company) {
  const limits = (await store.kept("limits")) ?? LIMITS;
  let room = Infinity;
  const wanted = JSON.stringify(limits);
  let field = await store.kept("field");
  let here = await store.kept("jobs");
  const first = await store.isEmpty();
  if (!here || field?.wanted !== wanted || field.another || Date.now() - field.at > LOOK_AGAIN_MS) {
    const said = await ask(`phone/jobs?days=${limits.days}&most=${limits.most}&company=${company}`);
    field = { ...said, jobs: ["", ...said.jobs], wanted, at: Date.now() };
    if (!here) {
      if (!first) room = 0; // what is here of other jobs may be out of date
      await store.keep({ cursor: said.last });
    }
    here = (here ?? []).filter((job) => field.jobs.includes(job));
    await store.keep({ field, jobs: here });
  }
  const known = new Set(here);
  let missing = field.jobs.filter((job) => !known.has(job));
  if (missing.length) room = Math.min(room, limits.most * SPARE);
  const askNext = (seq) => {
    const of = missing.slice(0, JOBS).map((job) => `&of=${encodeURIComponent(job)}`).join("");
    const asked = ask(`phone/jobs?seq=${seq}&company=${company}${of}`);
    asked.catch(() => {}); // whoever waits for it hears of it
    return asked;
  };
  for (let next = missing.length && askNext(0); missing.length; ) {
    const page = await next;
    here = [...here, ...missing.slice(0, page.whole)];
    missing = missing.slice(page.whole);
    next = missing.length && askNext(page.upto); // on its way while this one is kept
    await (first ? keepFirst : keepTheirs)(page, { jobs: here });
  }
  await store.leaveOut(field.jobs, room);
}

// Of a job that is not here, only that it was touched: it is taken along whole.
async function addOfJobsHere({ entries, upto }) {
  const field = await store.kept("field");
  const here = new Set(await store.kept("jobs"));
  const mine = entries.filter(([text]) => here.has(JSON.parse(text).job));
  if (mine.length < entries.length) field.another = true;
  await keepTheirs({ entries: mine }, { cursor: upto, field });
}

// What is looked at once it is unpacked: but photos belong to what is taken along.
async function keepFirst(page, values) {
  await photos.want(namedIn(page.entries.map(([text]) => text)));
  await store.addFirst(page, values);
  news.postMessage({ type: "entries" });
}

async function keepTheirs(page, values) {
  const mended = await store.addTheirs(page, values);
  news.postMessage({ type: mended ? "mended" : "entries" });
}

// Keep the head of the server's log; one that does not follow from the one before is told until a
// person has seen it.
async function witness(seen, now) {
  if (now.size === seen?.size && now.root === seen.root) return true;
  const { grown, values } = await headOf(seen, now);
  await store.keep(values);
  return grown;
}

// Whether the head of now follows from the one seen before, and what is to be kept of it.
async function headOf(seen, { size, root, proof }) {
  const [grown, head] = [await follows(seen, { size, root, proof }), { size, root }];
  const told = { rewritten: { how: "rewritten", seen, now: head, at: Date.now() }, overAgain: true };
  return { grown, values: { head, ...(!grown && told) } };
}

// ── Photos ──────────────────────────────────────────────────────────────────────────────────

async function pushPhotos(send) {
  for (const { digest } of await photos.unsent()) await pushPhoto(send, digest);
}

// Part by part from where the server is: the first, empty one asks how much it has.
async function pushPhoto({ post }, digest) {
  const body = await photos.bytesOf(digest);
  for (let have = 0, part = new ArrayBuffer(0); ; part = body.slice(have, have + PHOTO_PART)) {
    const response = await post(`phone/photo/${digest}?from=${have}`, "application/octet-stream", part);
    if (response.status === 422) {
      const { problem } = await read(response);
      return photos.settle(digest, `${problem.wrong} ${problem.instead}`);
    }
    if (!response.ok) throw refusalOf("phone/photo", response);
    const said = await read(response);
    if (said.whole) return photos.settle(digest);
    if (part.byteLength && said.have <= have) throw new Refusal("the server kept nothing of a photo");
    have = said.have;
  }
}

async function pullPhotos() {
  await noteNamed();
  const { bytes } = await photos.counts();
  let room = PHOTO_ROOM - bytes;
  for (const { digest, size } of await photos.wanted(Date.now())) {
    if (size > room) continue;
    const body = await fetchPhoto(digest);
    if (body) room -= size;
    else await photos.askLater(digest, Date.now() + ASK_AGAIN_MS);
  }
}

// Look through the entries that came since the last time for photos that they name.
async function noteNamed() {
  for (;;) {
    const seen = (await store.kept("photosSeen")) ?? 0;
    const page = await store.after(seen);
    if (!page.length) return;
    await photos.want(namedIn(page.map((one) => one.text)));
    await store.keep({ photosSeen: page.at(-1).n });
  }
}

function namedIn(texts) {
  return texts
    .filter((text) => text.includes('"kind":"photo"'))
    .map((text) => JSON.parse(text))
    .filter((entry) => entry.kind === "photo" && entry.understood?.digest)
    .map(({ at, understood }) => ({ digest: understood.digest, size: understood.bytes, at: Date.parse(at) }));
}

// Fetch one photo and keep it; gives its bytes, or null when the server has not got it either.
export async function fetchPhoto(digest) {
  const response = await reach(`phone/photo/${digest}`);
  if (!response.ok) return null;
  const body = await response.arrayBuffer();
  if ((await digestOf(body)) !== digest) return null;
  await photos.addTheirs(digest, body);
  news.postMessage({ type: "photos" });
  return body;
}

export async function digestOf(body) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", body));
  return Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// ── Signing out ─────────────────────────────────────────────────────────────────────────────

// End this phone's session at the server; one that has ended there already is no trouble.
export async function leave() {
  const allowed = await reach("phone/token");
  if (allowed.status === 401) return;
  if (!allowed.ok) throw refusalOf("phone/token", allowed);
  const { token } = await read(allowed);
  const response = await reach("leave", {
    method: "POST",
    headers: { "Content-Type": "application/x-www-form-urlencoded", "X-CSRFToken": token },
    body: "",
    redirect: "manual",
  });
  if (response.status >= 400) throw refusalOf("leave", response);
}
