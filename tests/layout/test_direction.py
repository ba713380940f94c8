"""Which way text runs, against the examples of the Unicode bidirectional algorithm and plain cases."""

from __future__ import annotations

import random
import unicodedata

import pytest
from bidi import get_display
from hypothesis import given
from hypothesis import strategies as st

from arranger.layout.direction import joins, runs_left, stretches, turned_round


def shown(text: str) -> str:
    """Give what a reader sees from left to right; capitals stand for Hebrew letters."""
    hebrew = text.translate({ord("A") + number: chr(0x05D0 + number) for number in range(22)})
    back = {0x05D0 + number: chr(ord("A") + number) for number in range(22)}
    parts = (turned_round(part.text) if part.leftward else part.text for part in stretches(hebrew))
    return "".join(parts).translate(back)


@pytest.mark.parametrize(
    ("written", "seen"),
    [
        ("plain", "plain"),
        ("ABC", "CBA"),
        ("ABC DEF", "FED CBA"),
        ("car ABC def", "car CBA def"),  # a rightward text with a leftward word
        ("ABC car DEF", "FED car CBA"),  # a leftward text with a rightward word
        ("ABC 12 DEF", "FED 12 CBA"),  # numbers run to the right in leftward text
        ("he said ABC 12", "he said 12 CBA"),  # W2-W7, N1: the blank lies between leftward and number
        ("ABC 1,5", "1,5 CBA"),  # a comma between figures belongs to the number (W4)
        ("ABC (DEF)", "(FED) CBA"),  # brackets are mirrored (L4)
        ("ABC!", "!CBA"),
        ("a-ABC", "a-CBA"),
        ("ABC am 12 DE", "ED am 12 CBA"),  # a number beside Latin goes with it (W7)
        ("ha (AB) CD CD", "ha (BA) DC DC"),  # brackets go with the whole, and not with what they enclose (N0)
        ("AB (a) 「C」", "「C」 (a) BA"),
        ("ABC-", "-CBA"),  # a word that goes on in the next bar has its hyphen on the left
    ],
)
def test_texts_of_two_directions(written: str, seen: str) -> None:
    assert shown(written) == seen


def test_the_order_is_that_of_another_implementation() -> None:
    """2,000 lines in the order that python-bidi gives, which neither mirrors brackets nor keeps marks at letters."""
    pieces = [
        *"abA  שלה مرح 127٣(),.-[]{}!?'%#+/:€$«»「」",
        "שלום",
        "Am",
        "12",
        "\u0301",
        "ָ",
        "\u200d",
        "\u200f",
        "\u200e",
    ]
    chance = random.Random(3)
    for _ in range(2000):
        line = "".join(chance.choice(pieces) for _ in range(chance.randint(1, 24)))
        ours = "".join(part.text[::-1] if part.leftward else part.text for part in stretches(line))
        shown_there = get_display(line)
        assert ours.replace("\u200d", "") == shown_there.replace("\u200d", ""), repr(line)


@given(st.text("abAB שלם مرح 12(),.-", max_size=30))
def test_every_character_is_shown_exactly_once(text: str) -> None:
    assert sorted("".join(part.text for part in stretches(text))) == sorted(text)
    for part in stretches(text):
        strong = {unicodedata.bidirectional(character) for character in part.text} & {"L", "R", "AL"}
        assert strong <= ({"R", "AL"} if part.leftward else {"L"})


def test_marks_stay_with_their_letters_when_turned_round() -> None:
    assert turned_round("שָׁלוֹם") == "םוֹלשָׁ"


def test_scripts_whose_letters_join() -> None:
    assert joins("م") and joins("क") and not joins("ש") and not joins("漢") and not joins("é")
    assert runs_left("a ש") and not runs_left("漢字") and not runs_left("abc")
