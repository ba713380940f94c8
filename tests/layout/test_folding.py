"""Sections that are played alike are drawn once on a part; rows with the hands of earlier ones have no pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.alike import played, row_played, shared_fills
from arranger.layout.content.folding import groups_of
from arranger.layout.model import Document, Keyboard, Text
from arranger.layout.options import HANDS, Hands, PartOptions
from arranger.layout.pages.fitting import height, minutes
from arranger.layout.pages.part_choice import PartChoice
from arranger.layout.pages.players_part import lay_out
from arranger.pdf.fonts import metrics
from arranger.pipeline import Wishes, to_arrangement, to_song
from arranger.song.model import Note, NoteLine, Section, Song, Step
from arranger.song.model import SongText as Fact
from arranger.song.read import decode
from arranger.theory.pitch import Pitch
from arranger.units import A4, LETTER, Paper
from tests.bench.songbook import songbook
from tests.harmony.songs import TODAY
from tests.layout import boxes, songs

PLAIN = TODAY._replace(suspensions=Fraction(0), octaves="none")
ROWS = ("| C | Am | F | G |", "| F | C | G | C |")
BRIDGE = ("| Am | F | C | G |",)
VERSES = (
    ("boats are | out and the | lamps are | low", "nobody | hears the | bell be- | low"),
    ("geese are | in and the | nets are | dry", "somebody | rows where the | herons | fly"),
    ("doors are | shut and the | fires are | warm", "everyone's | home ahead | of the | storm"),
    ("stars are | up and the | sea is | still", "no one | walks on the | harbour | hill"),
    ("tides are | turned and the | sky is | red", "half of the | town is | not in | bed"),
)


def verse(number: int, words: Sequence[str] = (), **facts: str) -> Section:
    rows = [(row, *texts) for row, *texts in zip(ROWS, words or VERSES[number - 1], strict=True)]
    made = songs.section(f"Verse {number}", "C", rows, level=facts.get("level", "mp"), pickup=facts.get("pickup", ""))
    return made if number == 1 else replace(made, like="Verse 1", model=0)


def sung(count: int, *steps: Step) -> Song:
    made = [verse(number) for number in range(1, count + 1)]
    made.append(songs.section("Bridge", "C", [(BRIDGE[0], "all of | this and | none of | that")]))
    return songs.song("Fold", made, steps or [Step(number) for number in range(count + 1)])


def laid(song: Song, **options: object) -> Document:
    return pages_of(songs.arranged(song, PLAIN), **options)


def pages_of(arrangement: Arrangement, **options: object) -> Document:
    document, problems = lay_out(arrangement, metrics(), PartOptions(**options))  # type: ignore[arg-type]
    assert problems == ()
    for page in document.pages:
        assert not boxes.overlaps(page, metrics())
        assert not boxes.outside(page, metrics(), style.SIDE_FULL, style.TOP, style.BOTTOM)
    return document


def texts(document: Document, *roles: str) -> list[str]:
    return [
        item.text for page in document.pages for item in page.items if isinstance(item, Text) and item.role in roles
    ]


def test_verses_stand_under_one_drawing_with_their_numbers() -> None:
    document = laid(sung(3))
    assert texts(document, "section") == ["Verse 1–3", "Bridge"]
    assert texts(document, "verse") == ["1.", "2.", "3."] * 2
    words = texts(document, "words")
    assert words[:12] == [part.strip() for text in VERSES[:3] for part in text[0].split("|")]
    assert words[12:24] == [part.strip() for text in VERSES[:3] for part in text[1].split("|")]
    assert len([item for item in document.pages[0].items if isinstance(item, Keyboard)]) == 4 + 4 + 4
    assert [mark.title for mark in document.bookmarks] == ["Verse 1–3", "Bridge"]
    assert [link.target for link in document.pages[0].links] == [0, 0, 0, 1]


def test_a_syllable_that_is_held_has_a_line() -> None:
    rows = [("| D | G | A | D |", "home | _ | by the | wall")]
    document = laid(songs.song("Held", [songs.section("Verse", "D", rows)]))
    assert texts(document, "words") == ["home", "____", "by the", "wall"]


def test_apart_each_section_is_drawn() -> None:
    document = laid(sung(3), verses="apart")
    assert texts(document, "section") == ["Verse 1", "Verse 2", "Verse 3", "Bridge"]
    assert texts(document, "verse") == []


def test_numbers_are_those_of_the_names() -> None:
    other = songs.section("Verse 1", "C", [("| Em | F | Em | F |", "one | of | its | own")])
    song = songs.song("Later", [other, replace(verse(2), model=None, like=None), replace(verse(3), model=1)])
    document = laid(song)
    assert texts(document, "section") == ["Verse 1", "Verse 2, 3"]
    assert texts(document, "verse") == ["2.", "3."] * 2


def test_what_differs_is_said_by_number() -> None:
    made = [verse(1), verse(2, level="mf"), verse(3, level="mf")]
    first, second = made[1].rows
    made[1] = replace(made[1], rows=(first, replace(second, cues=(Fact("bass out"),))), closing_cues=(Fact("all out"),))
    document = laid(songs.song("Differ", made))
    assert "mp · held" in texts(document, "fact")
    margin = " ".join(texts(document, "fact", "change", "cue"))
    assert "2, 3: mf" in margin and "2: bass out" in margin and "2: at the end: all out" in margin
    assert "1: " not in margin


def test_pickups_stand_before_their_verses() -> None:
    document = laid(songs.song("Pickups", [verse(1, pickup="The"), verse(2), verse(3, pickup="And")]))
    items = [item for item in document.pages[0].items if isinstance(item, Text)]
    found = {item.text: item for item in items if item.role == "pickup"}
    firsts = {item.text: item for item in items if item.role == "words"}
    assert found["The"].y == firsts["boats are"].y and found["And"].y == firsts["doors are"].y
    assert found["And"].x < firsts["doors are"].x


def test_more_than_three_verses_are_text_after_the_song() -> None:
    document = laid(sung(5))
    assert texts(document, "section") == ["Verse 1–5", "Bridge"]
    assert texts(document, "verse") == [*["1.", "2.", "3."] * 2, "4.", "5."]
    words = texts(document, "words")
    assert words[-4:] == [text.replace(" |", "").replace("be- low", "below") for line in VERSES[3:5] for text in line]
    assert [link.target for link in document.pages[0].links] == [0] * 5 + [1]


@pytest.mark.parametrize("hands", HANDS)
def test_a_verse_of_text_that_is_higher_than_a_page_goes_on(hands: Hands) -> None:
    rows = [(ROWS[0], "so it | goes and | goes and | goes")] * 90
    made = [replace(songs.section(f"Verse {n}", "C", rows), model=0 if n > 1 else None) for n in range(1, 6)]
    document = laid(songs.song("Endless", made), hands=hands)
    assert "".join(texts(document, "words")).replace(" ", "").count("soitgoesandgoesandgoes") == 5 * 90


def test_the_same_words_stand_once() -> None:
    made = [verse(1), replace(verse(2, VERSES[0], level="mf"), name="Verse again")]
    document = laid(songs.song("Same", made))
    assert texts(document, "verse") == [] and texts(document, "words").count("boats are") == 1
    assert "again: mf" in " ".join(texts(document, "fact"))


def test_another_key_manner_hand_or_hook_is_drawn() -> None:
    arrangement = songs.arranged(sung(2), PLAIN)
    one, two = (played(arrangement.song.sections[n], arrangement.sections[n]) for n in (0, 1))
    assert one == two and one is not None
    section, part = arrangement.song.sections[1], arrangement.sections[1]
    higher = replace(part.chords[0], right=part.chords[0].right[1:])
    hook = NoteLine(((Note(Pitch.parse("G4"), Fraction(0), Fraction(1)),),))
    others = [
        (replace(section, facts=section.facts._replace(key=arrangement.key.parse("D"))), part),
        (section, part._replace(play="quarters")),
        (section, part._replace(chords=(higher, *part.chords[1:]))),
        (replace(section, rows=(replace(section.rows[0], hook=hook), section.rows[1])), part),
    ]
    for other in others:
        assert played(*other) != one
    assert played(replace(section, tacet=True), part) is None


def test_a_fill_that_one_verse_has_is_drawn_with_its_number() -> None:
    arrangement = songs.arranged(sung(2), PLAIN._replace(octaves="every"))
    first, second, *rest = arrangement.sections
    (fill, *_) = [line for line in second.octaves if line.to[0] == 1]
    one = arrangement._replace(sections=(first._replace(octaves=()), second._replace(octaves=(fill,)), *rest))
    assert groups_of(one) == ((0, 1), (2,))
    (shared,) = shared_fills(one, (0, 1)) or ()
    assert shared.sections == (1,) and shared.line.to == (0, fill.to[1]) and shared.line.notes == fill.notes
    document = pages_of(one)
    assert "".join(texts(document, "octave label")).startswith("2: ")
    assert [item for item in document.pages[0].items if item.role == "lead"]
    mine = fill._replace(to=(0, fill.to[1]), before=(0, fill.before[1]))
    both = one._replace(sections=(first._replace(octaves=(mine,)), *one.sections[1:]))
    assert groups_of(both) == ((0, 1), (2,))
    assert "2" not in "".join(texts(pages_of(both), "octave label"))


def test_different_fills_over_one_bar_are_two_drawings() -> None:
    arrangement = songs.arranged(sung(2), PLAIN._replace(octaves="every"))
    first, second, *rest = arrangement.sections
    (fill, *_) = [line for line in second.octaves if line.to[0] == 1 and len(line.notes) > 1]
    mine = fill._replace(to=(0, fill.to[1]), before=(0, fill.before[1]), notes=fill.notes[:1])
    apart = arrangement._replace(sections=(first._replace(octaves=(mine,)), second._replace(octaves=(fill,)), *rest))
    assert groups_of(apart) == ((0,), (1,), (2,))


def test_where_a_drawing_leads_is_told_each_time_where_no_roadmap_is_written_too() -> None:
    chorus = songs.section("Chorus", "C", [(BRIDGE[0], "all of | this and | none of | that")])
    made = [verse(1), chorus, verse(2), replace(chorus, name="Last Chorus")]
    assert not songs.song("Order", made).roadmap_written
    document = laid(songs.song("Order", made))
    assert " ".join(texts(document, "section")) == "Verse 1, 2 Chorus, Last Chorus"
    assert " ".join(texts(document, "onward")) == "1st → Chorus 2nd → Last Chorus 1st → Verse 2 2nd → end"


# Rows of one section.


def loop(rows: int) -> Song:
    four = [("| C | Am | F | G |", f"row {n} | goes | round and | round") for n in range(1, rows + 1)]
    return songs.song("Loop", [songs.section("Verse", "C", four)])


@pytest.mark.parametrize("hands", HANDS)
def test_a_row_with_the_hands_of_an_earlier_one_says_whose_they_are(hands: Hands) -> None:
    document = laid(loop(4), hands=hands)
    assert texts(document, "as bar") == ["as bar 1"] * 3
    assert texts(document, "chord") == ["C", "Am", "F", "G"] * 4
    assert len(texts(document, "words")) == 16
    if hands == "keyboard":
        assert len([item for item in document.pages[0].items if isinstance(item, Keyboard)]) == 4
    if hands == "staff":
        assert len([item for item in document.pages[0].items if item.role == "brace"]) <= 4


def test_at_the_top_of_a_page_a_row_has_its_pictures_and_the_rows_under_it_name_it() -> None:
    document = laid(loop(40))
    assert len(document.pages) > 1
    for page in document.pages:
        shown = [item for item in page.items if isinstance(item, Keyboard)]
        assert len(shown) == 8  # two rows in a line
        signs = [item.text for item in page.items if isinstance(item, Text) and item.role == "as bar"]
        numbers = [item for item in page.items if isinstance(item, Text) and item.role == "bar number"]
        assert set(signs) == {f"as bar {min(numbers, key=lambda item: item.y).text}"}


def test_rows_are_compared_by_chords_times_and_hands() -> None:
    rows = ["| C | Am | F | G |", "| C | Am | F | G |", "| C | Am | F G | G |", "| C / / Am | Am | F | G |"]
    arrangement = songs.arranged(songs.song("Rows", [songs.section("A", "C", [(row,) for row in rows])]), PLAIN)
    keys = [row_played(arrangement.song.sections[0], arrangement.sections[0], number) for number in range(4)]
    assert keys[0] == keys[1] and keys[2] not in keys[:2] and keys[3] not in keys[:3]


# Pages.


def test_a_song_on_two_pages_is_folded_whatever_its_order() -> None:
    document = laid(sung(3, Step(0), Step(3), Step(1), Step(3), Step(2), Step(3)))
    assert len(document.pages) <= 2 and "Verse 1–3" in texts(document, "section")


def test_no_page_is_turned_back_for_a_section_that_could_be_drawn_where_it_is_played() -> None:
    four = ("C | Am | F | G", "F | C | G | C", "Am | F | C | G", "Dm | G | C | Am", "C | F | G | Am", "G | F | C | G")
    sung_long = "now and then it goes on | and on and never ends | then over the hill again | so far away from here"
    long = [(f"| {row} |", sung_long) for row in (*four, *four[::-1])]
    rows = [[(f"| {one} | {two} |",)] for one, two in (("C", "G"), ("F", "C"))]
    made = [
        replace(songs.section("Verse 1", "C", long), name="Verse 1"),
        songs.section("Bridge", "C", long[::-1][:11]),
        songs.section("Solo", "C", long[1:] + rows[0]),
        replace(songs.section("Verse 2", "C", long), like="Verse 1", model=0),
    ]
    song = songs.song("Turns", made, [Step(0), Step(1), Step(2), Step(3)])
    arrangement = songs.arranged(song, PLAIN)
    assert groups_of(arrangement)[0] == (0, 3)
    document = pages_of(arrangement)
    assert len(document.pages) > 2
    assert texts(document, "section") == ["Verse 1", "Bridge", "Solo", "Verse 2"]


def test_the_fewest_pages_then_the_largest_look() -> None:
    arrangement = songs.arranged(sung(3), PLAIN)
    choice = PartChoice(arrangement, PartOptions(), metrics())
    groups = groups_of(arrangement)
    tried = [choice.at(groups, look) for look in style.looks("keyboard")]
    best = choice.best()
    assert best.pages == min(draft.pages for draft in tried)
    larger = [draft for draft in tried if draft.look.size > best.look.size]
    assert all(draft.pages > best.pages for draft in larger)


def test_pages_that_are_asked_for_are_kept_or_it_is_said() -> None:
    song = sung(3)
    free = lay_out(songs.arranged(song, PLAIN), metrics(), PartOptions())[0]
    assert len(free.pages) == 1
    relaxed, problems = lay_out(songs.arranged(song, PLAIN), metrics(), PartOptions(pages=2))
    assert problems == () and len(relaxed.pages) <= 2
    _, problems = lay_out(songs.arranged(loop(60), PLAIN), metrics(), PartOptions(pages=1))
    assert [(one.code, one.severity) for one in problems] == [("too-small-to-read", "error")]
    assert problems[0].message.startswith("the part does not fit 1 page") and problems[0].hints


# What must be read is large enough.

LEAST = {"chord": 20.0, "words": 16.0, "left hand": 14.0, "shape": 14.0, "octave": 14.0, "octave label": 14.0}
LEAST |= {"letters": 14.0, "finger": 12.0, "verse": 14.0, "hook": 14.0}
NEAR = 0.6  # metres


@pytest.mark.parametrize("hands", HANDS)
@pytest.mark.parametrize("paper", [A4, LETTER])
def test_all_that_is_read_at_the_stand_has_its_angle(
    hands: Hands, paper: Paper, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = set()
    looks = style.looks(hands)
    for song in (songs.lanterns(), sung(5), loop(5)):
        arrangement = songs.arranged(song, TODAY._replace(octaves="every"))
        for look in looks:
            monkeypatch.setattr(style, "looks", lambda _, look=look: (look,))
            document, _ = lay_out(arrangement, metrics(), PartOptions(paper, hands=hands))
            for item in (item for page in document.pages for item in page.items if isinstance(item, Text)):
                if item.role not in LEAST or item.face == "music":
                    continue
                share = metrics().rise("H" if item.role != "finger" else "0", item.face, 1.0)
                raised = item.role == "chord" and item.size < look.sizes.chord
                least = 16.0 if raised else LEAST[item.role]
                if item.role in ("octave", "hook") and item.size < look.sizes.octave:
                    least = 14.0
                assert minutes(share * item.size, NEAR) >= least, (item.role, item.size)
                seen.add(item.role)
    assert seen >= {"chord", "words", "octave", "octave label", "verse"}
    assert round(minutes(height(16, NEAR), NEAR), 6) == 16


@pytest.mark.parametrize("hands", HANDS)
def test_no_look_is_left_untried_that_could_have_fewer_pages(hands: Hands) -> None:
    for made in songbook(200):
        if made.verses != 2 or int(made.name) % 8 != 2:
            continue
        song, _ = to_song(decode(made.name, made.text.encode())[0])
        arrangement, _ = to_arrangement(song, Wishes(figures=False))
        choice = PartChoice(arrangement, PartOptions(hands=hands), metrics())
        groups = groups_of(arrangement)
        drafts = [choice.at(groups, look) for look in style.looks(hands)]
        for known in drafts:
            for other in drafts:
                if known.look.size >= other.look.size and other.look.joined >= known.look.joined:
                    assert choice.least_pages(known, other.look) <= other.pages, (made.name, other.look)
        assert choice.best().pages <= min(draft.pages for draft in drafts)


@pytest.mark.parametrize("hands", HANDS)
def test_a_picture_stands_wherever_the_hand_differs_from_the_one_before_it(hands: Hands) -> None:
    signs = songs.section("Signs", "C", [("| : C C / Am | % | 1. F : | 2. C | Csus4 C C N.C. | C rest C G |",)])
    for song in (songs.lanterns(), sung(4), loop(3), songs.song("Signs", [signs], [Step(0), Step(0)])):
        arrangement = songs.arranged(song)
        draft = PartChoice(arrangement, PartOptions(hands=hands), metrics()).best()
        shown = 0
        for line in draft.lines:
            before = None  # at the start of a line every hand is shown
            columns = [placed for bar in line.inside.line.bars for placed in bar.columns]
            for placed in columns:
                if placed.column.chord is None:
                    continue
                chord = arrangement.chord(placed.column.chord)
                if (chord.right or chord.left) and (chord.right, chord.left) != before:
                    assert placed.picture is not None, (song.title.value, chord)
                    shown += 1
                before = chord.plain, chord.left
        assert shown
