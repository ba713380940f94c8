"""Suspensions that land: each rule with a small song of its own, and all of them over songs made by chance.

Common practice, no source, unless a line says otherwise.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from arranger.harmony.model import Arrangement
from arranger.harmony.sites import kinds_for
from arranger.harmony.suspensions import offers
from arranger.harmony.taste import DEFAULT
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.key import Key
from tests.harmony import landing, songs
from tests.harmony.songs import arranged


def song_of(text: str, facts: str = "key C\ntempo 72\n") -> Song:
    song, problems = read(Source.of("landing", f"song Landing\n{facts}section A\n{text}"))
    assert song is not None, [p.message for p in problems]
    return song


def offered(text: str, facts: str = "key C\ntempo 72\n") -> dict[tuple[int, str], set[str]]:
    """What is offered on each chord by its bar and name: `4 open`, `2 at 2` (quarters after its beat)."""
    song = song_of(text, facts)
    timeline = songs.unrolled(song)
    found: dict[tuple[int, str], set[str]] = {}
    for part in timeline.printed:
        for one in part:
            if one.written is None:
                continue
            here = found.setdefault((one.bar, str(one.chord)), set())
            for offer in offers(song, timeline, DEFAULT):
                if offer.unknown == one.unknown:
                    after = "open" if offer.resolve_after is None else f"at {offer.resolve_after}"
                    here.add(f"{offer.kind[-1]} {after}")
    return found


def part(text: str, facts: str = "key C\ntempo 72\n") -> Arrangement:
    found, _ = arranged(song_of(text, facts), landing.EAGER)
    assert found is not None
    return found


# Cadences


def test_the_four_of_v_resolves_before_i() -> None:
    found = offered("| C | F | G | C |\n| F | C | Am | Dm |\n")
    assert found[3, "G"] == {"4 at 2"}  # and no 2


@pytest.mark.parametrize("five", ["G7", "G/D", "G7/C", "F/G", "G7sus4"])
def test_on_the_i_of_a_cadence_only_what_resolves_by_its_half(five: str) -> None:
    found = offered(f"| F | Am | {five} | C |\n| F | Dm | Am | F |\n| Dm | F |\n")
    assert found[4, "C"] == {"2 at 2", "4 at 2"}


def test_after_i_over_its_fifth_too() -> None:
    found = offered("| F | C/G | G | C |\n| F | Dm | Am | F |\n")
    assert found[4, "C"] == {"2 at 2", "4 at 2"}
    assert found[2, "C/G"] == set()


def test_a_waltz_s_last_bar_has_no_time_before_its_half() -> None:
    found = offered("| F | Am | G | C |\n| F | Dm | Am | F |\n", "key C\nmeter 3/4\ntempo 72\n")
    assert found[4, "C"] == set()
    assert found[6, "Dm"] == {"2 at 2", "2 open", "4 at 2", "4 open"}


def test_i_elsewhere_may_keep_a_two_but_no_four() -> None:
    found = offered("| F | C | Am | F |\n| Dm | Am | F | Am |\n")
    assert found[2, "C"] == {"2 at 2", "2 open", "4 at 2"}


def test_a_four_on_a_minor_i_resolves() -> None:
    found = offered("| F | Am | F | G |\n| F | G | Dm | F |\n", "key Am\ntempo 72\n")
    assert found[2, "Am"] == {"4 at 2"}


def test_the_four_of_a_half_cadence_resolves_in_its_line() -> None:
    found = offered("| C | F | Am | G |\n| F | Am | Dm | F |\n")
    assert found[4, "G"] == {"4 at 2"}


def test_a_chord_that_runs_on_into_the_next_line_would_resolve_too_late() -> None:
    found = offered("| C | F | Am | G |\n| / | Am | Dm | F |\n")
    assert found[4, "G"] == set()
    in_its_line = offered("| C | F | G | / |\n| F | Am | Dm | F |\n")
    assert in_its_line[3, "G"] == {"4 at 4"}


def test_the_end_of_an_ending_is_the_end_of_a_line() -> None:
    found = offered("|: F | Am |1. G | C :|2. G | Am ||\n| F | Dm |\n")
    assert found[4, "C"] == {"2 at 2", "4 at 2"}


# Over a given tune


@pytest.mark.parametrize(
    ("tune", "four"),
    [
        ("D5 / D5 /", True),
        ("D5 / B4 /", True),  # the third at the resolution
        ("D5 / D5 B4", True),  # or later
        ("B4 / D5 /", False),
        ("D5 B4 D5 /", False),
        ("(D5 B4) D5 D5 /", False),  # however short
        ("(D5 D5 D5 B4) D5 D5 /", False),
    ],
)
def test_no_four_while_the_tune_sounds_the_third(tune: str, four: bool) -> None:
    found = offered(f"| C | F | Am | G |\ntune | C5 | C5 | C5 | {tune} |\n| F | C |\n")
    assert ("4 at 2" in found[4, "G"]) is four


def test_a_third_sung_at_the_resolution_speaks_for_it() -> None:
    """A with 4, then A, under D5 and C#5."""
    merits = []
    for tune in ("D5 / C#5 /", "D5 / E5 /"):
        song = song_of(f"| D | G | Bm | A |\ntune | D5 | D5 | D5 | {tune} |\n| G | Bm |\n", "key D\ntempo 72\n")
        timeline = songs.unrolled(song)
        five = timeline.printed[0][3].unknown
        merits += [o.merit for o in offers(song, timeline, DEFAULT) if (o.unknown, o.kind) == (five, "sus4")]
    assert merits[0] - merits[1] == DEFAULT.sus_third_sung < 0


