"""Certain fixes: each one mends what it is told with, none makes a song worse, and what they leave is left alone."""

from __future__ import annotations

import random

import pytest

from arranger.song.read import decode, mended, read
from arranger.text.source import Source
from tests import fuzz
from tests.song.test_diagnostics import SONGS

BROKEN = [path for path in SONGS if not decode(path.name, path.read_bytes())[1]]


def errors(source: Source) -> int:
    return sum(one.severity == "error" for one in read(source)[1])


@pytest.mark.parametrize("path", BROKEN, ids=lambda p: p.name.removesuffix(".song.txt"))
def test_each_fix_mends_what_it_is_told_with(path) -> None:
    source, _ = decode(path.name, path.read_bytes())
    found = read(source)[1]
    for one in found:
        if one.fix is None:
            continue
        text = source.text[: one.fix.span.start] + one.fix.text + source.text[one.fix.span.end :]
        after = read(Source.of("a", text))[1]
        assert [o.code for o in after].count(one.code) < [o.code for o in found].count(one.code), (one, text)


@pytest.mark.parametrize("path", BROKEN, ids=lambda p: p.name.removesuffix(".song.txt"))
def test_no_certain_fix_is_left(path) -> None:
    source, _ = decode(path.name, path.read_bytes())
    after, done = mended(source)
    assert errors(after) <= errors(source)
    assert (after is source) == (not done)
    assert all("\n" not in one.before + one.after for one in done), "lines keep their numbers"
    assert [one for one in read(after)[1] if one.fix] == []
    assert mended(after) == (after, ())


def test_what_is_not_mended_stays_to_the_letter() -> None:
    text = "# Odd   words\nsong: Small  Boats\nkey\tD\n\n\nVerse 1\n| am ,  H|\nsing |  out   on  the |\n"
    after, done = mended(Source.of("a", text))
    assert after.text == text.replace("song: ", "song ").replace("Verse 1", "section Verse 1").replace("am", "Am")
    assert [one.code for one in done] == ["colon-after-word", "section-missing", "lower-case-chord"]


def test_one_fix_brings_the_next_to_light() -> None:
    text = "Title: Small Boats\nkey: d minor\nsection: Verse:\nI Dm I C I G, A I\n"
    after, _ = mended(Source.of("a", text))
    assert after.text == "song Small Boats\nkey Dm\nsection Verse\n| Dm | C | G A |\n"


def test_a_song_without_mistakes_is_the_same_source() -> None:
    for text in fuzz.material()[:8]:
        source = Source.of("a", text)
        if errors(source) == 0:
            assert mended(source)[0] is source or mended(source)[1]


@pytest.mark.slow
def test_fixes_never_make_a_song_worse() -> None:
    songs = fuzz.material()
    mends = 0
    for number in random.Random(3).sample(range(10**6), 400):
        source, refused = decode("a", fuzz.made(5, number, songs))
        if refused:
            continue
        after, done = mended(source)
        mends += len(done)
        assert errors(after) <= errors(source)
    assert mends > 50
