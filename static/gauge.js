// Circles on the screen that measure a cut end. A bank card tells once how many pixels a
// millimetre has here, and this device remembers it. All words and figures come from the page.

const MM_PER_INCH = 25.4;
const USUAL = { phone: 6.2, desk: 3.8 }; // pixels a millimetre to begin with
const KEPT = "pixels-per-mm";
const SENSIBLE = [1.5, 25]; // pixels a millimetre that a screen may have

const fill = (words, parts) => words.replace(/\{(\w+)\}/g, (_, name) => parts[name]);

// Zooming the page changes how many of its pixels a millimetre has, and the ratio alike.
function remembered() {
  try {
    const { perMm, ratio, on } = JSON.parse(localStorage.getItem(KEPT));
    const now = (perMm * ratio) / devicePixelRatio;
    return now >= SENSIBLE[0] && now <= SENSIBLE[1] ? { perMm: now, on } : null;
  } catch {
    return null; // nothing is kept, or storage is shut off
  }
}

function remember(perMm) {
  const on = new Date().toISOString();
  try {
    localStorage.setItem(KEPT, JSON.stringify({ perMm, ratio: devicePixelRatio, on }));
  } catch {
    // then it is fitted again next time
  }
  return { perMm, on };
}

class Gauge {
  constructor(page) {
    this.page = page;
    this.fitting = page.querySelector(".gauge__fit");
    this.ends = page.querySelector(".gauge__ends");
    this.title = document.querySelector("h1");
    this.slider = page.querySelector("input[type=range]");
    this.use = page.querySelector(".gauge__use");
    this.status = page.querySelector("[role=status]");
    this.cardMm = Number(page.dataset.cardMm);
    this.widths = { outside: 0, bore: 0 }; // pixels; 0: not set
    this.now = "outside";
    this.slot = false;
    for (const button of page.querySelectorAll("[data-by]")) this.repeats(button);
    for (const button of page.querySelectorAll("[data-set]"))
      button.addEventListener("click", () => this.set(button.dataset.set));
    this.slider.addEventListener("input", () => this.to(Number(this.slider.value)));
    page.querySelector(".gauge__fits").addEventListener("click", () => {
      this.fitted = remember(this.width / this.cardMm);
      this.set("outside");
    });
    page.querySelector(".gauge__again").addEventListener("click", () => this.fit());
    page.querySelector(".gauge__lines").addEventListener("click", (event) => {
      this.slot = !this.slot;
      event.currentTarget.setAttribute("aria-pressed", String(this.slot));
      this.show();
    });
    addEventListener("resize", () => this.show());
    page.hidden = false;
    document.querySelector(".gauge__without").hidden = true;
    this.fitted = remembered();
    if (this.fitted) this.set("outside");
    else this.fit();
  }

  // Half a pixel a tap; held down, it goes on.
  repeats(button) {
    let timer = 0;
    const step = () => this.to(this.width + Number(button.dataset.by) / 2);
    const stop = () => clearInterval(timer);
    button.addEventListener("click", step);
    button.addEventListener("pointerdown", () => {
      const from = Date.now();
      stop();
      timer = setInterval(() => Date.now() - from > 400 && step(), 40);
    });
    for (const end of ["pointerup", "pointercancel", "pointerleave"])
      button.addEventListener(end, stop);
  }

  fit() {
    const phone = matchMedia("(pointer: coarse)").matches;
    const wide = this.page.clientWidth / (Number(this.page.dataset.cardHighMm) + 3);
    const usual = remembered()?.perMm ?? Math.min(phone ? USUAL.phone : USUAL.desk, wide);
    this.fitted = null;
    this.to(this.cardMm * usual);
  }

  set(which) {
    this.now = which;
    const { perMm } = this.fitted;
    const usual = which === "bore" && this.widths.outside ? this.widths.outside * 0.8 : 16 * perMm;
    this.to(this.widths[which] || usual);
  }

