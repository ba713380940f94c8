"""Start desks for the tests, and browsers where there is one.

Where `ARRANGER_BROWSER` is `required`, a missing browser is a failure; elsewhere the tests of the page are skipped.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

import pytest

ROOT = Path(__file__).parents[2]
SAMPLES = sorted((ROOT / "samples").glob("*.song.txt"))
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
FLAGS = ["--no-sandbox", "--disable-gpu"]


class Served(NamedTuple):
    """A desk that is running."""

    folder: Path
    port: int
    token: str
    led: Path  # the file that leads the browser there
    process: subprocess.Popen[str]
    environment: dict[str, str]

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/#{self.token}"

    def post(self, path: str, question: Any = None, **headers: str | None) -> tuple[int, Any, dict[str, str]]:
        """Ask; gives the status, the answer and its headers. Headers by names with `_` for `-`; None leaves one out."""
        given = {"x-desk-token": self.token, "content-type": "application/json"}
        for name, value in headers.items():
            given.pop(name.replace("_", "-"), None)
            if value is not None:
                given[name.replace("_", "-")] = value
        body = question if isinstance(question, bytes) else json.dumps(question or {}).encode()
        return self.request("POST", path, body, given)

    def request(self, method: str, path: str, body: bytes = b"", headers: dict[str, str] | None = None) -> Any:
        asking = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        asking.putrequest(method, path, skip_host="host" in (headers or {}))
        for name, value in {"content-length": str(len(body)), **(headers or {})}.items():
            asking.putheader(name, value)
        asking.endheaders()
        with suppress(BrokenPipeError, ConnectionResetError):  # refused before all of it was sent
            asking.send(body)
        answer = asking.getresponse()
        data = answer.read()
        asking.close()
        found = {name.lower(): value for name, value in answer.getheaders()}
        json_ = found.get("content-type", "").startswith("application/json")
        return answer.status, json.loads(data) if json_ else data, found


def serve(folder: Path, home: Path, *more: str) -> Served:
    """Start a desk for a folder."""
    environment = {
        **os.environ, "XDG_CACHE_HOME": str(home / "cache"), "XDG_CONFIG_HOME": str(home / "config"),
        "HOME": str(home), "PYTHONPATH": str(ROOT),
    }  # fmt: skip
    command = [sys.executable, "-m", "arranger", "desk", str(folder), "--no-browser", *more]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment, cwd=ROOT)
    assert process.stdout is not None
    lines = [process.stdout.readline(), process.stdout.readline()]
    led = Path(lines[1].partition(": ")[2].strip())
    found = re.search(r"127\.0\.0\.1:(\d+)/#([\w-]+)", led.read_text())
    assert found, lines
    return Served(folder, int(found[1]), found[2], led, process, environment)


def end(desk: Served) -> None:
    desk.process.terminate()
    desk.process.wait(20)
    assert desk.process.stdout is not None
    desk.process.stdout.close()


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A desk for a folder with the samples."""
    home = tmp_path_factory.mktemp("home")
    folder = home / "songs"
    folder.mkdir()
    for path in SAMPLES:
        (folder / path.name).write_bytes(path.read_bytes())
    served = serve(folder, home)
    yield served
    end(served)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A browser that is driven; the tests that want one are skipped where there is none."""
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        if os.environ.get("ARRANGER_BROWSER") == "required":
            pytest.fail("a browser is required here, and there is none")
        pytest.skip("there is no Chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=found, args=FLAGS)
        yield started
        started.close()


@pytest.fixture
def opened(browser: Any, desk: Served) -> Iterator[Any]:
    """The page with a sample open; what goes wrong in it fails the test."""
    context = browser.new_context(viewport={"width": 1400, "height": 900}, accept_downloads=True)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.on("console", lambda told: faults.append(told.text) if told.type == "error" else None)
    page.goto(desk.address)
    page.wait_for_selector("#samples button")
    page.get_by_role("button", name="lanterns").click()
    page.wait_for_selector("#pages svg")
    page.faults = faults
    yield page
    context.close()
    expected = ("409", "the desk has ended")
    assert not [fault for fault in faults if not any(words in fault for words in expected)]
