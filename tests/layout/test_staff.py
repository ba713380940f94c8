"""Notes on staves: places, key signatures, accidentals, seconds, ledger lines."""

from __future__ import annotations

from itertools import pairwise

import pytest

from arranger.layout.content.model import StaffNote
from arranger.layout.content.pictures import SIGNS, printable, sign_of, signature, step_of
from arranger.layout.model import Box, Disc, Line, Shape, Text, Tie
from arranger.layout.options import HANDS, Hands, PartOptions
from arranger.layout.pages.players_part import lay_out
from arranger.layout.setting import staves as staff
from arranger.layout.setting.staves import cluster, set_notes
from arranger.pdf.fonts import metrics
from arranger.song.model import Meter
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch
from arranger.theory.qualities import QUALITIES
from tests.layout import boxes, songs
from tests.layout.square import SQUARE

TREBLE, BASS = 100.0, 160.0


def note(name: str, kind: staff.Kind = "fresh", sign: str = "", on: staff.Staff = "treble") -> StaffNote:
    return StaffNote(step_of(Pitch.parse(name)), on, sign, kind)


@pytest.mark.parametrize(
    ("key", "letters"),
    [("C", ""), ("G", "F"), ("E", "FCGD"), ("F#", "FCGDAE"), ("F", "B"), ("Ab", "BEAD"), ("Cm", "BEA"), ("F#m", "FCG")],
)
def test_key_signatures_are_those_of_the_circle_of_fifths(key: str, letters: str) -> None:
    alter = 1 if Key.parse(key).signature > 0 else -1
    assert signature(Key.parse(key)) == {NoteName(letter, 0).step: alter for letter in letters}


@pytest.mark.parametrize(("key", "steps"), [("B", "F5 C5 G5 D5 A4"), ("Db", "B4 E5 A4 D5 G4")])
def test_signatures_stand_where_they_are_engraved(key: str, steps: str) -> None:
    items = staff.set_staves(0.0, 100.0, TREBLE, BASS, Key.parse(key))
    signs = [item for item in items if isinstance(item, Text) and item.role == "accidental"]
    wanted = [step_of(Pitch.parse(name)) for name in steps.split()]
    _, _, middle = staff._SIGN_SHAPE[signs[0].text]
    found = [30 + round((TREBLE - (sign.y - middle * sign.size)) / (staff.SPACE / 2)) for sign in signs[: len(wanted)]]
    assert found == wanted and len(signs) == 2 * len(wanted)


def test_a_sign_stands_where_a_note_differs_from_the_key_or_from_its_bar() -> None:
    key = Key.parse("D")
    bar: dict[int, int] = {}
    assert [sign_of(Pitch.parse(name), key, bar) for name in ("F#4", "F4", "F#4", "G#4", "G4", "Bb4")] == [
        "",
        "♮",
        "♯",
        "♯",
        "♮",
        "♭",
    ]
    assert sign_of(Pitch.parse("F4"), Key.parse("F#"), {}) == "♮"
    assert sign_of(Pitch.parse("F##4"), Key.parse("F#"), {}) == "𝄪"


def test_middle_c_lies_on_a_ledger_line_on_both_staves() -> None:
    for on, y, place in (("treble", TREBLE, 1), ("bass", BASS, -5)):
        items = set_notes((note("C4", on=on),), 10.0, TREBLE, BASS, SQUARE)  # type: ignore[arg-type]
        (ledger,) = [item for item in items if isinstance(item, Line)]
        (head,) = [item for item in items if isinstance(item, Text)]
        assert ledger.y1 == pytest.approx(y + place * staff.SPACE)
        assert head.y - staff.HEAD_MIDDLE * staff.SIZE == pytest.approx(ledger.y1)


def test_notes_inside_a_staff_need_no_ledger_line_and_the_lowest_window_note_needs_three() -> None:
    def ledgers(name: str) -> int:
        return sum(isinstance(i, Line) for i in set_notes((note(name),), 0.0, TREBLE, BASS, SQUARE))

    assert [ledgers(name) for name in ("D4", "E4", "F5", "G5", "A5", "F3")] == [0, 0, 0, 0, 1, 3]


def test_seconds_stand_side_by_side_and_a_third_note_goes_back() -> None:
    width = staff.HEAD_WIDTH * staff.SIZE
    arranged = cluster((note("C4"), note("D4"), note("E4")))
    assert [x for _, x in arranged.heads] == [0.0, pytest.approx(width), 0.0]
    assert arranged.right == pytest.approx(2 * width)


