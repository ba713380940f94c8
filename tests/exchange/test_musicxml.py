"""MusicXML: valid by the standard's schema, and the same song as music21 reads it; what a player sees stands in it."""

import hashlib
import re
from fractions import Fraction
from xml.etree import ElementTree

import pytest

from arranger.exchange.musicxml import to_musicxml
from arranger.exchange.musicxml_chords import kind_of
from arranger.exchange.musicxml_words import Lyric, on_notes
from arranger.theory.qualities import QUALITIES
from tests.exchange import musicxml
from tests.sounding.songs import all_songs, arranged

HEAD = "song Small Boats\nwords Nell Tarrant\nmusic Ivo Quill\nrights ours\nkey D\noctaves off\nsuspensions off\n"


def score(text: str) -> ElementTree.Element:
    data = to_musicxml(arranged(text))
    assert musicxml.schema_faults(data) == []
    return ElementTree.fromstring(data)


@pytest.mark.filterwarnings("ignore")  # music21's own
def test_songs_are_valid_and_read_by_music21_as_what_they_are():
    for text, arrangement in all_songs(musicxml.HOW_MANY // 20):
        assert musicxml.faults(arrangement) == [], text


def test_the_schema_finds_faults():
    data = to_musicxml(arranged(HEAD + "section Verse\n| D |\n"))
    assert musicxml.schema_faults(data.replace(b"<duration>", b"<length>").replace(b"</duration>", b"</length>"))


def test_same_song_same_bytes_and_a_digest_of_them():
    text = HEAD + "section Verse\n| D | G |\n"
    data = to_musicxml(arranged(text))
    assert data == to_musicxml(arranged(text))
    digest = re.search(rb'name="digest">([0-9a-f]{64})<', data)
    assert digest is not None
    assert digest[1].decode() == hashlib.sha256(data.replace(digest[1], b"0" * 64)).hexdigest()


def test_the_head_names_the_song_and_its_makers():
    root = score(HEAD + "section Verse\n| D |\n")
    assert root.findtext("work/work-title") == "Small Boats"
    assert [(c.get("type"), c.text) for c in root.iter("creator")] == [
        ("composer", "Ivo Quill"),
        ("lyricist", "Nell Tarrant"),
    ]
    assert root.findtext("identification/rights") == "ours"


def test_repeats_and_endings_have_their_signs():
    root = score(HEAD + "section Verse\n|: D | G |1.2. A :|3. D ||\n|: Bm | A :| x3\n")
    lines = [
        [
            (line.get("location"), *(f"{e.tag} {sorted(e.attrib.values())}" for e in line))
            for line in bar.iter("barline")
        ]
        for bar in root.iter("measure")
    ]
    assert lines[0] == [("left", "bar-style []", "repeat ['forward']")]
    assert lines[2] == [
        ("left", "ending ['1, 2', 'start']"),
        ("right", "bar-style []", "ending ['1, 2', 'stop']", "repeat ['backward']"),
    ]
    assert lines[3][0] == ("left", "ending ['3', 'start']")
    assert lines[-1][-1] == ("right", "bar-style []", "repeat ['3', 'backward']")


def test_sections_tempi_loudness_and_cues_are_said():
    text = (
        HEAD
        + "tempo dotted 60\nmeter 6/8\nroadmap Verse, Chorus (build), Ending\n"
        + "section Verse\ndynamic p\npickup We\n| D |\n"
        + "section Chorus\ndynamic p to f\nfeel swing\ncue drums in\n| G | A |\n"
        + "section Ending\ntempo rit to 40\n| D hold |\n"
    )
    root = score(text)
    assert [r.text for r in root.iter("rehearsal")] == ["Verse", "Chorus", "Ending"]
    words = [w.text for w in root.iter("words")]
    assert words == ["pickup: We", "build", "swing", "drums in", "rit to 40", "straight"]
    metronome = root.find(".//metronome")
    assert metronome is not None and [part.tag for part in metronome] == ["beat-unit", "beat-unit-dot", "per-minute"]
    assert [s.get("tempo") for s in root.iter("sound") if s.get("tempo")] == ["90", "40"]
    assert [d[0].tag for d in root.iter("dynamics")] == ["p", "f"]
    assert [w.get("type") for w in root.iter("wedge")] == ["crescendo", "stop"]
    assert len(list(root.iter("fermata"))) == 2  # one for each hand


def test_a_tune_is_a_voice_with_the_words():
    text = HEAD + "section Verse\n| D | G |\nsing | out on the | wa- |\ntune | F#4 E D / | G4 |\n"
    root = score(text)
    assert [p.findtext("part-name") for p in root.iter("score-part")] == ["Voice", "Piano"]
    voice, piano = root.findall("part")
    assert [(ly.findtext("syllabic"), ly.findtext("text")) for ly in voice.iter("lyric")] == [
        ("single", "out"),
        ("single", "on"),
        ("single", "the"),
        ("begin", "wa"),
    ]
    assert not list(piano.iter("lyric"))


PADDED = (
    "sound pad / piano split C4\nsection Verse\nplay quarters\n| D | A/C# | Bm stop | G |\n| Em | A7 | D | D hold |\n"
)


def test_a_pad_with_keys_of_its_own_has_a_part_of_its_own():
    root = score(HEAD + PADDED)
    assert [p.findtext("part-name") for p in root.iter("score-part")] == ["Piano", "Pad"]
    piano, pad = root.findall("part")
    assert len(piano.findall("measure")) == len(pad.findall("measure")) == 8
    clef = pad.find("measure/attributes/clef")
    assert clef is not None and clef.findtext("sign") == "F"  # it lies under the split
    assert not list(pad.iter("direction")) and not list(pad.iter("harmony"))
    assert not list(pad.iter("accent")) and list(pad.iter("fermata"))
    assert musicxml.faults(arranged(HEAD + PADDED)) == []


def test_a_layer_without_keys_of_its_own_has_none():
    root = score(HEAD + PADDED.replace("pad / piano split C4", "piano + pad"))
    assert [p.findtext("part-name") for p in root.iter("score-part")] == ["Piano"]


def test_verses_that_share_bars_are_numbered():
    root = score(HEAD + "section Verse\n|: D | G :|\nsing | one | two |\nsing | three | four _ |\n")
    found = [(ly.get("number"), ly.findtext("text"), ly.find("extend") is not None) for ly in root.iter("lyric")]
    assert found == [("1", "one", False), ("2", "three", False), ("1", "two", False), ("2", "four", True)]


def test_words_go_to_the_note_after_a_rest_if_no_others_come_before_it():
    notes = [(Fraction(0), False), (Fraction(1), True), (Fraction(2), True)]
    words = Lyric(Fraction(0), "out on the sea", False, False)
    assert on_notes([words], notes, sung=False) == {1: words}
    other = Lyric(Fraction(1), "home", False, False)
    assert on_notes([words, other], notes, sung=False) == {0: words, 1: other}
    two = Lyric(Fraction(0), "come home", False, False)
    assert on_notes([two], notes, sung=False) == {1: two}
    assert [lyric.text for lyric in on_notes([two], notes, sung=True).values()] == ["come", "home"]


@pytest.mark.parametrize("quality", [q for q in QUALITIES if q.musicxml], ids=lambda q: q.name or "major")
def test_chords_with_a_kind_of_their_own_need_no_degrees(quality):
    """The kinds are MusicXML's, by the table of qualities."""
    assert kind_of(quality.degrees) == (quality.musicxml, ())


@pytest.mark.parametrize(("feel", "count"), [("straight", 0), ("swing", 1)])
def test_swing_is_said_to_players_that_are_programs(feel, count):
    root = score(HEAD + f"feel {feel}\nsection Verse\n| D |\n")
    assert len(list(root.iter("swing"))) == count
