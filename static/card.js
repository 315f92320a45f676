// The card for the store as a picture: its drawing and its lines on a canvas, shared or saved.
const button = document.querySelector("#picture");
const card = document.querySelector("#card");

const WIDE = 720;
const EDGE = 32;
const SHAPED = ["fill", "stroke", "stroke-width", "stroke-dasharray", "font-family", "font-size",
  "font-weight", "text-anchor", "opacity"];

// A drawing by itself has no style sheet: each shape takes along how it looks here.
function standalone(svg) {
  const copy = svg.cloneNode(true);
  const { width, height } = svg.getBoundingClientRect();
  copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  copy.setAttribute("width", width);
  copy.setAttribute("height", height);
  const from = [svg, ...svg.querySelectorAll("*")];
  [copy, ...copy.querySelectorAll("*")].forEach((shape, n) => {
    const looks = getComputedStyle(from[n]);
    for (const name of SHAPED) shape.setAttribute(name, looks.getPropertyValue(name));
  });
  return new Blob([new XMLSerializer().serializeToString(copy)], { type: "image/svg+xml" });
}

async function drawn(svg) {
  const address = URL.createObjectURL(standalone(svg));
  try {
    const image = new Image();
    image.src = address;
    await image.decode();
    return image;
  } finally {
    URL.revokeObjectURL(address);
  }
}

// The lines of a text, each no wider than the picture.
function broken(pen, text) {
  const lines = [""];
  for (const word of text.trim().split(/\s+/)) {
    const longer = `${lines.at(-1)} ${word}`.trim();
    if (pen.measureText(longer).width > WIDE - 2 * EDGE && lines.at(-1)) lines.push(word);
    else lines[lines.length - 1] = longer;
  }
  return lines;
}

async function picture() {
  const canvas = document.createElement("canvas");
  const pen = canvas.getContext("2d");
  const looks = getComputedStyle(document.body);
  const svg = card.querySelector(".store__draw svg");
  const image = svg && (await drawn(svg));
  const high = image ? ((WIDE - 2 * EDGE) * image.height) / image.width : 0;
  const rows = [card.querySelector("h1"), ...card.querySelectorAll("[data-line]")].map((line) => ({
    font: `${/^H/.test(line.tagName) ? "700 34px" : "400 25px"} ${looks.fontFamily}`,
    texts: line.innerText.replace(/^(\S+(?: ×)?)\n/, "$1 ").split("\n"),
  }));
  const lines = rows.flatMap(({ font, texts }) => {
    pen.font = font;
    const parts = texts.flatMap((text) => broken(pen, text));
    return [...parts.map((words) => ({ font, words, step: 34 })), { step: 12 }];
  });
  canvas.width = WIDE;
  canvas.height = 2 * EDGE + high + lines.reduce((sum, line) => sum + line.step, 0);
  pen.fillStyle = getComputedStyle(document.documentElement).backgroundColor;
  if (pen.fillStyle === "rgba(0, 0, 0, 0)") pen.fillStyle = looks.backgroundColor;
  pen.fillRect(0, 0, canvas.width, canvas.height);
  if (image) pen.drawImage(image, EDGE, EDGE, WIDE - 2 * EDGE, high);
  pen.fillStyle = looks.color;
  let foot = EDGE + high + 26;
  for (const { font, words, step } of lines) {
    if (words) {
      pen.font = font;
      pen.fillText(words, EDGE, foot);
    }
    foot += step;
  }
  const blob = await new Promise((done) => canvas.toBlob(done, "image/png"));
  return new File([blob], `${card.dataset.name}.png`, { type: "image/png" });
}

if (button && card) {
  button.hidden = false;
  let file = null;
  button.addEventListener("click", async () => {
    file ??= await picture();
    if (navigator.canShare?.({ files: [file] })) {
      try {
        await navigator.share({ files: [file], title: document.title });
      } catch (error) {
        // Closed by the person; or making it took longer than a press counts: press once more.
        if (error.name === "NotAllowedError") button.textContent = button.dataset.ready;
      }
      return;
    }
    const link = document.createElement("a");
    link.href = URL.createObjectURL(file);
    link.download = file.name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  });
}
