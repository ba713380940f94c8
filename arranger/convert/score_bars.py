"""Make one line of music of a score's parts: bars with their chords, the tune and its words, as long as they sound.

The chords are those of the first part that has its share of them; the tune is of the first part with words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from arranger.convert.score_file import Refusal
from arranger.convert.score_lead import LeadBar, LeadChord, LeadNote, LeadSyllable, meter_of_length
from arranger.convert.score_lengths import timed
from arranger.convert.score_model import (
    NO_JUMPS,
    Jumps,
    Score,
    ScoreChord,
    ScoreMeasure,
    ScoreNote,
    ScorePart,
    ScoreText,
)
from arranger.habits.bounds import MOST_BEATS
from arranger.song.chord_rows import GRID, METER_UNITS
from arranger.song.model import COMMON, Meter
from arranger.text.diagnostics import error


def lead_bars(score: Score, meter: Meter | None = None) -> tuple[tuple[LeadBar, ...], tuple[str, ...]]:
    """Return the bars of a lead sheet, and what there is to say of the parts.

    Args:
        score: the score.
        meter: of the first bars, as if the score said so.

    Raises:
        Refusal: it has no bars, no chord symbols, or far too many bars.
    """
    count = max((len(part.measures) for part in score.parts), default=0)
    if not count:
        message = "expected a score with bars, found none"
        raise Refusal(error("score-without-bars", message, None, "export it from the notation program anew"))
    most = max(part.chords for part in score.parts)
    typed = not most
    if typed:
        score = replace(score, parts=tuple(_with_typed_chords(part) for part in score.parts))
        most = max(part.chords for part in score.parts)
    if not most:
        message = "expected chord symbols in the score, found none"
        hint = "write them over the melody as chord symbols, and export the score anew"
        raise Refusal(error("score-without-chords", message, None, hint))
    chord_part = next(part for part in score.parts if 2 * part.chords >= most)
    tune_part = _tune_part(score.parts, chord_part)
    bars = list(_bars(score.parts, chord_part, tune_part, meter))
    measures = tune_part.measures if len(tune_part.measures) == count else chord_part.measures
    implicit = [measure.implicit for measure in measures] + [False] * (count - len(measures))
    bars = timed(bars, implicit)
    if typed:
        said = "the chords are typed as words over the notes, and read as chords"
        bars[0] = replace(bars[0], checks=(said, *bars[0].checks))
    return tuple(bars), tuple(_said_of_parts(score.parts, chord_part, tune_part))


FEWEST_TYPED = 3  # words in a part that are chords by their look; one letter may be a rehearsal mark


def _with_typed_chords(part: ScorePart) -> ScorePart:
    """Take the words of a part that look like chords for its chords, where it has enough of them, and several."""
    found = [text.text for measure in part.measures for text, _ in measure.chord_like]
    if len(found) < FEWEST_TYPED or len(set(found)) < 2 or "ABCDEFGH".startswith("".join(found)):
        return part  # few, or parts called A, B, C
    return replace(part, measures=tuple(map(_with_chords_of_words, part.measures)))


def _with_chords_of_words(measure: ScoreMeasure) -> ScoreMeasure:
    typed = [text for text, _ in measure.chord_like]
    return replace(
        measure,
        chords=(*measure.chords, *(chord for _, chord in measure.chord_like)),
        headings=tuple(heading for heading in measure.headings if heading not in typed),
        words=tuple(words for words in measure.words if words not in typed),
    )


def _tune_part(parts: Sequence[ScorePart], chord_part: ScorePart) -> ScorePart:
    most = max(part.sung for part in parts)
    if most:
        return chord_part if 2 * chord_part.sung >= most else next(p for p in parts if 2 * p.sung >= most)
    return chord_part if chord_part.pitched else next((part for part in parts if part.pitched), chord_part)


def _said_of_parts(parts: Sequence[ScorePart], chord_part: ScorePart, tune_part: ScorePart) -> Iterator[str]:
    others = [p for p in parts if p is not chord_part and p is not tune_part and (p.pitched or p.sung or p.chords)]
    if others:
        names = ", ".join(part.name or "without a name" for part in others[:8])
        yield f"other parts than tune and chords: {names}{f' and {len(others) - 8} more' if others[8:] else ''}"


def _bars(
    parts: Sequence[ScorePart], chord_part: ScorePart, tune_part: ScorePart, forced: Meter | None
) -> Iterator[LeadBar]:
    """Return the bars with what stands in them; the lengths are those of what stands there."""
    meter, free = forced or COMMON, False
    main = _main_voice(tune_part)
    late: list[ScoreText] = []
    for index in range(max(len(part.measures) for part in parts)):
        here = [part.measures[index] for part in parts if index < len(part.measures)]
        chords = chord_part.measures[index] if index < len(chord_part.measures) else _SILENT
        tune = tune_part.measures[index] if index < len(tune_part.measures) else _SILENT
        first = [tune, chords, *here]
        stated = next((m.meter for m in first if m.meter is not None), None)
        checks: list[str] = []
        if stated is not None and (forced is None or index):
            free = stated == (0, 0)
            meter, said = _meter(*stated) if not free else (COMMON, "")
            checks += [said] if said else []
        content = max(chords.length, tune.length)
        printed = list(dict.fromkeys(heading for measure in here for heading in measure.headings))
        headings = [heading for heading in printed if not heading.start or 2 * heading.start < content]
        yield LeadBar(
            label=tune.label or chords.label or str(index + 1),
            meter=meter,
            length=content if content or not free else meter.length,
            chords=_chords(chords, meter, content or meter.length, checks),
            tune=tuple(_tune(tune, main)),
            syllables=tuple(_syllables(tune, main, checks)),
            heading=_heading((*late, *headings)),
            key=next((m.key for m in first if m.key is not None), None),
            tempo=next((m.tempo for m in first if m.tempo is not None), None),
            feel=next((m.feel for m in first if m.feel), ""),
            dynamic=next((m.dynamic for m in first if m.dynamic), ""),
            words=tuple(dict.fromkeys(w.text for m in (tune, chords, here[0]) for w in m.words)),
            jumps=_jumps(here),
            checks=tuple(checks),
            left=tuple(dict.fromkeys((*tune.troubles, *chords.troubles))),
        )
        late = [heading for heading in printed if heading not in headings]  # over the pickup of the next bar


_SILENT = ScoreMeasure("", False, Fraction(0))


def _jumps(here: Sequence[ScoreMeasure]) -> Jumps:
    found = NO_JUMPS
    for measure in here:
        found = found.with_those_of(measure.jumps)
    return found


def _heading(headings: Sequence[ScoreText]) -> str:
    """Return the name of a section that begins in a bar: words before a rehearsal mark, which has a letter or two."""
    names = list(dict.fromkeys(heading.text for heading in headings))
    return max(names, key=lambda name: (len(name) > 2, -names.index(name)), default="")


def _meter(beats: int, unit: int) -> tuple[Meter, str]:
    """Return a meter that the notation has, and what is to be said where it is not the one that is written."""
    if unit in METER_UNITS and 1 <= beats <= MOST_BEATS:
        return Meter(beats, unit), ""
    length = Fraction(4 * beats, unit)
    found = meter_of_length(length, halves=unit < 2)
    same = "" if found.length == length else ", and a bar is longer than it was"
    return found, f"the meter {beats}/{unit} is written as {found}{same}"


def _chords(measure: ScoreMeasure, meter: Meter, length: Fraction, checks: list[str]) -> tuple[LeadChord, ...]:
    """Return the chords of a bar in order; those that stand together on one note are spread over its beats."""
    kept: list[ScoreChord] = []
    for chord in sorted(measure.chords, key=lambda one: one.start):
        if chord.trouble:
            checks.append(chord.trouble)
        if chord.text and not any(one.start == chord.start and one.text == chord.text for one in kept):
            kept.append(chord)
    starts = [chord.start for chord in kept]
    instead = [one for one in kept if one.other and any(not o.other and o.start == one.start for o in kept)]
    if instead:
        checks.append(f"in place of a chord the score offers {', '.join(one.text for one in instead)}")
    kept = [one for one in kept if one not in instead]
    found: list[LeadChord] = []
    for start in dict.fromkeys(starts):
        together = [one for one in kept if one.start == start]
        after = min((s for s in starts if s > start), default=max(length, start))
        note = max((n.start + n.length for n in measure.notes if n.start == start and n.length), default=after)
        span = min(after, note) - start
        hold = any(note.fermata and note.start == start for note in measure.notes)
        if len(together) > 1:
            checks.append(f"{len(together)} chord symbols stand on one note: they are spread over its beats")
            beat = meter.felt_beat if span >= meter.felt_beat * len(together) else GRID
            steps = [start + beat * int(span * n / len(together) / beat) for n in range(len(together))]
        else:
            steps = [start]
        found += [
            LeadChord(step, one.text, hold and not n) for n, (step, one) in enumerate(zip(steps, together, strict=True))
        ]
    return tuple(found)


def _main_voice(part: ScorePart) -> tuple[int, str]:
    """Return staff and voice of the tune: those with the most words, else the first with its share of the notes."""
    notes = [note for measure in part.measures for note in measure.notes]
    sung = Counter((note.staff, note.voice) for note in notes if note.syllables)
    if sung:
        return max(sung, key=lambda voice: sung[voice])
    pitched = Counter((note.staff, note.voice) for note in notes if note.pitch is not None)
    most = max(pitched.values(), default=0)
    return next((voice for voice in pitched if 2 * pitched[voice] >= most), (1, "1"))


def _tune(measure: ScoreMeasure, main: tuple[int, str]) -> Iterator[LeadNote]:
    """Return the tune of a bar: of notes that sound together the highest."""
    voices: dict[tuple[int, str], list[ScoreNote]] = {}
    for note in measure.notes:
        if note.length > 0 and note.staff == main[0]:
            voices.setdefault((note.staff, note.voice), []).append(note)
    notes = voices.get(main) or next(iter(voices.values()), [])
    highest: dict[Fraction, ScoreNote] = {}
    for note in notes:
        known = highest.get(note.start)
        if known is None or (note.pitch is not None and (known.pitch is None or note.pitch.midi > known.pitch.midi)):
            highest[note.start] = note
    ordered = [highest[start] for start in sorted(highest)]
    for note, after in zip(ordered, (*ordered, None)[1:], strict=True):
        length = note.length if after is None else min(note.length, after.start - note.start)
        yield LeadNote(note.start, length, note.pitch, note.held)


def _syllables(measure: ScoreMeasure, main: tuple[int, str], checks: list[str]) -> Iterator[LeadSyllable]:
    """Return the words of a bar in order: those of the tune's voice before others."""
    taken: dict[tuple[Fraction, str], str] = {}
    found: list[LeadSyllable] = []
    for note in sorted(measure.notes, key=lambda one: (one.start, (one.staff, one.voice) != main)):
        for sung in note.syllables:
            place = note.start, sung.verse
            if place not in taken:
                taken[place] = sung.text
                found.append(LeadSyllable(note.start, sung))
            elif taken[place] != sung.text:
                checks.append(f"another voice sings `{sung.text[:60]}` here")
    yield from found
