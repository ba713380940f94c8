"""The page of common mistakes: every code is there, what was typed gives it, and what is right does not."""

from __future__ import annotations

import re

import pytest

from arranger.pipeline import Wishes, to_arrangement, to_pages
from arranger.song.mistakes import explanation, known_codes
from arranger.song.read import read
from arranger.song.running_order import read_order
from arranger.text.diagnostics import Diagnostic
from arranger.text.source import Source
from tests.song.pages import GRAMMAR, blocks, whole
from tests.song.test_diagnostics import CODE, codes_in_the_room

PAGE = (GRAMMAR / "mistakes.md").read_text(encoding="utf-8")

# Too large to show, or not text at all, or dependent on the player's limits.
WITHOUT_EXAMPLE = {
    "line-too-long", "too-many-sections", "not-text", "not-utf-8", "control-character", "file-too-large",
    "too-many-errors", "no-hand", "notes-left-out", "hands-close", "hands-changed", "copy-has-own-hands",
}  # fmt: skip
LATER = {
    "no-chords", "no-hand", "notes-left-out", "hands-close", "hands-changed", "copy-has-own-hands", "missing-glyph"
}  # fmt: skip
# Said of typed sheets, which are no songs: tests/convert/test_refusals.py has them.
SHEETS = {
    "typed-sheet", "sheet-without-chords", "sheet-chords-inside", "sheet-tablature", "sheet-of-many",
    "sheet-is-a-song", "sheet-not-text", "sheet-without-key",
}  # fmt: skip

# Said of scores, which are no songs: tests/convert/test_scores.py has them.
SCORES = {
    "score-damaged", "score-of-another-kind", "score-entities", "score-without-bars", "score-without-chords",
    "score-too-large",
}  # fmt: skip

# Said of running orders: examples of the first are orders, the others depend on songs or are too large.
ORDERS = {
    "missing-set", "set-twice", "empty-set", "before-first-song", "fact-of-a-break", "not-for-an-evening", "bad-then",
    "then-twice", "then-against",
}  # fmt: skip
WITH_SONGS = {"song-missing", "song-with-errors"}  # tests/cli/test_evening.py has them
WITHOUT_EXAMPLE |= WITH_SONGS | {"too-many-songs", "unfit-fact"}

# Said of stage copies, which depend on paper and distance: tests/layout/stage/test_diagnostics.py has them.
STAGE = {"busy-turn", "too-small-to-read"}


def said(text: str) -> list[Diagnostic]:
    """Say all that the stages say of a song."""
    song, found = read(Source.of("a.song.txt", text))
    if song is None:
        return list(found)
    arrangement, more = to_arrangement(song, Wishes(figures=False))
    pages = to_pages(arrangement, Wishes())[1] if arrangement else ()
    return [*found, *more, *pages]


def said_of_order(text: str) -> list[Diagnostic]:
    return list(read_order(Source.of("a.set.txt", text))[1])


def test_every_code_is_explained() -> None:
    known = {code for code in codes_in_the_room() if CODE.fullmatch(code)}
    assert set(known_codes()) == known | LATER | SHEETS | SCORES | STAGE | WITH_SONGS
    assert len(known_codes()) == len(set(known_codes()))


@pytest.mark.parametrize("code", known_codes())
def test_the_example_has_the_mistake_and_the_right_one_has_none(code: str) -> None:
    examples = blocks(explanation(code))
    if code in WITHOUT_EXAMPLE | SHEETS | SCORES | STAGE:
        assert examples == []
        return
    (first, typed), (second, right) = examples
    assert (first, second) == ("typed", "right")
    text = typed if code == "missing-song" or code in ORDERS else whole(typed)
    say = said_of_order if code in ORDERS else said
    found = [one for one in say(text) if one.code == code]
    assert found, say(text)
    right = right if code in ORDERS else whole(right)
    assert [one for one in say(right) if one.severity == "error" or one.code == code] == []
    mended = [one for one in found if one.fix]
    assert not mended or "**" in explanation(code), "the page says what is mended"


def test_an_explanation_is_that_part_of_the_page() -> None:
    text = explanation("wrong-count")
    assert text.startswith("wrong-count\n\nThe marks in a bar share it equally")
    assert "###" not in text
    assert text in PAGE


def test_a_code_that_does_not_exist() -> None:
    with pytest.raises(KeyError):
        explanation("no-such-code")


def test_the_ten_name_codes_that_exist() -> None:
    ten = PAGE.split("## The ten")[1].split("## Lines")[0]
    assert len(re.findall(r"^\d+\. ", ten, re.MULTILINE)) == 10
    named = [word for word in re.findall(r"`([a-z-]+)`", ten) if CODE.fullmatch(word)]
    assert len(named) >= 10
    assert set(named) <= set(known_codes())