def test_a_pushed_chord_is_heard_early() -> None:
    held = "| C | F | Am | {} |\ntune | C5 | C5 | C5 / / (C5 B4) | D5 |\n| F | C |\n"
    assert "4 at 2" in offered(held.format("G"))[4, "G"]
    assert "4 at 2" not in offered(held.format("<G"))[4, "G"]


def test_a_bar_that_is_repeated_has_its_own_tune() -> None:
    text = "| C | F Dm | % | C |\ntune | C5 | C5 D5 | {} | C5 |\n"
    assert "4 at 1" in offered(text.format("C5 D5"))[2, "Dm"]
    assert "4 at 1" not in offered(text.format("C5 F5"))[2, "Dm"]


def test_a_bar_of_words_without_its_tune_is_a_tune_unknown() -> None:
    text = "| C | F | Am | G |\nsing | la | la | la | la |\ntune | C5 | C5 | C5 | {} |\n| F | Dm |\n"
    assert "4 at 2" in offered(text.format("D5"))[4, "G"]
    assert "4 at 2" not in offered(text.format(""))[4, "G"]


# Short notes that are repeated


@pytest.mark.parametrize(
    ("meter", "tune", "two"),
    [
        ("4/4", "C5 (G#4 C5) C5 /", True),  # half a beat in passing
        ("4/4", "(C5 G#4) (G#4 C5) C5 /", False),  # two halves are a beat
        ("4/4", "(C5 G#4) (C5 G#4) C5 /", False),
        ("4/4", "C5 / (G#4 C5) G#4", True),  # resolved by then
        ("2/2", "(G#4 C5 C5 C5) C5", True),
        ("2/2", "(G#4 G#4) C5", False),  # a half is the beat that is felt
    ],
)
def test_short_notes_add_up_to_a_felt_beat(meter: str, tune: str, two: bool) -> None:
    tempo = "half 40" if meter == "2/2" else "60"
    text = f"| C | Am | F | Am |\ntune | C5 | C5 | {tune} | C5 |\n| Dm | C |\n"
    found = offered(text, f"key C\nmeter {meter}\ntempo {tempo}\n")
    assert ("2 at 2" in found[3, "F"]) is two


# Without a tune


@pytest.mark.parametrize(
    ("chord", "sung", "rested"),
    [
        ("G", set(), {"4 at 2"}),
        ("G7", set(), {"4 at 2"}),
        ("F", {"2 at 2", "2 open"}, {"2 at 2", "2 open"}),
        ("Dm", {"4 at 2", "4 open"}, {"2 at 2", "2 open", "4 at 2", "4 open"}),
        ("Am", {"4 at 2", "4 open"}, {"2 at 2", "2 open", "4 at 2", "4 open"}),
    ],
)
def test_while_somebody_sings_no_four_over_major_and_no_two_over_minor(
    chord: str, sung: set[str], rested: set[str]
) -> None:
    text = f"| C | Em | Em7 | {chord} |\nsing | la la la | la la la | la la la | {{}} |\n| Em7 | Em | C | Em7 |\n"
    assert offered(text.format("one two three"))[4, chord] == sung
    assert offered(text.format(""))[4, chord] == rested


def test_what_resolves_before_the_words_come_is_offered() -> None:
    text = "| C | Am | G | / |\nsing | la la | la la | {} | {} |\n| F | Am |\n"
    assert "4 at 4" in offered(text.format("", "home we go"))[3, "G"]
    assert "4 at 4" not in offered(text.format("home we go", ""))[3, "G"]


# Chromatic thirds


