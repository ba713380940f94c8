"""Single rules, each with the smallest song that shows it. Common practice, no source, unless a line says otherwise."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest

from arranger.harmony.dump import to_json
from arranger.harmony.gaps import gives_away
from arranger.harmony.model import Arrangement
from arranger.harmony.taste import Taste
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.key import Key
from tests.harmony import songs
from tests.harmony.songs import arranged

PLAIN = songs.TODAY._replace(suspensions=Fraction(0), octaves="none")
ALL = songs.TODAY._replace(suspensions=Fraction(1), suspensions_open_bars=0, octaves="none")
EVERY = PLAIN._replace(octaves="every")


def song_of(text: str, facts: str = "key C\ntempo 72\n") -> Song:
    song, problems = read(Source.of("rule", f"song Rule\n{facts}{text}"))
    assert song is not None, [p.message for p in problems]
    return song


def part(song: Song, taste: Taste = PLAIN, key: str | None = None) -> Arrangement:
    found, _ = arranged(song, taste, Key.parse(key) if key else None)
    assert found is not None
    return found


def suspended(found: Arrangement, section: int = 0) -> list[str]:
    return [str(c.chord) for c in found.sections[section].chords if c.suspension is not None]


def test_tacet_copies_have_no_unknowns_and_tacet_models_lend_none() -> None:
    silent = part(song_of("section A\n| C | F |\nsection B\nlike A\ntacet\n"))
    assert silent.sections[1].chords == () and len(silent.heard) == 2
    playing = part(song_of("section A\ntacet\n| C | F |\nsection B\nlike A\n"))
    assert len(playing.heard) in (0, 2)  # a copy of a tacet section plays if the reader lets it


def test_copies_too_far_apart_for_one_left_hand_are_solved_alone_and_it_is_said() -> None:
    text = "band bass\nsection A\n| C | F#dim | G |\nsection B\nlike A\nkey G\nsection C\nlike A\nkey F#\n"
    found, problems = arranged(song_of(text), PLAIN)
    assert found is not None
    assert {p.code for p in problems} == {"copy-has-own-hands"}
    assert all(38 <= c.left[0].midi <= 59 for s in found.sections for c in s.chords)


def test_equal_rows_count_each_time_they_are_printed() -> None:
    bars = "| Bb | Eb | Bb | F |\n" * 4 + "| Bb |\n"
    found = part(song_of(f"section A\n{bars}", "key Bb\ntempo 72\nband bass\n"), songs.TODAY._replace(octaves="none"))
    assert len(suspended(found)) <= 17 // 6


def test_a_tune_held_over_the_barline_still_grinds() -> None:
    text = "section A\n| C | F | C | G | C |\ntune | rest | rest | B4 / / / | / / / / | rest |\n"
    assert "G" not in suspended(part(song_of(text), ALL))


def test_a_tune_that_enters_after_a_rest_enters_on_a_plain_chord() -> None:
    text = "section A\n| C | F | C | F | C |\ntune | E4 / / / | rest | rest | F4 / / / | E4 |\n"
    found = part(song_of(text), ALL)
    assert found.sections[0].chords[3].suspension is None


@pytest.mark.parametrize(
    ("symbol", "needed"),
    [
        ("C13b9", "Db"),
        ("C13(#11)", "F#"),
        ("C9#5", "G#"),
        ("C9b5", "Gb"),
        ("Cm9b5", "Gb"),
        ("Cmaj13(#11)", "F#"),
        ("C7(b9 b13)", "Ab"),
    ],
)
def test_an_alteration_without_room_takes_a_fourth_finger(symbol: str, needed: str) -> None:
    found, problems = arranged(song_of(f"section A\n| {symbol} |\n"), PLAIN)
    assert found is not None and not problems
    right = found.sections[0].chords[0].right
    assert len(right) == 4 and needed in {str(p.name) for p in right}


@pytest.mark.parametrize(
    ("pinned", "right"),
    [
        ("G=B5DG", ["B5", "D6", "G6"]),
        ("G=BD5G", ["B4", "D5", "G5"]),
        ("G=B3D4G4", ["B3", "D4", "G4"]),
    ],
)
def test_pins_are_played_exactly(pinned: str, right: list[str]) -> None:
    found, problems = arranged(song_of(f"section A\n| {pinned} |\n"), PLAIN)
    assert found is not None and not problems
    assert [str(p) for p in found.sections[0].chords[0].right] == right


def test_pins_among_the_left_hand_s_keys_are_played_and_it_is_said() -> None:
    found, problems = arranged(song_of("section A\n| C=C2E2G2 |\n"), PLAIN)
    assert found is not None
    assert [str(p) for p in found.sections[0].chords[0].right] == ["C2", "E2", "G2"]
    assert [p.code for p in problems] == ["hands-close"]


@pytest.mark.parametrize(("bars", "expected"), [("4-4", "Am"), ("4-5", "Am Dm"), ("4-6", "Am Dm Em"), ("2-3", "G")])
def test_parts_that_begin_inside_an_ending(bars: str, expected: str) -> None:
    text = f"roadmap A bars {bars}\nsection A\n|: C |1. F :|2. G | Am || Dm | Em |\n"
    timeline = songs.unrolled(song_of(text))
    assert " ".join(str(timeline.at(h.chord).chord) for h in timeline.heard).endswith(expected)


@pytest.mark.parametrize("key", ["Db", "D", "Eb", "B", "Bb", "A", "F"])
def test_the_left_hand_s_line_moves_as_a_whole(key: str) -> None:
    song = song_of("section A\n| C | Bb | Am | G | Bb/D | Eb | F | C |\n")
    home, away = part(song), part(song, key=key)
    pairs = zip(home.sections[0].chords, away.sections[0].chords, strict=True)
    assert len({two.left[-1].midi - one.left[-1].midi for one, two in pairs}) == 1


def test_bars_are_counted_as_heard_through_changes_of_meter() -> None:
    a = songs.section("A", "Bb", ["Bb | F | Bb | Gm | Eb | Cm | Gm | Dm | Gm | Bb | Eb | Bb"], tempo=100)
    b = songs.section("B", "Bb", ["Bb | Eb | Bb | F | Bb"], songs.Meter(3, 4), tempo=100)
    found = part(songs.song([a, b]), songs.TODAY._replace(suspensions=Fraction(1), octaves="none"))
    bars, count = [], 0
    for index, section in enumerate(found.sections):
        for chord in section.chords:
            if chord.suspension is not None and chord.suspension.resolves_to is None:
                bars.append(count + chord.bar)
        count += len(found.song.sections[index].bars)
    assert all(two - one >= 4 for one, two in itertools.pairwise(bars))


def test_a_bar_under_a_pickup_is_sung() -> None:
    words = "sing | la la la la | la la la la | la la la la | |\n"
    text = f"section A\n| C | F | C | G |\n{words}section B\npickup and then I\n| C |\nsing | go |\n"
    with_pickup = part(song_of(text), ALL)
    without = part(song_of(text.replace("pickup and then I\n", "")), ALL)
    last = [a.sections[0].chords[3].suspension for a in (with_pickup, without)]
    assert last[0] is None or "singer rests" not in last[0].reason
    assert last[1] is not None and "singer rests" in last[1].reason


def test_no_fill_under_a_pickup_of_any_section_that_follows() -> None:
    text = (
        "band bass\nroadmap V, C, V, B\nsection V\n| C | G |\nsection C\n| C | F |\n"
        "section B\npickup and I\n| C | Am |\nsing | sing | on |\n"
    )
    found = part(song_of(text), songs.TODAY._replace(suspensions=Fraction(0)))
    assert all(line.notes[0].bar != 2 for line in found.sections[0].octaves)


def test_no_fill_over_the_words_of_a_model() -> None:
    words = "sing | la la la la | la la la la | la la la la | la la la la |\n"
    text = (
        "band bass\nroadmap V, C, D, V\nsection V\n| C | F |\nsing | la | la |\n"
        f"section C\n| C | F | C | G |\n{words}section D\nlike C{{}}\n"
    )
    counts = [
        len(part(song_of(text.format(without)), songs.TODAY._replace(suspensions=Fraction(0))).sections[2].octaves)
        for without in ("", " without words")
    ]
    assert counts[0] == 0 < counts[1]


@pytest.mark.parametrize(("band", "only_chord_notes"), [("drums", True), ("drums, singer", True), ("bass", False)])
def test_who_holds_the_harmony_under_a_fill(band: str, only_chord_notes: bool) -> None:
    found = part(song_of(f"band {band}\nsection A\n| C | F | G | Am | C |\n"), EVERY)
    inside = [
        {n.pitch.name for n in line.notes} <= set(found.chord(line.before).chord.names)  # type: ignore[union-attr]
        for line in found.sections[0].octaves
    ]
    assert inside and (all(inside) or not only_chord_notes)


@pytest.mark.parametrize(("band", "for_all"), [("bass, guitar", True), ("drums, bass guitar", False)])
def test_a_bass_guitar_plays_no_thirds(band: str, for_all: bool) -> None:
    found = part(song_of(f"band {band}\nsection A\n| C | F | C | G | / | / | / | C |\n"), ALL._replace(sus_for_all=0))
    told = [c.suspension.for_all for c in found.sections[0].chords if c.suspension and str(c.chord) == "G"]
    assert told == [for_all]


@pytest.mark.parametrize(
    ("cue", "given_away"),
    [
        ("guitar fill", True),
        ("keys fill", False),
        ("no keys, fiddle solo", True),
        ("guitar answers without the piano", True),
        ("keys out", True),
        ("keys alone", False),
        ("fiddle solo, keys hold", False),
        ("drums out", False),
    ],
)
def test_whom_a_cue_gives_the_gap_to(cue: str, given_away: bool) -> None:
    assert gives_away(cue) is given_away
    text = f"band bass\nroadmap V, C\nsection V\n| C | F |\nsing | la | la |\nsection C\ncue {cue}\n| C | F | G | C |\n"
    found = part(song_of(text), songs.TODAY._replace(suspensions=Fraction(0)))
    assert bool(found.sections[1].octaves) is not given_away


def test_no_fill_where_silence_follows() -> None:
    found = part(song_of("band bass\nsection A\n| C / / rest | F | C / rest rest | G | C |\n"), EVERY)
    assert {line.notes[0].bar for line in found.sections[0].octaves} == {2, 4}


@pytest.mark.parametrize(
    ("bars", "places"),
    [
        ("| C | % | % | F | C |", [(3, "2"), (4, "2")]),  # in the last bar that repeats the chord
        ("| C G | % | F | C |", [(1, "1"), (3, "2")]),  # the second half leads to F and to C again: nothing there
        ("|: C | % :| F | C |", [(3, "2")]),  # C leads to itself and to F
    ],
)
def test_a_chord_that_goes_on_is_led_out_of_at_its_end(bars: str, places: list[tuple[int, str]]) -> None:
    taste = EVERY._replace(octaves="every")
    found = part(song_of(f"band bass\ntempo 130\nsection A\n{bars}\n", "key C\n"), taste)
    assert [(line.notes[0].bar, str(line.notes[0].start)) for line in found.sections[0].octaves] == places


def test_a_repeated_bar_takes_its_fill_in_phrases_too() -> None:
    text = "band bass\nroadmap V, C, V\nsection V\n| C | F |\nsing | la | la |\nsection C\n| {} | % | % | % |\n"
    taste = songs.TODAY._replace(suspensions=Fraction(0))
    assert part(song_of(text.format("C")), taste).sections[1].octaves == ()  # it leads to itself
    found = part(song_of(text.format("G")), taste)
    assert [line.notes[-1].bar for line in found.sections[1].octaves] == [4]


def test_the_same_change_has_the_same_figure_throughout_a_section() -> None:
    text = "band bass\nsection A\n| C | F | C | F | C F | C | F | C |\n"
    lines = part(song_of(text), EVERY).sections[0].octaves
    found = part(song_of(text), EVERY)
    figures: dict[object, set[object]] = {}
    for line in lines:
        one, two = found.chord(line.before), found.chord(line.to)
        if one.length >= 4:
            figures.setdefault((one.plain, two.right), set()).add(tuple(n.pitch for n in line.notes))
    assert figures and all(len(each) == 1 for each in figures.values())


def test_a_line_before_a_swung_push_stands_on_written_eighths() -> None:
    text = "band bass\nfeel swing\nsection A\n| C | <F | C |\n"
    first = part(song_of(text, "key C\ntempo 110\n"), EVERY).sections[0].octaves[0]
    assert all((2 * note.start).denominator == 1 for note in first.notes)
    assert first.notes[-1].start + first.notes[-1].length == Fraction(7, 2)


def test_what_the_song_switches_off_is_off() -> None:
    text = "band bass\nsection A\n{}| C | F | C | G | C | F | C |\nsection B\n| C | F | C | G | C | F | C |\n"
    taste = songs.TODAY._replace(octaves="every", suspensions=Fraction(1))
    found = part(song_of(text.format("suspensions off\n")), taste)
    taken = [[c for c in section.chords if c.suspension is not None] for section in found.sections]
    assert not taken[0] and taken[1]
    found = part(song_of(text.format("octaves off\n")), taste)
    assert not found.sections[0].octaves and found.sections[1].octaves


def test_no_fill_after_a_hold_or_a_stop() -> None:
    found = part(song_of("band bass\nsection A\n| C hold | G | C stop | G | C |\n"), EVERY)
    assert {line.notes[0].bar for line in found.sections[0].octaves} == {2, 4}


def test_fills_are_spaced_over_what_is_heard() -> None:
    text = "band bass\nsection A\n| C | F |\nsection B\n| G | Am |\nsection C\n| F | G | C |\n"
    found = part(song_of(text), songs.TODAY._replace(suspensions=Fraction(0)))
    bars = sorted(2 * s + line.notes[0].bar for s, one in enumerate(found.sections) for line in one.octaves)
    assert bars and all(b - a >= 4 for a, b in itertools.pairwise(bars))


def test_two_felt_halves_take_one_note() -> None:
    found = part(song_of("band bass\nmeter 2/2\nsection A\n| C | F | C |\n", "key C\ntempo half 60\n"), EVERY)
    assert [len(line.notes) for line in found.sections[0].octaves] == [1, 1]


@pytest.mark.parametrize("bars", ["| C | 2/4 rest | 4/4 F |", "| C | 2/4 rest | F |", "| C | rest | F |"])
def test_a_whole_bar_of_rest_cuts_in_any_meter(bars: str) -> None:
    assert [h.cut for h in songs.unrolled(song_of(f"section A\n{bars}\n")).heard] == [True, True]


def test_nothing_comes_before_the_start() -> None:
    timeline = songs.unrolled(song_of("roadmap A bars 2-3, A\nsection A\n| C | <F | G |\n"))
    assert timeline.heard[0].at == 0
    assert timeline.heard[3].at == Fraction(8) + 4 - Fraction(1, 2)


def test_the_left_hand_goes_by_what_is_heard() -> None:
    song = song_of("roadmap A x9, B\nband bass\nsection A\n| E | C |\nsection B\nlike A\nkey F\n")
    assert str(part(song).sections[0].chords[0].left[0]) == "E3"


def test_a_resolution_in_the_next_bar_says_so() -> None:
    found = part(song_of("band bass\nsection A\n| C | G | / | C |\n"), ALL)
    told = [c.suspension for c in found.sections[0].chords if c.suspension and c.suspension.resolves_to]
    assert any("of bar 3" in s.reason for s in told if s.bar == 3) or not any(s.bar == 3 for s in told)
    assert any(s.bar == 3 for s in told)


def test_a_slash_after_a_repeated_bar_lengthens_that_one() -> None:
    timeline = songs.unrolled(song_of("section A\n| F | % | / G |\n"))
    assert timeline.printed[0][0].length == 4
    assert [(h.at, h.length) for h in timeline.heard] == [(0, 4), (4, 6), (10, 2)]


def test_rows_by_hand_are_single_notes_in_a_small_hand() -> None:
    song = song_of("section A\n| C | F |\noctave | rest rest C4 D4 |\n")
    assert part(song).sections[0].octaves[0].doubled
    assert not part(song, PLAIN._replace(span=9)).sections[0].octaves[0].doubled


def test_beats_in_the_data_count_the_meter_s_unit() -> None:
    data = to_json(part(song_of("meter 6/8\nsection A\n| C | F |\n", "key C\ntempo dotted 60\n")))
    assert [h["beats"] for h in data["heard"]] == ["6", "6"]
    assert [h["at"] for h in data["heard"]] == ["0", "3"]


def test_the_sounding_third_is_the_line_s_third_however_many_flats_it_takes() -> None:
    song = song_of("band bass\nsection A\n| Db | Gb | Gbm | Db/Ab |\n", "key Db\ntempo 72\n")
    found = part(song, EVERY)
    over_minor = [line for line in found.sections[0].octaves if str(found.chord(line.before).chord) == "Gbm"]
    assert over_minor and all(n.pitch.midi % 12 != 10 for line in over_minor for n in line.notes)


def test_a_chord_after_another_in_time_is_no_repetition_though_it_stands_beside_itself() -> None:
    found = part(song_of("section A\n|: C | G |1. F :|2. F | F ||\n"))
    assert [c.repeats for c in found.sections[0].chords] == [False, False, False, False, True]


def test_a_wide_pinned_hand_is_played_and_it_is_said() -> None:
    found, problems = arranged(song_of("section A\n| C=C4E4G4C5E5 |\n"), PLAIN)
    assert found is not None
    assert [str(p) for p in found.sections[0].chords[0].right] == ["C4", "E4", "G4", "C5", "E5"]
    assert [p.code for p in problems] == ["hand-wide"]


def test_a_section_in_another_key_takes_the_easier_name_of_two() -> None:
    song = song_of("section A\n| Eb |\nsection B\nlike A\nkey F\n", "key Eb\ntempo 72\n")
    found = part(song, key="B")
    assert [str(s.facts.key) for s in found.song.sections] == ["B", "Db"]
    assert str(found.sections[1].chords[0].chord) == "Db"


def test_a_pinned_hand_stays_for_the_same_chord_again():
    found, _ = arranged(song_of("section A\n| D=DEA | D | G | D |\n"), PLAIN)
    first, again, _, last = found.sections[0].chords
    assert [str(p.name) for p in first.right] == ["D", "E", "A"]
    assert again.right == first.right and again.repeats
    assert {str(p.name) for p in last.right} == {"D", "F#", "A"}


def test_a_row_that_is_never_heard_has_the_hands_of_its_equal_that_is():
    song = song_of(
        "section A\n| C | G | F | C |\n| C | G | F | C |\n", "key C\ntempo 72\nroadmap A bars 1-4, A bars 1-4\n"
    )
    chords = part(song, ALL).sections[0].chords
    assert any(chord.suspension for chord in chords[:4])
    assert [chord.right for chord in chords[4:]] == [chord.right for chord in chords[:4]]
