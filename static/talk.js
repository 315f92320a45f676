// Leads through the acts of a page whose hands are full: the act in large type, said aloud where
// the browser can, with a sound and a shake at each. What is said and how long it takes stand in
// the page. After its last act the page is sent, and the next page of acts goes on by itself.

import { canStayAwake, stayAwake } from "./awake.js";
import { allowSound, ring } from "./sound.js";

const GOES_ON = "talk-goes-on";
const fill = (words, parts) => words.replace(/\{(\w+)\}/g, (_, name) => parts[name]);

// The act, then what stands beside it: two sentences, for eyes and ears.
function sentences(told) {
  const beside = told.querySelector(".trade")?.innerText ?? "";
  const act = told.innerText.slice(0, beside ? -beside.length : undefined).trim();
  return beside ? `${act.replace(/[.]?$/, ".")} ${beside}` : act;
}

class Talk {
  constructor(dialog) {
    this.dialog = dialog;
    this.acts = [...document.querySelectorAll(".act__one")];
    this.wait = document.querySelector(".timer[data-until]");
    if (this.wait) this.ahead = Date.parse(this.wait.dataset.now) - Date.now();
    this.part = (name) => dialog.querySelector(`.talk__${name}`);
    const start = document.querySelector(".talk__start");
    start.hidden = false;
    start.addEventListener("click", () => this.begin());
    this.part("next").addEventListener("click", () => this.next());
    this.part("stop").addEventListener("click", () => dialog.close());
    dialog.addEventListener("close", () => this.end());
    if (sessionStorage.getItem(GOES_ON)) this.begin();
  }

  begin() {
    sessionStorage.removeItem(GOES_ON);
    allowSound();
    if (canStayAwake()) stayAwake(true);
    this.dialog.showModal();
    this.at = -1;
    this.clock = setInterval(() => this.tick(), 250);
    this.next();
  }

  next() {
    this.at += 1;
    const act = this.acts[this.at];
    if (!act) return this.over();
    const words = sentences(act.querySelector("span"));
    this.part("which").textContent = `${this.at + 1} / ${this.acts.length}`;
    this.part("now").textContent = words;
    const { within } = act.dataset;
    this.waits = "waits" in act.dataset;
    const seconds = Number(act.dataset.waits || within || 0);
    this.until = this.waits && this.wait
      ? Date.parse(this.wait.dataset.until) - this.ahead
      : seconds && Date.now() + seconds * 1000;
    this.part("left").textContent = "";
    ring(1);
    this.say(words);
    this.tick();
  }

  tick() {
    const left = this.part("left");
    if (!this.until) return; // "Time is up." stays until the next act
    const s = Math.ceil((this.until - Date.now()) / 1000);
    const { wordsWithin, wordsOver } = this.dialog.dataset;
    left.textContent = s > 0 ? fill(wordsWithin, { s }) : wordsOver;
    if (s > 0) return;
    this.until = 0;
    ring(3);
    if (this.waits) this.next(); // a hold that is over; what hurries waits for the hand
  }

  say(words) {
    if (!("speechSynthesis" in globalThis)) return;
    speechSynthesis.cancel();
    const spoken = new SpeechSynthesisUtterance(words);
    spoken.lang = document.documentElement.lang;
    speechSynthesis.speak(spoken);
  }

  // A page of nothing but acts is done; one that also asks is left to the hand.
  over() {
    const form = this.dialog.closest("form");
    const boxes = form.querySelectorAll(".boxes :is(input, select, textarea)");
    const asks = [...boxes].find((one) => one.checkVisibility());
    const sends = form.querySelector('.act [name="answer"][value="give"]');
    if (!asks && sends) sessionStorage.setItem(GOES_ON, "1");
    this.dialog.close();
    if (asks || !sends) (asks ?? form.querySelector(".act .main")).focus();
    else sends.click();
  }

  end() {
    clearInterval(this.clock);
    globalThis.speechSynthesis?.cancel();
    stayAwake(false);
  }
}

let shown = null;

function begin() {
  const found = document.querySelector("dialog.talk");
  if (found && found !== shown) new Talk(found);
  else if (!found) sessionStorage.removeItem(GOES_ON);
  shown = found;
}

begin();
document.addEventListener("turbo:load", begin); // pages that the phone shows without a full load
