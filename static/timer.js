// Waits that end at a moment the log knows. The end stands in the page; this only says how long
// it is until then, so a sleeping phone, a reload or a second tab changes nothing. All words come
// from the page.

import { canStayAwake, stayAwake } from "./awake.js";
import { allowSound, ring } from "./sound.js";

const fill = (words, parts) => words.replace(/\{(\w+)\}/g, (_, name) => parts[name]);

// ``said`` has the words for each length of wait, such as "{min} min {s} s", in the page's language.
export function leftInWords(milliseconds, said) {
  const s = Math.ceil(milliseconds / 1000);
  if (s < 60) return fill(said.seconds, { s });
  if (s < 3600) return fill(said.minutes, { min: Math.floor(s / 60), s: s % 60 });
  const minutes = Math.ceil(s / 60);
  return fill(said.hours, { h: Math.floor(minutes / 60), min: minutes % 60 });
}

class Wait {
  constructor(element) {
    this.element = element;
    this.until = Date.parse(element.dataset.until);
    // The log's clock may not be this phone's: go by what the page said the time was.
    this.ahead = Date.parse(element.dataset.now) - Date.now();
    this.left = element.querySelector(".timer__left");
    this.over = element.querySelector(".timer__over");
    this.bell = element.querySelector(".timer__ring");
    this.awake = element.querySelector(".timer__awake");
    this.awake?.addEventListener("click", () => this.keepAwake());
    this.rings = false;
    this.done = false;
    this.bell?.addEventListener("click", () => this.allow());
    this.tick();
    if (this.bell) this.bell.hidden = this.done;
    if (this.awake) this.awake.hidden = this.done || !canStayAwake();
  }

  keepAwake() {
    const on = this.awake.getAttribute("aria-pressed") !== "true";
    this.awake.setAttribute("aria-pressed", String(on));
    stayAwake(on);
  }

  allow() {
    allowSound();
    this.rings = !this.rings;
    this.bell.setAttribute("aria-pressed", String(this.rings));
  }

  tick() {
    if (this.done) return;
    const milliseconds = this.until - (Date.now() + this.ahead);
    if (milliseconds <= 0) return this.finish();
    const left = leftInWords(milliseconds, this.element.dataset);
    const { words: sentence } = this.element.dataset;
    if (sentence) this.element.textContent = fill(sentence, { left });
    else {
      this.left.textContent = left;
      this.left.hidden = false;
    }
  }

  finish() {
    this.done = true;
    if (this.element.dataset.words) {
      this.element.textContent = this.element.dataset.over;
      return;
    }
    this.left.hidden = true;
    this.bell.hidden = true;
    this.awake.hidden = true;
    stayAwake(false);
    this.over.textContent = this.element.dataset.over;
    this.element.classList.add("timer--over");
    if (this.rings) ring();
  }
}

let waits = [];

function begin() {
  waits = [...document.querySelectorAll("[data-until]")].map((element) => new Wait(element));
}

function tickAll() {
  for (const wait of waits) wait.tick();
}

begin();
setInterval(tickAll, 500);
document.addEventListener("visibilitychange", tickAll); // a phone that wakes up looks at once
document.addEventListener("turbo:load", begin); // pages that the phone shows without a full load