@pytest.mark.parametrize("symbol", ["D", "D7", "E", "E7", "A", "A7", "Fm"])
def test_a_chromatic_third_stays(symbol: str) -> None:
    printed = songs.unrolled(songs.one("C", symbol)).printed[0][0]
    assert kinds_for(Key.parse("C"), printed) == () == kinds_for(Key.parse("C"), printed, tune=True)


def test_the_four_of_v_in_minor_resolves_on_to_the_leading_note() -> None:
    found = offered("| Am | Dm | E | F |\n| Dm | Am |\n", "key Am\ntempo 72\n")
    assert found[3, "E"] == {"4 at 2"}


# How long


def test_an_open_one_lasts_a_bar_at_most() -> None:
    found = offered("| C | F | / | Am |\n| Dm | Am | F / / / | / / C / |\n")
    assert found[2, "F"] == {"2 at 4"}
    one_bar = offered("| C | F | Am | Dm |\n")
    assert one_bar[2, "F"] == {"2 at 2", "2 open"}


HYMN = "| C F | Dm Am | F Dm | Am |\ntune | C5 A4 | A4 E5 | C5 A4 | E5 |\n"


def test_in_a_hymn_only_those_that_resolve() -> None:
    found = offered(HYMN)
    assert any(found.values())
    assert not any("open" in each for some in found.values() for each in some)


def test_slower_chords_or_no_tune_are_no_hymn() -> None:
    slow = "| C | F | Dm | Am |\ntune | C5 | C5 | A4 | E5 |\n| F | Dm |\ntune | C5 | D5 |\n"
    assert any("open" in each for some in offered(slow).values() for each in some)
    blind = HYMN.splitlines()[0] + "\n"
    assert any("open" in each for some in offered(blind).values() for each in some)


# What the guitarist is told


@pytest.mark.parametrize("bars", ["| F | C | C/G | C |", "| F | C | C/E | F |", "| F | C/E | C | F |"])
def test_nothing_on_a_chord_that_the_song_stays_on(bars: str) -> None:
    found = offered(f"| Am | Dm |\n{bars}\n| F | Am |\n")
    assert [some for (_, chord), some in found.items() if chord.startswith("C")] == [set()] * bars.count("C")


def test_the_guitarist_is_told_of_a_long_four_only() -> None:
    def told(bars: str, band: str) -> dict[str, bool]:
        song = song_of(f"{bars}\n", f"key C\ntempo 72\nband {band}\n")
        timeline = songs.unrolled(song)
        five = next(p.unknown for p in timeline.printed[0] if p.kind == "chord" and str(p.chord) == "G")
        fours = [o for o in offers(song, timeline, DEFAULT) if (o.unknown, o.kind) == (five, "sus4")]
        return {"open" if o.resolve_after is None else str(o.resolve_after): o.for_all for o in fours}

    short, long = "| C | F | G | F | Am |", "| C | F | G | / | / | F | Am |"
    assert told(short, "bass, guitar") == {"2": False, "open": True}  # two beats against a third are soon over
    assert told(long, "bass, guitar") == {"6": True}
    assert told(short, "bass, guitar, drums") == {"2": False, "open": True}
    assert told(short, "bass guitar, drums") == {"2": False, "open": False}
    assert told(long, "bass, fiddle") == {"6": False}


def test_the_song_s_own_chord_stays() -> None:
    found = part("| C | F | Dm | Am | F | G | Am |\n")
    taken = [c for c in found.sections[0].chords if c.suspension is not None]
    assert taken
    for one in taken:
        assert one.written is not None and one.written.chord == one.chord
        assert one.chord is not None and one.chord.member_on(3) is not None


# All of them


@pytest.mark.slow
@pytest.mark.parametrize("hundred", [0, 1])
def test_no_suspension_is_against_the_rules(hundred: int) -> None:
    kinds, faults = landing.run(1, range(100 * hundred, 100 * (hundred + 1)))
    assert faults == []
    assert kinds.total() > 200 and {"sus4 resolves", "sus2 held over", "sus2 left"} <= set(kinds)


SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.name)
@pytest.mark.parametrize("taste", [DEFAULT, landing.EAGER], ids=["as suggested", "all that may be"])
def test_nor_in_the_samples(path: Path, taste: object) -> None:
    song, _ = read(Source.of(path.name, path.read_text("utf-8")))
    assert song is not None
    found, _ = arranged(song, taste)  # type: ignore[arg-type]
    assert found is not None
    some = list(landing.suspensions_of(found))
    assert [(rule, one.name) for one in some for rule in landing.broken(one)] == []
    assert some or taste is DEFAULT or path.stem == "evening bell.song"  # a hymn of quarters: no time for any
