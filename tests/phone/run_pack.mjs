// Runs the pack in the phone's own Python, without a browser: requests in, answers out.
// node run_pack.mjs RUNTIME LIBRARY PACK REQUESTS ANSWERS

import { readFileSync, writeFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [runtime, library, pack, requests, answers] = process.argv.slice(2);
const { loadPyodide } = await import(pathToFileURL(`${runtime}/pyodide.mjs`));
const python = await loadPyodide({
  indexURL: `${runtime}/`,
  stdLibURL: library,
  lockFileContents: JSON.stringify({ info: { arch: "wasm32", platform: "emscripten_5_0_3", python: "3.14.2", abi_version: "2026_0" }, packages: {} }),
});
python.FS.mkdirTree("/pack");
python.unpackArchive(new Uint8Array(readFileSync(pack)), "zip", { extractDir: "/pack" });
python.globals.set("asked", readFileSync(requests, "utf8"));
const said = python.runPython(`
import sys
sys.path.insert(0, "/pack")

import json
from fieldkit.phone.engine import Engine
from fieldkit.web import clock

now = 0
clock.now_ms = lambda: now

def follow(engine, one):
    answer = engine.answer(one["method"], one["path"], one["headers"], one["body"].encode())
    for _ in range(5):
        where = dict(map(tuple, answer.headers)).get("Location")
        if answer.status != 303 or where is None:
            break
        answer = engine.answer("GET", where, {}, b"")
    return [answer.status, answer.body.decode()]

found = []
for number, person in enumerate(json.loads(asked)):
    engine = Engine()
    engine.start(f"/log-{number}.db", "x" * 64, "http://localhost/")
    engine.take_in(person["entries"])
    done = []
    for one in person["requests"]:
        now = one["now_ms"]
        done.append(follow(engine, one))
    found.append(done)
    engine.close()
json.dumps(found)
`);
writeFileSync(answers, said);
