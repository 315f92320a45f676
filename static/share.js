// Hands over what the page is about through the phone's own share sheet, where there is one: the
// record as a file, an invitation as a link. And prints: an installed app has no menu for it.
const button = document.querySelector("#share");
const printer = document.querySelector("#print");

const TYPES = { pdf: "application/pdf", html: "text/html" };

// The PDF first. Where it cannot be had, without signal or on a phone, the file that opens in any
// browser.
const files = Object.keys(TYPES).filter(
  (ending) =>
    button?.dataset[ending] &&
    navigator.canShare?.({ files: [new File(["x"], `record.${ending}`, { type: TYPES[ending] })] }),
);

async function firstToBeHad() {
  for (const ending of files) {
    try {
      const answer = await fetch(button.dataset[ending]);
      if (!answer.ok) continue;
      const name = `${button.dataset.name}.${ending}`;
      return new File([await answer.blob()], name, { type: TYPES[ending] });
    } catch {
      // No signal: the next one.
    }
  }
  return null;
}

if (button && (files.length || (button.dataset.link && navigator.share))) {
  button.hidden = false;
  let file = null;
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      if (button.dataset.link) {
        await navigator.share({ url: button.dataset.link });
      } else {
        file ??= await firstToBeHad();
        if (file) await navigator.share({ files: [file], title: document.title });
        else button.textContent = button.dataset.failed;
      }
    } catch (error) {
      // Closed by the person; or the file took longer than a press counts, so press once more.
      if (error.name === "NotAllowedError") button.textContent = button.dataset.ready;
    } finally {
      button.disabled = false;
    }
  });
}

if (printer) {
  printer.hidden = false;
  printer.addEventListener("click", () => window.print());
}
