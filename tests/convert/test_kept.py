"""Nothing of a sheet is lost: a word written anywhere into a sheet stands in its song, as words, cue or remark."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from arranger.convert.columns import decode_sheet
from arranger.convert.conversion import convert
from arranger.text.source import Source
from tests.convert.test_sheets import each_sheet

STRANGE = "zyxomar"  # no word of any sheet, with no chord in it

WAYS: dict[str, Callable[[str], str]] = {
    "a line": "{}\nzyxomar".format,
    "a line in parentheses": "{}\n(zyxomar here)".format,
    "behind, in parentheses": "{}    (zyxomar)".format,
    "behind": "{}  zyxomar".format,
    "behind a dash": "{} - zyxomar".format,
    "before": "(zyxomar) {}".format,
    "a line with stars": "{}\n** zyxomar **".format,
}
STEP = (
    3  # every third way for a line, another set for the next one: all ways within three lines, in a third of the time
)


def letters(text: str) -> str:
    return re.sub(r"[\W\d_]+", "", text.casefold())


def kept(song: str) -> bool:
    """Tell whether the word is there; words are parted at chords, bars and rows."""
    sung = "".join(line.split(maxsplit=1)[-1] for line in song.split("\n") if line.startswith(("sing", "pickup")))
    return STRANGE in letters(song) or STRANGE in letters(sung)


@pytest.mark.slow
@each_sheet
def test_a_word_written_into_any_line_is_kept(sheet):
    source, _, _ = decode_sheet(sheet.name, sheet.read_bytes())
    assert source is not None
    lines = source.text.split("\n")
    lost = []
    for number, line in enumerate(lines):
        for way in list(WAYS)[number % STEP :: STEP] if line.strip() else ():
            text = "\n".join([*lines[:number], WAYS[way](line), *lines[number + 1 :]])
            made, _ = convert(Source.of("sheet.txt", text))
            if made is not None and not kept(made.text):
                lost.append(f"line {number + 1}, {way}: {line}")
    assert lost == []


@pytest.mark.parametrize("song", ["section Verse\nsing | la la |\n", "sing | zyxo |\ncue mar\n# zyx\n"])
def test_what_is_not_kept_is_seen(song):
    assert not kept(song)


@pytest.mark.parametrize(
    "song", ["# zyxomar", "cue zyxomar", "pickup zyx-\n| G |\nsing | omar |", "sing | zy*xo- | mar |"]
)
def test_what_is_kept_is_found(song):
    assert kept(song)
