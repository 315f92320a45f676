// Runs phone/bytecode.py in the phone's own Python, without a browser.
// node bytecode.mjs RUNTIME FOLDER PACK LIBRARY MADE_PACK MADE_LIBRARY

import { readFileSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [runtime, folder, pack, library, madePack, madeLibrary] = process.argv.slice(2);
const { loadPyodide } = await import(pathToFileURL(`${runtime}/pyodide.mjs`));
const python = await loadPyodide({
  indexURL: `${runtime}/`,
  stdLibURL: library,
  lockFileContents: JSON.stringify({
    info: { abi_version: "2026_0", arch: "wasm32", platform: "emscripten_5_0_3", python: "3.14.2" },
    packages: {},
  }),
  // The same bytes each time, and no columns: tracebacks name lines all the same.
  env: { HOME: "/home/pyodide", PYTHONHASHSEED: "0", PYTHONNODEBUGRANGES: "1" },
});
const files = { "/pack.zip": pack, "/library.zip": library };
for (const [place, file] of Object.entries(files)) python.FS.writeFile(place, readFileSync(file));
python.globals.set("folder", folder);
python.runPython(`
import sys, zipfile
from pathlib import Path
zipfile.ZipFile("/pack.zip").extractall(folder)
sys.path.insert(0, folder)
from fieldkit.phone.bytecode import compiled
library = next(place for place in sys.path if place.endswith(".zip"))
pack, books = compiled(folder, Path("/pack.zip").read_bytes(), library, Path("/library.zip").read_bytes())
Path("/made-pack.zip").write_bytes(pack)
Path("/made-library.zip").write_bytes(books)
`);
writeFileSync(madePack, python.FS.readFile("/made-pack.zip"));
writeFileSync(madeLibrary, python.FS.readFile("/made-library.zip"));
