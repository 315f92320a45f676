// On every page. Unless this phone was taken to the field it does nothing at all.

import { readState } from "./state.js";

// Not awaited: WebKit can hang in a module that still waits at its top when its page is left.
readState().then(async (state) => {
  if (!state || state.engine === "untried") return;
  const { enterField } = await import("./field.js");
  await enterField(state);
});
