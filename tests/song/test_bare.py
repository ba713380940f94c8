"""The reader by regular expressions that reading is measured against: it finds the same chords, times and words."""

from pathlib import Path

import pytest

from arranger.song.read import read
from arranger.text.source import Source
from tests.bench.bare import by_regex

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.name.removesuffix(".song.txt"))
def test_it_finds_what_the_song_holds(path: Path) -> None:
    source = Source.of("a", path.read_text(encoding="utf-8"))
    song, _ = read(source)
    assert song is not None
    own = [section for section in song.sections if section.model is None]
    bars = [bar for section in own for bar in section.bars]
    plain = by_regex(source.text)
    plain_bars = [bar for kind, _, *rest in plain if kind == "chords" for bar in rest[0]]
    assert len(plain_bars) == len(bars)
    for bar, (_, beats, unit, _, marks) in zip(bars, plain_bars, strict=True):
        assert (beats, unit) == (bar.meter.beats, bar.meter.unit)
        if bar.repeats_last:
            continue
        assert [(float(m.start), float(m.length)) for m in bar.marks] == [mark[:2] for mark in marks]
        for mark, found in zip(bar.marks, marks, strict=True):
            if mark.chord is not None and song.capo is None:
                bass = f"/{found[4]}" if found[4] else ""
                assert mark.chord.written == f"{found[2]}{found[3]}{bass}"
                assert (mark.chord.push > 0) == found[6]
                assert mark.chord.manner == found[8:]
    sung = [line.bars for section in song.sections for row in section.rows for line in row.words]
    in_order = sorted(sung, key=lambda line: line[0].span.start)
    plain_sung = [rest[0] for kind, _, *rest in plain if kind == "sing"]
    assert len(plain_sung) == len(in_order)
    for line, found in zip(in_order, plain_sung, strict=True):
        words = [[piece.text for piece in bar.pieces] for bar in line]
        assert words[: len(found)] == [[piece[0].replace("\\", "") for piece in bar] for bar in found]
