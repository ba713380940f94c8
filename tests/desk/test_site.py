"""The desk with nothing installed: in Chromium, by Pyodide, from a static server; then without any.

`ARRANGER_PYODIDE` names the folder of npm's package `pyodide`; where it is not set the tests are skipped.
"""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from arranger.desk.site import CannotMakeError, make
from tests.desk.conftest import ROOT, SAMPLES
from tests.desk.serving import StaticFiles

PATIENCE = 180_000  # milliseconds for the first start on a busy machine
pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("site")]


@pytest.fixture(scope="module")
def pyodide() -> Path:
    given = os.environ.get("ARRANGER_PYODIDE")
    if not given:
        pytest.skip("ARRANGER_PYODIDE names no folder of Pyodide")
    return Path(given)


@pytest.fixture(scope="module")
def site(pyodide, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    make(folder, pyodide)
    return folder


def opened(context, address):
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector("body[data-ready]")
    return page


def begin(page):
    page.click("#new-song")
    page.wait_for_selector("#pages svg", timeout=PATIENCE)


def test_the_same_inputs_make_the_same_site(site, pyodide, tmp_path):
    again = make(tmp_path / "again", pyodide)
    for path in (tmp_path / "again").rglob("*"):
        if path.is_file():
            assert path.read_bytes() == (site / path.relative_to(tmp_path / "again")).read_bytes()
    assert again.files == sum(path.is_file() for path in site.rglob("*"))


def test_other_folders_are_left_alone(pyodide, tmp_path):
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(CannotMakeError, match="something else"):
        make(tmp_path, pyodide)
    with pytest.raises(CannotMakeError, match="no folder of Pyodide"):
        make(tmp_path / "new", tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_typed_printed_kept_and_there_without_a_network(browser, site, tmp_path):
    """First start; a song typed; PDFs of all samples, parts and stage copies, the same bytes as the command's.

    Where zlib differs, pages are compared unpacked (pypdf).
    """
    server = StaticFiles(site)
    context = browser.new_context(accept_downloads=True)
    page = opened(context, server.address)
    begin(page)
    page.wait_for_selector("body[data-offline]", state="attached", timeout=PATIENCE)
    for path in SAMPLES:
        for copy, command in (("part", "part"), ("stage", "stage")):
            ask = {"ask": "print", "text": path.read_text(encoding="utf-8"), "name": path.name, "copy": copy, "day": {}}
            found = page.evaluate(
                """async (question) => {
                    const { engine } = await import(new URL("page/connection.js", document.baseURI));
                    const found = await engine.ask(question);
                    return found instanceof ArrayBuffer ? Array.from(new Uint8Array(found)) : found;
                }""",
                ask,
            )
            made = tmp_path / f"{path.stem} {copy}.pdf"
            subprocess.run(
                [sys.executable, "-m", "arranger", command, path, "-o", made], cwd=ROOT, check=True, capture_output=True
            )
            assert same(bytes(found), made.read_bytes()), (path.name, copy)
    page.keyboard.press("Control+s")
    page.click("#save-form button[type=submit]")
    page.wait_for_function("() => document.getElementById('saved').textContent === 'saved: new song.song.txt'")
    server.stop()
    page.close()
    page = opened(context, server.address)
    page.click("#start-dialog button[value=close]")
    page.click("#songs-button")
    page.get_by_role("button", name="New song").click(timeout=PATIENCE)
    page.wait_for_selector("#pages svg", timeout=PATIENCE)
    with page.expect_download() as download:
        page.click("#pdf-button")
    assert Path(download.value.path()).read_bytes().startswith(b"%PDF-")
    context.close()


def same(one: bytes, other: bytes) -> bool:
    """Return whether two PDFs are the same to the byte, or unpacked page by page."""
    if one == other:
        return True
    import io

    from pypdf import PdfReader

    pages = [[page.get_contents().get_data() for page in PdfReader(io.BytesIO(data)).pages] for data in (one, other)]
    return pages[0] == pages[1]


def test_an_evening_from_songs_that_the_browser_keeps(browser, site, tmp_path):
    """Its book and its study are the same bytes as the command's; a song that is not kept is told."""
    server = StaticFiles(site)
    context = browser.new_context()
    page = opened(context, server.address)
    page.click("#start-dialog button[value=close]")
    texts = {path.name: path.read_text(encoding="utf-8") for path in SAMPLES}
    names = ("lanterns.song.txt", "first snow.song.txt", "rosalie.song.txt")
    order = f"set Three\n\nsong {names[0]}\nkey E\nthen talk 30 s\n\nsong {names[1]}\nthen pad\n\nsong {names[2]}\n"
    kept = {"three.set.txt": order, **{name: texts[name] for name in names}}
    found = page.evaluate(
        """async ([kept, order]) => {
            const { store, engine } = await import(new URL("page/connection.js", document.baseURI));
            for (const [name, text] of Object.entries(kept)) await store.save(name, text, "");
            const bytes = async (question) => {
                const found = await engine.ask({ text: order, name: "three.set.txt", day: {}, ...question });
                return found instanceof ArrayBuffer ? Array.from(new Uint8Array(found)) : found;
            };
            const astray = "set X\\nsong nowhere.song.txt\\nsong ../x.song.txt\\n";
            return {
                book: await bytes({ ask: "book", copy: "part" }),
                study: await bytes({ ask: "book", copy: "study", minutes: 15, sheets: 1 }),
                midi: await bytes({ ask: "practise", as: "midi", copy: "study" }),
                astray: (await bytes({ ask: "order", text: astray })).problems.map((one) => one.message),
                listed: (await store.songs("three")).orders.map((one) => one.title),
            };
        }""",
        [kept, order],
    )
    for name, text in kept.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "arranger"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    for words in (["evening"], ["study", "--also", "midi"]):
        subprocess.run(
            [*command, words[0], "three.set.txt", *words[1:]],
            cwd=tmp_path,
            check=True,
            capture_output=True,
            env=environment,
        )
    assert same(bytes(found["book"]), (tmp_path / "three.evening.pdf").read_bytes())
    assert same(bytes(found["study"]), (tmp_path / "three.study.pdf").read_bytes())
    assert bytes(found["midi"]) == (tmp_path / "three.study.mid").read_bytes()
    assert found["astray"] == [
        "there is no file nowhere.song.txt", "expected a song that is kept here, found ../x.song.txt",
    ]  # fmt: skip
    assert found["listed"] == ["Three"]
    page.click("#songs-button")
    page.locator("#orders-list button", has_text="Three").click(timeout=PATIENCE)
    page.wait_for_function(
        """() => document.querySelectorAll('#pages svg').length > 4
            && !document.getElementById('page-state').textContent""",
        timeout=PATIENCE,
    )
    context.close()
    server.stop()


def test_a_new_version_takes_the_place_of_the_old_and_keeps_the_songs(browser, pyodide, tmp_path):
    site = tmp_path / "site"
    make(site, pyodide)
    server = StaticFiles(site)
    context = browser.new_context()
    page = opened(context, server.address)
    begin(page)
    page.wait_for_selector("body[data-offline]", state="attached", timeout=PATIENCE)
    page.keyboard.press("Control+s")
    page.click("#save-form button[type=submit]")
    page.wait_for_function("() => document.getElementById('saved').textContent.startsWith('saved')")
    before = page.evaluate("() => caches.keys()")
    html = (site / "index.html").read_text(encoding="utf-8")
    (site / "index.html").write_text(html.replace("<title>Desk</title>", "<title>Newer</title>"), encoding="utf-8")
    offline = (site / "offline.js").read_text(encoding="utf-8")
    (site / "offline.js").write_text(offline.replace('VERSION = "', 'VERSION = "newer'), encoding="utf-8")
    page.reload()
    end = time.monotonic() + PATIENCE / 1000
    while page.evaluate("() => caches.keys()") != [before[0].replace(" ", " newer")]:
        assert time.monotonic() < end
        page.wait_for_timeout(100)
    page.reload()
    assert page.evaluate("async () => (await (await fetch('index.html')).text()).includes('<title>Newer</title>')")
    page.click("#songs-button")
    page.get_by_role("button", name="New song").wait_for(timeout=PATIENCE)
    context.close()
    server.stop()


@pytest.mark.parametrize("fault", ["refused", "full"])
def test_a_store_that_is_refused_or_full_is_told_and_nothing_is_lost(browser, site, fault):
    """As private windows do (opening fails), and as a full disk does (the transaction ends with QuotaExceededError)."""
    server = StaticFiles(site)
    context = browser.new_context(accept_downloads=True)
    scripts = {
        "refused": "indexedDB.open = () => { throw new DOMException('no', 'SecurityError'); };",
        "full": """IDBObjectStore.prototype.put = function () {
            this.transaction.abort();
            Object.defineProperty(this.transaction, 'error', { get: () => new DOMException('', 'QuotaExceededError') });
        };""",
    }
    context.add_init_script(f"if (globalThis.indexedDB) {{ {scripts[fault]} }}")
    page = opened(context, server.address)
    begin(page)
    page.keyboard.press("Control+s")
    page.click("#save-form button[type=submit]")
    words = {"refused": "keeps nothing here", "full": "no room left"}[fault]
    page.wait_for_function(f"() => document.getElementById('save-told').textContent.includes('{words}')")
    with page.expect_download() as download:
        page.click("#save-text")
    text = page.eval_on_selector("#text", "field => field.value")
    assert Path(download.value.path()).read_text(encoding="utf-8") == text
    assert download.value.suggested_filename == "new song.song.txt"
    context.close()
    server.stop()


def test_a_folder_of_the_players_own(browser, site):
    """Where the browser can open one: the page's private file system has the same interface (File System standard)."""
    server = StaticFiles(site)
    context = browser.new_context()
    page = opened(context, server.address)
    found = page.evaluate(
        """async () => {
            const { store, openFolder } = await import(new URL("page/connection.js", document.baseURI));
            await openFolder(async () => navigator.storage.getDirectory());
            const first = await store.save("a.song.txt", "song A\\n", "");
            const second = await store.save("a.song.txt", "song B\\n", first.version);
            const late = await store.save("a.song.txt", "song C\\n", first.version);
            const folder = await navigator.storage.getDirectory();
            const text = async (name) => (await (await folder.getFileHandle(name)).getFile()).text();
            return [await text("a.song.txt"), await text("a.song.txt.before-save"), late.conflict === second.version,
                (await store.read("a.song.txt")).text];
        }"""
    )
    assert found == ["song B\n", "song A\n", True, "song B\n"]
    context.close()
    server.stop()


def test_all_songs_as_one_file(browser, site):
    import io
    import zipfile

    server = StaticFiles(site)
    context = browser.new_context(accept_downloads=True)
    page = opened(context, server.address)
    page.evaluate(
        """async () => {
            const { store } = await import(new URL("page/connection.js", document.baseURI));
            await store.save("a.song.txt", "song A\\n", "");
            await store.save("é.song.txt", "song É\\n", "");
        }"""
    )
    page.click("#start-dialog button[value=close]")
    page.click("#songs-button")
    with page.expect_download(timeout=PATIENCE) as download:
        page.click("#archive")
    archive = zipfile.ZipFile(io.BytesIO(Path(download.value.path()).read_bytes()))
    assert {name: archive.read(name).decode() for name in archive.namelist()} == {
        "a.song.txt": "song A\n",
        "é.song.txt": "song É\n",
    }
    context.close()
    server.stop()
