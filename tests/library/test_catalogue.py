"""The facts of songs: those of a whole song, what can be read of one with errors; and how titles are filed."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from arranger.library.catalogue import SongFacts, fold, from_data, letter, title_key, tokens
from arranger.library.song_entry import SungLines, broken_entry, entry, sung_texts
from arranger.song.read import decode, read
from arranger.text.source import Source

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
HEAD = "song Slack Water\nkey F#m\ntempo dotted 56\nmeter 6/8\n"


def song_of(text: str) -> tuple[SongFacts, SungLines]:
    song, problems = read(Source.of("x", text))
    assert song is not None, problems
    return entry(song, "deep/slack.song.txt", "deep/slack.pdf"), sung_texts(song)


def test_the_facts_are_those_of_the_song() -> None:
    found, _ = song_of(HEAD + "section Verse\n| F#m | D |\nsing | out on the | water |\n")
    assert found == SongFacts(
        title="Slack Water",
        key="F#m",
        tempo="dotted 56",
        bpm=56,
        beat="3/2",
        meter="6/8",
        first_words="out on the water",
        file="deep/slack.song.txt",
        output="deep/slack.pdf",
    )


def test_a_capo_song_is_filed_by_the_key_that_sounds() -> None:
    found, _ = song_of("song Capo\nkey D\ncapo 2 in C\nsection Verse\n| C | G |\n")
    assert (found.key, found.tempo, found.bpm, found.meter) == ("D", "", None, "4/4")


def test_words_are_whole_again_across_chords_and_barlines() -> None:
    _, texts = song_of(
        HEAD + "section Verse\npickup And\n|: F#m D | D D :|\n"
        "sing | lan*terns a- | long_ * the wall |\nsing | 5 \\* \\_ stars _ | |\n"
        "section Coda\n| A |\n"
    )
    assert texts == (("Verse", "And lanterns along the wall"), ("Verse", "5 * _ stars"))


def test_verses_are_read_one_after_the_other() -> None:
    _, texts = song_of(
        HEAD + "section Verse\n|: F#m | D |\nsing | one | two |\nsing | five | six |\n"
        "| A | E :|\nsing | three | four |\nsing | seven | eight |\n"
    )
    assert [words for _, words in texts] == ["one two", "three four", "five six", "seven eight"]


def test_the_first_words_are_those_that_are_sung_first() -> None:
    """The roadmap begins with the section that is written last."""
    found, texts = song_of(
        HEAD + "roadmap Intro, Second, First\nsection First\n| A |\nsing | one |\n"
        "section Second\n| A |\nsing | two |\nsection Intro\n| A |\n"
    )
    assert found.first_words == "two"
    assert [words for _, words in texts] == ["one", "two"]


def test_first_words_are_cut_at_a_blank() -> None:
    found, _ = song_of(HEAD + "section Verse\n| A |\nsing | " + "gull " * 40 + "|\n")
    assert found.first_words == " ".join(["gull"] * 16)
    found, _ = song_of(HEAD + "section Verse\n| A |\nsing | " + "o" * 200 + "|\n")
    assert found.first_words == "o" * 80


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_reading_what_can_be_read_finds_the_same_in_whole_songs(path: Path) -> None:
    source, _ = decode(path.name, path.read_bytes())
    song, _ = read(source)
    assert song is not None
    whole, (broken, texts) = entry(song, path.name), broken_entry(source, path.name, 1)
    assert (whole.title, whole.key, whole.tempo, whole.bpm, whole.beat, whole.meter) == (
        broken.title,
        broken.key,
        broken.tempo,
        broken.bpm,
        broken.beat,
        broken.meter,
    )
    assert broken.errors == 1
    sung = sorted(word for _, words in sung_texts(song) for word in words.split())
    assert sorted(word for _, words in texts for word in words.split()) == sung


def test_of_a_song_with_errors_all_is_kept_that_is_right() -> None:
    text = "song Slack Water\nkey H\ntempo 72 bpm\nmeter 6/8\nsection Verse\n| Q |\nsing | out a- | long\nwhat\n"
    found, texts = broken_entry(Source.of("x", text), "a/slack.song.txt", 4)
    assert (found.title, found.key, found.tempo, found.bpm, found.meter) == ("Slack Water", "", "", None, "6/8")
    assert (found.file, found.output, found.errors) == ("a/slack.song.txt", "", 4)
    assert texts == (("Verse", "out along"),)
    assert found.first_words == "out along"


@pytest.mark.parametrize("text", ["", "key D\n", "nonsense\n" * 600])
def test_a_song_without_a_title_has_the_name_of_its_file(text: str) -> None:
    assert broken_entry(Source.of("x", text), "a/slow boats.song.txt", 1)[0].title == "slow boats"


@pytest.mark.slow
@given(st.text(max_size=300))
def test_anything_can_be_read_as_a_broken_song(text: str) -> None:
    found, _ = broken_entry(Source.of("x", text), "x.song.txt", 1)
    assert found.title.strip()


def test_entries_survive_being_kept_as_data() -> None:
    found, _ = song_of(HEAD + "section Verse\n| A |\n")
    assert from_data(found._asdict()) == found
    spoilt = {"bpm": "56", "beat": "1/x", "key": "H", "errors": -1, "title": "\ud800", "meter": None}
    for spoiled in (None, [], {}, *({**found._asdict(), name: value} for name, value in spoilt.items())):
        with pytest.raises(ValueError):
            from_data(spoiled)


def test_titles_are_filed_as_libraries_do() -> None:
    filed = [
        "?!", "9 Gulls", "The 10 Gulls", "10th of May", "A", "Été", "Harbour Light", "The Harbour Lights",
        "Harbourmaster", "A Łódź Waltz", "The The", "“’Tis Evening”", "Über den Fluss", "Zinc", "Οδός", "лодка", "海",
    ]  # fmt: skip
    backwards = filed[::-1]
    assert sorted(backwards, key=title_key) == filed
    assert [letter(title) for title in filed] == [
        "…", "0–9", "0–9", "0–9", "A", "E", "H", "H", "H", "L", "T", "T", "U", "Z", "Ο", "Л", "海",
    ]  # fmt: skip


@given(st.text(max_size=40))
def test_folding_is_stable_and_words_are_found_in_it(text: str) -> None:
    assert fold(fold(text)) == fold(text)
    assert tokens(" ".join(tokens(text))) == tokens(text)
    assert letter(text)
