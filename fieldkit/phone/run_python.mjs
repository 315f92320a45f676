// Runs a program in the phone's own Python, without a browser; it finds the folder WORK at /lot.
// node run_python.mjs RUNTIME LIBRARY WORK PROGRAM

import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [runtime, library, work, program] = process.argv.slice(2);
const { loadPyodide } = await import(pathToFileURL(`${runtime}/pyodide.mjs`));
const python = await loadPyodide({
  indexURL: `${runtime}/`,
  stdLibURL: library,
  lockFileContents: JSON.stringify({
    info: { abi_version: "2026_0", arch: "wasm32", platform: "emscripten_5_0_3", python: "3.14.2" },
    packages: {},
  }),
  // The same byte code each time, and no columns in it: tracebacks name lines all the same.
  env: { HOME: "/home/pyodide", PYTHONHASHSEED: "0", PYTHONNODEBUGRANGES: "1" },
});
python.mountNodeFS("/lot", work);
python.runPython(readFileSync(program, "utf8"));
