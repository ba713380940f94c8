"""Songs with words for the tests, built as values: the layout is tested apart from the reader."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from arranger.harmony.model import Arrangement
from arranger.harmony.taste import Taste
from arranger.song.model import COMMON, BarWords, Meter, Piece, Section, Song, SongText, Step, SungLine
from tests.harmony import songs


def sung(text: str) -> SungLine:
    """Read `came * in to | us a- | long`: `*` where the next chord falls, `-` at the end joins over the barline."""
    return SungLine(tuple(map(_bar, text.split("|"))))


def _bar(text: str) -> BarWords:
    text = text.strip()
    joins = text.endswith("-")
    parts = text.removesuffix("-").split("*")
    pieces = [
        Piece(part.strip(), number, number > 0 and not part.startswith(" ") and not parts[number - 1].endswith(" "))
        for number, part in enumerate(parts)
    ]
    return BarWords(tuple(piece for piece in pieces if piece.text), joins)


def section(
    name: str,
    key: str,
    rows: Sequence[Sequence[str]],
    *,
    meter: Meter = COMMON,
    level: str | None = None,
    tempo: int | None = 72,
    pickup: str = "",
    cues: Sequence[str] = (),
) -> Section:
    """Give a section: each row is its chords, then its verses of words. Cues stand before the first row."""
    plain = songs.section(name, key, [row[0] for row in rows], meter, level, tempo)
    made = [
        replace(built, words=tuple(_padded(verse, len(built.bars)) for verse in row[1:]))
        for built, row in zip(plain.rows, rows, strict=True)
    ]
    if cues:
        made[0] = replace(made[0], cues=tuple(map(SongText, cues)))
    return replace(plain, rows=tuple(made), pickup=SongText(pickup) if pickup else None)


def _padded(verse: str, bars: int) -> SungLine:
    line = sung(verse)
    return replace(line, bars=line.bars + (BarWords(),) * (bars - len(line.bars)))


def song(title: str, sections: Sequence[Section], roadmap: Sequence[Step] = (), band: Sequence[str] = ()) -> Song:
    built = songs.song(sections, roadmap, band)
    return replace(built, title=SongText(title), roadmap_written=bool(roadmap))


def arranged(made: Song, taste: Taste = songs.TODAY) -> Arrangement:
    """Work out the part."""
    arrangement, _ = songs.arranged(made, taste)
    assert arrangement is not None
    return arrangement


def lanterns() -> Song:
    """Give a whole song: a pickup, verses, splits within words, a slash chord, a repeated bar."""
    verse = (
        ("| D | G | Bm | A |", "hung the | lanterns one by | one a- | long the wall and"),
        ("| D/F# | G A | D / / G | D |", "every boat | came * in to | hear us | call"),
    )
    other = (
        (verse[0][0], "set a | candle in the | win- | dow on the hill and"),
        (verse[1][0], "somebody | far * out was | listening | still"),
    )
    chorus = (
        ("| G | D/F# A | Bm | G A |", "Burn | lan*terns | burn un- | til * the"),
        ("| G | D/F# | Asus4 A | D |", "tide | turns and | we * are | home"),
    )
    sections = [
        section("Intro", "D", [("| D | G | Bm | A / Asus4 A |",)], level="p"),
        section("Verse 1", "D", verse, level="mp", pickup="We"),
        section("Verse 2", "D", other, level="mp", pickup="You"),
        section("Chorus", "D", chorus, level="f", cues=["drums in"]),
        section("Ending", "D", [("| G | A | D |",)], level="p"),
    ]
    steps = [Step(0), Step(1), Step(3), Step(2), Step(3, times=2, remark="build"), Step(4)]
    return song("Lanterns on the Harbour", sections, steps, ("bass", "drums", "guitar"))
