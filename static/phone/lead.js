// One engine a phone: of all open tabs, the one that holds the lock runs it and answers for all.

import { news } from "./exchange.js";
import { BASE } from "./state.js";
import { tell } from "./words.js";

const ALIVE_MS = 3000;
const AGAIN_MS = 1000;

let worker;
let limit; // ends a start that gets no further
let asked = 0; // how often this tab asked for the lock
let leading = 0; // by which of its requests it holds the lock, also when its engine has failed
let about;
let standing = "waiting"; // "starting", "ready", "failed"
let listeners = [];

export const lead = {
  get standing() {
    return standing;
  },
  why: "",
  at: "", // how far the start has come
  ms: 0,
  how: "",
};

// Take the lead as soon as no other tab has it. `changed` hears of each new standing; who asks
// once more, of the one there is, or of another start where the last one failed.
export function seekLead(ofWhat, changed) {
  const before = about;
  about = ofWhat;
  listeners.push(changed);
  if (leading && standing === "failed") startWorker(true);
  else if (before) changed(standing);
  else {
    queue({});
    takeOverIfSilent();
  }
}

export function startAgain() {
  if (leading) startWorker(true);
  else queue({ steal: true });
}

export function stopLead() {
  clearTimeout(limit);
  worker?.terminate();
  worker = undefined;
}

// The tab that leads may be frozen by the phone: when it stays silent, its lock is taken.
export async function takeOverIfSilent() {
  if (leading || (await leaderSpeaks())) return;
  const { held } = await navigator.locks.query();
  if (!leading && held.some((one) => one.name === "fieldkit-engine")) queue({ steal: true });
}

// Whether a leading tab answers, and whether its engine is ready.
export function leaderSpeaks(within = ALIVE_MS) {
  return new Promise((resolve) => {
    const timer = setTimeout(() => done(null), within);
    const hear = ({ data }) => data.type === "here" && done(data);
    function done(answer) {
      clearTimeout(timer);
      news.removeEventListener("message", hear);
      resolve(answer);
    }
    news.addEventListener("message", hear);
    news.postMessage({ type: "who" });
  });
}

news.addEventListener("message", ({ data }) => {
  if (data.type === "who" && leading) sayHere();
});

function queue(how) {
  if (going) return;
  const mine = ++asked;
  navigator.locks
    .request("fieldkit-engine", how, () => {
      if (going) return undefined;
      leading = mine;
      startWorker(false);
      return new Promise((resolve) => (letGo = resolve)); // held until this page goes
    })
    .catch(() => {
      // On a slow phone a tab can take the lock from itself, and then leads by its later request.
      if (leading && leading !== mine) return;
      // Another tab took the lead from this one while it was frozen.
      leading = 0;
      stopLead();
      stand("waiting");
      setTimeout(() => leading || queue({}), AGAIN_MS);
    });
}

// A page that is put by is frozen in the middle of whatever it does, and WebKit refuses at once
// every lock that it asks for. So it ends its engine, asks for nothing more, and begins anew if it
// is brought back.
let going = false;
let letGo = () => {};

addEventListener("pagehide", () => {
  going = true;
  leading = 0;
  stopLead();
  letGo();
});
addEventListener("pageshow", ({ persisted }) => persisted && location.reload());

function startWorker(plain) {
  stopLead();
  worker = new Worker(`${BASE}static/phone/engine.js`, { type: "module" });
  lead.at = "";
  waitForIt();
  worker.onmessage = ({ data: { type, ...said } }) => {
    Object.assign(lead, said);
    if (type === "at") return waitForIt();
    clearTimeout(limit);
    stand(type);
  };
  worker.onerror = (event) => {
    clearTimeout(limit);
    lead.why = event.message || tell("no_script");
    stand("failed");
  };
  stand("starting");
  worker.postMessage({ type: "boot", about, plain });
}

function waitForIt() {
  clearTimeout(limit);
  limit = setTimeout(() => {
    lead.why = tell("too_slow", { n: about.start_seconds });
    stopLead();
    stand("failed");
  }, about.start_seconds * 1000);
}

function askEngine(data, port) {
  port.postMessage({ heard: true });
  worker.postMessage(data, [port]);
}

function sayHere() {
  news.postMessage({ type: "here", standing, why: lead.why });
}

function stand(how) {
  standing = how;
  for (const listener of listeners) listener(how);
  if (how === "ready") sayHere();
}

// The service worker asks for a page: the engine answers it straight.
navigator.serviceWorker?.addEventListener("message", ({ data, ports }) => {
  if (data.type === "take-over") takeOverIfSilent();
  if (data.type === "leads") ports[0].postMessage({ leads: Boolean(leading) });
  if (data.type !== "page") return;
  const [port] = ports;
  if (standing === "failed") port.postMessage({ failed: "engine_stopped", why: lead.why });
  else if (!worker || (standing !== "ready" && data.navigates)) port.postMessage({ booting: true });
  else askEngine(data, port);
});
navigator.serviceWorker?.startMessages();
