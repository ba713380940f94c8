"""What is known of the singer at a printed chord. Takes the song; gives words and tune under a stretch of bars.

A row without words is played without a singer; so is a song that has no words anywhere.
"""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.timeline import Printed
from arranger.song.model import Bar, Note, Section, Song

FEW_SYLLABLES = 2  # in a bar of four beats: the words are over in its first half
# A word after a comma or stop; stops of scripts that set no blank after them need none.
_AFTER_STOP = re.compile(r"[,;:.!?…،؛؟۔।][^\w\s]*\s\W*\w|[、。，；：！？]\W*\w")
_CLOSED = re.compile(r"[,;:.!?…،؛؟۔।、。，；：！？]\W*$")
_VOWELS = re.compile(r"[aeiouyäöüαεηιουωаеёиоуыэюя]+")


def syllables(text: str) -> int:
    """Estimate the syllables of sung words: groups of vowels, at least one a word (an estimate, by ear).

    >>> syllables("lanterns one by"), syllables("_ la mer")
    (4, 2)
    """
    count = 0
    for word in text.replace("-", " ").split():
        plain = lower = word.lower()
        if not word.isascii():
            plain = "".join([c for c in unicodedata.normalize("NFD", lower) if not unicodedata.combining(c)])
        if not plain.isalpha() and not any(map(str.isalpha, plain)):
            continue
        groups = len(_VOWELS.findall(plain))
        ending = lower.rstrip(".,;:!?'’\"")
        silent = ending.endswith("e") and not ending.endswith(("le", "ee"))
        count += max(1, groups - (1 if silent and groups > 1 else 0))
    return count


class BarStretch(NamedTuple):
    """A part of a bar: `row`, `bar_index`, and from where to where in quarters from the start of the bar."""

    row: int
    bar_index: int
    start: Fraction
    end: Fraction


def stretches(section: Section, printed: Printed) -> Iterator[BarStretch]:
    """Return the parts of bars that a printed chord takes, in the order written."""
    left = printed.length
    start = printed.start
    row, bar_index = printed.row, printed.bar_index
    if start + left <= section.rows[row].bars[bar_index].length:
        yield BarStretch(row, bar_index, start, start + left)
        return
    while left > 0:
        bar = section.rows[row].bars[bar_index]
        take = min(left, bar.length - start)
        yield BarStretch(row, bar_index, start, start + take)
        left -= take
        following = next_bar(section, row, bar_index)
        if following is None:
            return
        (row, bar_index), start = following, Fraction(0)


def next_bar(section: Section, row: int, bar_index: int) -> tuple[int, int] | None:
    """Return the place of the bar after this one as written."""
    if bar_index + 1 < len(section.rows[row].bars):
        return row, bar_index + 1
    return (row + 1, 0) if row + 1 < len(section.rows) else None


def place_after(section: Section, row: int, bar_index: int, place: Fraction) -> tuple[int, int, Fraction]:
    """Return the row, bar and place in it of a place that counts from the start of a bar, maybe past its end."""
    while place >= section.rows[row].bars[bar_index].length:
        following = next_bar(section, row, bar_index)
        if following is None:
            break
        place -= section.rows[row].bars[bar_index].length
        row, bar_index = following
    return row, bar_index, place


def bar_before(section: Section, row: int, bar_index: int) -> tuple[int, int] | None:
    """Return the place of the bar before this one as written."""
    if bar_index > 0:
        return row, bar_index - 1
    return (row - 1, len(section.rows[row - 1].bars) - 1) if row > 0 else None


def most_syllables(section: Section, row: int, bar_index: int) -> int:
    """Return the most syllables that any verse sings in a bar; 0 where all are silent."""
    lines = section.rows[row].words
    return max((sum(syllables(p.text) for p in line.bars[bar_index].pieces) for line in lines), default=0)


def has_words(section: Section, row: int, bar_index: int) -> bool:
    """Return whether any verse has words in a bar."""
    return any(p.text for line in section.rows[row].words for p in line.bars[bar_index].pieces)


def tune_notes(section: Section, row: int, bar_index: int) -> tuple[Note, ...] | None:
    """Return the notes of the tune that sound in a bar, or None where none is known.

    None is written for the row, or none for the bar, though it has words. A note held over from an earlier bar begins
    before the bar: its start is below 0.
    """
    tune = section.rows[row].tune
    if tune is None:
        return None
    found = list(tune.bars[bar_index]) if bar_index < len(tune.bars) else []
    passed = Fraction(0)
    for earlier in range(bar_index - 1, -1, -1):
        passed += section.rows[row].bars[earlier].length
        notes = tune.bars[earlier] if earlier < len(tune.bars) else ()
        found += [replace(n, start=n.start - passed) for n in notes if n.start + n.length > passed]
    if not found and has_words(section, row, bar_index):
        return None
    return tuple(sorted(found, key=lambda n: n.start))


