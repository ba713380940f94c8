"""What a PDF is made of, as digests. Takes the program's files, settings, fonts and songs; gives short texts.

Equal digests, equal bytes: contents decide, never dates. A change of any file of the program counts, so that whoever
works on the program sees what the change does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from hashlib import blake2b
from pathlib import Path

import arranger
from arranger.library.outputs import STAGE
from arranger.pipeline import DEFAULT_PAGES, DEFAULT_STAGE, Wishes
from arranger.resources import font_bytes, resource

SIZE = 16  # bytes of a digest: among 10**9 songs, the chance that any two are the same is 10**-21

DATA = (("grammar", "song.lark"), ("fonts", "part-regular.ttf"))  # one file of each folder that is the program's data


def digest(*parts: bytes) -> str:
    """Return the digest of some bytes; where one part ends and the next begins counts too."""
    total = blake2b(digest_size=SIZE)
    for part in parts:
        if len(parts) > 1:
            total.update(len(part).to_bytes(8, "big"))
        total.update(part)
    return total.hexdigest()


def program() -> str:
    """Return the digest of the program: its version, source, grammars and fonts."""
    package = Path(arranger.__file__).parent
    files = {path.relative_to(package).as_posix(): path for path in package.rglob("*.py")}
    for folder, name in DATA:
        found = resource(folder, name).parent.iterdir()
        files |= {f"{folder}/{path.name}": path for path in found if path.is_file()}
    parts = [arranger.__version__.encode()]
    for name, path in sorted(files.items()):
        parts += [name.encode(), path.read_bytes()]
    return digest(*parts)


def settings(kind: str, wishes: Wishes) -> str:
    """Return the digest of all that is asked for of a kind of PDF.

    Of fonts what they hold counts, not where they lie.
    """
    pages = wishes.stage if kind == STAGE else wishes.pages
    music = replace(wishes, pages=DEFAULT_PAGES, stage=DEFAULT_STAGE)
    return digest(kind.encode(), repr((music, replace(pages, fonts=()))).encode(), *fonts(pages.fonts))


def fonts(paths: Sequence[str]) -> list[bytes]:
    """Return the digests of the player's own fonts."""
    return [digest(font_bytes(path)).encode() for path in paths]
