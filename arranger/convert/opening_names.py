"""Find names of sections in any language: short lines that stand at the head of their block, right above its chords.

No list of names is needed where a sheet as a whole shows the habit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from arranger.convert.chord_lines import read_chords
from arranger.convert.marks import Habits
from arranger.convert.model import SheetLine
from arranger.habits.calls import again_of
from arranger.habits.endings import ending_of
from arranger.habits.free_form import is_fact
from arranger.habits.headings import Heading, heading_of, number_of, own_name
from arranger.habits.jumps import jump_of

MOST_WORDS, LONGEST = 4, 30  # of a name; a longer line is sung
FEWEST = 2  # blocks with a name over chords with words that show the habit
KNOWN = 3  # blocks under names that lists know, beside which one name more shows it
_ENDS_SENTENCE = (".", ",", ";", "!", "?", "…", "-")


def names_over_chords(lines: Sequence[SheetLine], habits: Habits) -> Iterator[tuple[int, Heading]]:
    """Yield the names that no list knows, each with the number of its line."""
    blocks = list(_blocks(lines))
    kinds = [[_kind(line, habits) for line in block] for block in blocks]
    named = [
        (block[0], kind)
        for block, kind in zip(blocks[1:] if blocks else [], kinds[1:], strict=True)
        if len(kind) > 1 and kind[0] == "w" and kind[1] == "c" and _is_name_like(block[0].text.strip())
    ]
    sung = [line for line, kind in named if "".join(kind[1:]) == "cw" * (len(kind) // 2)]
    known = [block for block in blocks[1:] if len(block) > 1 and heading_of(block[0].text.strip()) is not None]
    if len(sung) < (FEWEST if len(known) < KNOWN else 1):
        return
    for line, kind in named:
        if line in sung or set(kind[1:]) == {"c"}:
            text = line.text.strip().strip(":").strip()
            yield line.number, Heading(own_name(f"[{text}]") or text)


def _blocks(lines: Sequence[SheetLine]) -> Iterator[list[SheetLine]]:
    """Yield the lines that stand together without a blank one between them."""
    block: list[SheetLine] = []
    for line in lines:
        if line.cells:
            block.append(line)
        elif block:
            yield block
            block = []
    if block:
        yield block


def _kind(line: SheetLine, habits: Habits) -> str:
    """Return c for a line of chords, w for one of words."""
    reading = read_chords(line, habits)
    return "c" if reading.certain and not reading.strays else "w"


def _is_name_like(text: str) -> bool:
    """Return whether a line may be a name that no list knows."""
    known = heading_of(text) is not None or number_of(text) is not None or again_of(text) is not None
    other = is_fact(text) or jump_of(text) is not None or ending_of(text) is not None
    plain = all(c.isalnum() or c in " '’.-:/&#" for c in text) and any(c.isalpha() for c in text)
    begins = text[:1].isdigit() or not text[:1].islower()
    short = len(text.split()) <= MOST_WORDS and len(text) <= LONGEST and not text.endswith(_ENDS_SENTENCE)
    return plain and begins and short and not known and not other
