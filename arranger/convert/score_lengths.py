"""Settle how long bars are: pickups, bars in two parts round a repeat, bars that hold too much or too little."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil

from arranger.convert.score_file import too_large
from arranger.convert.score_lead import LeadBar, LeadNote, meter_of_length
from arranger.convert.score_model import MOST_BARS, NO_JUMPS, Jumps
from arranger.song.chord_rows import GRID


def timed(bars: Sequence[LeadBar], implicit: Sequence[bool]) -> list[LeadBar]:
    """Return the bars with the lengths in which they are written.

    Args:
        bars: as long as what stands in them.
        implicit: which of them are not counted.

    Raises:
        Refusal: they are far too many.
    """
    found: list[LeadBar] = []
    index = 0
    while index < len(bars):
        bar = bars[index]
        after = bars[index + 1] if index + 1 < len(bars) else None
        whole = bar.meter.length
        halves = (
            after is not None
            and 0 < bar.length < whole
            and after.length > 0
            and bar.length + after.length == whole
            and after.meter == bar.meter
        )
        if (
            halves
            and after is not None
            and (implicit[index] or implicit[index + 1])
            and index
            and _joinable(bar, after)
        ):
            found.append(_joined(bar, after))
            index += 2
            continue
        before = bars[index - 1].length if index else Fraction(0)
        other_half = 0 < bar.length < whole and bar.length + before == whole
        exact = index == 0 or implicit[index] or halves or other_half or _parted(bars, index)
        found += _fitted(bar, exact=exact, first=index == 0)
        if len(found) > MOST_BARS:
            raise too_large(f"more than {MOST_BARS:,} bars")
        index += 1
    return found


def _joinable(bar: LeadBar, after: LeadBar) -> bool:
    """Return whether nothing but a plain barline parts two bars."""
    out, into = bar.jumps, after.jumps
    leaves = out.times or out.ending_stops or out.back_to or out.to_coda or out.fine or out.double
    comes = into.forward or into.ending or into.segno or into.coda or into.coda_signs
    return not (leaves or comes or after.heading or after.key is not None)


def _joined(bar: LeadBar, after: LeadBar) -> LeadBar:
    moved = bar.length
    return replace(
        bar,
        length=moved + after.length,
        chords=(*bar.chords, *(replace(one, start=one.start + moved) for one in after.chords)),
        tune=(*bar.tune, *(replace(one, start=one.start + moved) for one in after.tune)),
        syllables=(*bar.syllables, *(replace(one, start=one.start + moved) for one in after.syllables)),
        words=(*bar.words, *after.words),
        tempo=bar.tempo or after.tempo,
        feel=bar.feel or after.feel,
        jumps=bar.jumps.with_those_of(after.jumps),
        checks=(*bar.checks, *after.checks),
        left=(*bar.left, *after.left),
    )


def _parted(bars: Sequence[LeadBar], index: int) -> bool:
    """Return whether a bar is short since its other part stands where a repeat begins."""
    bar = bars[index]
    if not 0 < bar.length < bar.meter.length:
        return False
    rest = bar.meter.length - bar.length
    if bar.jumps.times or bar.jumps.back_to:
        start = next((i for i in range(index, -1, -1) if bars[i].jumps.forward), 0)
        after = bars[index + 1].length if index + 1 < len(bars) else 0
        return rest in (bars[start].length, after)
    return bar.jumps.forward and index > 0 and bars[index - 1].length == rest


def _fitted(bar: LeadBar, *, exact: bool, first: bool) -> Iterator[LeadBar]:
    """Return a bar in a length that the notation has; two or more where it is far too long."""
    whole = bar.meter.length
    length = bar.length
    exact = exact and meter_of_length(length).length >= length  # no meter has so many eighths
    if not length or (length < whole and not exact):
        yield _cut(replace(bar, length=whole))
        return
    if length == whole:
        yield _cut(bar)
        return
    rounded = GRID * ceil(length / GRID)
    if length < whole:
        early = rounded - length if first else Fraction(0)
        yield _moved(replace(bar, length=rounded), early)
        return
    said = f"the notes of this bar last {_quarters(length)}, and its meter is {bar.meter}"
    bar = replace(bar, checks=(*bar.checks, said))
    if rounded < 2 * whole and meter_of_length(rounded).length >= rounded:
        yield replace(bar, length=rounded)
        return
    start = Fraction(0)
    while start < length:
        here = min(whole, GRID * ceil((length - start) / GRID))
        piece = _slice(bar, start, start + here)
        last = start + here >= length
        yield replace(
            piece,
            length=here,
            heading=bar.heading if not start else "",
            key=bar.key if not start else None,
            jumps=_outer(bar.jumps, opens=not start, closes=last),
            checks=bar.checks if not start else (),
            left=bar.left if not start else (),
            words=bar.words if not start else (),
        )
        start += here


def _outer(jumps: Jumps, *, opens: bool, closes: bool) -> Jumps:
    """Return what of a bar's jumps belongs to its first or last piece."""
    first = Jumps(forward=jumps.forward, ending=jumps.ending, segno=jumps.segno, coda=jumps.coda)
    last = replace(jumps, forward=False, ending=(), segno=False, coda=False)
    return (first if opens else NO_JUMPS).with_those_of(last if closes else NO_JUMPS)


def _quarters(length: Fraction) -> str:
    return f"{float(length):g} quarters"


def _slice(bar: LeadBar, start: Fraction, end: Fraction) -> LeadBar:
    tune = []
    for note in bar.tune:
        begins, ends = max(note.start, start), min(note.start + note.length, end)
        if begins < ends:
            tune.append(LeadNote(begins - start, ends - begins, note.pitch, note.held or begins > note.start))
    return replace(
        bar,
        chords=tuple(replace(c, start=c.start - start) for c in bar.chords if start <= c.start < end),
        tune=tuple(tune),
        syllables=tuple(replace(s, start=s.start - start) for s in bar.syllables if start <= s.start < end),
    )


def _moved(bar: LeadBar, by: Fraction) -> LeadBar:
    if not by:
        return _cut(bar)
    return _cut(
        replace(
            bar,
            chords=tuple(replace(one, start=one.start + by) for one in bar.chords),
            tune=tuple(replace(one, start=one.start + by) for one in bar.tune),
            syllables=tuple(replace(one, start=one.start + by) for one in bar.syllables),
        )
    )


def _cut(bar: LeadBar) -> LeadBar:
    """Return a bar without notes past its end, and with chords that stand there at its last eighth."""
    tune = [replace(n, length=min(n.length, bar.length - n.start)) for n in bar.tune if n.start < bar.length]
    last = max(Fraction(0), bar.length - GRID)
    checks = bar.checks
    if any(chord.start >= bar.length for chord in bar.chords):
        checks = (*checks, "a chord symbol stands behind the last note of this bar")
    chords = [replace(c, start=last) if c.start >= bar.length else c for c in bar.chords]
    syllables = [replace(s, start=last) if s.start >= bar.length else s for s in bar.syllables]
    return replace(bar, tune=tuple(tune), chords=tuple(chords), syllables=tuple(syllables), checks=checks)
