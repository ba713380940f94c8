"""Notes on staves: places, signatures, signs, heads, stems, beams, ties, ledger lines, rests. Engraving practice."""

from __future__ import annotations

from fractions import Fraction

import pytest

from arranger.layout.content.pictures import SIGNS
from arranger.layout.model import Box, Disc, Item, Line, Shape, Text, Tie
from arranger.layout.options import HANDS, Hands, PartOptions
from arranger.layout.pages.players_part import lay_out
from arranger.layout.setting import staves as staff
from arranger.layout.setting import staves_notes, staves_voices
from arranger.layout.setting.staves_notes import cluster
from arranger.pdf.fonts import metrics
from arranger.song.model import Meter
from arranger.sounding.notation import WrittenHead, WrittenNote
from arranger.sounding.note_values import Value
from arranger.sounding.staff_places import printable, sign_of, signature, step_of
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch
from arranger.theory.qualities import QUALITIES
from tests.layout import boxes, songs
from tests.sounding.songs import arranged

TREBLE, BASS = 100.0, 160.0


HEAD = "song S\nkey C\noctaves off\nsuspensions off\nsection Verse\nplay held\n"


def chord(*names: str, value: Fraction = Fraction(1), up: bool = True) -> WrittenNote:
    """Give a chord, lowest note first; a name with a sign has it printed."""
    pitches = map(Pitch.parse, names)
    heads = tuple(WrittenHead(pitch, sign=pitch.name.alter or None) for pitch in pitches)
    return WrittenNote(Value(Fraction(0), value, value, dotted=False), heads, stem_up=up)


def items_of(text: str) -> list[Item]:
    """Lay out the only page of a song with staves."""
    document, _ = lay_out(arranged(text), metrics(), options=PartOptions(hands="staff"))
    (page,) = document.pages
    assert not boxes.overlaps(page, metrics())
    return list(page.items)


def staff_lines(items: list[Item]) -> list[float]:
    return sorted(item.y1 for item in items if isinstance(item, Line) and item.role == "staff")


def heads_of(items: list[Item]) -> list[Text]:
    return [item for item in items if isinstance(item, Text) and item.role == "note"]


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


def test_a_sign_stands_where_a_note_differs_from_the_key_or_from_its_bar_and_once_in_it() -> None:
    key = Key.parse("D")
    bar: dict[int, int] = {}
    found = [sign_of(Pitch.parse(name), key, bar) for name in ("F#4", "F4", "F4", "F#4", "G#4", "G#4", "G4", "Bb4")]
    assert found == [None, 0, None, 1, 1, None, 0, -1]
    assert sign_of(Pitch.parse("F4"), Key.parse("F#"), {}) == 0
    assert sign_of(Pitch.parse("F##4"), Key.parse("F#"), {}) == 2


def test_middle_c_lies_on_a_ledger_line_on_both_staves() -> None:
    items = items_of(HEAD + "| C=C4EG | N.C. |\n")
    lines = staff_lines(items)
    ledgers = [item for item in items if isinstance(item, Line) and item.role == "ledger"]
    assert ledgers[0].y1 == pytest.approx(lines[4] + staff.SPACE)
    lowest = max(heads_of(items)[:3], key=lambda head: head.y)
    assert lowest.y - staff.HEAD_MIDDLE * staff.SIZE == pytest.approx(ledgers[0].y1)
    assert staff.height_of(step_of(Pitch.parse("C4")), "bass", lines[9]) == pytest.approx(lines[5] - staff.SPACE)


@pytest.mark.parametrize(("name", "count"), [("D4", 0), ("E4", 0), ("F5", 0), ("G5", 0), ("A5", 1), ("F3", 3)])
def test_notes_off_the_staff_have_ledger_lines(name: str, count: int) -> None:
    note = chord(name)
    lines = list(staves_voices._ledgers(note, cluster(note), 0.0, "treble", TREBLE))
    assert len(lines) == count


