"""Running orders: what is read of them, and songs with their facts of the evening."""

from __future__ import annotations

from pathlib import Path

import pytest

from arranger.resources import grammar_text
from arranger.song.model import Song
from arranger.song.read import read
from arranger.song.running_order import MOST_SONGS, EveningFact, OrderedBreak, OrderedSong, RunningOrder, read_order
from arranger.song.tonight import song_tonight
from arranger.song.transpose import transposed
from arranger.text.source import Source, Span
from arranger.theory.key import Key

SAMPLES = Path(__file__).parents[2] / "samples"


def order(text: str) -> RunningOrder:
    found, problems = read_order(Source.of("a.set.txt", text))
    assert problems == ()
    return found


def sample(name: str) -> Song:
    song, problems = read(Source.of(name, (SAMPLES / f"{name}.song.txt").read_text(encoding="utf-8")))
    assert song is not None and problems == ()
    return song


def facts(text: str) -> tuple[EveningFact, ...]:
    return order(f"set A\nsong a.song.txt\n{text}\n").songs[0].facts


def test_a_whole_order() -> None:
    found = order(
        "\ufeff# a remark\r\nSET  The  Supper\r\ndate 29 November\r\nplace the net loft\r\n\r\n"
        "song a b.song.txt\r\nkey E\r\nroadmap Verse\r\nroadmap Chorus\r\nthen pad\r\nthen chords C#m F#m7/B\r\n"
        "break soup\r\nthen talk 90 S\r\nsong x/c.song.txt\r\n"
    )
    assert (found.title.value, found.date and found.date.value, found.place and found.place.value) == (
        "The  Supper",
        "29 November",
        "the net loft",
    )
    first, pause, last = found.items
    assert isinstance(first, OrderedSong) and isinstance(pause, OrderedBreak) and isinstance(last, OrderedSong)
    assert (first.file, [(one.word, one.text) for one in first.facts]) == (
        "a b.song.txt",
        [("key", "E"), ("roadmap", "Verse"), ("roadmap", "Chorus")],
    )
    assert (first.onward.kind, [str(chord) for chord in first.onward.way]) == ("pad", ["C#m", "F#m7/B"])
    assert (pause.text, pause.onward.kind, pause.onward.seconds) == ("soup", "talk", 90)
    assert (last.file, last.onward.kind, last.onward.written) == ("x/c.song.txt", "stop", False)


def test_facts_have_their_places() -> None:
    text = "set A\nsong a.song.txt\n  tempo   84\n"
    fact = order(text).songs[0].facts[0]
    assert text[fact.span.start : fact.span.end] == "84"


@pytest.mark.parametrize(
    "lines", ["then chords Em A7\nthen attacca", "then attacca\nthen chords Em A7", "then chords Em A7"]
)
def test_chords_stand_beside_another_way_in_any_order(lines: str) -> None:
    onward = order(f"set A\nsong a.song.txt\n{lines}\n").songs[0].onward
    assert (onward.kind, [str(chord) for chord in onward.way]) == ("attacca", ["Em", "A7"])


def test_too_many_songs_are_refused() -> None:
    text = "set A\n" + "song a.song.txt\n" * (MOST_SONGS + 1)
    assert [one.code for one in read_order(Source.of("a.set.txt", text))[1]] == ["too-many-songs"]
    assert len(order("set A\n" + "song a.song.txt\n" * MOST_SONGS).songs) == MOST_SONGS


def test_a_thousand_errors_end_the_reading() -> None:
    problems = read_order(Source.of("a.set.txt", "set A\n" + "nonsense here\n" * 1000))[1]
    assert problems[-1].code == "too-many-errors"


def test_the_order_at_the_head_of_the_grammar_is_read() -> None:
    lines = grammar_text("set.lark").splitlines()
    head = "\n".join(line[7:] for line in lines if line.startswith("//     ") or line == "//")
    assert len(order(head).songs) == 2


# Songs with their facts of the evening.


def test_facts_are_read_as_if_the_song_had_them() -> None:
    """The same song as where its own lines are changed by hand."""
    song = sample("slow boats")
    changed = song.source.text.replace("tempo     96", "tempo 88").replace("sound     piano\n", "sound organ\n", 1)
    by_hand, _ = read(Source.of("a", changed))
    found, problems = song_tonight(song, facts("tempo 88\nsound organ"))
    assert problems == () and found == by_hand and found != song


def test_what_a_section_says_of_itself_stays() -> None:
    found, _ = song_tonight(sample("lanterns"), facts("sound organ"))
    assert found is not None
    sounds = {one.name: one.facts.sound and one.facts.sound.text for one in found.sections}
    assert sounds["Intro"] == "piano"


def test_a_fact_that_the_song_does_not_have_is_put_in() -> None:
    found, problems = song_tonight(sample("lanterns"), facts("texture bare to full"))
    assert found is not None and problems == ()
    assert {one.facts.texture and one.facts.texture.text for one in found.sections} == {"bare to full"}


def test_another_key_and_a_capo_for_it() -> None:
    song = sample("tide clock")
    found, problems = song_tonight(song, facts("key Bb\ncapo 3 in G"))
    assert found is not None and problems == ()
    assert found.sections == transposed(song, Key.parse("Bb")).sections
    assert found.capo is not None and (found.capo.fret, str(found.capo.shapes)) == (3, "G")
    plain, _ = song_tonight(song, facts("key Bb"))
    assert plain is not None and plain.capo is None


def test_a_shorter_roadmap_says_nothing_of_what_it_leaves_out() -> None:
    found, problems = song_tonight(sample("slow boats"), facts("roadmap Intro, Verse 1"))
    assert found is not None and problems == ()
    assert [found.sections[step.section].name for step in found.roadmap] == ["Intro", "Verse 1"]


def test_no_facts_leave_the_song_as_it_is() -> None:
    song = sample("lanterns")
    assert song_tonight(song, ()) == (song, ())


def test_a_fact_that_makes_the_song_wrong_elsewhere_is_told_at_the_fact() -> None:
    """A chord that comes early cannot be the first of the song: this evening it would be."""
    song = sample("marquee")
    wanted = (EveningFact("tempo", "116", Span(1, 4)), EveningFact("roadmap", "Chorus, Verse 1", Span(7, 22)))
    found, problems = song_tonight(song, wanted)
    assert found is None
    assert [(one.code, one.span) for one in problems] == [("unfit-fact", Span(7, 22))]
    assert "`roadmap Chorus, Verse 1`" in problems[0].message
