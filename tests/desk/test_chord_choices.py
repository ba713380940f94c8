"""Other hands and lines for a chord: each change, made, is read as just that."""

from pathlib import Path

import pytest

from arranger.desk.chord_choices import chord_at, chord_told
from arranger.exchange.table import notes_text
from arranger.harmony.arrange import work_out
from arranger.harmony.taste import DEFAULT
from arranger.song.read import read
from arranger.text.source import Source

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))


def made(source, fix):
    return Source(source.name, source.text[: fix.span.start] + fix.text + source.text[fix.span.end :])


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name.partition(".")[0])
def test_what_is_offered_can_be_written_into_the_song_and_is_played(path):
    source = Source.of(path.name, path.read_text(encoding="utf-8"))
    song, _ = read(source)
    worked, _ = work_out(song)
    hands = 0
    chords = [
        c for s, part in enumerate(worked.arrangement.sections) if part.of is None for c in part.chords if c.chord
    ]
    for chord in chords[:: max(1, len(chords) // 6)]:
        where = chord_at(worked, chord.span.start)
        if where is None:
            continue
        told = chord_told(worked, where, DEFAULT)
        for offer in told.hands:
            assert offer.fix is not None, offer
            again, _ = work_out(read(made(source, offer.fix))[0])
            assert notes_text(again.arrangement.chord(where).right) == offer.what
            hands += 1
        for offer in told.octaves:
            assert offer.fix is not None, offer
            after, _ = read(made(source, offer.fix))
            assert after is not None
    assert hands
