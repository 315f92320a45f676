// A gap on the screen, first fitted to a bank card, then to the tube. The card tells how many
// pixels a millimetre has here; this device remembers it.

const MM_PER_INCH = 25.4;
const USUAL = { phone: 6.2, desk: 3.8 }; // pixels a millimetre to begin with
const KEPT = "pixels-per-mm";

const page = document.getElementById("screen-ruler");
const draw = page.querySelector(".screen__draw");
const [gapBox] = draw.getElementsByTagName("rect");
const edges = draw.getElementsByTagName("line");
const reads = page.querySelector(".screen__reads");
const task = document.getElementById("screen-do");
const fits = page.querySelector(".screen__fits");
const again = page.querySelector(".screen__again");
const cardMm = Number(page.dataset.cardMm);
const tasks = [task.textContent, task.dataset.then];

let perMm = 0; // 0 until a card was fitted
let gap = 0; // pixels between the two lines

function remembered() {
  try {
    return Number(localStorage.getItem(KEPT)) || 0;
  } catch {
    return 0; // storage may be shut off
  }
}

function remember(value) {
  try {
    localStorage.setItem(KEPT, String(value));
  } catch {
    // then it is fitted again next time
  }
}

function show() {
  const wide = draw.clientWidth;
  gap = Math.min(Math.max(gap, 2), wide - 4);
  const left = (wide - gap) / 2;
  gapBox.setAttribute("x", left);
  gapBox.setAttribute("width", gap);
  [left, left + gap].forEach((x, n) => {
    edges[n].setAttribute("x1", x);
    edges[n].setAttribute("x2", x);
  });
  const mm = gap / perMm;
  reads.textContent = perMm ? `${mm.toFixed(1)} mm, ${(mm / MM_PER_INCH).toFixed(2)} in` : "";
  fits.hidden = Boolean(perMm);
  again.hidden = !perMm;
  task.textContent = tasks[perMm ? 1 : 0];
}

function fitCard() {
  perMm = 0;
  const phone = matchMedia("(pointer: coarse)").matches;
  gap = cardMm * (remembered() || (phone ? USUAL.phone : USUAL.desk));
  show();
}

for (const button of page.querySelectorAll("[data-by]")) {
  button.addEventListener("click", () => {
    gap += Number(button.dataset.by) / 2;
    show();
  });
}
fits.addEventListener("click", () => {
  perMm = gap / cardMm;
  remember(perMm);
  gap = 20 * perMm;
  show();
});
again.addEventListener("click", fitCard);
addEventListener("resize", show);

page.querySelector(".screen__without").hidden = true;
page.querySelector(".screen__with").hidden = false;
fitCard();
