// On every page. Unless this phone was taken to the field it does nothing at all.

import { readState } from "./state.js";

// No module waits: a page that is left meanwhile must not be stuck in it.
readState().then(async (state) => {
  if (!state || state.engine === "untried") return;
  const { enterField } = await import("./field.js");
  await enterField(state);
});
