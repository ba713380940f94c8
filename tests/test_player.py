"""The player's settings: every value with its range, errors with their place, and a file that reads back."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arranger.player import SPANS, Player, read_player, written
from arranger.text.diagnostics import render
from arranger.text.source import Source
from arranger.text.terminal import steers
from tests.harmony import songs
from tests.harmony.songs import arranged


def read(text: str) -> tuple[Player, list[str]]:
    source = Source.of("player.toml", text)
    player, problems = read_player(source)
    return player, [render(p, source) for p in problems]


def test_an_empty_file_is_the_default_player() -> None:
    assert read("") == (Player(), [])


@pytest.mark.parametrize(
    "player",
    [
        Player(),
        Player(
            low=57,
            high=84,
            span=9,
            notes=4,
            register=3,
            suspensions=Fraction(0),
            octaves="none",
            transpose=True,
            patches=(("piano", "12"), ("piano + pad", "A3")),
            split=60,
            paper="letter",
            verses="apart",
            distance=0.9,
        ),
    ],
)
def test_what_is_written_reads_back(player: Player) -> None:
    assert read(written(player)) == (player, [])


TEXTS = st.text(st.characters(max_codepoint=0x2FFF, exclude_characters="\0"), min_size=1)


@pytest.mark.slow
@given(
    st.fixed_dictionaries(
        {
            "low": st.integers(21, 60),
            "high": st.integers(79, 108),
            "span": st.sampled_from(sorted(SPANS.values())),
            "notes": st.sampled_from((3, 4)),
            "register": st.sampled_from((-3, 0, 3)),
            "suspensions": st.fractions(0, 1, max_denominator=999_999_999),
            "octaves": st.sampled_from(("phrase", "every", "none")),
            "transpose": st.booleans(),
            "patches": st.dictionaries(TEXTS.map(str.lower), TEXTS).map(lambda patches: tuple(sorted(patches.items()))),
            "split": st.none() | st.integers(21, 108),
            "distance": st.floats(0.3, 2.0),
            "stage_dark": st.booleans(),
            "fonts": st.lists(TEXTS, max_size=3).map(tuple),
        }
    ).map(lambda chosen: Player(**chosen))
)
def test_whatever_is_written_reads_back_and_steers_nothing(player: Player) -> None:
    text = written(player)
    assert not any(steers(c) for c in text.replace("\n", ""))
    assert read(text) == (player, [])


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('[hand]\nspan = "octav"', 2, "did you mean octave?"),
        ('[hand]\nlowest = "H3"', 2, "expected a key of the keyboard"),
        ('[hand]\nlowest = "C9"', 2, "from A0 to C8"),
        ('[hand]\nhighest = "C4"', 2, "at least 19 semitones"),
        ("[hand]\nnotes = 5", 2, "expected 3 or 4 notes"),
        ("[hand]\nnotes = true", 2, "expected 3 or 4 notes"),
        ('[part]\nsuspensions = "often"', 2, "expected a share of the chords"),
        ("[part]\nsuspensions = 2", 2, "from 0 to 1"),
        ('[part]\noctaves = "evry"', 2, "did you mean every?"),
        ("[keyboard]\ntranspose = 1", 2, "expected true or false"),
        ("[keyboard]\npatches = 3", 2, "expected sounds and their patches"),
        ("[hand]\nspan = ['octave']", 2, "expected one of sixth, seventh, octave, ninth, tenth, found ['octave']"),
        ("[hand]\nregister = {}", 2, "expected one of low, middle, high, found {}"),
        ("[hand]\nnotes = 3.0", 2, "expected 3 or 4 notes"),
        ("[hand]\nlowest = 1979-05-27", 2, "expected a key of the keyboard, found 1979-05-27"),
        ("[part]\nsuspensions = true", 2, "expected a share of the chords, found true"),
        ('[part]\nsuspensions = "1e-99999999"', 2, "expected a share of the chords"),
        ("[part]\nsuspensions = 1e-9", 2, "expected a share of the chords"),
        ("[page]\ndistance = 1e-99999999", 2, "0.3 m to 2 m, found 0.0"),
        (f"[hand]\nnotes = {'9' * 5000}", 2, "a number of so many digits"),
        (f"[hand]\nnotes = {'[' * 3000}", 2, "brackets in brackets so deep"),
        (f"[hand]\nspan = [{'1, ' * 3000}]", 2, "found [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1,…"),
        pytest.param(f"a{'.a' * 9000} = 1", 0, "expected settings of 16,384 characters at most", id="dots"),
        ('[page]\nfonts = ["a\\u0000b"]', 2, "expected files of fonts"),
        ("[keyboard]\npatches = {piano = [1]}", 2, "expected a patch for piano, found [1]"),
        ('[keyboard]\npatches = {Piano = "1", piano = "2"}', 2, "expected one patch for piano, found two"),
        ('[page]\npaper = "a3"', 2, "expected one of a4, letter"),
        ('[page]\ndistance = "7 m"', 2, "0.3 m to 2 m"),
        ('[hand]\nspam = "octave"', 2, "did you mean span?"),
        ("[foot]\nspan = 1", 1, "no settings are called [foot]"),
        ("hand = 3", 1, "no setting is called hand"),
        ("[hand]\nspan = octave", 2, "invalid value"),
    ],
)
def test_errors_have_their_place(text: str, line: int, words: str) -> None:
    _, problems = read(text)
    assert len(problems) == 1
    assert problems[0].startswith(f"player.toml:{line}:" if line else "player.toml: ")
    assert words in problems[0]


def test_all_errors_come_out_together() -> None:
    _, problems = read('[hand]\nspan = "fifth"\nnotes = 9\n[page]\npaper = "x"')
    assert len(problems) == 3


@pytest.mark.parametrize("span", SPANS)
def test_hands_stay_within_the_span(span: str) -> None:
    taste = Player(span=SPANS[span], notes=4).taste()
    found, _ = arranged(songs.one("C", "C | Am7 | F#m7b5 | B7 | C5 | Gsus4 | G13 | C6/9"), taste)
    assert found is not None
    for chord in found.sections[0].chords:
        keys = [p.midi for p in chord.right]
        assert keys and keys[-1] - keys[0] <= SPANS[span]


def test_small_hands_get_single_notes_and_bare_fifths() -> None:
    taste = Player(span=SPANS["sixth"], octaves="every", suspensions=Fraction(0)).taste()
    found, _ = arranged(songs.one("C", "C5 | F | G | C"), taste)
    assert found is not None
    assert len(found.sections[0].chords[0].right) == 2
    assert found.sections[0].octaves and not any(line.doubled for line in found.sections[0].octaves)


def test_register_moves_the_hand() -> None:
    middles = []
    for register in (-3, 0, 3):
        found, _ = arranged(songs.one("C", "C | F | G | Am"), Player(register=register).taste())
        assert found is not None
        middles.append(sum(p.midi for c in found.sections[0].chords for p in c.right))
    assert middles == sorted(middles) and middles[0] < middles[2]
