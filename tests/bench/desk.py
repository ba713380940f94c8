"""Measure the desk in a real browser: from a key to the painted pages, and the shares of its stages.

For each song and for songs of three and ten times its length: 50 edits typed one by one in Chromium, median and worst
of the time from the key's event to the frame after the new pages are in the document, waiting included; then the time
of the answer alone (`answers.answer`), of its reading, hands, pages and drawing, in this process. The goals are 300 ms
for a typical sample and 500 ms for the largest, on a quiet machine. An answer that does not come is `inf`.

Then an evening of 20 songs: seconds to its first page, to the last, to its PDF; and milliseconds until a change of the
list shows, while pages are made.

`python -m tests.bench.desk [EDITS] [TIMES...]`: so many edits, at so many times the songs' length (1 3 10 unless said)
"""

from __future__ import annotations

import math
import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from arranger.desk.answers import answer
from arranger.intake import CHECKED, to_song
from arranger.pipeline import to_arrangement, to_pages
from arranger.svg.picture_pages import pages
from arranger.text.source import Source
from tests.desk.conftest import BROWSERS, FLAGS, end, serve

SAMPLES = Path(__file__).parents[2] / "samples"
SONGS = ("lanterns", "bread and salt", "marquee")  # a typical one, the longest text, the one that takes longest
PATIENCE = 15_000  # milliseconds: longer than any answer about a song may take
TYPED = """async ([letter, patience]) => {
  const field = document.getElementById("text");
  const before = document.body.dataset.shown;
  const start = performance.now();
  field.focus();
  document.execCommand("insertText", false, letter);
  while (document.body.dataset.shown === before) {
    if (performance.now() - start > patience) return null;
    await new Promise((next) => setTimeout(next, 1));
  }
  await new Promise((next) => requestAnimationFrame(() => setTimeout(next, 0)));
  return performance.now() - start;
}"""


def longer(text: str, times: int) -> str:
    """Return a song of so many times the length: its sections again under other names, without a roadmap."""
    head, *sections = text.split("\nsection ")
    head = "\n".join(line for line in head.splitlines() if not line.startswith("roadmap"))
    body = []
    for number in range(times):
        for section in sections:
            lines = section.splitlines()
            named = [line if not line.startswith("like ") else f"{line} {number}" for line in lines[1:]]
            body.append("\n".join([f"{lines[0].strip()} {number}", *named]))
    return "\nsection ".join([head, *body]) + "\n"


def in_browser(page: Any, address: str, text: str, edits: int) -> list[float]:
    """Return the milliseconds of each edit, in a word of the song's middle."""
    page.evaluate(
        "text => sessionStorage.setItem('desk draft', JSON.stringify({text, name: '', version: '', saved: ''}))", text
    )
    page.goto(address.partition("#")[0])
    page.reload()
    page.wait_for_selector("#pages svg", timeout=60_000)
    page.wait_for_timeout(1500)
    place = text.index(" ", text.index("sing |", len(text) // 2) + 7)
    page.evaluate("at => document.getElementById('text').setSelectionRange(at, at)", place)
    took = []
    for number in range(edits):
        found = page.evaluate(TYPED, ["lamotire"[number % 8], PATIENCE])
        took.append(math.inf if found is None else found)
        if found is None:  # nor will the next ones come
            break
    return took


LISTED = """async () => {
  const rows = () => document.getElementById("order-list").textContent;
  const before = rows();
  const start = performance.now();
  document.querySelector("#order-list [data-control=down]:not(:disabled)").click();
  await new Promise((next) => requestAnimationFrame(() => setTimeout(next, 0)));
  return rows() === before ? null : performance.now() - start;
}"""


def evening(page: Any, address: str) -> None:
    """Print the times of an evening of 20 songs: all samples, twice."""
    names = [path.name for path in sorted(SAMPLES.glob("*.song.txt"))]
    text = "set Twenty\n" + "".join(f"\nsong {name}\n" for name in names * 2)
    draft = {"text": text, "name": "", "version": "", "saved": "", "kind": "order"}
    page.evaluate("draft => sessionStorage.setItem('desk draft', JSON.stringify(draft))", draft)
    page.goto(address.partition("#")[0])
    begun = time.perf_counter()
    page.reload()
    page.wait_for_selector("#pages svg text", timeout=120_000, state="attached")
    first = time.perf_counter() - begun
    moves = [page.evaluate(LISTED) for _ in range(5)]
    begun = time.perf_counter()
    before = page.evaluate("() => document.body.dataset.shown ?? ''")
    page.wait_for_function("before => (document.body.dataset.shown ?? '') !== before", arg=before, timeout=300_000)
    whole = time.perf_counter() - begun
    begun = time.perf_counter()
    with page.expect_download(timeout=120_000):
        page.click("#pdf-button")
    pdf = time.perf_counter() - begun
    print(f"an evening of {2 * len(names)} songs: first page {first:.1f} s; then, five moves in the list, worst "
          f"{max(moves):.0f} ms; all pages {whole:.1f} s; PDF {pdf:.1f} s")  # fmt: skip


def shares(text: str) -> list[float]:
    """Return the milliseconds of a whole answer, of reading, hands, pages, drawing: the least of five, each edited."""
    found = []
    for number in range(5):
        changed = text.replace("sing | ", f"sing | {'x' * (number + 1)}", 1)
        times = [time.perf_counter()]
        answer({"ask": "pages", "text": changed})
        times.append(time.perf_counter())
        changed = changed.replace("sing | x", "sing | yx", 1)
        begun = time.perf_counter()
        song, _ = to_song(Source.of("x", changed))
        read = time.perf_counter()
        arrangement, _ = to_arrangement(song, CHECKED)
        worked = time.perf_counter()
        document, _ = to_pages(arrangement, CHECKED)
        laid = time.perf_counter()
        pages(document)
        drawn = time.perf_counter()
        whole = times[1] - times[0]
        found.append([1000 * t for t in (whole, read - begun, worked - read, laid - worked, drawn - laid)])
    return [min(column) for column in zip(*found, strict=True)]


def main(edits: int, lengths: Sequence[int]) -> None:
    """Print the table."""
    from playwright.sync_api import sync_playwright

    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    if browser is None:
        sys.exit("there is no Chromium")
    print(f"{edits} edits each; milliseconds; {os.cpu_count()} cores")
    print(f"{'song':24} {'median':>7} {'worst':>7}  {'answer':>7} {'read':>6} {'hands':>6} {'pages':>6} {'drawn':>6}")
    with tempfile.TemporaryDirectory() as home, sync_playwright() as driver:
        (folder := Path(home, "songs")).mkdir()
        for path in SAMPLES.glob("*.song.txt"):
            shutil.copy(path, folder / path.name)
        desk = serve(folder, Path(home))
        try:
            page = driver.chromium.launch(executable_path=browser, args=FLAGS).new_page()
            page.goto(desk.address)
            page.wait_for_selector("body[data-ready]")
            for name in SONGS:
                for times in lengths:
                    text = (SAMPLES / f"{name}.song.txt").read_text(encoding="utf-8")
                    text = longer(text, times) if times > 1 else text
                    took = in_browser(page, desk.address, text, edits if times < 10 else max(10, edits // 5))
                    parts = "".join(f" {one:6.0f}" for one in shares(text))
                    print(
                        f"{name + f' x{times}':24} {statistics.median(took):7.0f} {max(took):7.0f}  {parts}", flush=True
                    )
            page.on("dialog", lambda dialog: dialog.accept())
            evening(page, desk.address)
        finally:
            end(desk)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50, tuple(map(int, sys.argv[2:])) or (1, 3, 10))
