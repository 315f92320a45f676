// Makes a chosen photo smaller before it is sent. Without scripts the whole file is sent, and the
// server makes it smaller.
const form = document.querySelector("form[data-shrink]");
const box = form?.querySelector("input[type=file]");
const keep = form?.querySelector("#keep");

box?.addEventListener("change", async () => {
  const file = box.files[0];
  if (!file || keep.checked || file.size < 400000) return;
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, Number(form.dataset.shrink) / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    const smaller = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
    if (!smaller || smaller.size >= file.size || box.files[0] !== file) return;
    const chosen = new DataTransfer();
    chosen.items.add(new File([smaller], "photo.jpg", { type: "image/jpeg" }));
    box.files = chosen.files;
  } catch {
    // A picture that this browser cannot read goes as it is; the server says what is wrong.
  }
});
// What was made smaller has lost its place and time: choose again to keep them.
keep?.addEventListener("change", () => {
  if (keep.checked) box.value = "";
});
