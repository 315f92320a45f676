// On every page. Unless this phone was taken to the field it does nothing at all.

import { readState } from "./state.js";

const state = await readState();
if (state && state.engine !== "untried") {
  const { enterField } = await import("./field.js");
  await enterField(state);
}