def test_seconds_stand_on_the_two_sides_of_the_stem_and_a_third_note_goes_back() -> None:
    width = staff.HEAD_WIDTH * staff.SIZE
    up, down = cluster(chord("C4", "D4", "E4")), cluster(chord("C5", "D5", "E5", up=False))
    assert up.heads == (0.0, pytest.approx(width), 0.0) and up.right == pytest.approx(2 * width)
    assert down.heads == (0.0, pytest.approx(-width), 0.0) and down.left == pytest.approx(width)
    # Of a second alone the lower note stands left, whichever way the stem points.
    assert cluster(chord("D5", "E5", up=False)).heads == (pytest.approx(-width), 0.0)


def test_signs_that_are_near_stand_in_columns_of_their_own() -> None:
    near, far = cluster(chord("C#4", "F#4")), cluster(chord("C#4", "B#4"))
    assert len(set(near.signs)) == 2 and len(set(far.signs)) == 1
    assert near.left > far.left


def test_heads_stems_and_flags_are_those_of_the_values() -> None:
    items = items_of(HEAD + "tempo 60\n| C=C4EG | C=C4EG C=C4EG | C=C4EG / / G=B3DG | C=C4EG stop |\n")
    heads = [head.text for head in heads_of(items)]
    whole, half, full = staves_notes.WHOLE_HEAD, staff.OPEN_HEAD, staff.HEAD
    right = [whole] * 3 + [half] * 6 + [half] * 3 + [full] * 3 + [full] * 3
    assert (
        heads[: len(right)] == right and heads[len(right) :] == [whole] * 2 + [half] * 6 + [full] * 4
    )  # the left hand in octaves
    roles = [getattr(item, "role", "") for item in items]
    assert roles.count("stem") == 10 and roles.count("flag") == 2 and roles.count("dot") >= 3


@pytest.mark.parametrize(("name", "up"), [("G4", True), ("A4", True), ("B4", False), ("C5", False), ("E3", True)])
def test_a_stem_is_an_octave_long_and_reaches_the_middle_line(name: str, up: bool) -> None:
    note = chord(name, up=up)
    tip = staves_voices._tip(note, "treble", TREBLE)
    head = staff.height_of(step_of(Pitch.parse(name)), "treble", TREBLE)
    middle = TREBLE - 2 * staff.SPACE
    if name == "E3":
        assert tip == pytest.approx(middle)
    else:
        assert abs(tip - head) in (pytest.approx(3.5 * staff.SPACE), pytest.approx(2.5 * staff.SPACE))
        assert (tip < head) == up


def test_eighths_are_joined_and_stems_end_at_their_beam() -> None:
    items = items_of(
        "song S\nkey C\noctaves off\nsuspensions off\nsection Verse\nplay eighths\nband bass\n| C=C4EG | C=C4EG |\n"
    )
    beams = [item for item in items if isinstance(item, Shape) and item.role == "beam"]
    stems = [item for item in items if isinstance(item, Line) and item.role == "stem"]
    assert len(beams) == 4  # of four eighths each: two in a bar of 4/4
    for beam in beams:
        left, right = min(p.x for p in beam.points), max(p.x for p in beam.points)
        joined = [stem for stem in stems if left - 0.1 <= stem.x1 <= right + 0.1 and stem.y1 < staff_lines(items)[5]]
        assert len(joined) == 4
        low, high = min(p.y for p in beam.points), max(p.y for p in beam.points)
        assert all(low - 0.1 <= stem.y2 <= high + 0.1 for stem in joined)


def test_a_chord_that_goes_on_is_tied_over_the_barline() -> None:
    items = items_of(HEAD + "| C=C4EG | / / G=B3DG / |\n")
    ties = [item for item in items if isinstance(item, Tie)]
    bars = sorted({item.x1 for item in items if isinstance(item, Line) and item.role == "barline"})
    assert len(ties) == 5  # three notes, and the left hand's octave
    assert all(tie.x1 < bars[1] < tie.x2 for tie in ties)
    upper = sorted(ties, key=lambda tie: tie.y)[:3]
    assert [tie.rise > 0 for tie in upper] == [True, False, False]  # E4 lies under the middle line