  to(width) {
    const most = this.fitted ? this.page.clientWidth - 4 : this.page.clientWidth * 2.4;
    this.width = Math.min(Math.max(Math.round(width * 2) / 2, 4), most);
    this.slider.min = 4;
    this.slider.max = most;
    this.slider.value = this.width;
    if (this.fitted) this.widths[this.now] = this.width;
    this.show();
  }

  show() {
    const { page, fitted } = this;
    this.fitting.hidden = Boolean(fitted);
    this.ends.hidden = !fitted;
    const told = fitted ? this.ends : this.fitting.querySelector(".gauge__told");
    if (this.title.parentNode !== told) told.prepend(this.title); // there is room on the outline
    page.querySelector(".gauge__fits").hidden = Boolean(fitted);
    const since = page.querySelector(".gauge__since");
    if (this.use) this.use.hidden = !fitted;
    if (!fitted) return this.showCard();
    const date = new Date(fitted.on).toLocaleDateString(document.documentElement.lang);
    since.textContent = fill(since.dataset.words, { date });
    this.showEnds();
  }

  showCard() {
    const draw = this.fitting.querySelector("svg");
    const wide = (this.width * Number(this.page.dataset.cardHighMm)) / this.cardMm;
    const left = Math.max((this.page.clientWidth - wide) / 2, 1);
    draw.setAttribute("height", this.width + 8);
    place(draw.querySelector("rect"), { x: left, y: 2, width: wide, height: this.width, rx: 18 });
    const under = { x1: 0, x2: this.page.clientWidth, y1: this.width + 2, y2: this.width + 2 };
    place(draw.querySelector("line"), under);
  }

  showEnds() {
    const draw = this.ends.querySelector("svg");
    const wide = this.page.clientWidth;
    const high = Math.max(this.widths.outside, this.widths.bore, 200) + 24;
    draw.setAttribute("height", high);
    const [outside, bore] = draw.querySelectorAll("circle");
    const [x, y] = [wide / 2, high / 2];
    const seen = (name) => (this.slot ? 0 : this.widths[name] / 2);
    place(outside, { cx: x, cy: y, r: seen("outside") });
    place(bore, { cx: x, cy: y, r: this.now === "bore" ? seen("bore") : 0 });
    const half = this.slot ? this.width / 2 : 0;
    place(draw.querySelector("rect"), { x: x - half, y: 0, width: half * 2, height: high });
    draw.querySelectorAll("line").forEach((line, n) => {
      const at = this.slot ? x + (n ? half : -half) : -99;
      place(line, { x1: at, x2: at, y1: 0, y2: high });
    });
    const way = this.slot ? "lines" : this.now;
    for (const told of this.page.querySelectorAll("[data-for]"))
      told.hidden = told.dataset.for !== way;
    for (const button of this.page.querySelectorAll("[data-set]")) {
      const name = button.dataset.set;
      const said = this.said(this.widths[name]);
      button.setAttribute("aria-pressed", String(name === this.now));
      button.querySelector("b").textContent = said;
      if (name === this.now) this.status.textContent = said;
      if (this.use) {
        const mm = this.widths[name] / this.fitted.perMm;
        this.use.elements[`value-${name}`].value = mm ? `${mm.toFixed(2)} mm` : "";
      }
    }
  }

  said(width) {
    const { units, inches, millimetres, fixedMm, share, open } = this.page.dataset;
    if (!width) return open;
    const mm = width / this.fitted.perMm;
    const u = Math.hypot(Number(fixedMm), Number(share) * mm);
    if (units === "metric") return fill(millimetres, { size: mm.toFixed(1), u: u.toFixed(1) });
    const [size, more] = [mm, u].map((one) => (one / MM_PER_INCH).toFixed(3));
    return fill(inches, { size, u: more });
  }
}

function place(element, numbers) {
  for (const [name, value] of Object.entries(numbers)) element.setAttribute(name, value);
}

let page = null;

function begin() {
  const found = document.getElementById("gauge");
  if (found && found !== page) new Gauge(found);
  page = found;
}

begin();
document.addEventListener("turbo:load", begin); // pages that the phone shows without a full load
