"""Measure the desk with nothing installed: sizes, starts, and a song in the browser beside the same song in CPython.

`python -m tests.bench.site PYODIDE` (the folder of npm's package `pyodide`), with Chromium; ratios are of one run.
"""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

from arranger.desk.answers import answer
from arranger.desk.site import make
from tests.desk.conftest import BROWSERS, FLAGS, SAMPLES
from tests.desk.serving import StaticFiles

TIMES = 5  # edits of each sample
PATIENCE = 300_000  # milliseconds
COMPILED = """async () => {
    const kept = await Promise.all((await caches.keys()).map((name) => caches.open(name)));
    return (await Promise.all(kept.map((one) => one.match("compiled.zip")))).some(Boolean);
}"""
ASKED = """async (question) => {
    const { engine } = await import(new URL("page/connection.js", document.baseURI));
    const start = performance.now();
    await engine.ask(question);
    return performance.now() - start;
}"""


def main(pyodide: Path) -> None:
    """Print the table."""
    from playwright.sync_api import sync_playwright

    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    if browser is None:
        sys.exit("there is no Chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        made = make(Path(folder), pyodide)
        server = StaticFiles(Path(folder))
        context = driver.chromium.launch(executable_path=browser, args=FLAGS).new_context()

        def first_page() -> float:
            page = context.new_page()
            start = time.perf_counter()
            page.goto(server.address)
            page.click("#new-song")
            page.wait_for_selector("#pages svg", timeout=PATIENCE)
            return time.perf_counter() - start

        first = first_page()
        page = context.pages[0]
        page.wait_for_selector("body[data-offline]", state="attached", timeout=PATIENCE)
        while not page.evaluate(COMPILED):
            page.wait_for_timeout(200)
        stored = page.evaluate("async () => (await navigator.storage.estimate()).usage")
        sent = server.sent
        print(f"on the disk {made.size / 1e6:.1f} MB in {made.files} files; over the wire {sent / 1e6:.1f} MB, packed")
        print(f"stored in the browser {stored / 1e6:.1f} MB")
        print(f"from the address to the first page: {first:.1f} s; again {first_page():.1f} s", end="")
        server.stop()
        print(f"; without a server {first_page():.1f} s")
        print(f"{'song':14} {'browser':>8} {'CPython':>8} {'ratio':>6}   (ms an edit, median of {TIMES})")
        for path in SAMPLES:
            text = path.read_text(encoding="utf-8")
            took: tuple[list[float], list[float]] = [], []
            for number in range(TIMES + 1):
                question = {"ask": "pages", "text": text.replace("sing | ", f"sing | {'x' * number}", 1), "day": {}}
                took[0].append(page.evaluate(ASKED, question))
                start = time.perf_counter()
                answer(question)
                took[1].append(1000 * (time.perf_counter() - start))
            there, here = (statistics.median(times[1:]) for times in took)
            print(f"{path.name.partition('.')[0]:14} {there:8.0f} {here:8.0f} {there / here:6.1f}", flush=True)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