def test_signs_that_are_near_stand_in_columns_of_their_own() -> None:
    near = cluster((note("C#4", sign="♯"), note("F#4", sign="♯")))
    far = cluster((note("C#4", sign="♯"), note("B#4", sign="♯")))
    assert len({x for _, x in near.signs}) == 2 and len({x for _, x in far.signs}) == 1
    assert near.left > far.left


def test_what_stays_has_an_open_head_and_what_moves_a_full_one() -> None:
    items = set_notes((note("C4", "held"), note("E4", "moved")), 0.0, TREBLE, BASS, SQUARE)
    heads = [item.text for item in items if isinstance(item, Text) and item.role == "note"]
    assert heads == [staff.OPEN_HEAD, staff.HEAD]


def ties_of(*notes: StaffNote) -> list[Tie]:
    return [item for item in set_notes(notes, 0.0, TREBLE, BASS, SQUARE) if isinstance(item, Tie)]


def height(name: str) -> float:
    return TREBLE - (step_of(Pitch.parse(name)) - staff.LOWEST["treble"]) * staff.SPACE / 2


def test_each_note_that_stays_has_a_tie_to_its_own_head() -> None:
    upper, lower = (
        next(t for t in ties_of(note("A4", "held"), note("C5"), note("E5", "held")) if s * t.rise > 0) for s in (1, -1)
    )
    for tie, name in ((upper, "E5"), (lower, "A4")):
        assert tie.x2 == pytest.approx(-staff.TIE_GAP)
        assert abs(tie.y - height(name)) < staff.SPACE / 2


def test_the_tie_of_a_second_ends_at_the_head_that_stays() -> None:
    (upper,) = ties_of(note("C4"), note("D4", "held"), note("F4"))
    assert upper.x2 == pytest.approx(staff.HEAD_WIDTH * staff.SIZE - staff.TIE_GAP)
    assert upper.rise > 0 and upper.x1 < 0  # over the head beside it
    (lower,) = ties_of(note("C4", "held"), note("D4"), note("F4"))
    assert lower.x2 == pytest.approx(-staff.TIE_GAP) and lower.rise < 0
    (between,) = ties_of(note("C4"), note("D4", "held"), note("E4"))
    assert between.x2 < 0  # heads on both sides: before them


def test_a_tie_goes_left_of_a_sign_in_its_way_and_is_never_dropped() -> None:
    (tie,) = ties_of(note("C4", "held"), note("Eb4", sign="♭"), note("F#4", sign="♯"))
    assert tie.x2 == pytest.approx(-staff.TIE_GAP)  # the signs are higher than it reaches
    (tie,) = ties_of(note("C#4", "held", "♯"), note("E4"))
    arranged = cluster((note("C#4", "held", "♯"), note("E4")))
    assert tie.x2 < arranged.signs[0][1] and arranged.left == pytest.approx(-tie.x1)


def test_every_chord_has_its_notes_a_hand_that_comes_again_too() -> None:
    written = songs.section("Verse", "F", [["| F6 | Dm7 | F6 F6 | Dm7 |"]])
    arrangement = songs.arranged(songs.song("Again", [written]))
    document, _ = lay_out(arrangement, metrics(), options=PartOptions(hands="staff"))
    items = [item for page in document.pages for item in page.items]
    heads = [item for item in items if isinstance(item, Text) and item.role == "note"]
    chords = arrangement.sections[0].chords
    assert len({round(item.x, 1) for item in items if isinstance(item, Text) and item.role == "chord"}) >= 5
    assert len(heads) == sum(len(chord.right) + len(chord.left) for chord in chords)
    (again,) = [chord for chord in chords if chord.repeats]
    ties = [item for item in items if isinstance(item, Tie)]
    held = [set(a.right) & set(b.right) for a, b in pairwise(chords) if b is not again]
    assert len(ties) == sum(map(len, held)) > 0


