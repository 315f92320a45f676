// Makes a chosen photo small before it is sent or kept, and with that leaves out what the camera
// wrote beside it. Without scripts the whole file is sent, and the server does the same.

const QUALITY = 0.82;

document.addEventListener("submit", shrinkFirst, true);

async function shrinkFirst(event) {
  const form = event.target.closest("form[data-shrink]");
  const box = form && boxesOf(form).find((one) => one.files.length);
  const file = box?.files[0];
  if (!file || form.dataset.small === nameOf(file)) return;
  event.preventDefault();
  if (form.hasAttribute("aria-busy")) return; // a double tap
  form.setAttribute("aria-busy", "true");
  try {
    const small = await smaller(file, Number(form.dataset.shrink), form.querySelector("#keep")?.checked);
    const chosen = new DataTransfer();
    chosen.items.add(new File([small], "photo.jpg", { type: "image/jpeg" }));
    box.files = chosen.files;
  } catch {
    // A picture that this browser cannot read goes as it is; the answer says what is wrong.
  }
  form.removeAttribute("aria-busy");
  form.dataset.small = nameOf(box.files[0]);
  form.requestSubmit(event.submitter);
}

const nameOf = (file) => `${file.name} ${file.size} ${file.lastModified}`;

// The picture, upright, at most `longest` points long; `keep`s place and time on purpose only.
async function smaller(file, longest, keep) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "white"; // behind a picture that one can see through
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const drawn = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
  const beside = keep ? metadataOf(new Uint8Array(await file.arrayBuffer())) : null;
  return beside ? new Blob([drawn.slice(0, 2), beside, drawn.slice(2)]) : drawn;
}

// What the camera wrote into a JPEG, as the segment it stands in, or null. The new picture stands
// upright, so the mark that says how to turn it is set to "as it is".
function metadataOf(bytes) {
  const view = new DataView(bytes.buffer);
  for (let at = 2; at + 4 < bytes.length && bytes[at] === 0xff && bytes[at + 1] !== 0xda; ) {
    const length = view.getUint16(at + 2);
    const segment = bytes.slice(at, at + 2 + length);
    if (bytes[at + 1] === 0xe1 && String.fromCharCode(...segment.slice(4, 10)) === "Exif\0\0") {
      return setUpright(new DataView(segment.buffer, 10)) ? segment : null;
    }
    at += 2 + length;
  }
  return null;
}

// Whether it could be read.
function setUpright(tiff) {
  try {
    const little = tiff.getUint16(0) === 0x4949;
    const first = tiff.getUint32(4, little);
    const entries = tiff.getUint16(first, little);
    for (let at = first + 2; at < first + 2 + 12 * entries; at += 12) {
      if (tiff.getUint16(at, little) === 0x0112) tiff.setUint16(at + 8, 1, little);
    }
    return true;
  } catch {
    return false;
  }
}

// Of two boxes, one for the camera and one for what is there already, the last one used counts.
document.addEventListener("change", ({ target }) => {
  const form = target.closest("form[data-shrink]");
  for (const box of form && target.type === "file" ? boxesOf(form) : []) if (box !== target) box.value = "";
});

const boxesOf = (form) => [...form.querySelectorAll("input[type=file]")];
