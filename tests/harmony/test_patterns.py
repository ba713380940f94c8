"""When the hands strike: the table of rhythms, strokes on chords in time, and the figures counted by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.harmony import patterns
from arranger.harmony.arrange import work_out
from arranger.harmony.measures import Figures, figures
from arranger.harmony.model import Arrangement
from arranger.harmony.patterns import ALONE, IN_TURN, JOINED, PARTS, PATTERNS, WORDS, known_manner, pattern
from arranger.harmony.strokes import TENTH_CLEAR, BarInTime, all_struck, rolled
from arranger.harmony.strokes import struck as struck_on
from arranger.song.model import COMMON, Meter
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch
from tests.harmony import arc_figures
from tests.harmony.test_arc import QUIET

RIGHT, LEFT = "Rlk", "Lbh58x"
C_MAJOR = Key(NoteName("C"))


def arranged(text: str) -> Arrangement:
    song, problems = read(Source("test", "song Test\nkey C\n" + text))
    assert song is not None and not problems, problems
    worked, problems = work_out(song, QUIET)
    assert worked is not None, problems
    return worked.arrangement


def struck(arrangement: Arrangement, hand: str) -> list[list[str]]:
    """Return the strokes of each chord as heard: `place+length:how many keys`, or the one key itself as a number."""
    found = []
    for _, strokes in all_struck(arrangement):
        own = [stroke for stroke in strokes if stroke.hand == hand]
        found.append([f"{s.at}+{s.length}:{len(s.keys) if len(s.keys) > 1 else s.keys[0]}" for s in own])
    return found


# --- the table -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("meter", "manner", "rhythm"),
    [
        (meter, manner, rhythm)
        for table in (PATTERNS, ALONE)
        for meter, own in table.items()
        for manner, rhythm in own.items()
    ],
)
def test_every_rhythm_fills_its_bar_with_its_own_hands(meter: str, manner: str, rhythm: patterns.Rhythm) -> None:
    assert manner in WORDS
    assert len(rhythm.right) == len(rhythm.left) == Fraction(meter) * 8
    assert set(rhythm.right) <= {*RIGHT, "-", "."} and set(rhythm.left) <= {*LEFT, "-", "."}
    assert rhythm.left[0] in "Lb"  # the bass comes with the chord
    assert {*RIGHT, *LEFT} == set(PARTS) and set(IN_TURN) < set(PARTS)


@pytest.mark.parametrize("joined", JOINED)
def test_meters_are_joined_from_bars_of_their_length(joined: str) -> None:
    assert sum(Fraction(bar) for bar in JOINED[joined]) == Fraction(joined)
    assert all(bar in PATTERNS for bar in JOINED[joined])


@pytest.mark.parametrize("bass_player", [True, False])
@pytest.mark.parametrize("manner", sorted(WORDS))
@pytest.mark.parametrize("unit", [1, 2, 4, 8, 16])
def test_every_manner_has_a_rhythm_in_every_meter(manner: str, unit: int, bass_player: bool) -> None:
    for beats in range(1, 17):
        meter = Meter(beats, unit)
        strokes = pattern(manner, meter, bass_player=bass_player)
        for right in (True, False):
            own = [stroke for stroke in strokes if stroke.is_right == right]
            assert own, meter
            ends = [stroke.start + stroke.length for stroke in own]
            assert all(end <= stroke.start for end, stroke in zip(ends, own[1:], strict=False)), meter
            assert ends[-1] <= meter.length
        assert any(stroke.start == 0 and not stroke.is_right for stroke in strokes)


def starts(manner: str, meter: str, *, right: bool, bass_player: bool = True) -> str:
    found = pattern(manner, Meter(*map(int, meter.split("/"))), bass_player=bass_player)
    return " ".join(str(stroke.start) for stroke in found if stroke.is_right == right)


@pytest.mark.parametrize(
    ("manner", "meter", "right", "left"),
    [
        ("held", "4/4", "0", "0"),
        ("held", "5/4", "0", "0"),
        ("halves", "4/4", "0 2", "0 2"),
        ("quarters", "4/4", "0 1 2 3", "0 1 2 3"),
        ("quarters", "2/2", "0 1 2 3", "0 1 2 3"),
        ("quarters", "3/4", "1 2", "0"),
        ("quarters", "5/4", "1 2 3 4", "0 3 4"),  # three and two
        ("quarters", "7/8", "0 1 2", "0 1 2"),  # two, two, three
        ("eighths", "7/8", "0 1/2 1 3/2 2 5/2 3", "0 1 2"),
        ("eighths", "7/16", "0 1/4 1/2 3/4 1 5/4 3/2", "0 1/2 1"),
        ("broken", "3/4", "1/2 1 3/2 2 5/2", "0"),
        ("dotted quarters", "6/8", "0 3/2", "0 3/2"),
        ("dotted halves", "12/8", "0 3", "0 3"),
        ("dotted halves", "9/8", "0", "0"),  # has none: held
    ],
)
def test_rhythms_by_meter(manner: str, meter: str, right: str, left: str) -> None:
    assert (starts(manner, meter, right=True), starts(manner, meter, right=False)) == (right, left)


def test_a_roll_where_nobody_plays_bass() -> None:
    found = pattern("broken", Meter(6, 8), bass_player=False)
    assert [s.part for s in found if not s.is_right] == ["lowest note", "fifth", "octave", "tenth", "octave", "fifth"]
    with_bass = pattern("broken", Meter(6, 8), bass_player=True)
    assert {s.part for s in with_bass} == {"left hand", "next key"}


def test_words_of_the_writer_s_own_are_held() -> None:
    assert (known_manner("Dotted  quarters"), known_manner("like rain")) == ("dotted quarters", "held")


# --- on chords, in time --------------------------------------------------------------------------------------------

PLAY = "tempo 72\nband bass\nsection A\ntexture light\nplay {}\n"


@pytest.mark.parametrize(
    ("play", "row", "expected"),
    [
        ("held", "| C |", [["0+4:3"]]),
        ("held", "| C / G / |", [["0+2:3"], ["2+2:3"]]),
        ("held", "| C | / / F / |", [["0+6:3"], ["6+2:3"]]),  # goes on over the barline
        ("like rain", "| C | C |", [["0+4:3"], ["4+4:3"]]),
        ("halves", "| C / / G |", [["0+2:3", "2+1:3"], ["3+1:3"]]),
        ("quarters", "| C / G / |", [["0+1:3", "1+1:3"], ["2+1:3", "3+1:3"]]),
        ("quarters", "| C hold |", [["0+4:3"]]),
        ("quarters", "| C stop | F |", [["0+1/2:3"], ["4+1:3", "5+1:3", "6+1:3", "7+1:3"]]),
        (
            "quarters",
            "| C / / <F | G |",
            [["0+1:3", "1+1:3", "2+1/2:3"], ["5/2+3/2:3"], ["4+1:3", "5+1:3", "6+1:3", "7+1:3"]],
        ),
        ("quarters", "| C / rest / |", [["0+1:3", "1+1:3"]]),
        ("eighths", "| C / / / |", [[f"{Fraction(n, 2)}+1/2:{2 if n % 2 else 3}" for n in range(8)]]),
    ],
)
def test_a_chord_is_struck_until_it_ends(play: str, row: str, expected: list[list[str]]) -> None:
    assert struck(arranged(PLAY.format(play) + row + "\n"), "right") == expected


def test_broken_chords_begin_anew_with_each_chord() -> None:
    found = arranged(PLAY.format("broken") + "| C / F / |\n")
    keys = [[p.midi for p in chord.right] for chord in found.sections[0].chords]
    assert struck(found, "right") == [
        [f"{at}+1/2:{key}" for at, key in zip(("1/2", "1", "3/2"), keys[0], strict=True)],
        [f"{at}+1/2:{key}" for at, key in zip(("5/2", "3", "7/2"), keys[1], strict=True)],
    ]
    assert [len(one) for one in struck(found, "left")] == [1, 1]


def test_broken_chords_go_back_from_the_top() -> None:
    low, middle, top = (p.midi for p in arranged(PLAY.format("broken") + "| C |\n").sections[0].chords[0].right)
    (found,) = struck(arranged(PLAY.format("broken") + "| C |\n"), "right")
    assert [int(one.partition(":")[2]) for one in found] == [low, middle, top, middle, low, middle, top]


def test_a_waltz_has_its_bass_on_one() -> None:
    text = "meter 3/4\n" + PLAY.format("quarters") + "| C | F / G |\n"
    assert struck(arranged(text), "right") == [["1+1:3", "2+1:3"], ["4+1:3"], ["5+1:3"]]
    assert [[s.partition(":")[0] for s in one] for one in struck(arranged(text), "left")] == [["0+3"], ["3+2"], ["5+1"]]


@pytest.mark.parametrize(
    ("play", "expected"),
    [
        ("held", [(0, 4, "kept"), (0, 2, "fourth"), (2, 2, "third")]),
        ("halves", [(0, 2, "suspended"), (2, 2, "plain")]),
        ("dotted halves", [(0, 2, "suspended"), (2, 2, "plain")]),
    ],
)
def test_a_suspension_that_resolves_strikes_its_one_key(play: str, expected: list[tuple[int, int, str]]) -> None:
    chord = arranged(PLAY.format(play) + "| G |\n").sections[0].chords[0]
    plain = tuple(p.midi for p in chord.right)
    third = next(key for key in plain if key % 12 == 11)
    suspended = tuple(sorted(p for p in (*(k for k in plain if k != third), third + 1)))
    chord = replace(chord, right=tuple(Pitch.at(k, C_MAJOR.spelled(k % 12)) for k in suspended))
    bar = BarInTime(Fraction(0), Fraction(4), pattern(play, COMMON, bass_player=True), play == "held")
    keys = {
        "suspended": suspended,
        "plain": plain,
        "kept": tuple(k for k in plain if k != third),
        "fourth": (third + 1,),
        "third": (third,),
    }
    found = struck_on(chord, Fraction(0), Fraction(4), (bar,), Fraction(2))
    right = [(stroke.at, stroke.length, stroke.keys) for stroke in found if stroke.hand == "right"]
    assert sorted(right) == sorted((at, length, keys[name]) for at, length, name in expected)


def test_suspensions_of_a_part_resolve_in_time() -> None:
    """Each that resolves has its third struck where the part says that it does, whatever the manner."""
    resolved = 0
    for _, song in arc_figures.samples():
        arrangement = arc_figures.arranged(song)
        for heard, strokes in all_struck(arrangement):
            chord = arrangement.chord(heard.chord)
            sus = chord.suspension
            if sus is None or sus.resolves_to is None or sus.start is None or sus.bar != chord.bar:
                continue
            resolved += 1
            at = heard.at + (chord.written.push if chord.written else 0) + sus.start - chord.start
            own = [s for s in strokes if s.hand == "right"]
            assert all(sus.resolves_to.midi not in s.keys for s in own if s.at < at)
            assert any(sus.resolves_to.midi in s.keys for s in own if s.at >= at)
    assert resolved


def test_the_tenth_is_for_root_position_and_clear_of_the_right_hand() -> None:
    text = "meter 6/8\ntempo dotted 50\nsection A\ntexture full\n| C | C/E | F | G | Am | Dm |\n"
    for chord in arranged(text).sections[0].chords:
        low, clear = chord.left[0].midi, chord.right[0].midi - TENTH_CLEAR
        fifth, octave, tenth = (rolled(chord, which) for which in ("fifth", "octave", "tenth"))
        assert max(fifth, octave, tenth) <= clear
        assert octave == low + 12 or low + 12 > clear
        assert chord.chord is not None
        if chord.chord.bass is not None:
            assert tenth == octave
        elif low + 16 <= clear:
            assert tenth - low in (15, 16)


# --- figures, counted by hand --------------------------------------------------------------------------------------


def test_figures_of_a_small_song() -> None:
    """Two bars of halves with three keys and a bass note, two of quarters with four: 8 and 20 notes a bar."""
    text = (
        "tempo 72\nband bass\nroadmap A, B x2, A (keys out)\n"
        "section A\ntexture light\n| C | F |\nsection B\ntexture full\n| C | F |\n"
    )
    found = arranged(text)
    (a, b), whole = figures(found)
    assert (a.bars, a.notes, a.attacks, a.chords, a.keys) == (2, 16, 4, 2, 6)
    assert (b.bars, b.notes, b.attacks, b.chords, b.keys) == (4, 80, 16, 4, 16)
    assert (a.notes_a_bar, a.attacks_a_bar, a.notes_an_attack, a.right_hand) == (8, 2, 4, 3)
    assert (b.notes_a_bar, b.attacks_a_bar, b.notes_an_attack, b.right_hand) == (20, 4, 5, 4)
    keys = [p.midi for chord in found.sections[0].chords for p in (*chord.right, *chord.left)]
    assert a.mean_pitch == Fraction(sum(keys), 8)
    assert whole == a + b and (whole.bars, whole.notes) == (6, 96)


def test_visits_are_struck_as_each_is_played() -> None:
    """The third visit is in the hands of the second, but in eighths: 16 strokes of three keys under whole hands."""
    found = arranged("tempo 72\nband bass\nroadmap B x3 (light, full, wide)\nsection B\n| C |\n")
    times = [figures(found, Fraction(4 * n), Fraction(4 * n + 4))[1] for n in range(3)]
    assert [(one.bars, one.notes, one.attacks) for one in times] == [(1, 8, 2), (1, 20, 4), (1, 32, 8)]
    assert found.sections[0].visits_play == ("halves", "quarters", "eighths")


def test_what_is_never_heard_has_no_figures() -> None:
    text = "tempo 72\nroadmap A\nsection A\n| C |\nsection B\n| F |\n"
    song, _ = read(Source("test", "song Test\nkey C\n" + text))
    assert song is not None
    worked, _ = work_out(song, QUIET)
    assert worked is not None
    assert figures(worked.arrangement)[0][1] == Figures()


def test_a_short_bar_is_the_share_of_a_bar_that_it_is() -> None:
    found = arranged("tempo 72\nsection A\n| short 1/4 G | C |\n")
    assert figures(found)[1].bars == Fraction(5, 4)


def test_refrains_grow_as_pianists_let_them() -> None:
    """A tenth of the songs of `arc_figures`, with all samples; no hand under three keys from `light` on."""
    songs = [*arc_figures.samples(), *arc_figures.generated(arc_figures.SONGS // 10)]
    every = [(name, arc_figures.arranged(song)) for name, song in songs]
    found = [one for name, arrangement in every if (one := arc_figures.measured(name, arrangement)) is not None]
    assert len(found) >= 20
    assert {one.kind for one in found} == set(arc_figures.BOUNDS)
    assert sum(one.fits for one in found) >= arc_figures.SHARE * len(found), [one for one in found if not one.fits]
    assert [place for _, arrangement in every for place in arc_figures.thin_hands(arrangement)] == []
