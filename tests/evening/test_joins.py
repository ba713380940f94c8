"""The joins of the sample evening: hands are those of the parts, and rows show them; sounds, vamps, breaks."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from arranger.evening.in_common import tonic_triad
from arranger.evening.joins import breaks_after, join
from arranger.evening.model import EveningBreak, EveningSong, SongJoin
from arranger.evening.song_ends import evening_song
from arranger.harmony.arrange import work_out
from arranger.harmony.model import Arrangement
from arranger.harmony.taste import DEFAULT
from arranger.layout.content.pictures import marks
from arranger.layout.model import Keyboard, Text
from arranger.layout.options import PartOptions, StageOptions
from arranger.layout.pages.book import row_look
from arranger.layout.pages.join_row import foot_row, head_row
from arranger.layout.pages.order_page import OrderEntry, clock, totals
from arranger.pdf.fonts import metrics
from arranger.song.read import read
from arranger.song.running_order import Onward, RunningOrder, read_order
from arranger.song.tonight import song_tonight
from arranger.text.source import Source
from arranger.units import A4

SAMPLES = Path(__file__).parents[2] / "samples"
WIDTH = A4.width - 80.0


def arranged(text: str, facts: Sequence[object] = ()) -> Arrangement:
    song, problems = read(Source.of("a.song.txt", text))
    assert song is not None, problems
    tonight, problems = song_tonight(song, facts)  # type: ignore[arg-type]
    assert tonight is not None, problems
    worked, problems = work_out(tonight, DEFAULT, figures=False)
    assert worked is not None, problems
    return worked.arrangement


@cache
def order() -> RunningOrder:
    path = SAMPLES / "harvest supper.set.txt"
    return read_order(Source.of(path.name, path.read_text(encoding="utf-8")))[0]


@cache
def songs() -> tuple[Arrangement, ...]:
    return tuple(arranged((SAMPLES / one.file).read_text(encoding="utf-8"), one.facts) for one in order().songs)


@cache
def joins() -> tuple[SongJoin, ...]:
    facts = [evening_song(one, number) for number, one in enumerate(songs(), 1)]
    _, breaks = breaks_after(order())
    each = zip(facts, facts[1:], order().songs, breaks, strict=False)
    return tuple(join(one, two, song.onward, between, DEFAULT) for one, two, song, between in each)


def test_hands_are_those_of_the_parts() -> None:
    for here, one, two in zip(joins(), songs(), songs()[1:], strict=False):
        assert here.before is not None
        last, first = one.chord(one.heard[-1].chord), two.chord(two.heard[0].chord)
        resolved = last.suspension is not None and last.suspension.resolves_to is not None
        assert here.before.last.right == (last.plain if resolved else last.right)
        assert (here.before.last.left, here.after.first.right, here.after.first.left) == (
            last.left,
            first.right,
            first.left,
        )


@pytest.mark.parametrize("row", [foot_row, head_row])
def test_rows_show_these_hands_and_what_moves(row: object) -> None:
    look = row_look(PartOptions())
    for here in joins():
        if not here.goes_on:
            continue
        assert here.before is not None
        shown = [i for i in row(here, look, metrics())(40.0, WIDTH).items if isinstance(i, Keyboard)]  # type: ignore[operator]
        hands = [here.before.last.right, *(each.right for each in here.written), here.after.first.right]
        keys = [tuple(pitch.midi for pitch in hand) for hand in hands]
        assert [tuple(mark.key for mark in each.marks) for each in shown] == keys
        assert [each.marks for each in shown] == [marks(a, b) for a, b in zip([(), *keys], keys, strict=False)]


def test_rows_stay_on_the_page_and_their_texts_apart() -> None:
    for look in (row_look(PartOptions()), row_look(PartOptions(hands="letters")), row_look(StageOptions())):
        for here in joins():
            for row in (foot_row, head_row):
                made = row(here, look, metrics())(40.0, WIDTH)
                for item in made.items:
                    if isinstance(item, Text):
                        assert item.x >= 40.0 and 0.0 <= item.y <= made.height
                        assert item.x + metrics().width(item.text, item.face, item.size) <= 40.0 + WIDTH + 0.1


def test_a_pad_note_never_rubs_on_either_tonic_triad() -> None:
    assert any(here.pad is not None for here in joins())
    for here in joins():
        if here.pad is not None and here.before is not None:
            for key in (here.before.last.key, here.after.first.key):
                apart = {(here.pad.pitch_class - c) % 12 for c in tonic_triad(key).pitch_classes}
                assert not apart & {1, 11}


def test_the_sample_shows_what_there_is() -> None:
    kinds = {one.onward.kind for one in order().songs}
    assert kinds == {"attacca", "pad", "talk", "stop"}
    assert any(one.onward.way for one in order().songs) and any(here.breaks for here in joins())
    words = {fact.word for one in order().songs for fact in one.facts}
    assert {"key", "capo", "roadmap", "tempo", "band"} <= words
    assert any(here.written for here in joins()) and any(here.vamp for here in joins())
    assert any(here.call for here in joins()) and any(here.ways for here in joins())


def test_chords_of_the_set_take_the_place_of_what_is_offered() -> None:
    written = [here for here in joins() if here.written]
    assert [[str(each.chord) for each in here.written] for here in written] == [["C#m", "D7"]]
    assert all(here.ways == () for here in written)


# Single joins.

SONG = "song {0}\nkey {1}\ntempo {2}\nsection Verse\nsound {3}\n| {4} |\n"


def song(
    number: int, key: str = "C", tempo: str = "72", sound: str = "piano", chords: str = "C | G | C"
) -> EveningSong:
    return evening_song(arranged(SONG.format(number, key, tempo, sound, chords)), number)


def test_after_a_stop_nothing_is_said_of_keys_and_tempi() -> None:
    here = join(song(1), song(2, "D", "72", "organ", "D | A"), Onward(), (), DEFAULT)
    assert (here.goes_on, here.triads, here.pad, here.ways, here.tempo) == (False, (), None, (), "")
    assert (here.call, here.call_time) == ("organ", "in the silence")


def test_when_a_hand_is_free_for_another_sound() -> None:
    """A bar of four at 72 has 3.3 seconds, at 200 it has 1.2: to let go, press and be back takes 1.5."""
    slow, quick = song(1), song(1, tempo="200")
    organ = song(2, sound="organ")
    attacca = Onward("attacca", written=True)
    assert join(slow, organ, attacca, (), DEFAULT).call_time == "over the last chord, 3.3 s"
    assert join(quick, organ, attacca, (), DEFAULT).call_time == "no hand is free: the last chord has 1.2 s"
    rests = song(1, tempo="200", chords="C | G | C | rest | rest")
    assert join(rests, organ, attacca, (), DEFAULT).call_time == "in the last 2 bars"
    assert join(slow, organ, Onward("talk", 30), (), DEFAULT).call_time == "while somebody speaks"
    assert join(slow, song(2), attacca, (), DEFAULT).call == ""


def test_under_a_talk_there_is_a_vamp_of_the_next_key() -> None:
    here = join(song(1), song(2, "Ebm", chords="Ebm | Bb | Ebm"), Onward("talk", 30), (), DEFAULT)
    assert ([str(chord) for chord in here.vamp], str(here.vamp_pad)) == (["Ebm", "Abm"], "Eb")
    after = [EveningBreak("soup", Onward("talk", 60))]
    assert join(song(1), song(2), Onward(), after, DEFAULT).vamp != ()
    assert join(song(1), song(2), Onward("attacca"), (), DEFAULT).vamp == ()


def test_keys_that_come_in_later_are_counted() -> None:
    assert song(1, chords="rest | rest | C").first.bars == 2
    assert song(1, chords="C | rest").last.bars == 1


def test_playing_time_is_bars_by_their_tempo() -> None:
    """Three bars of four quarters at 72: 10 seconds. With a slower section of two bars at 60: 8 more."""
    assert song(1).seconds == Fraction(10)
    text = "song A\nkey C\ntempo 72\nroadmap V, W x2\nsection V\n| C | G | C |\nsection W\ntempo 60\n| C |\n"
    found = evening_song(arranged(text), 1)
    assert (found.seconds, found.open_ended, found.reckoned) == (Fraction(18), False, False)
    assert evening_song(arranged(text.replace("W x2", "W until they sit")), 1).open_ended
    assert evening_song(arranged(text.replace("tempo 60", "tempo free")), 1).reckoned
    held = evening_song(arranged(text.replace("| G | C |", "| G | C hold |")), 1)
    assert held.seconds > Fraction(18)  # a chord that is held lasts longer
    entries = [OrderEntry(found, Onward("talk", 45)), OrderEntry(found, Onward())]
    assert totals(entries) == "2 songs · 1 min of playing · 45 s of talk"
    assert clock(found.seconds) == "0:18"