def test_a_suspension_resolves_in_notes() -> None:
    items = items_of("song S\nkey C\noctaves off\nsection Verse\nplay held\n| C | F | Gsus4=CDG G=BDG | C |\n")
    assert not any(getattr(item, "role", "") == "resolution" and not isinstance(item, Text) for item in items)
    assert len(heads_of(items)) >= 5 * 3


def test_a_fill_is_in_small_notes_and_stands_in_no_row_of_letters() -> None:
    text = HEAD.replace("octaves off\n", "") + "| C=C4EG | F=C4FA |\noctave | rest rest A3 B3 |\n"
    items = items_of(text)
    small = [head for head in heads_of(items) if head.size < staff.SIZE]
    assert len(small) == 4 and {head.size for head in small} == {staff.SIZE * staves_notes.SMALL}
    assert not any(isinstance(item, Text) and item.role in ("octave", "fill") for item in items)


def test_every_chord_has_its_notes_a_hand_that_comes_again_too() -> None:
    items = items_of(HEAD.replace("key C", "key F") + "| F6 | Dm7 | F6 F6 | Dm7 |\n")
    chords = arranged(HEAD.replace("key C", "key F") + "| F6 | Dm7 | F6 F6 | Dm7 |\n").sections[0].chords
    assert len(heads_of(items)) == sum(len(one.right) + len(one.left) for one in chords)


def test_a_repeated_bar_with_other_music_is_written_in_notes() -> None:
    text = HEAD.replace("octaves off\n", "") + "| C=C4EG | % |\noctave | | rest rest rest D4 |\n"
    items = items_of(text)
    assert not any(isinstance(item, Text) and item.text == "\U0001d10e" for item in items)
    assert any(head.size < staff.SIZE for head in heads_of(items))


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
    signs.sort(key=lambda sign: (round(sign.x), sign.y))
    assert [sign.text for sign in signs] == [whole] * 4 + [repeat] * 2 + [half] * 2
    for bar, pair in zip((1, 2, 3), (signs[:2], signs[2:4], signs[4:6]), strict=True):
        for sign in pair:  # amid the bar
            middle = sign.x + metrics().width(sign.text, "music", sign.size) / 2
            assert middle == pytest.approx((bars[bar] + bars[bar + 1]) / 2, abs=0.1)
    # A whole rest hangs from the second line, half its size over its baseline; a half rest lies on the third.
    assert [sign.y - 0.5 * sign.size for sign in signs[:2]] == pytest.approx([lines[1], lines[6]])
    assert [sign.y - 0.25 * sign.size for sign in signs[6:]] == pytest.approx([lines[2], lines[7]])
    assert not any(sign.y > lines[9] for sign in signs)  # none in the chord row


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
    heads = [item for item in texts if item.role == "note"]
    assert sum(head.x == heads[0].x and head.y < heads[0].y + 100 for head in heads) >= len(first.right)
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
        assert {sign_of(shown, key, {}) for key in keys} <= {None, *SIGNS}


@pytest.mark.parametrize("hands", HANDS)
def test_chords_with_triple_accidentals_are_laid_out(hands: Hands) -> None:
    made = [
        songs.section("A", "C", [("| Cbdim7 | B#aug | Fbdim7 | B#7alt |",)]),
        songs.section("B", "C#", [("| E#7alt | B#aug | Fbm7b5 | D#7alt |",)]),
    ]
    _, problems = lay_out(songs.arranged(songs.song("Far", made)), metrics(), options=PartOptions(hands=hands))
    assert problems == ()


def test_a_bar_that_is_broken_between_its_words_leaves_a_line_without_notes() -> None:
    words = " ".join(["lantern"] * 40)
    document, _ = lay_out(
        arranged(f"song S\nkey C\nsection Verse\n| C |\nsing | {words} |\n"),
        metrics(),
        options=PartOptions(hands="staff"),
    )
    lines = staff_lines([item for page in document.pages for item in page.items])
    assert len(lines) > 10 and len(lines) % 10 == 0
