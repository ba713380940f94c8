"""Make a song's text of a score, step by step; refuse what is no lead sheet.

What was guessed, and what found no place, is said in the song at its place and returned beside it. Nothing is lost.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from arranger.convert.model import Converted, Remark
from arranger.convert.score_bars import lead_bars
from arranger.convert.score_file import Refusal, pieces_of, too_large
from arranger.convert.score_head import score_of
from arranger.convert.score_keys import keys_of_bars
from arranger.convert.score_lead import LeadBar
from arranger.convert.score_model import Score
from arranger.convert.score_roadmap import MOST_PLAYED, PlayedOrder, played_order, repeats_in
from arranger.convert.score_sections import sections_of
from arranger.convert.score_song import LeadSheet, Written, respelled_bars, song_of, tempo_text
from arranger.convert.score_words import sung_bars, verse_count
from arranger.song.model import Meter
from arranger.song.read import read
from arranger.song.tidy import tidied
from arranger.text.diagnostics import Diagnostic, has_errors
from arranger.text.source import Source
from arranger.theory.key import Key

INTRO = 4  # bars without words after which the first verse begins


def convert_score(
    data: bytes, *, title: str = "Untitled", key: Key | None = None, meter: Meter | None = None
) -> tuple[Converted | None, tuple[Diagnostic, ...]]:
    """Make a song of a score; None where it is none, with what was found instead.

    Args:
        data: of the file, an archive or plain XML.
        title: where the score has none (the name of its file).
        key: that sounds, as if the score said so; None where the score or its chords say it.
        meter: of the first bars, likewise.
    """
    try:
        score = score_of(pieces_of(data))
        bars, of_parts = lead_bars(score, meter)
    except Refusal as refusal:
        return None, (refusal.problem,)
    score = replace(score, title=score.title or title)
    order, notes = _order(bars)
    if len(order.bars) >= MOST_PLAYED:
        return None, (_too_large(),)
    keys, of_keys = keys_of_bars(bars, order.bars, key)
    bars, of_spelling = respelled_bars(bars, keys)
    notes = (*_of_head(score, bars, of_parts), *of_keys, *of_spelling, *notes)
    best: Written | None = None
    for fold, cues in ((True, True), (True, False), (False, False)):
        written = song_of(_sheet(score, bars, keys, order, notes, fold=fold, cues=cues))
        tidy = tidied(Source.of("", written.text))
        problems = read(Source.of("", tidy))[1]
        if not has_errors(problems):
            best = best if best is not None and problems else Written(tidy, written.notes)
            if not problems:
                break
    if best is None:
        if any(problem.code in ("song-too-long", "too-many-sections", "file-too-large") for problem in problems):
            return None, (_too_large(),)
        raise AssertionError(f"a score became a song with mistakes: {problems[0].message}")
    return Converted(best.text, best.notes), ()


def _too_large() -> Diagnostic:
    return too_large("too much for one").problem


def _sheet(
    score: Score,
    bars: tuple[LeadBar, ...],
    keys: tuple[Key, ...],
    order: PlayedOrder,
    notes: tuple[Remark, ...],
    *,
    fold: bool,
    cues: bool,
) -> LeadSheet:
    sections = sections_of(bars, order, fold=fold)
    played = order.bars
    if sections.unplayed:
        firsts = dict(sections.pieces)
        played += tuple(i for first in sections.unplayed for i in range(first, firsts[first] + 1))
        said = ", ".join(bars[first].label for first in sections.unplayed)
        notes = (*notes, Remark("check", 0, f"bar {said}: no repeat or jump leads here: it is played at the end"))
    sung, unsung = sung_bars(bars, played, sections.pieces, order.repeats)
    return LeadSheet(score, bars, keys, played, sung, unsung, sections, notes, cues)


def _order(bars: Sequence[LeadBar]) -> tuple[PlayedOrder, tuple[Remark, ...]]:
    """Return the bars as they are played, verses that no repeat asks for among them."""
    jumps = [bar.jumps for bar in bars]
    repeats = repeats_in(jumps, lambda first, last: verse_count(bars[first : last + 1]))
    order = played_order(jumps, repeats)
    notes = [Remark("check", 0, f"bar {bars[index].label}: {said}") for index, said in order.checks]
    for repeat in repeats:
        if repeat.times > max(2, bars[repeat.body_last].jumps.times) and not repeat.endings:
            said = f"the repeat is played {repeat.times} times, once for each line of words"
            notes.append(Remark("assumed", 0, f"bar {bars[repeat.first].label}: {said}"))
    verses = verse_count(bars)
    if order.bars == tuple(range(len(bars))) and verses > 1:
        first, after = _strophe(bars)
        strophes = tuple(range(first, after)) * (verses - 1)
        order = replace(order, bars=(*range(after), *strophes, *range(after, len(bars))))
        said = f"{verses} lines of words stand under the notes: these are played {verses} times"
        notes.append(Remark("assumed", 0, said))
    return order, tuple(notes)


def _strophe(bars: Sequence[LeadBar]) -> tuple[int, int]:
    """Return the first bar of what is sung to several lines of words, and the bar after its last."""
    sung = [i for i, bar in enumerate(bars) if bar.syllables]
    begins = [0, *(i for i, bar in enumerate(bars) if bar.heading or (i and bars[i - 1].jumps.double)), len(bars)]
    first = max(i for i in begins if i <= sung[0])
    if sung[0] - first >= INTRO:
        first = sung[0]
    after = min(i for i in begins if i > sung[-1])
    if after - sung[-1] > INTRO:
        after = sung[-1] + 1
    return first, after


def _of_head(score: Score, bars: Sequence[LeadBar], of_parts: Sequence[str]) -> Iterator[Remark]:
    """Return what there is to say of the score as a whole."""
    for text in (*of_parts, *score.credits):
        yield Remark("left", 0, text)
    for bar in bars:
        if bar.tempo is not None and not tempo_text(Fraction(bar.tempo), bar.meter):
            yield Remark("left", 0, f"bar {bar.label}: a tempo of {float(bar.tempo):g} quarters a minute")
