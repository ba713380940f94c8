// Runs the program in the browser: the same Python as on a computer, asked by messages.

import { loadPyodide } from "../pyodide/pyodide.mjs";

const KEPT = "desk @VERSION@"; // the same store as offline.js has: a new version begins anew
const COMPILED = new URL("../compiled.zip", import.meta.url).href; // made here, never fetched

const started = start();

async function start() {
  const fetched = fetch(new URL("../program.zip", import.meta.url));
  const compiled = keptBytes();
  const python = await loadPyodide({ indexURL: new URL("../pyodide/", import.meta.url).href });
  const program = await fetched;
  if (!program.ok) throw new Error("the program's files are missing");
  python.unpackArchive(await program.arrayBuffer(), "zip", { extractDir: "/program" });
  const known = await compiled;
  if (known) python.unpackArchive(known, "zip", { extractDir: "/program" });
  const ask = python.runPython(`
import json, os, sys
from pathlib import Path
from pyodide.ffi import to_js

# What is compiled belongs to a source by its time: each start has the same.
for path in Path("/program").rglob("*.py"):
    os.utime(path, (315532800, 315532800))
sys.dont_write_bytecode = False
sys.path.insert(0, "/program")

from arranger.desk.answers import answer
from arranger.desk.day_choices import BadQuestionError

def ask(question):
    try:
        found = answer(json.loads(question))
    except BadQuestionError as bad:
        found = {"bad": str(bad)}
    return to_js(found) if isinstance(found, bytes) else json.dumps(found)

ask`);
  if (!known) setTimeout(() => keepCompiled(python), 3000);
  return ask;
}

async function keptBytes() {
  try {
    const found = await (await caches.open(KEPT)).match(COMPILED);
    return found ? await found.arrayBuffer() : null;
  } catch {
    return null; // a place without such a store, or a private window
  }
}

// Keeps what Python has compiled, so that the next start need not.
async function keepCompiled(python) {
  try {
    const bytes = python.runPython(`
import io, zipfile
made = io.BytesIO()
with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
    for path in Path("/program").rglob("*.pyc"):
        archive.write(path, path.relative_to("/program"))
to_js(made.getvalue())`);
    await (await caches.open(KEPT)).put(COMPILED, new Response(bytes));
  } catch {
    // then the next start compiles again
  }
}

self.onmessage = async ({ data: { number, question } }) => {
  try {
    const found = (await started)(question);
    if (typeof found === "string") self.postMessage({ number, json: found });
    else {
      const bytes = found.buffer.slice(found.byteOffset, found.byteOffset + found.byteLength);
      self.postMessage({ number, bytes }, [bytes]);
    }
  } catch (fault) {
    const last = String(fault.message ?? fault).trim().split("\n").pop();
    self.postMessage({ number, fault: `a fault of the program stopped this; the pages stay as they were (${last})` });
  }
};
