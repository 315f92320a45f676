// Hands the record to the phone's own share sheet, where there is one that takes files.
const button = document.querySelector("#share");

if (button && navigator.canShare?.({ files: [new File([""], "a.pdf", { type: "application/pdf" })] })) {
  button.hidden = false;
  let file = null;
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      const answer = file ? null : await fetch(button.dataset.file);
      if (answer && !answer.ok) return;
      file ??= new File([await answer.blob()], "record.pdf", { type: "application/pdf" });
      await navigator.share({ files: [file], title: document.title });
    } catch {
      // Closed by the person, or the moment passed while the file came: the button stays.
    } finally {
      button.disabled = false;
    }
  });
}
