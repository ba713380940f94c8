"""The house style: the same Song before and after, the same text when done twice, words and remarks to the letter."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arranger.song.read import decode, read
from arranger.song.tidy import tidied
from arranger.text.source import Source
from tests import fuzz

GOOD = [text for text in fuzz.material() if read(Source.of("a", text))[0] is not None]


def check(text: str) -> str:
    source = Source.typed("a", text)
    before, _ = read(Source.of("a", text))
    assert before is not None
    tidy = tidied(source)
    after, said = read(Source.of("a", tidy))
    assert after == before, said
    assert tidied(Source.typed("a", tidy)) == tidy
    assert letters(tidy) == letters(source.text)
    return tidy


def letters(text: str) -> list[str]:
    """Give the letters of a text in order; capitals aside, as the words that begin lines lose theirs."""
    return [c for c in text.casefold() if c.isalpha()]


def remarks(text: str) -> list[str]:
    return [line.rstrip() for line in Source.typed("a", text).text.split("\n") if line.lstrip().startswith("#")]


@pytest.mark.parametrize("text", GOOD)
def test_whole_songs_stay_what_they_are(text: str) -> None:
    assert remarks(check(text)) == remarks(text)


@pytest.mark.slow
def test_songs_made_by_chance_stay_what_they_are() -> None:
    done = 0
    for number in range(1200):
        chance = random.Random(number)
        text = fuzz.Maker(chance, 0.0).song()
        if chance.random() < 0.5:
            text = "\n".join(chance.choice(("", "  ", "\t")) + line for line in text.split("\n"))
        if chance.random() < 0.5:
            text = text.replace(" | ", chance.choice(("|", "  |", " |   "))).replace("\n", "\n" * chance.randint(1, 3))
        if read(Source.of("a", text))[0] is not None:
            check(text)
            done += 1
    assert done > 400


# Among them letters that NFC would make others: combining ones, U+FA19, the Greek question mark, a wide barline.
words = st.text(alphabet="aéßш日ש \u200d\u00a0'’.-_*\\|#:\u0301\u0338\ufa19\u212b\u037e｜", max_size=14)


@settings(max_examples=300, deadline=None)
@given(words, words, words)
def test_words_stay_to_the_letter(title: str, sung: str, remark: str) -> None:
    text = f"SONG {title}\nkey C\n   # {remark}\nsection A\n| C | G |\n  Sing |{sung}|x\n#{remark}\n"
    source, refused = decode("a", text.encode())
    if not refused and read(source)[0] is not None:
        assert remarks(check(text)) == remarks(text)


def test_letters_stay_as_they_are_typed() -> None:
    text = "song \ufa19\nkey C\nroadmap Ete\u0301\nsection Et\u00e9\n| C∆ | F♯º |\nsing|e\u0301\\｜|\u212b"
    assert check(text).split() == [*text.replace("|", " | ").split(), "|"]


def test_the_house_style() -> None:
    text = """

Song  Small  Boats
KEY\tD
# Mind the gap.


section Verse
  dynamic p
|:D   / / A|G:|
sing|out   on * the|wa-
octave | A3 F# | rest
# twice
  #  thrice
section Chorus
|  D7(b9  #5)|"""
    assert (
        check(text)
        == """song      Small  Boats
key       D
# Mind the gap.

section   Verse
dynamic   p
|: D / / A            | G    :|
sing | out   on * the | wa-  |
octave | A3 F#        | rest |
# twice
  #  thrice

section   Chorus
| D7(b9  #5) |
"""
    )


def test_wide_characters_and_joiners_are_counted_as_terminals_show_them() -> None:
    tidy = check("song T\nkey C\nsection A\n| C | G |\nsing | 日本 | a\u0300\u200db | \n".replace(" | \n", "\n"))
    assert tidy.endswith("| C         | G  |\nsing | 日本 | a\u0300\u200db |\n")


def test_rows_that_are_too_wide_are_not_lined_up() -> None:
    long = "la " * 60
    tidy = check(f"song T\nkey C\nsection A\n|  C |  G |\nsing |{long}| b\n")
    assert tidy.endswith(f"| C | G |\nsing | {long.strip()} | b |\n")


def test_lines_that_could_grow_too_long_are_left_alone() -> None:
    row = "|" + "C  |" * 990
    assert check(f"song T\nkey C\nsection A\n {row}\n").endswith(f"\n{row}\n")


def test_remarks_over_a_section_stay_with_it() -> None:
    tidy = check("song T\nkey C\nsection A\n| C |\n\n# loud\n# and slow\nsection B\n| G |\n")
    assert tidy.endswith("| C |\n\n# loud\n# and slow\nsection   B\n| G |\n")
