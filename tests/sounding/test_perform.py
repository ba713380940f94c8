"""How a part sounds: values counted by hand from the rules, and listening by numbers."""

from __future__ import annotations

import statistics
from fractions import Fraction
from itertools import pairwise

import pytest

from arranger.song.model import Dynamic, Facts
from arranger.sounding.loudness import VELOCITIES, hairpins
from arranger.sounding.model import Performance, SoundingNote
from arranger.sounding.passes import Pass, passes
from arranger.sounding.perform import perform
from arranger.theory.key import Key
from tests.sounding.listening import SONGS, faults, listen
from tests.sounding.songs import SAMPLES, all_songs, arranged

HEAD = "song Test\nkey C\nmeter 4/4\nsuspensions off\noctaves off\n"
MEDIAN_OF_VERSES, MEDIAN_OF_REFRAINS = 77, 85  # POP909 (Wang et al., ISMIR 2020), medians of 813 songs


def performed(text: str, **how: object) -> Performance:
    return perform(arranged(HEAD + text), **how)  # type: ignore[arg-type]


def of(performance: Performance, part: str) -> list[SoundingNote]:
    return [note for note in performance.notes if note.part == part]


def test_nothing_hangs_and_nothing_clicks() -> None:
    notes = 0
    for heard in listen(all_songs(SONGS // 10)):
        assert not heard.faults, (heard.name, heard.faults[:3])
        notes += heard.notes
    assert notes > 50_000


def test_the_listening_hears_faults() -> None:
    performance = performed("tempo 60\nband bass\nsection A\nplay held\n| C |")
    note = performance.notes[0]
    wrong = (
        SoundingNote(note.part, note.pitch, Fraction(5), Fraction(4), 64, None, 0),
        SoundingNote(note.part, note.pitch, Fraction(0), Fraction(1, 100), 64, None, 0),
        SoundingNote(note.part, note.pitch, Fraction(1), Fraction(1), 200, None, 0),
    )
    for one, what in zip(wrong, ("hangs", "is heard for", "velocity"), strict=True):
        found = list(faults(_with(performance, one)))
        assert any(what in fault for fault in found), found
    assert any("while" in fault for fault in faults(_with(performance, wrong[2])))


def _with(performance: Performance, note: SoundingNote) -> Performance:
    return Performance(
        "", (*performance.notes, note), performance.length, performance.tempi, performance.meters, performance.keys
    )


# --- time ----------------------------------------------------------------------------------------------------------


def test_swing_is_two_to_one() -> None:
    text = "tempo 60\nfeel swing\nband bass\nsection A\nplay eighths\n| C |"
    starts = sorted({note.start for note in of(performed(text), "right")})
    assert starts == [beat + into for beat in range(4) for into in (Fraction(0), Fraction(2, 3))]


def test_a_push_in_swing_is_the_short_note_of_the_beat() -> None:
    text = "tempo 60\nfeel swing\nband bass\nsection A\nplay held\n| C / / <F |"
    assert [note.start for note in of(performed(text), "left")] == [0, Fraction(8, 3)]


def test_triplets_in_swing_are_as_written() -> None:
    text = "tempo 60\nfeel swing\nsection A\nplay held\n| C |\nhook | (D5 E5 F5) rest rest rest |"
    assert [note.start for note in of(performed(text), "octaves")] == [0, Fraction(1, 3), Fraction(2, 3)]


def test_a_fermata_lasts_as_long_again_by_a_bar_at_most() -> None:
    """By arithmetic: 4 s as written and 4 s more; eight beats, of which the last four are held, 4 s and 8 s."""
    one = performed("tempo 60\nsection A\nplay held\n| C hold |")
    two = performed("tempo 60\nsection A\nplay held\n| C hold | / |")
    assert (one.seconds(one.length), two.seconds(two.length)) == (8, 12)


def test_rit_goes_from_beat_to_beat() -> None:
    text = "tempo 80\nsection A\nplay held\n| C |\nsection B\ntempo rit to 60\nplay held\n| F |\nsection C\n| C |"
    speeds = [(change.at, change.quarters_a_minute) for change in performed(text).tempi]
    assert speeds == [(0, 80), (4, 75), (5, 70), (6, 65), (7, 60), (8, 80)]


@pytest.mark.parametrize(("tempo", "free"), [("tempo free", True), ("", True), ("tempo dotted 60", False)])
def test_a_song_without_tempo_sounds_at_80(tempo: str, free: bool) -> None:
    performance = performed(f"{tempo}\nsection A\n| C |")
    assert performance.free == free
    assert performance.tempi[0].quarters_a_minute == (80 if free else 90)


def test_slower_is_a_share_of_the_tempo() -> None:
    performance = performed("tempo 100\nsection A\n| C |", share=Fraction(4, 5))
    assert [change.quarters_a_minute for change in performance.tempi] == [80]


def test_a_bar_is_counted_before_the_song_and_what_its_first_bar_is_short_of() -> None:
    assert performed("tempo 60\nsection A\n| C |", count_in=True).count_in == (-4, -3, -2, -1)
    short = performed("tempo 60\nsection A\n| short 1/4 C | F |", count_in=True)
    assert short.count_in == (-7, -6, -5, -4, -3, -2, -1)
    assert [str(change.meter) for change in short.meters] == ["1/4", "4/4"]


def test_a_roll_goes_up_from_the_lowest_key() -> None:
    notes = performed("tempo 60\nband bass\nsection A\nplay held\n| C roll | F |").notes
    first = sorted((n for n in notes if n.start < 2), key=lambda n: n.pitch.midi)
    assert first[0].part == "left" and first[0].start == 0
    apart = [two.start - one.start for one, two in pairwise(first)]
    assert len(first) > 3 and {float(a) for a in apart} <= {19 / 480, 20 / 480}  # 40 ms at 60, on the grid
    assert {note.end for note in first} == {4}


# --- loudness ------------------------------------------------------------------------------------------------------


def _pins(*dynamics: str) -> list[tuple[int, int]]:
    levels = {text: (None if text.startswith(("cresc", "dim")) else text.split(" ")[0]) for text in dynamics}
    facts = [Facts(Key.parse("C"), dynamic=Dynamic(text, levels[text]) if text else None) for text in dynamics]
    made = [Pass(0, 0, (n, n + 1), Fraction(4 * n), Fraction(4 * n + 4), fact) for n, fact in enumerate(facts)]
    return [(pin.before, pin.after) for pin in hairpins(made)]


def test_dynamics_are_velocities() -> None:
    assert _pins("pp", "p to f", "", "cresc", "dim", "sfz") == [
        (40, 40), (52, 90), (90, 90), (90, 118), (118, 90), (90, 90),
    ]  # fmt: skip
    assert list(VELOCITIES.values()) == sorted(VELOCITIES.values()) and _pins("") == [(76, 76)]


def test_the_top_note_is_louder_and_the_left_hand_leaves_room_for_a_bass() -> None:
    text = "dynamic mf\ntempo 60\nband bass\nsection A\nplay held\n| C | F accent |"
    notes = performed(text).notes
    for bar, more in ((0, 0), (1, 16)):
        right = sorted((n for n in notes if n.part == "right" and n.bar == bar), key=lambda n: n.pitch.midi)
        assert [n.velocity for n in right] == [76 + more] * (len(right) - 1) + [80 + more]
        assert {n.velocity for n in notes if n.part == "left" and n.bar == bar} == {72 + more}


def test_a_hairpin_is_linear() -> None:
    text = "tempo 60\nsection A\ndynamic p to f\nplay held\n| C | F |"
    assert [n.velocity for n in of(performed(text), "left")][::2] == [52, 71]  # 52 + (90 - 52) / 2


def test_samples_are_near_the_medians_of_pianists_in_open_data() -> None:
    """Within a level of pp to ff (12): the song says how loud, so a few samples need not have the same medians."""
    verses, refrains = [], []
    for path in SAMPLES:
        arrangement = arranged(path.read_text(encoding="utf-8"))
        performance = perform(arrangement)
        for one in passes(arrangement):
            name = arrangement.song.sections[one.section].name.lower()
            here = [n.velocity for n in performance.notes if one.bars[0] <= n.bar < one.bars[1]]
            if here and "verse" in name:
                verses += here
            elif here and ("chorus" in name or "refrain" in name):
                refrains += here
    assert abs(statistics.median(verses) - MEDIAN_OF_VERSES) <= 12
    assert abs(statistics.median(refrains) - MEDIAN_OF_REFRAINS) <= 12
    assert statistics.median(refrains) > statistics.median(verses)


# --- pedal, sounds, words, maps --------------------------------------------------------------------------------------


def ways(performance: Performance) -> list[tuple[float, str]]:
    return [(round(float(way.at), 2), "down" if way.down else "up") for way in performance.pedal]


def test_the_pedal_changes_with_each_chord_and_is_up_in_a_silence() -> None:
    found = ways(performed("tempo 60\nsection A\nplay held\n| C | F | N.C. | G | G stop |"))
    assert found == [(0.08, "down"), (4, "up"), (4.08, "down"), (8, "up"), (12.08, "down"), (16, "up")]


def test_the_pedal_changes_on_the_first_note_that_the_chord_does_not_have() -> None:
    text = "tempo 60\nband guitar\nsection A\nplay held\n| C | F |\noctave | rest rest G4 A4 | rest |"
    assert (3, "up") in ways(performed(text)) and (2, "up") not in ways(performed(text))


def test_under_a_layer_the_pedal_changes_where_the_chord_does() -> None:
    text = "tempo 60\nsound {}\nsection A\nplay held\n| C | C | F |"
    layered, alone = (ways(performed(text.format(sound))) for sound in ("piano + pad", "piano"))
    assert [at for at, way in layered if way == "up"] == [8, 12]
    assert [at for at, way in alone if way == "up"] == [4, 8, 12]


def test_a_layer_sounds_what_the_hands_play() -> None:
    performance = performed("tempo 60\nsound piano + pad\nsection A\nplay held\n| C | F |")
    played = {(n.start, n.pitch.midi) for n in performance.notes if n.part in ("left", "right")}
    assert played == {(n.start, n.pitch.midi) for n in of(performance, "pad")}
    assert {(s.part, s.sound) for s in performance.sounds} == {
        ("right", "piano"), ("left", "piano"), ("octaves", "piano"), ("pad", "pad"),
    }  # fmt: skip


def test_a_section_goes_on_with_the_sound_before_it() -> None:
    text = "tempo 60\nsection A\nsound organ\n| C |\nsection B\n| F |\nsection C\nsound pad / piano split C4\n| C |"
    found = [(int(s.at), s.part, s.sound) for s in performed(text).sounds]
    assert found[:4] == [(0, part, "organ") for part in ("right", "left", "octaves", "pad")]
    assert found[4:] == [(8, "right", "piano"), (8, "left", "pad"), (8, "octaves", "piano"), (8, "pad", "pad")]


def test_each_time_has_its_own_words() -> None:
    """Four beats: each chord has its word; two words to one chord of two beats are a beat apart."""
    rows = "|: C / G / | F :|\nsing | up hin-*aus | a- |\nsing | down lan*tern | _ gain |\n"
    words = [(word.at, word.text) for word in performed(f"tempo 60\nsection A\n{rows}").words]
    assert words == [
        (0, "up"), (1, "hin-"), (2, "aus"), (4, "a-"), (8, "down"), (9, "lan-"), (10, "tern"), (14, "gain"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "tune", "found"),
    [
        # As many syllables as notes: each has its own, whichever chord it stands under.
        ("out on * the wa-ter", "(C4 D4) E4 F4 G4", [(0, "out"), (0.5, "on"), (1, "the"), (2, "wa-"), (3, "ter")]),
        # A held syllable keeps its note; after a rest the words go on.
        ("sail _ * home", "C4 D4 rest E4", [(0, "sail"), (3, "home")]),
        # A word that is not parted has a note for each of its vowels, where that comes out even.
        ("lanterns on * home", "(C4 D4) E4 F4 /", [(0, "lanterns"), (1, "on"), (2, "home")]),
        # More syllables than notes share the last one; more notes than vowels go to the last syllable.
        ("one by one * home", "C4 D4 E4 (F4 G4)", [(0, "one"), (1, "by"), (1.5, "one"), (2, "home")]),
    ],
)
def test_words_are_sung_on_the_notes_of_the_tune(words: str, tune: str, found: list[tuple[float, str]]) -> None:
    rows = f"| C / G / |\nsing | {words} |\ntune | {tune} |\n"
    performance = performed(f"tempo 60\nsection A\n{rows}")
    assert [(float(word.at), word.text) for word in performance.words] == found


def test_words_of_a_tune_swing_with_it() -> None:
    rows = "| C |\nsing | out on |\ntune | (C4 D4) / / / |\n"
    performance = performed(f"tempo 60\nfeel swing\nsection A\n{rows}")
    assert [word.at for word in performance.words] == [0, Fraction(2, 3)]


def test_maps_follow_the_roadmap() -> None:
    text = "tempo 60\nroadmap B, A\nsection A\n| C |\nsection B\nkey D\nmeter 3/4\ntempo 90\n| D |"
    performance = performed(text)
    assert [(m.at, m.text, m.step) for m in performance.markers] == [(0, "B", 0), (3, "A", 1)]
    assert [(m.at, str(m.meter)) for m in performance.meters] == [(0, "3/4"), (3, "4/4")]
    assert [(k.at, str(k.key)) for k in performance.keys] == [(0, "D"), (3, "C")]
    assert [(t.at, t.quarters_a_minute) for t in performance.tempi] == [(0, 90), (3, 60)]
    assert performance.length == 7
