"""What the spellings of chords mean. Takes what the chord grammar found; gives a row of the table of qualities.

The grammar tells the words apart (`m`, `min`, `-` are all `m`); here each pair of a kind and a number leads to a row of
`theory.qualities`, with what has to be changed in it. A test holds this table, that one and the grammar together.
"""

from __future__ import annotations

from arranger.theory.chord import Change
from arranger.theory.interval import Interval
from arranger.theory.qualities import BY_NAME, Quality

Changes = tuple[Change, ...]


def change(text: str) -> Change:
    """Make a change from its printed form: `#11` (alter), `add9`, `no3`.

    >>> str(change("add9")), str(change("b5"))
    ('add9', 'b5')
    """
    if text.startswith("add"):
        return Change("add", Interval.parse(text[3:]))
    if text.startswith("no"):
        return Change("no", Interval.parse(text[2:]))
    return Change("alter", Interval.parse(text))


# Kind and number as written -> the row and what is changed in it. `delta` is the triangle: alone it is the major
# seventh, as in lead sheets. `half` is the struck circle: always with its minor seventh.
_ROWS: dict[tuple[str, str], str] = {
    ("", ""): "",
    ("", "2"): "2",
    ("", "4"): "sus4",
    ("", "5"): "5",
    ("", "6"): "6",
    ("", "6/9"): "6/9",
    ("", "7"): "7",
    ("", "9"): "9",
    ("", "11"): "11",
    ("", "13"): "13",
    ("", "alt"): "7alt",
    ("m", ""): "m",
    ("m", "6"): "m6",
    ("m", "6/9"): "m6/9",
    ("m", "7"): "m7",
    ("m", "9"): "m9",
    ("m", "11"): "m11",
    ("m", "13"): "m13",
    ("maj", ""): "",
    ("maj", "6"): "6",
    ("maj", "6/9"): "6/9",
    ("maj", "7"): "maj7",
    ("maj", "9"): "maj9",
    ("maj", "11"): "maj11",
    ("maj", "13"): "maj13",
    ("delta", ""): "maj7",
    ("delta", "7"): "maj7",
    ("delta", "9"): "maj9",
    ("delta", "11"): "maj11",
    ("delta", "13"): "maj13",
    ("mMaj", "7"): "mMaj7",
    ("mMaj", "9"): "mMaj9",
    ("mdelta", ""): "mMaj7",
    ("mdelta", "7"): "mMaj7",
    ("mdelta", "9"): "mMaj9",
    ("dim", ""): "dim",
    ("dim", "7"): "dim7",
    ("half", ""): "m7b5",
    ("half", "7"): "m7b5",
    ("half", "9"): "m9 b5",
    ("half", "11"): "m11 b5",
    ("aug", ""): "aug",
    ("aug", "7"): "7#5",
    ("aug", "9"): "9 #5",
    ("augMaj", "7"): "maj7 #5",
    ("augMaj", "9"): "maj9 #5",
}

# The row without its suspension -> what it is with one.
_SUSPENDED: dict[tuple[str, str], str] = {
    ("", "sus2"): "sus2",
    ("", "sus4"): "sus4",
    ("6", "sus4"): "6sus4",
    ("7", "sus2"): "7sus2",
    ("7", "sus4"): "7sus4",
    ("9", "sus4"): "9sus4",
    ("11", "sus4"): "9sus4",  # an eleventh without its third is just this
    ("13", "sus4"): "13sus4",
    ("maj7", "sus4"): "maj7sus4",
    ("maj9", "sus4"): "maj7sus4 add9",
}

# A row and one change that together are a row of their own.
_FUSED: dict[tuple[str, str], str] = {
    ("", "#5"): "aug",
    ("", "add9"): "add9",
    ("", "add2"): "add9",  # the same notes; table A1 has one row for both
    ("", "add6"): "6",
    ("m", "b5"): "dim",
    ("m", "add9"): "madd9",
    ("m", "add2"): "madd9",
    ("m", "add6"): "m6",
    ("m7", "b5"): "m7b5",
    ("7", "#5"): "7#5",
    ("6", "add9"): "6/9",
    ("m6", "add9"): "m6/9",
}


def quality(kind: str, number: str, suspension: str, changes: Changes) -> tuple[Quality, Changes] | None:
    """Return the row that a spelling means, and the changes to it that remain; None where there is no such chord.

    Args:
        kind: `""`, `m`, `maj`, `delta`, `mMaj`, `mdelta`, `dim`, `half`, `aug`, `augMaj`.
        number: `""`, a figure, `6/9`, or `alt`.
        suspension: `""`, `sus2` or `sus4`.
        changes: in the order written.
    """
    entry = _ROWS.get((kind, number))
    if entry is not None and suspension:
        entry = _SUSPENDED.get((entry, suspension))
    if entry is None:
        return None
    name, *implied = entry.split(" ")
    rest = [*map(change, implied), *changes]
    for one in tuple(rest):
        fused = _FUSED.get((name, str(one)))
        if fused is not None:
            name = fused
            rest.remove(one)
    return BY_NAME[name], tuple(dict.fromkeys(rest))


def suffixes() -> tuple[str, ...]:
    """List plain spellings of every row, in the table's order: what a misspelt chord is compared with."""
    return tuple(name for name in BY_NAME if name)
