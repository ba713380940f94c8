"""Make the desk as a folder of static files, in which the whole program runs inside the browser.

`python -m arranger.desk.site OUT --pyodide FOLDER`: FOLDER is that of Pyodide (the package `pyodide` of npm), which
runs Python in the browser. Any web space can serve OUT. The same inputs make the same bytes.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import re
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import arranger

PYODIDE = (
    "pyodide.mjs",
    "pyodide.asm.mjs",
    "pyodide.asm.js",
    "pyodide.asm.wasm",
    "python_stdlib.zip",
    "pyodide-lock.json",
)
NEEDED = ("pyodide.mjs", "pyodide.asm.wasm", "python_stdlib.zip", "pyodide-lock.json")
LIBRARIES = ("lark", "reportlab", "tomlkit", "mido", "packaging")
# Parts of libraries that no question reaches.
LEFT_OUT = re.compile(
    r"/__pycache__/|\.pyc$|\.dist-info/|reportlab/(graphics|platypus|fonts)|lark/__pyinstaller|"
    r"lark/grammars/|lark/tools/|mido/scripts/|mido/backends/(?!__init__\.py|backend\.py)|tests?/"
)
HERE = Path(__file__).resolve().parent
PACKAGE = Path(arranger.__file__).resolve().parent
SERVER_ONLY = (
    "arranger/desk/server.py",
    "arranger/desk/opening.py",
    "arranger/desk/engine.py",
    "arranger/desk/folder.py",
    "arranger/desk/site.py",
    "arranger/commands/",
    "arranger/desk/page/",
    "arranger/desk/alone/",
)
EPOCH = (1980, 1, 1, 0, 0, 0)
VERSION = b"@VERSION@"  # stands in files for the version, which depends on all files
POLICY = (
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' blob:; "
    "font-src 'self' blob:; connect-src 'self'; frame-src blob:; worker-src 'self'; manifest-src 'self'; "
    "base-uri 'none'; form-action 'none'"
)
MANIFEST = {
    "name": "Desk",
    "short_name": "Desk",
    "start_url": "./index.html",
    "scope": "./",
    "display": "standalone",
    "background_color": "#ffffff",
    "theme_color": "#ffffff",
    "icons": [{"src": "page/icon.svg", "sizes": "any", "type": "image/svg+xml"}],
}


class CannotMakeError(Exception):
    """The site cannot be made: said in words."""


class Made(NamedTuple):
    """A site that was made: its version, how many files, how many bytes."""

    version: str
    files: int
    size: int


def make(out: Path, pyodide: Path) -> Made:
    """Make the site in a folder that is new, empty, or holds an earlier one.

    Raises:
        CannotMakeError: the folder of Pyodide is none, or the other folder holds something else.
        OSError: it cannot be written.
    """
    missing = [name for name in NEEDED if not (pyodide / name).is_file()]
    if missing:
        raise CannotMakeError(f"{pyodide} is no folder of Pyodide: {missing[0]} is not in it")
    if out.exists() and any(out.iterdir()) and not (out / "offline.js").is_file():
        raise CannotMakeError(f"{out} holds something else; name a new folder")
    contents = dict(_contents(pyodide))
    version = hashlib.sha256(
        b"".join(hashlib.sha256(n.encode() + b"\0" + d).digest() for n, d in sorted(contents.items()))
    )
    name = version.hexdigest()[:16]
    listed = json.dumps(["./", *(f"./{name}" for name in sorted(contents))], indent=0)
    offline = (HERE / "alone" / "offline.js").read_text(encoding="utf-8")
    contents["offline.js"] = offline.replace('"@FILES@"', listed).encode()
    for file in ("offline.js", "page/worker.js"):
        contents[file] = contents[file].replace(VERSION, name.encode())
    for old in out.rglob("*") if out.exists() else ():
        if old.is_file() and old.relative_to(out).as_posix() not in contents:
            old.unlink()
    for path, data in contents.items():
        target = out / path
        target.parent.mkdir(parents=True, exist_ok=True)
        unfinished = target.with_name(f".{target.name}.new")
        unfinished.write_bytes(data)
        unfinished.replace(target)
    return Made(name, len(contents), sum(map(len, contents.values())))


def _contents(pyodide: Path) -> Iterator[tuple[str, bytes]]:
    """Yield the files of the site but the one that keeps them."""
    for path in sorted((HERE / "page").iterdir()):
        data = path.read_bytes()
        if path.name == "index.html":
            yield "index.html", _page(data.decode()).encode()
        elif path.name != "connection.js":
            yield f"page/{path.name}", data
    for name in ("connection.js", "worker.js"):
        yield f"page/{name}", (HERE / "alone" / name).read_bytes()
    for name in PYODIDE:
        if (pyodide / name).is_file():
            yield f"pyodide/{name}", (pyodide / name).read_bytes()
    yield "desk.webmanifest", (json.dumps(MANIFEST, indent=1) + "\n").encode()
    data_files = dict(_data())
    for name, data in data_files.items():
        if name.startswith("arranger/_data/fonts/part-"):
            yield f"fonts/{Path(name).name}", data
    yield "program.zip", _archive(data_files | dict(_program()))


def _page(html: str) -> str:
    """Return the page with what a server would send beside it."""
    more = f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
    more += '<link rel="manifest" href="desk.webmanifest">\n'
    return html.replace('<meta charset="utf-8">\n', f'<meta charset="utf-8">\n{more}', 1)


def _program() -> Iterator[tuple[str, bytes]]:
    """Yield the modules of the program and of its libraries."""
    for path in sorted(PACKAGE.rglob("*.py")):
        name = f"arranger/{path.relative_to(PACKAGE).as_posix()}"
        if not name.startswith(SERVER_ONLY):
            yield name, path.read_bytes()
    for library in LIBRARIES:
        folders = [folder for folder in (Path(root) / library for root in sys.path) if folder.is_dir()]
        if not folders:
            raise CannotMakeError(f"{library} is not installed")
        for path in sorted(folders[0].rglob("*")):
            name = f"{library}/{path.relative_to(folders[0]).as_posix()}"
            if path.suffix in (".py", ".lark") and not LEFT_OUT.search(f"/{name}"):
                yield name, path.read_bytes()


def _data() -> Iterator[tuple[str, bytes]]:
    """Yield the data that the program reads: grammars, fonts, samples."""
    inside = PACKAGE / "_data"
    root = inside if inside.is_dir() else PACKAGE.parent
    for folder, wanted in (("grammar", "*.*"), ("fonts", "part-*.ttf"), ("samples", "*.song.txt")):
        for path in sorted((root / folder).glob(wanted)):
            yield f"arranger/_data/{folder}/{path.name}", path.read_bytes()


def _archive(contents: dict[str, bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(contents):
            archive.writestr(zipfile.ZipInfo(name, EPOCH), contents[name], zipfile.ZIP_DEFLATED)
    return made.getvalue()


def main(words: list[str] | None = None) -> int:
    """Make the site that a command line asks for."""
    parser = argparse.ArgumentParser("python -m arranger.desk.site", description="Make the desk as static files.")
    parser.add_argument("out", metavar="OUT", type=Path, help="the folder to make")
    parser.add_argument(
        "--pyodide", metavar="FOLDER", type=Path, required=True, help="the folder of npm's package pyodide"
    )
    asked = parser.parse_args(words)
    try:
        made = make(asked.out, asked.pyodide)
    except CannotMakeError as fault:
        print(f"arranger: {fault}", file=sys.stderr)
        return 2
    except OSError as fault:
        print(f"arranger: {asked.out} cannot be written: {fault.strerror}", file=sys.stderr)
        return 2
    print(f"{asked.out}: version {made.version}, {made.files} files, {made.size / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
