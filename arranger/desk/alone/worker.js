// Runs the program in the browser: the same Python as on a computer, asked by messages.

import { loadPyodide } from "../pyodide/pyodide.mjs";

const started = start();

async function start() {
  const python = await loadPyodide({ indexURL: new URL("../pyodide/", import.meta.url).href });
  const program = await fetch(new URL("../program.zip", import.meta.url));
  if (!program.ok) throw new Error("the program's files are missing");
  python.unpackArchive(await program.arrayBuffer(), "zip", { extractDir: "/program" });
  python.runPython("import sys; sys.path.insert(0, '/program')");
  return python.runPython(`
import json
from pyodide.ffi import to_js
from arranger.desk.answers import answer
from arranger.desk.day_choices import BadQuestionError

def ask(question):
    try:
        found = answer(json.loads(question))
    except BadQuestionError as bad:
        found = {"bad": str(bad)}
    return to_js(found) if isinstance(found, bytes) else json.dumps(found)

ask`);
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