def test_repeat_dots_stand_beside_the_middle_line_of_both_staves() -> None:
    arrangement = songs.arranged(songs.song("Again", [songs.section("Verse", "F", [["|: F6 | Dm7 :|", "one | two"]])]))
    document, _ = lay_out(arrangement, metrics(), options=PartOptions(hands="staff"))
    items = document.pages[0].items
    lines = sorted(item.y1 for item in items if isinstance(item, Line) and item.role == "staff")
    assert len(lines) == 10
    wanted = [lines[i] + side * staff.SPACE / 2 for i in (2, 7) for side in (-1, 1)]
    dots = [item for item in items if isinstance(item, Disc) and item.role == "repeat"]
    for at in {dot.x for dot in dots}:
        assert sorted(dot.y for dot in dots if dot.x == at) == pytest.approx(wanted)
    assert len(dots) == 8
    heavy = [item for item in items if isinstance(item, Box) and item.role == "repeat"]
    assert [(box.y, box.y + box.height) for box in heavy] == [pytest.approx((lines[0], lines[-1]))] * 2


def test_the_staves_of_each_line_are_joined_by_a_line_and_a_brace() -> None:
    written = songs.section("Verse", "F", [["| F6 | Dm7 |"], ["| Gm7 | C7 |"]])
    document, _ = lay_out(songs.arranged(songs.song("Two", [written])), metrics(), options=PartOptions(hands="staff"))
    items = document.pages[0].items
    lines = sorted(item.y1 for item in items if isinstance(item, Line) and item.role == "staff")
    assert len(lines) == 20
    left = min(item.x1 for item in items if isinstance(item, Line) and item.role == "staff")
    ends = [pytest.approx((lines[0], lines[9])), pytest.approx((lines[10], lines[19]))]
    joins = [item for item in items if isinstance(item, Line) and item.role == "barline" and item.x1 == left]
    assert [(item.y1, item.y2) for item in joins] == ends
    braces = [item for item in items if isinstance(item, Shape) and item.role == "brace"]
    for (top, bottom), halves in zip(((lines[0], lines[9]), (lines[10], lines[19])), batched(braces), strict=True):
        points = [point for half in halves for point in half.points]
        assert (min(p.y for p in points), max(p.y for p in points)) == pytest.approx((top, bottom))
        assert max(p.x for p in points) < left
        leftmost = min(points, key=lambda point: point.x)
        assert leftmost.y == pytest.approx((top + bottom) / 2)


def batched(shapes: list[Shape]) -> list[tuple[Shape, Shape]]:
    return list(zip(shapes[::2], shapes[1::2], strict=True))


def test_the_meter_stands_on_both_staves_at_the_start_and_where_it_changes() -> None:
    sections = [
        songs.section("Verse", "D", [["| D | G |"], ["| D | A |"]]),
        songs.section("Bridge", "D", [["|: G | A :|"]], meter=Meter(12, 8)),
    ]
    document, _ = lay_out(songs.arranged(songs.song("Two", sections)), metrics(), options=PartOptions(hands="staff"))
    items = document.pages[0].items
    figures = [item for item in items if isinstance(item, Text) and item.role == "meter"]
    assert [figure.text for figure in figures] == ["4", "4"] * 2 + ["12", "8"] * 2
    lines = sorted(item.y1 for item in items if isinstance(item, Line) and item.role == "staff")
    for first, upper, lower in ((0, *figures[:2]), (5, *figures[2:4]), (20, *figures[4:6]), (25, *figures[6:])):
        high = metrics().cap_height("bold", upper.size)
        middles = [figure.y - high / 2 for figure in (upper, lower)]
        assert middles == pytest.approx([lines[first + 1], lines[first + 3]]) and high < 2 * staff.SPACE
    heavy = next(item for item in items if isinstance(item, Box) and item.role == "repeat")
    assert heavy.x > figures[4].x + metrics().width("12", "bold", figures[4].size)


