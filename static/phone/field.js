// A page on a phone in the field: pages change without losing the engine, what is saved is sent
// when there is signal, and the line says how things stand.

import { loaded } from "./disk.js";
import { exchange, news } from "./exchange.js";
import { lead, leaderSpeaks, seekLead, startAgain } from "./lead.js";
import { showLine } from "./line.js";
import { BASE, cacheOf, clearCaches, keepLanguage, placeOf, readState, takeHeld, writeState } from "./state.js";
import * as store from "./store.js";
import { speak, tell } from "./words.js";

const SOON_MS = 800;
const OFTEN_MS = 30_000;

let state;
let soon;
let toldIn;
let reading = 0; // entries that the engine has still to take in

export async function enterField(found) {
  if (state) return;
  state = found;
  await loaded;
  news.addEventListener("message", ({ data }) => {
    if (data.type === "saved") exchangeSoon();
    if (data.type === "reading") {
      reading = data.left;
      line();
    }
    if (data.type === "exchanged" || data.type === "saved") line();
    if (data.type === "forgotten") location.reload();
  });
  for (const event of ["online", "offline"]) addEventListener(event, () => exchangeSoon(0));
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) exchangeSoon(0);
  });
  setInterval(() => exchangeSoon(0), OFTEN_MS);
  await line();
  exchangeSoon();
  // A page that the network gave cannot reach the engine: it stays plain until it is reloaded.
  if (state.engine === "ready" && navigator.serviceWorker.controller) {
    seekLead(state.about, standing);
    await startTurbo();
    if (document.documentElement.hasAttribute("data-shell")) await fillShell();
  } else if (document.documentElement.hasAttribute("data-shell")) {
    stuck(state.why ?? "");
  }
}

async function line() {
  if (!(await readState())) return; // cleared a moment ago
  const { lang } = document.documentElement;
  if (lang !== toldIn) {
    toldIn = lang;
    await speak(lang);
    await keepLanguage(lang);
  }
  await showLine({ ...state, reading });
}

export async function exchangeNow() {
  const done = await exchange();
  await line();
  return done;
}

function exchangeSoon(after = SOON_MS) {
  clearTimeout(soon);
  soon = setTimeout(exchangeNow, after);
  if (after) askForSync();
}

// Where the browser can, it sends in the background too, also when this page is gone by then.
async function askForSync() {
  const registration = await navigator.serviceWorker?.getRegistration();
  await registration?.sync?.register("fieldkit").catch(() => {});
}

// ── The engine ──────────────────────────────────────────────────────────────────────────────

async function standing(how) {
  document.documentElement.dataset.engine = how;
  if (how === "ready") document.documentElement.dataset.engineMs = `${lead.how} ${lead.ms}`;
  if (!state.previous) return;
  if (how === "ready") {
    delete state.previous; // the newer version runs: the older one can go
    await writeState(state);
    await clearCaches(cacheOf(state.about));
  }
  if (how === "failed") {
    await writeState({ about: state.previous, engine: "ready" });
    await store.keep({ newest: state.previous.version });
    location.reload();
  }
}

