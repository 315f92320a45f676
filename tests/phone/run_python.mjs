// Runs a program in the phone's own Python, without a browser, beside a pack that is laid out as on
// a phone: byte code goes as it is read. What its `said` says of what is given is written down.
// node run_python.mjs RUNTIME LIBRARY PACK PROGRAM GIVEN SAID

import { readFileSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [runtime, library, pack, program, given, said] = process.argv.slice(2);
const { loadPyodide } = await import(pathToFileURL(`${runtime}/pyodide.mjs`));
const python = await loadPyodide({
  indexURL: `${runtime}/`,
  stdLibURL: library,
  lockFileContents: JSON.stringify({ info: { arch: "wasm32", platform: "emscripten_5_0_3", python: "3.14.2", abi_version: "2026_0" }, packages: {} }),
});
const folder = "/lib/fieldkit-pack";
python.FS.mkdirTree(folder);
python.unpackArchive(new Uint8Array(readFileSync(pack)), "zip", { extractDir: folder });
python.globals.set("given", readFileSync(given, "utf8"));
python.runPython(`
import os, sys
from importlib.machinery import SourcelessFileLoader
def read_once(loader, path, read=SourcelessFileLoader.get_data):
    body = read(loader, path)
    os.unlink(path)
    return body
SourcelessFileLoader.get_data = read_once
sys.path.insert(0, "${folder}")
`);
python.runPython(readFileSync(program, "utf8"));
writeFileSync(said, python.runPython("said(given)"));
