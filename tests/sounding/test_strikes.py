"""The notes as written: each chord's hands, and what takes their place."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

from arranger.harmony.model import Arrangement
from arranger.sounding.model import SoundingNote
from arranger.sounding.strikes import AS_WRITTEN, in_order, lead_ins_heard, written_notes
from tests.sounding.songs import all_songs, arranged

HEAD = "song Test\nkey C\nmeter 4/4\ntempo 80\nsuspensions off\noctaves off\nband bass\n"


def notes(text: str, part: str) -> list[str]:
    """Return the notes of a part as text: `start+length:pitch`."""
    return [f"{n.start}+{n.length}:{n.pitch}" for n in written_notes(arranged(HEAD + text)) if n.part == part]


def hands_fit(arrangement: Arrangement) -> list[str]:
    """Return what is wrong with the hands of the chords as they are heard, against those of the arrangement.

    Over each chord the right hand strikes all of its keys, or one after another where that is the manner, and no
    others; the left hand its own, or rolls over its lowest note.
    """
    sounding: dict[object, list[SoundingNote]] = defaultdict(list)
    by_chord = defaultdict(list)
    for heard in arrangement.heard:
        by_chord[heard.chord].append(heard)
    for note in written_notes(arrangement):
        for heard in by_chord[note.chord]:
            if heard.at <= note.start < heard.at + heard.length:
                sounding[heard].append(note)
    leading = [(bar.at + lead.start, bar.at + bar.length) for lead, bar in lead_ins_heard(arrangement)]
    wrong = []
    for heard in arrangement.heard:
        part, end = arrangement.chord(heard.chord), heard.at + heard.length
        if any(start < end and heard.at < until for start, until in leading):
            continue
        own = {*part.right, *part.plain}
        right = {n.pitch for n in sounding[heard] if n.part == "right"}
        left = {n.pitch for n in sounding[heard] if n.part == "left"}
        if not right <= own:
            wrong.append(f"{heard}: the right hand strikes {right - own}")
        lines = any(n.part == "octaves" for n in sounding[heard])
        held = all(
            bar.how.manner == "held" for bar in arrangement.bars if bar.at < end and heard.at < bar.at + bar.length
        )
        if held and not lines and right != (own if part.suspension and part.suspension.resolves_to else {*part.right}):
            wrong.append(f"{heard}: the right hand strikes {right} of {own}")
        if held and left != {*part.left}:
            wrong.append(f"{heard}: the left hand strikes {left}")
        if part.left and (not left or min(n.midi for n in left) != part.left[0].midi):
            wrong.append(f"{heard}: the bass is not struck")
    return wrong


def test_each_heard_chord_has_the_hands_of_the_arrangement() -> None:
    chords = 0
    for name, arrangement in all_songs(60):
        assert not hands_fit(arrangement), name
        chords += len(arrangement.heard)
    assert chords > 2000


def test_a_held_chord_is_struck_once_and_lasts() -> None:
    found = notes("section A\nplay held\n| C | C/E / G / |", "left")
    assert [n.split(":")[0] for n in found] == ["0+4", "4+2", "6+2"]
    assert [n.split(":")[1][0] for n in found] == ["C", "E", "G"]


def test_a_hand_that_waits_for_a_beat_does_not_strike_a_shorter_chord() -> None:
    """In 3/4 the bass is on 1 and the hand on 2 and 3: a chord on 1 alone is its bass."""
    text = "section A\nmeter 3/4\nplay quarters\n| C F G |"
    assert [n.split(":")[0] for n in notes(text, "left")] == ["0+1", "1+1", "2+1"]
    assert {n.split(":")[0] for n in notes(text, "right")} == {"1+1", "2+1"}


def test_what_leads_into_another_key_takes_the_end_of_the_chord_before_it() -> None:
    text = "song Test\nkey C\nmeter 4/4\ntempo 60\nsuspensions off\nsection A\nplay held\n| C | F | G | C |\n"
    arrangement = arranged(text + "section B\nkey D\nplay held\n| D | G |")
    ((lead_in, bar),) = lead_ins_heard(arrangement)
    start = bar.at + lead_in.start
    found = [n for n in written_notes(arrangement) if n.start == start]
    assert {n.pitch for n in found} == {*lead_in.right, *lead_in.left}
    assert all(n.end == bar.at + bar.length for n in found)
    before = [n for n in written_notes(arrangement) if bar.at <= n.start < start]
    assert before and all(n.end <= start for n in before)


def test_a_push_begins_early_and_ends_the_chord_before() -> None:
    assert [n.split(":")[0] for n in notes("section A\nplay held\n| C / / <F | F |", "left")][:2] == [
        "0+5/2",
        "5/2+3/2",
    ]


def test_stop_is_an_eighth_and_silences_stay_silent() -> None:
    text = "section A\nplay quarters\n| C stop | N.C. | rest | F hold |\nsection B\ntacet\n| G |"
    assert [n.split(":")[0] for n in notes(text, "left")] == ["0+1/2", "12+4"]
    assert {n.split(":")[0] for n in notes(text, "right")} == {"0+1/2", "12+4"}


def test_a_line_in_octaves_takes_the_right_hand_for_its_beats() -> None:
    text = "section A\nplay held\n| C | F |\noctave | rest rest D4 E4 | rest |"
    assert notes(text, "octaves") == ["2+1:D4", "2+1:D5", "3+1:E4", "3+1:E5"]
    assert {n.split(":")[0] for n in notes(text, "right")} == {"0+2", "4+4"}
    assert [n.split(":")[0] for n in notes(text, "left")] == ["0+4", "4+4"]


def test_a_hook_is_played_as_it_is_written() -> None:
    assert notes("section A\nplay held\n| C |\nhook | rest rest D5 rest |", "octaves") == ["2+1:D5"]


def test_a_line_frees_the_hand_for_a_chord_that_comes_early() -> None:
    text = "section A\nplay held\n| C | <F |\noctave | rest rest rest D4 | rest |"
    assert notes(text, "octaves") == ["3+1/2:D4", "3+1/2:D5"]


def test_a_pad_with_keys_of_its_own_holds_from_chord_to_chord() -> None:
    held = notes("section A\nplay held\nsound pad / piano split C4\n| C | Am | F | N.C. | C |", "pad")
    assert held and {n.split(":")[0] for n in held} <= {"0+12", "0+8", "8+4", "16+4"}
    assert any(n.startswith("16+4") for n in held)
    assert not any(Fraction(n.split("+")[0]) == 12 for n in held)


def test_the_order_is_that_of_the_roadmap() -> None:
    text = "roadmap B, A x2\nsection A\nplay held\n| C |\nsection B\nplay held\n| F |"
    found = [n for n in written_notes(arranged(HEAD + text)) if n.part == "left"]
    assert [n.pitch.name.letter for n in found] == ["F", "C", "C"] and [n.bar for n in found] == [0, 1, 2]


def test_the_velocity_is_not_known_yet() -> None:
    found = written_notes(arranged(HEAD + "section A\n| C |\n"))
    assert {n.velocity for n in found} == {AS_WRITTEN} and list(found) == in_order(found)


def test_in_swing_a_push_is_written_as_an_eighth() -> None:
    text = "feel swing\nsection A\nplay held\n| C / / <F stop | F |"
    assert [n.split(":")[0] for n in notes(text, "left")][:2] == ["0+5/2", "5/2+1/2"]


def test_an_eighth_gives_way_to_a_chord_that_comes_early_in_its_place() -> None:
    """In swing the push sounds a third before the beat and is written as the eighth that the pattern has there too."""
    text = "song A\nkey C\nfeel swing\nplay broken\nband bass\n\nsection V\n| C / <F / | G |\n"
    notes = written_notes(arranged(text))
    assert all(note.length > 0 for note in notes)
    early = [note for note in notes if note.start == Fraction(3, 2) and note.part == "right"]
    assert {note.chord for note in early} <= {(0, 1)}
