"""Signs of playing and tuplets on staves: they are those of MusicXML, and lie where engravers put them."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from xml.etree import ElementTree

import pytest

from arranger.exchange.musicxml import to_musicxml
from arranger.layout import style
from arranger.layout.model import Disc, Item, Line, Shape, Text
from arranger.layout.options import PartOptions
from arranger.layout.pages.players_part import lay_out
from arranger.layout.setting import staves as staff
from arranger.layout.setting import staves_notes
from arranger.layout.setting.staves_notes import sign_places
from arranger.pdf.fonts import metrics
from arranger.sounding.notation import WrittenHead, WrittenNote, rolled_together, written_bars
from arranger.sounding.note_values import Value
from arranger.theory.pitch import Pitch
from tests.layout import boxes
from tests.layout.test_staff import items_of
from tests.sounding.songs import SAMPLES, arranged

HEAD = "song S\nkey D\noctaves off\nsuspensions off\nsection Verse\nplay held\n"
SIGNED = HEAD + "| D accent | A/C# roll | Bm stop | G stop accent |\n| D hold | G roll hold | Em | A stop |\n"
TREBLE, BASS = (30, 38), (18, 26)  # the steps of the outer lines


def roles(items: list[Item]) -> Counter[str]:
    return Counter(item.role for item in items)


def note(*names: str, signs: tuple[str, ...], up: bool, value: Fraction = Fraction(1)) -> WrittenNote:
    heads = tuple(WrittenHead(Pitch.parse(name)) for name in names)
    return WrittenNote(Value(Fraction(0), value, value, dotted=False), heads, signs=signs, stem_up=up)


def test_the_staff_has_the_signs_that_musicxml_has() -> None:
    shown = roles(items_of(SIGNED))
    root = ElementTree.fromstring(to_musicxml(arranged(SIGNED)).split(b"?>", 1)[1].split(b">", 1)[1])
    written = Counter(element.tag for element in root.iter())
    assert shown["accent"] == written["accent"] == 4  # two chords, each in both hands
    assert shown["staccato"] == written["staccato"] == 6
    assert shown["fermata"] == written["fermata"] == 4
    kinds = [element.get("type") for element in root.iter("fermata")]
    assert sorted(kinds, key=str) == ["inverted"] * 2 + ["upright"] * 2
    # A wavy line goes through both staves; MusicXML has it at each note.
    rolled = [n for n in root.iter("note") if n.find("notations/arpeggiate") is not None]
    assert shown["roll"] == 2 and {n.findtext("staff") for n in rolled} == {"1", "2"}


def test_what_signs_say_stands_in_no_word_and_in_words_where_no_notes_are() -> None:
    assert not any(item.role == "manner" for item in items_of(SIGNED))
    again = HEAD + "| D accent | G | A | D |\n| D accent | G | A | D |\n"
    items = items_of(again)
    signs = [item.text for item in items if isinstance(item, Text) and item.role == "as bar"]
    words = [item.text.strip() for item in items if isinstance(item, Text) and item.role == "manner"]
    assert len(signs) == 1 and words == ["accent"]  # the second row has no notes


def test_a_wavy_line_is_as_high_as_its_chord_and_clear_of_its_heads() -> None:
    items = items_of(HEAD + "| D=F#4AD5 roll | G |\n")
    (wave,) = (item for item in items if isinstance(item, Shape) and item.role == "roll")
    heads = [item for item in items if isinstance(item, Text) and item.role == "note"]
    first = [head for head in heads if abs(head.x - min(h.x for h in heads)) < 2 * staff.SPACE]
    middles = [head.y - staff.HEAD_MIDDLE * staff.SIZE for head in first]
    ys, xs = [p.y for p in wave.points], [p.x for p in wave.points]
    assert min(ys) == pytest.approx(min(middles) - staff.SPACE / 2)
    assert max(ys) == pytest.approx(max(middles) + staff.SPACE / 2)
    assert max(xs) < min(head.x for head in first)
    lines = [item.x1 for item in items if isinstance(item, Line) and item.role == "barline"]
    assert min(xs) > min(lines)


@pytest.mark.parametrize(("name", "up"), [("G4", True), ("A4", True), ("C5", False), ("D5", False)])
def test_the_dot_of_a_short_note_lies_in_a_space_on_the_side_of_its_head(name: str, up: bool) -> None:
    (place,) = sign_places(note(name, signs=("stop",), up=up), 0)
    at = (place.low + place.high) / 2
    inside = TREBLE[0] <= at <= TREBLE[1]
    assert not inside or at % 2 == 1  # lines of the treble staff have even steps
    step = {"G4": 32, "A4": 33, "C5": 35, "D5": 36}[name]
    assert at < step if up else at > step
    assert 2 <= abs(at - step) <= 3


@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("number", [0, 1])
def test_accents_stand_off_the_staff_and_fermatas_beyond_all_else(up: bool, number: int) -> None:
    names = ("A4", "C5") if number == 0 else ("C3", "E3")
    bottom, top = (TREBLE, BASS)[number]
    made = note(*names, signs=("stop", "accent", "hold"), up=up)
    places = {place.sign: place for place in sign_places(made, number)}
    accent, hold = places["accent"], places["hold"]
    assert accent.high < bottom if up else accent.low > top
    others = [place for sign, place in places.items() if sign != "hold"]
    if number == 0:
        assert hold.low > top and all(hold.low > place.high for place in others)
    else:
        assert hold.high < bottom and all(hold.high < place.low for place in others)


def test_both_hands_roll_as_one_and_a_key_alone_is_not_rolled() -> None:
    (bar,) = written_bars(arranged(HEAD + "| D roll |\n"))
    assert [note.signs for voice in bar.voices for note in voice] == [("roll",), ("roll",)]
    alone = note("D3", signs=("roll", "accent"), up=True)
    pair = note("F#4", "A4", signs=("roll",), up=True)
    assert rolled_together((alone,), ()) == (note("D3", signs=("accent",), up=True),)
    assert rolled_together((alone,), (pair,)) == (alone,) and rolled_together((pair,), (alone,)) == (pair,)


TRIPLETS = HEAD + "| D | G |\nhook | (F#4 G4 A4) (A4 rest D5) | F#4 (G4 A4 B4) C5 (D5 E5 F#5) |\n"


def test_a_tuplet_has_a_bracket_unless_a_beam_joins_it() -> None:
    items = items_of(TRIPLETS)
    numbers = [item for item in items if isinstance(item, Text) and item.role == "tuplet"]
    lines = [item for item in items if isinstance(item, Line) and item.role == "tuplet bracket"]
    brackets = [line for line in lines if line.y1 == line.y2]
    ends = [line for line in lines if line.x1 == line.x2]
    beamed = 2  # of the second bar
    assert {number.text for number in numbers} == {"3"}
    assert len(ends) == 2 * (len(numbers) - beamed) and len(brackets) <= len(ends)
    for line in brackets:  # outside the staff, on the height of a number, clear of it
        same = [n for n in numbers if n.y - metrics().cap_height("bold", n.size) < line.y1 < n.y]
        assert same and all(line.x2 < n.x or line.x1 > n.x + metrics().width(n.text, "bold", n.size) for n in same)
    staffs = sorted(item.y1 for item in items if isinstance(item, Line) and item.role == "staff")
    assert all(line.y1 < staffs[0] or staffs[4] < line.y1 < staffs[5] for line in brackets)


def test_dots_of_short_notes_are_round_and_clear_of_heads() -> None:
    items = items_of(HEAD + "| D stop | G stop |\n")
    dots = [item for item in items if isinstance(item, Disc) and item.role == "staccato"]
    heads = [item for item in items if isinstance(item, Text) and item.role == "note"]
    assert len(dots) == 4
    for dot in dots:
        near = [h for h in heads if h.x <= dot.x <= h.x + staff.HEAD_WIDTH * h.size + 2]
        assert near
        gaps = [abs(dot.y - (h.y - staff.HEAD_MIDDLE * h.size)) for h in near]
        assert min(gaps) >= staff.SPACE - 0.01


def test_smaller_staves_are_drawn_in_the_same_proportions() -> None:
    arrangement = arranged(next(path for path in SAMPLES if path.name.startswith("lanterns")).read_text("utf-8"))
    document, _ = lay_out(arrangement, metrics(), options=PartOptions(hands="staff", pages=1))
    (page,) = document.pages
    assert not boxes.overlaps(page, metrics())
    lines = sorted(item.y1 for item in page.items if isinstance(item, Line) and item.role == "staff")
    space = lines[1] - lines[0]
    assert space in [pytest.approx(staff.SPACE * size) for size in (style.STAFF_CLOSE, style.STAFF_LEAST)]
    full = {staff.SIZE * space / staff.SPACE * scale for scale in (1.0, staves_notes.SMALL)}
    heads = [item for item in page.items if isinstance(item, Text) and item.role == "note"]
    for head in heads:  # on a line or in a space of its staff, or as far from it as ledger lines go
        assert head.size in [pytest.approx(size) for size in full]
        middle = head.y - staff.HEAD_MIDDLE * head.size
        steps = min((abs(middle - line) / (space / 2) for line in lines), key=lambda step: step)
        assert steps == pytest.approx(round(steps), abs=0.01)
    stems = [item for item in page.items if isinstance(item, Line) and item.role == "stem"]
    rights = max(item.x2 for item in page.items if isinstance(item, Line) and item.role == "staff")
    assert heads and stems and all(stem.x1 < rights for stem in stems)
