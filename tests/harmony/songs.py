"""Small songs for the tests, built as values: the harmony stage is tested apart from the reader."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from arranger.harmony.arc import plan_arc
from arranger.harmony.arrange import work_out
from arranger.harmony.model import Arrangement
from arranger.harmony.taste import DEFAULT, Taste
from arranger.harmony.timeline import Timeline, unroll
from arranger.song.model import (
    COMMON,
    Bar,
    Dynamic,
    Facts,
    Mark,
    Meter,
    Pin,
    Row,
    Section,
    Song,
    SongText,
    Step,
    Tempo,
    WrittenChord,
)
from arranger.text.diagnostics import Diagnostic
from arranger.text.source import Source
from arranger.theory.chord import Chord
from arranger.theory.key import Key, Transposition
from arranger.theory.pitch import NoteName
from arranger.theory.qualities import BY_NAME

TODAY = DEFAULT._replace(arc=False)  # the same hands in every section: textures have tests of their own

_CHORD = re.compile(r"(?P<root>[A-G][#b]*)(?P<quality>6/9|m6/9|[^/=]*)(?:/(?P<bass>[A-G][#b]?))?(?:=(?P<pins>.*))?")
_PIN = re.compile(r"([A-G][#b]*)(\d?)")


def chord(text: str) -> Chord:
    match = _CHORD.fullmatch(text)
    assert match, text
    bass = NoteName.parse(match["bass"]) if match["bass"] else None
    return Chord(NoteName.parse(match["root"]), BY_NAME[match["quality"]], (), bass)


def written(text: str) -> WrittenChord:
    pins = text.partition("=")[2]
    notes = tuple(Pin(NoteName.parse(n), int(o) if o else None) for n, o in _PIN.findall(pins))
    return WrittenChord(chord(text), text.partition("=")[0], as_written=text.endswith("="), pins=notes)


def row(text: str, meter: Meter = COMMON, first: int = 1) -> Row:
    """Read `| D / / A | % |`, with `|:`, `:|` and endings as `1.` alone before a bar's chords."""
    bars = []
    for index, one in enumerate(text.strip().strip("|").split("|")):
        tokens = one.split()
        start = tokens[:1] == [":"]
        times = 2 if tokens[-1:] == [":"] else 0
        tokens = [t for t in tokens if t != ":"]
        ending = tuple(int(t[:-1]) for t in tokens if re.fullmatch(r"\d\.", t))
        tokens = [t for t in tokens if not re.fullmatch(r"\d\.", t)]
        repeats_last = tokens == ["%"]
        marks = [] if repeats_last else [_mark(t, i, len(tokens), meter) for i, t in enumerate(tokens)]
        bars.append(
            Bar(
                first + index,
                meter,
                meter.length,
                tuple(marks),
                repeats_last,
                repeat_start=start,
                repeat_times=times,
                ending=ending,
            )
        )
    return Row(tuple(bars))


def _mark(token: str, index: int, count: int, meter: Meter) -> Mark:
    share = meter.length / count
    if token == "/":
        return Mark("slash", index * share, share)
    if token == "rest":
        return Mark("rest", index * share, share)
    if token == "N.C.":
        return Mark("none", index * share, share)
    return Mark("chord", index * share, share, written(token))


def section(
    name: str, key: str, rows: Sequence[str], meter: Meter = COMMON, level: str | None = None, tempo: int | None = 72
) -> Section:
    made, first = [], 1
    for text in rows:
        made.append(row(text, meter, first))
        first += len(made[-1].bars)
    dynamic = Dynamic(level, level) if level else None
    facts = Facts(Key.parse(key), meter, Tempo(str(tempo), tempo) if tempo else None, dynamic=dynamic)
    return Section(name, facts, tuple(made))


def copy_of(model: Section, index: int, key: str, level: str | None) -> Section:
    """Give a section `like` a model (the section at `index`), in another key."""
    moved = Transposition(model.facts.key, Key.parse(key))

    def mark(one: Mark) -> Mark:
        return replace(one, chord=replace(one.chord, chord=one.chord.chord.moved(moved))) if one.chord else one

    rows = tuple(
        replace(r, bars=tuple(replace(b, marks=tuple(map(mark, b.marks))) for b in r.bars)) for r in model.rows
    )
    dynamic = Dynamic(level, level) if level else None
    facts = model.facts._replace(key=Key.parse(key), dynamic=dynamic)
    return Section(f"copy in {key}", facts, rows, like=model.name, model=index)


def song(sections: Sequence[Section], roadmap: Sequence[Step] = (), band: Sequence[str] = ("bass",)) -> Song:
    sections = [replace(s, facts=s.facts._replace(band=tuple(band))) for s in sections]
    facts = sections[0].facts
    steps = tuple(roadmap) or tuple(Step(i) for i in range(len(sections)))
    return Song(
        Source("test", ""),
        SongText("Test"),
        facts.key,
        facts.meter,
        tuple(sections),
        steps,
        band=tuple(band),
        tempo=facts.tempo,
    )


def one(key: str, *rows: str, level: str | None = None, tempo: int | None = 72, meter: Meter = COMMON) -> Song:
    """Give a song of one section."""
    return song([section("A", key, rows, meter, level, tempo)])


def arranged(
    song: Song, taste: Taste = TODAY, key: Key | None = None
) -> tuple[Arrangement | None, tuple[Diagnostic, ...]]:
    """Return the arrangement of a song without what it was made from, and what there is to say."""
    worked, problems = work_out(song, taste, key)
    return (worked.arrangement if worked else None), problems


def hands(arrangement: Arrangement) -> list[str]:
    """Give the right hands of all printed chords as text, a suspension that resolves as two."""
    found = []
    for part in arrangement.sections:
        for c in part.chords:
            if c.kind == "chord":
                text = "-".join(map(str, c.right))
                if c.suspension is not None and c.suspension.resolves_to is not None:
                    text += ">" + "-".join(map(str, c.plain))
                found.append(text)
    return found


def unrolled(song: Song, taste: Taste = TODAY, alone: frozenset[int] = frozenset()) -> Timeline:
    """Return the timeline of a song."""
    return unroll(plan_arc(song, taste), alone)