def rests_in(section: Section, stretch: BarStretch) -> bool:
    """Return whether the singer rests in a part of a bar.

    In a copy without words; by the tune where there is one; else a bar without words, or the second half of a bar of
    four beats or more that holds two syllables at most, joins no word to the next bar and none to the next phrase.
    """
    words = has_words(section, stretch.row, stretch.bar_index)
    if section.without_words and not words:
        return True
    notes = tune_notes(section, stretch.row, stretch.bar_index)
    if notes is not None:
        return not any(
            n.pitch is not None and n.start < stretch.end and n.start + n.length > stretch.start for n in notes
        )
    if not words:
        return True
    bar = section.rows[stretch.row].bars[stretch.bar_index]
    if stretch.start < bar.length / 2 or not _is_long(bar):
        return False
    return (
        not any(line.bars[stretch.bar_index].joins for line in section.rows[stretch.row].words)
        and most_syllables(section, stretch.row, stretch.bar_index) <= FEW_SYLLABLES
        and not _sung_late(section, stretch)
        and not next_phrase_begins(section, stretch.row, stretch.bar_index)
    )


def _sung_late(section: Section, stretch: BarStretch) -> bool:
    """Return whether any verse begins words at a chord in the second half of this bar."""
    row = section.rows[stretch.row]
    bar = row.bars[stretch.bar_index]
    starts = [m.start for m in bar.marks if m.kind in ("chord", "none")]
    return any(
        piece.text and piece.chord is not None and piece.chord < len(starts) and starts[piece.chord] >= bar.length / 2
        for line in row.words
        for piece in line.bars[stretch.bar_index].pieces
    )


def next_phrase_begins(section: Section, row: int, bar_index: int) -> bool:
    """Return whether any verse sings words in a bar that belong to the phrase after it: they stand late in the bar.

    So do words after a comma or stop, and words that no comma or stop ends in a bar whose next bar begins a new sung
    line. (Words before a section are its `pickup`.)
    """
    for line in section.rows[row].words:
        text = "".join(("" if piece.glued else " ") + piece.text for piece in line.bars[bar_index].pieces)
        if _AFTER_STOP.search(text):
            return True
        if text.strip() and not _CLOSED.search(text) and _new_line_follows(section, row, bar_index):
            return True
    return False


def _new_line_follows(section: Section, row: int, bar_index: int) -> bool:
    """Return whether a new line is sung from the next bar on: that of the next row, or of a repeat that begins anew."""
    bar = section.rows[row].bars[bar_index]
    following = next_bar(section, row, bar_index)
    if following is not None and following[0] != row and has_words(section, *following):
        return True
    if not bar.repeat_times:
        return False
    place = row, bar_index
    while not section.rows[place[0]].bars[place[1]].repeat_start:
        before = bar_before(section, *place)
        if before is None:
            break
        place = before
    return has_words(section, *place)


def _is_long(bar: Bar) -> bool:
    return bar.length >= 4 * bar.meter.beat


def enters_after_rest(section: Section, printed: Printed) -> bool:
    """Return whether the singer's first note after a bar of rest is under this chord, in any verse or by the tune."""
    before = bar_before(section, printed.row, printed.bar_index)
    notes = tune_notes(section, printed.row, printed.bar_index)
    if notes is not None:
        sung = [n for n in notes if n.pitch is not None]
        silent = before is None or not _sounds(section, *before)
        return silent and bool(sung) and printed.start <= sung[0].start < printed.start + printed.length
    for index, line in enumerate(section.rows[printed.row].words):
        pieces = [p for p in line.bars[printed.bar_index].pieces if p.text]
        if not pieces or (pieces[0].chord or 0) != (printed.place or 0):
            continue
        if before is None or not _sings(section, *before, index):
            return True
    return False


def _sounds(section: Section, row: int, bar_index: int) -> bool:
    return any(n.pitch is not None for n in tune_notes(section, row, bar_index) or ())


def pickups_after(song: Song, order: Sequence[int | None], *, last_time: bool = False) -> frozenset[int]:
    """Return the sections that are followed by one whose words begin in the bar before it (a pickup).

    Args:
        song: whose sections they are.
        order: the sections as they are played; None for one that the keys leave out.
        last_time: those that are the last time they are played; else those that ever are.
    """
    followed: dict[int, list[bool]] = {}
    for here, after in pairwise((*order, None)):
        if here is not None:
            followed.setdefault(here, []).append(after is not None and song.sections[after].pickup is not None)
    return frozenset(index for index, times in followed.items() if any(times[-1:] if last_time else times))


def in_last_bar(section: Section, stretch: BarStretch) -> bool:
    """Return whether a part of a bar is in the section's last bar as written."""
    return next_bar(section, stretch.row, stretch.bar_index) is None


def _sings(section: Section, row: int, bar_index: int, verse: int) -> bool:
    lines = section.rows[row].words
    if not lines:
        return False
    return any(p.text for p in lines[min(verse, len(lines) - 1)].bars[bar_index].pieces)


def sounding_time(section: Section, stretch: BarStretch, pitch_classes: frozenset[int]) -> Fraction:
    """Return how long the tune sounds notes of some pitch classes in a part of a bar, in quarters, short ones added."""
    total = Fraction(0)
    for note in tune_notes(section, stretch.row, stretch.bar_index) or ():
        if note.pitch is not None and note.pitch.midi % 12 in pitch_classes:
            total += max(Fraction(0), min(note.start + note.length, stretch.end) - max(note.start, stretch.start))
    return total


def nobody_sings(section: Section, stretch: BarStretch, *, pickup: bool) -> bool:
    """Return whether nobody sings in a part of a bar; a `pickup` of what follows takes the last bar's second half."""
    bar = section.rows[stretch.row].bars[stretch.bar_index]
    if pickup and in_last_bar(section, stretch) and stretch.end > bar.length / 2:
        return False
    return rests_in(section, stretch)
