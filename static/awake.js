// Keeps the screen on while something is held, where the browser can.

let wanted = false;
let lock = null;

export const canStayAwake = () => "wakeLock" in navigator;

export async function stayAwake(on) {
  wanted = on;
  try {
    if (on) lock = await navigator.wakeLock.request("screen");
    else await lock?.release();
  } catch {
    // a low battery may forbid it: the page is as good without
  }
}

// The browser lets go of it when the page is out of sight.
document.addEventListener("visibilitychange", () => {
  if (wanted && document.visibilityState === "visible") stayAwake(true);
});
document.addEventListener("turbo:visit", () => stayAwake(false));
