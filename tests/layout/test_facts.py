"""What the margin says: changes of key, meter and tempo, dynamics with hairpins, sounds with patches, held pads."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from arranger.harmony.model import PadNote
from arranger.layout.content.margin_text import changes_of, played_key, section_margin, sound_words, times_words
from arranger.layout.content.pictures import in_octaves, key_centre
from arranger.layout.model import Document, Keyboard, Line, Text
from arranger.layout.options import PART_OPTIONS, PartOptions
from arranger.layout.pages.players_part import lay_out
from arranger.layout.style import DEFAULT_LOOK, Look
from arranger.pdf.fonts import metrics
from arranger.song.model import Capo, Dynamic, Note, NoteLine, Sound, Step
from arranger.song.model import SongText as Fact
from arranger.theory.key import Key
from arranger.theory.pitch import Pitch
from tests.harmony.songs import TODAY
from tests.layout import songs


def laid(arrangement: object, options: PartOptions = PART_OPTIONS) -> Document:
    document, problems = lay_out(arrangement, metrics(), options=options)  # type: ignore[arg-type]
    assert problems == ()
    return document


def texts(document: Document, *roles: str) -> list[str]:
    return [
        item.text for page in document.pages for item in page.items if isinstance(item, Text) and item.role in roles
    ]


def test_the_way_back_to_the_key_of_the_song_is_told_too() -> None:
    made = [songs.section("A", "C", [("| C |",)]), songs.section("B", "D", [("| D |",)])]
    song = songs.song("Keys", made, [Step(0), Step(1), Step(0)])
    assert changes_of(song, 0).key and changes_of(song, 1).key
    assert not changes_of(replace(song, roadmap=(Step(0), Step(1))), 0).key


@pytest.mark.parametrize(
    ("text", "told", "lines"),
    [
        ("p to f", "p f", (0.0, 5.5)),
        ("f to pp", "f pp", (5.5, 0.0)),
        ("cresc", "", (0.0, 5.5)),
        ("dim", "", (5.5, 0.0)),
    ],
)
def test_dynamics_that_change_have_a_hairpin(text: str, told: str, lines: tuple[float, float]) -> None:
    section = songs.section("A", "C", [("| C | F |",)])
    section = replace(section, facts=section.facts._replace(dynamic=Dynamic(text, None)))
    document = laid(songs.arranged(songs.song("Swell", [section])))
    upper, lower = [item for item in document.pages[0].items if isinstance(item, Line) and item.role == "hairpin"]
    gaps = sorted((x, y) for line in (upper, lower) for x, y in ((line.x1, line.y1), (line.x2, line.y2)))
    assert gaps[1][1] - gaps[0][1] == pytest.approx(lines[0])
    assert gaps[3][1] - gaps[2][1] == pytest.approx(lines[1])
    assert " ".join(t for t in texts(document, "fact") if t in ("p", "f", "pp")) == told


def test_sounds_have_their_patches() -> None:
    split = Sound("pad / piano split C4", "split", ("pad", "piano"), Pitch.parse("C4"))
    assert sound_words(split, {"pad": "B12", "piano": "001"}) == "pad B12 / piano 001 split C4"
    assert sound_words(split, {"pad / piano split c4": "U7"}) == "pad / piano split C4 U7"
    assert sound_words(split, {"pad / piano": "U8", "pad": "B12"}) == "pad / piano split C4 U8"
    assert sound_words(Sound("soft pad", "single", ("soft pad",)), {"pad": "B12"}) == "soft pad"


def test_held_pad_notes_are_told_with_where_they_change() -> None:
    arrangement = songs.arranged(songs.lanterns())
    pad = tuple(PadNote(Pitch.parse(name), bar, Fraction(0)) for name, bar in (("G3", 1), ("C4", 1), ("A3", 5)))
    part = arrangement.sections[0]._replace(pad=pad)
    made = arrangement._replace(sections=(part, *arrangement.sections[1:]))
    assert "pad: hold G3, C4 · bar 5: A3" in [entry.text for entry in section_margin(made, 0, {}, DEFAULT_LOOK)]


def test_letters_say_where_the_thumb_lies() -> None:
    entries = section_margin(songs.arranged(songs.lanterns()), 0, {}, Look("letters"))
    assert any(entry.text.startswith("thumb: ") for entry in entries)


def test_a_transposing_keyboard_and_a_capo_are_told_at_the_head() -> None:
    lanterns = replace(songs.lanterns(), capo=Capo(2, Key.parse("C")))
    arrangement = songs.arranged(lanterns)._replace(transpose=-2)
    assert played_key(arrangement) == "played in D major · transpose –2"
    document = laid(arrangement)
    assert "guitar: capo 2, shapes in C major" in "".join(texts(document, "key"))
    assert "".join(texts(document, "foot")).count("played in D major · transpose –2") == len(document.pages)


def test_a_hook_stands_over_its_beats_as_long_as_it_sounds() -> None:
    section = songs.section("A", "C", [("| C | F |",)])
    notes = (
        Note(Pitch.parse("G4"), Fraction(0), Fraction(1)),
        Note(Pitch.parse("A4"), Fraction(1), Fraction(2)),
        Note(None, Fraction(3), Fraction(1)),
    )
    row = replace(section.rows[0], hook=NoteLine((notes, ())))
    document = laid(songs.arranged(songs.song("Hook", [replace(section, rows=(row,))])))
    assert texts(document, "hook") == ["G", "4", "A"]
    rules = [item for item in document.pages[0].items if isinstance(item, Line) and item.role == "hook length"]
    first, second = (rule.x2 - rule.x1 for rule in rules)
    assert first < second
    assert "play the hook" in texts(document, "cue")
    assert "hook: the right hand plays it in place of the chords" in texts(document, "legend")


def test_a_left_hand_in_octaves_is_one_letter() -> None:
    assert in_octaves((Pitch.parse("Bb1"), Pitch.parse("Bb2")))
    assert not in_octaves((Pitch.parse("D2"), Pitch.parse("A2")))
    document = laid(songs.arranged(songs.song("Alone", [songs.section("A", "Bb", [("| Bb |",)])])))
    assert texts(document, "left hand") == ["L.H. B♭ oct"]
    assert "with its octave" in texts(document, "legend")


def test_a_fill_leads_to_the_key_of_its_target() -> None:
    arrangement = songs.arranged(songs.lanterns(), TODAY._replace(octaves="every"))
    document = laid(arrangement)
    found = 0
    for page in document.pages:
        pictures = [item for item in page.items if isinstance(item, Keyboard)]
        stems = [item for item in page.items if isinstance(item, Line) and item.role == "lead" and item.x1 == item.x2]
        for stem in stems:
            centres = [
                picture.x + key_centre(mark.key, picture.low) * picture.key_width
                for picture in pictures
                for mark in picture.marks
                if 0 < picture.y - stem.y2 < 40
            ]
            assert any(abs(centre - stem.x1) < 0.01 for centre in centres) or not centres
            found += 1
    assert found > 2


@pytest.mark.parametrize(
    ("roadmap", "told"),
    [
        ([Step(0)], ""),
        ([Step(1)], "not in the roadmap"),
        ([Step(0, times=2)], "played 2 times"),
        ([Step(0), Step(1), Step(0)], "comes 2 times"),
        ([Step(0), Step(1), Step(0, times=2, remark="build")], "comes 2 times · 2nd: played 2 times (build)"),
        ([Step(0), Step(0, until="the lights go")], "comes 2 times · 2nd: vamp until the lights go"),
        ([Step(0, until="the lights go")], "vamp until the lights go"),
        ([Step(0), Step(0, from_bar=1, to_bar=2, remark="soft")], "comes 2 times · 2nd: bars 1–2 only (soft)"),
        ([Step(0, from_bar=2, to_bar=2, times=3)], "bar 2, 3 times"),
        ([Step(0, remark="keys out")], "keys out"),
        ([Step(0, times=2, remark="build")], "played 2 times (build)"),
        ([Step(0, remark="keys out"), Step(0)], "comes 2 times · 1st: keys out"),
        ([Step(0, remark="low"), Step(0), Step(0, remark="low")], "comes 3 times · 1st, 3rd: low"),
        ([Step(0, from_bar=2, to_bar=2, until="all sit")], "vamp bar 2 until all sit"),
    ],
)
def test_the_margin_tells_how_often_and_what_part_is_played(roadmap: list[Step], told: str) -> None:
    made = [songs.section("A", "C", [("| C | F |",)]), songs.section("B", "C", [("| C | F |",)])]
    song = songs.song("Often", made, roadmap)
    assert times_words(song, (0,)) == told
    document = laid(songs.arranged(song))
    printed = " ".join(texts(document, "onward"))
    for step in song.roadmap:
        if step.section == 0 and step.remark is not None:
            assert step.remark in printed


def test_the_pages_say_in_which_language_the_words_are() -> None:
    song = songs.song("Langue", [songs.section("A", "C", [("| C |", "là")])])
    assert laid(songs.arranged(song)).language == ""
    assert laid(songs.arranged(replace(song, language=Fact("fr")))).language == "fr"


def test_letters_name_keys_as_players_look_for_them_and_the_spelling_stays() -> None:
    arrangement = songs.arranged(songs.song("Keys", [songs.section("A", "Db", [("| Bbdim7 | Fbdim7 | Cb | C# |",)])]))
    spelled = {pitch.name for chord in arrangement.sections[0].chords for pitch in (*chord.right, *chord.left)}
    assert {str(name) for name in spelled} >= {"Fb", "Cb", "E#"}
    document = laid(arrangement, PartOptions(hands="letters"))
    shown = texts(document, "letters", "left hand", "fact")
    assert not any(name in text for text in shown for name in ("F♭", "C♭", "E♯", "B♯", "𝄫", "𝄪"))
