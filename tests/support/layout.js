// Looks at a page as it is laid out, and lists what a thumb or an eye would stumble over. Tests
// put it into each page before its own scripts; the functions return sentences.

const shown = (one) => one.checkVisibility() && !one.closest(".unseen, .skip:not(:focus)");

function named(one) {
  const words = (one.textContent || one.name || "").trim().slice(0, 40);
  return `${one.tagName.toLowerCase()}.${one.getAttribute("class") ?? ""} “${words}”`;
}

// Words or parts that leave the page or are cut off. What scrolls by itself may be wider.
window.cutOff = () => {
  const found = [];
  const wide = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > wide) found.push("the page scrolls sideways");
  for (const one of document.body.querySelectorAll("*")) {
    if (one.closest(".wide, .strip__zones, svg") || !shown(one)) continue;
    const clips = getComputedStyle(one).overflowX !== "visible" && !one.matches("input, select");
    if (clips && one.scrollWidth > one.clientWidth + 1) found.push(`cut off: ${named(one)}`);
    for (const { left, right } of wordsOf(one)) {
      if (left < -1 || right > wide + 1) found.push(`off the page: ${named(one)}`);
    }
  }
  for (const drawing of document.querySelectorAll("svg.draw")) {
    const { width, height } = drawing.viewBox.baseVal;
    for (const words of drawing.querySelectorAll("text")) {
      const box = words.getBBox();
      const inside = box.x > -2 && box.x + box.width < width + 2;
      if (!inside || box.y < -4 || box.y + box.height > height + 4) {
        found.push(`off the drawing: “${words.textContent}”`);
      }
    }
  }
  return found;
};

// Links inside a sentence may be small, as WCAG 2.5.8 has it.
function inSentence(one) {
  const around = one.closest("p, li, dd, td, figcaption");
  if (one.tagName !== "A" || !around || getComputedStyle(one).display !== "inline") return false;
  return /\w/.test(around.textContent.replace(one.textContent, ""));
}

// What a gloved thumb could miss: under 48 px either way, or too near to its neighbour.
window.missed = () => {
  const found = [];
  const targets = "a[href], button, summary, select, textarea, input:not([type=hidden]), .spot";
  for (const one of document.querySelectorAll(targets)) {
    if (!shown(one) || inSentence(one)) continue;
    const touched = /radio|checkbox/.test(one.type) ? one.nextElementSibling : one;
    const { width, height } = touched.getBoundingClientRect();
    if (width < 47.5 || height < 47.5) {
      found.push(`${Math.round(width)} × ${Math.round(height)} px: ${named(touched)}`);
    }
  }
  for (const group of document.querySelectorAll(".act, .picks, .tiles, .common")) {
    const parts = [...group.children].filter(shown).map((one) => one.getBoundingClientRect());
    for (const [n, a] of parts.entries()) {
      for (const b of parts.slice(n + 1)) {
        const apart = Math.max(b.top - a.bottom, a.top - b.bottom, b.left - a.right, a.left - b.right);
        if (apart < 11.5) found.push(`${Math.round(apart)} px apart in .${group.className}`);
      }
    }
  }
  return found;
};

// The main action out of a thumb's reach: on one side of the page only, stuck in its upper third,
// or, where it stands at the edge, not on the screen before anything is scrolled.
window.outOfReach = () => {
  const one = document.querySelector("main .act .main");
  if (!one?.checkVisibility()) return [];
  const { top, height } = one.getBoundingClientRect();
  // Answers of one weight stand in one row: together they are the main action.
  const row = [...one.parentElement.querySelectorAll(":scope > .main")]
    .map((each) => each.getBoundingClientRect())
    .filter((each) => each.top === top);
  const left = Math.min(...row.map((each) => each.left));
  const right = Math.max(...row.map((each) => each.right));
  const middle = scrollY + top + height / 2;
  const found = [];
  const across = left < innerWidth / 2 && right > innerWidth / 2 && right - left >= innerWidth / 2;
  if (!across) found.push("the main action does not stand across the page");
  if (one.closest(".act--edge") && scrollY + top + height > innerHeight) {
    found.push("the main action is below the screen");
  }
  const edge = one.closest(".act--edge")?.getBoundingClientRect().height ?? 0;
  if (edge > innerHeight * 0.4) found.push("the actions at the edge cover what is asked");
  if (middle < innerHeight / 3) found.push(`the main action stands at ${Math.round(middle)} px`);
  return found;
};

// What is touched or read under the edges that a phone's own frame takes: at the top of the page, at
// its end, and in the bar that stands at the bottom edge meanwhile. A dialog covers all else.
window.underEdges = ({ top = 0, right = 0, bottom = 0, left = 0 }) => {
  const found = new Set();
  const within = document.querySelector("dialog[open]") ?? document.body;
  const look = (what, under) => {
    for (const one of within.querySelectorAll(what)) {
      if (!shown(one) || one.closest(".wide, .strip__zones, svg svg")) continue;
      if (partsOf(one).some((box) => box.width && box.height && under(box))) found.add(named(one));
    }
  };
  const bar = document.querySelector(".act--edge");
  scrollTo(0, 0);
  look("*", (box) => box.top < top || box.left < left || box.right > innerWidth - right);
  if (bar && getComputedStyle(bar).position === "sticky") look(".act--edge *", (box) => box.bottom > innerHeight - bottom);
  for (const one of [document.documentElement, within]) one.scrollTo(0, one.scrollHeight);
  look("*", (box) => box.bottom > innerHeight - bottom);
  return [...found];
};

function partsOf(one) {
  const whole = one.matches("a[href], button, summary, select, textarea, input, img, svg");
  return whole ? [one.getBoundingClientRect()] : wordsOf(one);
}

// Where the words of an element itself stand.
function wordsOf(one) {
  const range = document.createRange();
  return [...one.childNodes]
    .filter((words) => words.nodeType === Node.TEXT_NODE && words.textContent.trim())
    .map((words) => {
      range.selectNodeContents(words);
      return range.getBoundingClientRect();
    });
}