def test_silence_has_rests_on_both_staves_and_a_repeated_bar_its_sign() -> None:
    written = songs.section("Verse", "D", [["| D | rest | N.C. | % | D rest |"]])
    document, _ = lay_out(songs.arranged(songs.song("Rest", [written])), metrics(), options=PartOptions(hands="staff"))
    items = document.pages[0].items
    lines = sorted(item.y1 for item in items if isinstance(item, Line) and item.role == "staff")
    bars = sorted({item.x1 for item in items if isinstance(item, Line) and item.role == "barline"})
    whole, half, repeat = "\U0001d13b", "\U0001d13c", "\U0001d10e"
    signs = [item for item in items if isinstance(item, Text) and item.text in (whole, half, repeat)]
    assert [sign.text for sign in signs] == [whole] * 4 + [repeat] * 2 + [half] * 2
    for bar, pair in zip((1, 2, 3), (signs[:2], signs[2:4], signs[4:6]), strict=True):
        for sign in pair:  # amid the bar
            middle = sign.x + metrics().width(sign.text, "music", sign.size) / 2
            assert middle == pytest.approx((bars[bar] + bars[bar + 1]) / 2, abs=0.1)
    # A whole rest hangs from the second line, half its size over its baseline; a half rest lies on the third.
    assert [sign.y - 0.5 * sign.size for sign in signs[:2]] == pytest.approx([lines[1], lines[6]])
    assert [sign.y - 0.25 * sign.size for sign in signs[6:]] == pytest.approx([lines[2], lines[7]])
    assert not any(sign.y > lines[9] for sign in signs)  # none in the chord row


def test_a_chord_that_goes_on_through_a_bar_has_a_slash_on_both_staves() -> None:
    written = songs.section("Verse", "D", [["| D | / |"]])
    document, _ = lay_out(songs.arranged(songs.song("On", [written])), metrics(), options=PartOptions(hands="staff"))
    items = document.pages[0].items
    lines = sorted(item.y1 for item in items if isinstance(item, Line) and item.role == "staff")
    slashes = [item for item in items if isinstance(item, Text) and item.text == "/"]
    heights = [(slash.y - 0.781 * slash.size, slash.y + 0.12 * slash.size) for slash in slashes]
    assert heights == [pytest.approx((lines[1], lines[3])), pytest.approx((lines[6], lines[8]))]


def test_rows_of_finger_numbers_stay_apart() -> None:
    written = songs.section("Verse", "D", [["| D E G A B C F D | E G B A |"]])
    document, _ = lay_out(songs.arranged(songs.song("Full", [written])), metrics(), options=PartOptions(hands="staff"))
    (page,) = document.pages
    assert sum(isinstance(item, Text) and item.role == "finger" for item in page.items) > 12
    assert not boxes.overlaps(page, metrics())


def test_the_same_notes_are_shown_in_all_three_ways() -> None:
    arrangement = songs.arranged(songs.lanterns())
    staves, _ = lay_out(arrangement, metrics(), options=PartOptions(hands="staff"))
    letters, _ = lay_out(arrangement, metrics(), options=PartOptions(hands="letters"))
    first = next(chord for chord in arrangement.sections[0].chords if chord.right)
    texts = [item for item in staves.pages[0].items if isinstance(item, Text)]
    heads = [item for item in texts if item.role == "note"][: len(first.right) + len(first.left)]
    assert len({item.x for item in heads}) == 1
    token = [item.text for item in letters.pages[0].items if isinstance(item, Text) and item.role == "letters"]
    assert "".join(token).startswith("·".join(str(pitch.name).replace("#", "♯") for pitch in first.right))
    assert {item.text for item in texts if item.role == "clef"} == set(staff.CLEFS.values())


def test_every_chord_on_every_root_can_be_signed_in_every_key() -> None:
    """Chords are spelled from their roots, so some notes have three accidentals, for which there is no sign."""
    keys = [Key(NoteName.at_fifths(place + 3 * minor), minor) for place in range(-7, 8) for minor in (False, True)]
    tones = {
        degree.above(NoteName.at_fifths(root))
        for root in range(-15, 20)  # Fbb to B##
        for quality in QUALITIES
        for degree in quality.degrees
    }
    assert any(abs(tone.alter) > 2 for tone in tones)
    for tone in tones:
        pitch = Pitch.at(60 + tone.pitch_class, tone)
        shown = printable(pitch)
        assert shown.midi == pitch.midi and (shown == pitch or abs(tone.alter) > 2)
        assert {sign_of(shown, key, {}) for key in keys} <= {"", *SIGNS.values()}


@pytest.mark.parametrize("hands", HANDS)
def test_chords_with_triple_accidentals_are_laid_out(hands: Hands) -> None:
    made = [
        songs.section("A", "C", [("| Cbdim7 | B#aug | Fbdim7 | B#7alt |",)]),
        songs.section("B", "C#", [("| E#7alt | B#aug | Fbm7b5 | D#7alt |",)]),
    ]
    _, problems = lay_out(songs.arranged(songs.song("Far", made)), metrics(), options=PartOptions(hands=hands))
    assert problems == ()
