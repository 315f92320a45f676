// Makes a chosen photo smaller before it is sent. Without scripts the whole file is sent, and the
// server makes it smaller.
const form = document.querySelector("form[data-shrink]");
const keep = form?.querySelector("#keep");
const boxes = [...(form?.querySelectorAll("input[type=file]") ?? [])];
const SMALL_BYTES = 400_000;

async function smaller(file) {
  const longest = Number(form.dataset.shrink);
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const side = Math.max(picture.width, picture.height);
  if (file.type === "image/jpeg" && file.size < SMALL_BYTES && side <= longest) return null;
  const scale = Math.min(1, longest / side);
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
}

async function shrink(box) {
  const file = box.files[0];
  if (!file || keep.checked) return;
  try {
    const made = await smaller(file);
    if (!made || box.files[0] !== file) return;
    const chosen = new DataTransfer();
    chosen.items.add(new File([made], "photo.jpg", { type: "image/jpeg" }));
    box.files = chosen.files;
  } catch {
    // A picture that this browser cannot read goes as it is; the server says what is wrong.
  }
}

for (const box of boxes) {
  box.addEventListener("change", () => {
    for (const other of boxes) if (other !== box) other.value = "";
    shrink(box);
  });
}
// What was made smaller has lost its place and time: choose again to keep them.
keep?.addEventListener("change", () => {
  if (keep.checked) for (const box of boxes) box.value = "";
});
