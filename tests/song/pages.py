"""Examples in the pages for musicians: code blocks of Markdown, and whole songs made of what they show."""

from __future__ import annotations

import re
from pathlib import Path

from arranger.song.song_lines import SONG_WORDS, WORDS

GRAMMAR = Path(__file__).parents[2] / "grammar"
_BLOCK = re.compile(r"^```([\w-]+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_HEAD_ONLY = {*SONG_WORDS, "key", "tempo", "meter"}


def blocks(text: str) -> list[tuple[str, str]]:
    """List the language and the text of each block."""
    return _BLOCK.findall(text)


def whole(example: str) -> str:
    """Make a song of an example: with a title and a key, a section and a row, where it shows only a part."""
    words = [line.split(" ")[0].strip("|:").casefold() or "|" for line in example.splitlines() if line.strip()]
    if "song" in words or "title" in words or "Small Boats" in example:
        return example
    header = "song Example\nkey D\n"
    if "section" in words or words[0] == "verse":
        return header + example
    if all(word in _HEAD_ONLY or word not in WORDS for word in words) and words[0] in _HEAD_ONLY:
        return header + example + "section Verse\n| D | G |\n"
    return header + "section Verse\n" + example
