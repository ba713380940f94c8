"""Write as text why the hands are as they are: other hands and their cost, the hardest changes, fills to choose from.

Takes worked-out values; gives lines without line ends.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from arranger.exchange.table import notes_text
from arranger.harmony.arrange import WorkedOut
from arranger.harmony.demands import hardest
from arranger.harmony.model import Arrangement, ChordId, ChordPart, FillNote, OctaveLine
from arranger.harmony.octaves import choices
from arranger.harmony.taste import Taste
from arranger.harmony.why import counted, in_words, reasons
from arranger.song.model import Section

EVERY_CHORD = 9  # from so many chords on, those without a line are passed over: nobody asked for them
FILLS_SHOWN = 3  # of each change: the best of the ranked list


def places(arrangement: Arrangement, bar: str) -> list[ChordId]:
    """Find the chords of a bar: `5` (of every section) or `Verse 1:5`; all chords where nothing is asked for.

    Copies by `like` are passed over where nothing is asked for: they have their model's hands.

    Raises:
        ValueError: there is no such section or bar; says which there are.
    """
    song = arrangement.song
    everywhere = [
        (s, c) for s, part in enumerate(arrangement.sections) for c, one in enumerate(part.chords) if one.chord
    ]
    if not bar.strip():
        return [where for where in everywhere if song.sections[where[0]].model is None]
    name, _, number = bar.rpartition(":")
    if not number.strip().isdecimal():
        raise ValueError(f"expected a bar such as 5 or Verse 1:5, found {bar!r}")
    wanted = [i for i, s in enumerate(song.sections) if not name or s.name.casefold() == name.strip().casefold()]
    if not wanted:
        names = ", ".join(s.name for s in song.sections)
        raise ValueError(f"there is no section {name.strip()!r}; there are {names}")
    found = [w for w in everywhere if w[0] in wanted and arrangement.chord(w).bar == int(number)]
    if not found:
        last = max((arrangement.chord(w).bar for w in everywhere if w[0] in wanted), default=0)
        raise ValueError(f"no chord begins in bar {number.strip()} there; the last bar with one is {last}")
    return found


def why(worked: WorkedOut, where: Sequence[ChordId]) -> Iterator[str]:
    """Yield for each chord what was chosen, the next best hands, and what they would have cost in the whole song."""
    arrangement = worked.arrangement
    for reason in reasons(worked, where):
        part = arrangement.chord(reason.where)
        yield f"{_place(arrangement, reason.where)}  {part.chord}: {notes_text(part.right)}{_way(arrangement, part)}"
        if part.suspension is not None:
            yield f"    {part.suspension.kind}: {part.suspension.reason}"
        yield from (f"    {note}" for note in reason.notes)
        stay = "" if reason.anew else ", where all other hands stay"
        for other in reason.others:
            yield f"    not {notes_text(other.right)}{stay}: {in_words(other.more)}"
        if not reason.others:
            yield "    there is no other hand for it within the limits"


def _way(arrangement: Arrangement, part: ChordPart) -> str:
    if part.came_from is None:
        return ", a free start"
    before = arrangement.chord(part.came_from)
    way = f"{counted(part.movement, 'semitone')} and {counted(part.moved, 'new key')}"
    return f", {way} from {before.chord}"


def hard(arrangement: Arrangement, most: int) -> Iterator[str]:
    """List the changes that ask most of the hand, hardest first."""
    for one in hardest(arrangement, most):
        part = arrangement.chord(one.where)
        yield (
            f"{_place(arrangement, one.where)}  to {part.chord}, {notes_text(part.right)}: "
            f"{one.semitones} semitones and {counted(one.keys, 'new key')} in {float(one.time):.1f} s"
        )


def fills(arrangement: Arrangement, where: Sequence[ChordId], taste: Taste) -> Iterator[str]:
    """List for each change the best fills, each as a row to paste under the row of chords."""
    for before in where:
        lines = choices(arrangement, before, taste, FILLS_SHOWN)
        if not lines:
            if len(where) < EVERY_CHORD:
                chord = arrangement.chord(before).chord
                place = _place(arrangement, before)
                yield f"{place}  {chord}: no line fits; the chord is too short, or nothing leads on"
            continue
        goal = arrangement.chord(lines[0].to).chord
        yield f"{_place(arrangement, before)}  {arrangement.chord(before).chord} to {goal}"
        section = arrangement.song.sections[before[0]]
        for line in lines:
            yield f"    {octave_row(section, line)}   ({line.figure})"


def octave_row(section: Section, line: OctaveLine) -> str:
    """Write a fill as an `octave` row that covers the bars of its row of chords up to its last note."""
    row = line.notes[0].row
    bars = []
    for index, bar in enumerate(section.rows[row].bars):
        notes = [n for n in line.notes if (n.row, n.bar_index) == (row, index)]
        if not notes:
            bars.append("rest")
            if index > max(n.bar_index for n in line.notes if n.row == row):
                bars.pop()
                break
            continue
        bars.append(_marks(notes, bar.length, bar.meter.felt_beat))
    return f"octave | {' | '.join(bars)} |"


def _marks(notes: Sequence[FillNote], length: Fraction, felt: Fraction) -> str:
    """Share a bar into felt beats, or into eighths where a note comes between them."""
    share = felt if all((n.start / felt).denominator == 1 for n in notes) else Fraction(1, 2)
    by_start = {n.start: n for n in notes}
    marks = []
    place = Fraction(0)
    sounding_until = Fraction(0)
    while place < length:
        note = by_start.get(place)
        if note is not None:
            marks.append(str(note.pitch))
            sounding_until = place + note.length
        else:
            marks.append("/" if place < sounding_until else "rest")
        place += share
    return " ".join(marks)


def _place(arrangement: Arrangement, where: ChordId) -> str:
    part = arrangement.chord(where)
    section = arrangement.song.sections[where[0]]
    beat = part.start / section.rows[part.row].bars[part.bar_index].meter.beat + 1
    return f"{section.name}, bar {part.bar}" + (f", beat {beat}" if beat != 1 else "")