async function fillShell() {
  for (;;) {
    if (lead.standing === "failed") return stuck(lead.why);
    if (lead.standing === "ready") break;
    const other = lead.standing === "waiting" && (await leaderSpeaks(200));
    if (other?.standing === "ready") break;
    if (other?.standing === "failed") return stuck(other.why);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  const held = location.href.startsWith(`${BASE}phone/held/`) && (await takeHeld(location.href));
  if (held) return sendHeld(held);
  return window.Turbo.visit(location.href, { action: "replace" });
}

async function sendHeld(held) {
  const headers = { "Content-Type": held.type, Accept: "text/html" };
  const response = await fetch(held.url, { method: "POST", headers, body: held.body });
  if (response.status === 507) return stuck(tell((await response.text()) === "no_room" ? "held" : "silent_store"));
  await held.done();
  if (response.url !== held.url) return window.Turbo.visit(response.url, { action: "replace" });
  history.replaceState(null, "", held.url);
  return showPage(await response.text());
}

function showPage(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  become(page);
  document.title = page.title;
  document.body.replaceWith(page.body);
  line();
}

function stuck(why) {
  document.getElementById("shell-say").textContent = tell("no_engine");
  document.getElementById("shell-why").textContent = why;
  document.getElementById("shell-stuck").hidden = false;
  document.getElementById("shell-again").onclick = async () => {
    if (state.engine === "failed") {
      await writeState({ ...state, engine: "ready" });
      location.reload();
      return;
    }
    document.getElementById("shell-stuck").hidden = true;
    document.getElementById("shell-say").textContent = tell("once_more");
    startAgain();
    await fillShell();
  };
}

// ── Pages that change in place ──────────────────────────────────────────────────────────────

async function startTurbo() {
  // A form that is sent before the script is here would leave the page: it waits that moment.
  let early;
  const hold = (event) => {
    event.preventDefault();
    early = event;
  };
  document.addEventListener("submit", hold, true);
  window.fetch = tellingRedirects(window.fetch);
  // Its progress bar would bring a style of its own, which our policy does not allow.
  const { head } = document;
  head.insertBefore = (node, before) =>
    node.nodeName === "STYLE" ? node : Node.prototype.insertBefore.call(head, node, before);
  const Turbo = await import(placeOf(state.about, "phone/runtime/", "/turbo.es2017-esm.js"));
  delete head.insertBefore;
  window.Turbo = Turbo;
  Turbo.config.drive.progressBarDelay = 2 ** 30;
  document.removeEventListener("submit", hold, true);
  early?.target.requestSubmit(early.submitter);
}

// WebKit does not say "redirected" where the service worker answered both the request and what it
// was sent on to. The address tells it.
function tellingRedirects(fetch) {
  return async (asked, options) => {
    const response = await fetch(asked, options);
    const from = new URL(asked.url ?? asked, location.href);
    from.hash = "";
    const redirected = response.redirected || Boolean(response.url && response.url !== from.href);
    return Object.defineProperty(response, "redirected", { value: redirected });
  };
}

// Light, language and the shell's mark stand on the root, which is not exchanged with the page.
function become(page) {
  document.documentElement.className = page.documentElement.className;
  document.documentElement.lang = page.documentElement.lang;
  document.documentElement.toggleAttribute("data-shell", page.documentElement.hasAttribute("data-shell"));
}

document.addEventListener("turbo:before-render", ({ detail }) => become(detail.newBody.ownerDocument));

document.addEventListener("turbo:render", async () => {
  line();
  if (document.documentElement.hasAttribute("data-shell")) stuck(tell("no_page"));
  // As on a page loaded anew, reading begins at what is wrong, else at the page.
  const begin = document.getElementById("fix") ?? document.getElementById("main");
  begin?.focus({ preventScroll: true });
  // Perhaps this page is the one after logging in again.
  if (["login", "person"].includes(await store.kept("why"))) exchangeSoon();
});

document.addEventListener("turbo:before-fetch-response", async (event) => {
  const answer = event.detail.fetchResponse;
  const form = event.target instanceof HTMLFormElement && event.target;
  if (answer.statusCode === 507) {
    event.preventDefault(); // the page stays, with what was typed
    noRoom(form || document.querySelector("main form"), await answer.responseText);
  } else if (form && form.method === "post" && answer.statusCode === 200 && !answer.redirected) {
    event.preventDefault(); // a page that answers a form without an address of its own
    showPage(await answer.responseHTML);
  }
});

function noRoom(form, why) {
  document.getElementById("no-room")?.remove();
  const said = document.createElement("div");
  Object.assign(said, { id: "no-room", className: "fix", tabIndex: -1 });
  said.setAttribute("role", "alert");
  const [lead_, more] = [document.createElement("p"), document.createElement("p")];
  lead_.textContent = tell(why === "no_room" ? "not_saved" : "not_saved_silent");
  more.textContent = tell(why === "no_room" ? "still_here" : "still_here_silent");
  said.append(lead_, more);
  form.before(said);
  said.focus();
}
