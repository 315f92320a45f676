// Send what this phone has and fetch what it has not, page by page. It needs no engine, so a page
// and the service worker can do it alike; a lock lets one at a time.

import { BASE } from "./state.js";
import * as store from "./store.js";

const PAGE = 200;
const CHARACTERS = 1_000_000;
const WAIT_MS = 8000;
const WAIT_SENDING_MS = 30_000;

export const news = new BroadcastChannel("fieldkit");

// Returns {sent, at} when all was sent, {why} when not; null when another tab is at it.
export function exchange() {
  return navigator.locks.request("fieldkit-exchange", { ifAvailable: true }, async (lock) => {
    if (!lock) return null;
    try {
      const about = await ask("phone/about.json");
      if (!about.exchange) return { why: "none" }; // a copy without a server
      await store.keep({ newest: about.version });
      await sameLog(about.log);
      await push();
      await pull();
      const at = Date.now();
      await store.keep({ sentAt: at, why: "" });
      return { at };
    } catch (error) {
      const why = error instanceof Refusal ? "server" : "signal";
      await store.keep({ why });
      return { why, say: String(error.message) };
    } finally {
      news.postMessage({ type: "exchanged" });
    }
  });
}

class Refusal extends Error {}

async function ask(path, options = {}) {
  const response = await fetch(BASE + path, {
    cache: "no-store",
    signal: AbortSignal.timeout(options.body ? WAIT_SENDING_MS : WAIT_MS),
    ...options,
  });
  if (!response.ok) throw new Refusal(`${path} answered ${response.status}`);
  return response.json();
}

async function sameLog(log) {
  const known = await store.kept("log");
  if (known !== log) {
    if (known !== undefined) await store.startOver();
    await store.keep({ log });
  }
}

async function push() {
  let token;
  for (;;) {
    const page = await store.unsent(PAGE, CHARACTERS);
    if (!page.length) return;
    token ??= (await ask("phone/token")).token;
    const said = await ask("phone/send", {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token },
      body: `{"entries":[${page.map((one) => one.text).join(",")}]}`,
    });
    const refused = said.refused.map(({ id, problem }) => ({ id, why: `${problem.wrong} ${problem.instead}` }));
    await store.settle(said.kept, refused);
    const settled = new Set([...said.kept, ...refused.map((one) => one.id)]);
    if (!page.some((one) => settled.has(one.id))) throw new Refusal("the server said nothing of what was sent");
  }
}

async function pull() {
  for (;;) {
    const cursor = (await store.kept("cursor")) ?? 0;
    const page = await ask(`phone/since?seq=${cursor}`);
    if (page.last < cursor) {
      await store.startOver(); // an older copy of the log was put back in place
      await push();
      continue;
    }
    if (page.entries.length) {
      await store.addTheirs(page.entries.map((one) => JSON.stringify(one)), page.upto);
      news.postMessage({ type: "entries" });
    }
    if (page.upto >= page.last || !page.entries.length) return;
  }
}
