"""Set the lines of an index: what a list says of each song, in columns that all lines of the list share.

Takes what is known of songs as texts; gives their runs with places in the columns. `index` puts them on pages.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from arranger.layout import style
from arranger.layout.model import Face
from arranger.layout.text import Metrics, Run, cut, rise_of, runs, width_of, wrap

TITLE = 11.0  # bold: 16 minutes at 60 cm, on a stand; looked for among fifty others
FACTS = 10.5
WORDS = 9.5  # read once the title is found
LEADING = 15.0
GAP = 11.0  # between columns
TITLE_LINES = 2
TITLE_SHARE = 0.56  # of the room for titles and first words, that titles take at most
SET_FROM = 100.0  # of room for first words: half of it can be for the last set
TEMPO_WIDEST = 84.0  # of a tempo in words that nobody foresaw


class IndexLine(NamedTuple):
    """What a line says of a song, as it is printed.

    Attributes:
        title: with its article.
        article: that of the title, with its blank; it is printed light, for the title is filed by the next word.
        key, tempo, meter: empty where it is not known.
        words: the first ones.
        part: the file of its part, by a path from the index with `/`; empty where there is none.
        last_set: when it was played last; empty where it was in no set.
    """

    title: str
    article: str
    key: str
    tempo: str
    meter: str
    words: str
    part: str
    last_set: str = ""


class IndexGroup(NamedTuple):
    """Lines that stand together: what they have in common, the same in three or four letters, a remark beside it."""

    label: str
    short: str
    lines: tuple[IndexLine, ...]
    note: str = ""


class IndexList(NamedTuple):
    """All songs in one order. `by_title`: those of a group are in the order of their titles."""

    name: str
    groups: tuple[IndexGroup, ...]
    by_title: bool = True


class IndexColumns(NamedTuple):
    """Where the columns of a list stand, from its left edge; `equals` is where the tempi's numbers line up."""

    title: float
    title_width: float
    key: float
    equals: float
    tempo: float
    meter_right: float
    words: float
    words_width: float
    last_set: float = 0.0
    last_set_width: float = 0.0  # where nothing is said of sets


class IndexRow(NamedTuple):
    """A line with the lines of its title, and how high it stands over its first baseline and under its last."""

    line: IndexLine
    titles: tuple[str, ...]
    words: str
    last_set: str
    above: float
    height: float


def columns_of(index: IndexList, width: float, metrics: Metrics) -> IndexColumns:
    """Return the columns of a list over the width that it has."""
    lines = [line for group in index.groups for line in group.lines]

    def widest(texts: Iterable[str], face: Face = "regular", size: float = FACTS) -> float:
        return max((width_of(runs(text, face, size, metrics)) for text in set(texts)), default=0.0)

    def under(head: str, texts: Iterable[str], face: Face = "regular") -> float:
        return max(widest([head], size=style.SMALL), widest(texts, face))

    label = max((width_of(label_runs(group, metrics)) for group in index.groups), default=0.0)
    key = under("key", (line.key for line in lines), "bold")
    tempi = {at_number(line.tempo) for line in lines}
    before = widest(sign for sign, _ in tempi)
    tempo = max((before if sign else 0.0) + widest([rest]) for sign, rest in tempi)
    tempo = min(TEMPO_WIDEST, max(widest(["tempo"], size=style.SMALL), tempo))
    meter = under("meter", (line.meter for line in lines))
    rest = width - label - key - tempo - meter - 5 * GAP
    longest = widest((line.title for line in lines), "bold", TITLE)
    titles = max(min(longest, rest * TITLE_SHARE), rest / 3)
    key_at = label + GAP + titles + GAP
    tempo_at = key_at + key + GAP
    right = tempo_at + tempo + GAP + meter
    words = right + GAP
    room, last_set = width - words, 0.0
    if room > SET_FROM and (sets := {line.last_set for line in lines} - {""}):
        wished = max(widest(["last set"], size=style.SMALL), widest(sets, size=WORDS))
        last_set = min(wished, (room - GAP) / 2)
        room -= last_set + GAP
    at = label + GAP, titles, key_at, tempo_at + before, tempo_at, right, words
    return IndexColumns(*at, room, words + room + GAP, last_set)


def at_number(tempo: str) -> tuple[str, str]:
    """Divide a tempo where it lines up with others: behind the note that it counts. Words before it line up nowhere.

    >>> at_number("♩. = 56"), at_number("half = 60"), at_number("free")
    (('♩. ', '= 56'), ('', 'half = 60'), ('', 'free'))
    """
    sign, equals, number = tempo.partition("=")
    return (sign, equals + number) if equals and not sign.strip().isalpha() else ("", tempo)


def label_runs(group: IndexGroup, metrics: Metrics) -> tuple[Run, ...]:
    """Set a group's label with its remark."""
    size = 15.0 if len(group.label) == 1 else TITLE  # a letter is as large as the line is high
    note = runs(f"\u00a0{group.note}", "regular", style.SMALL, metrics) if group.note else ()
    return (*runs(group.label, "bold", size, metrics), *note)


def row_of(line: IndexLine, columns: IndexColumns, metrics: Metrics) -> IndexRow:
    """Return a song's line of the index set in its columns: its title broken, what is too long cut."""
    title = " ".join(line.title.split())
    titles = wrap(title, "bold", TITLE, columns.title_width, metrics) or ("",)
    if len(titles) > TITLE_LINES:
        rest = title[len(" ".join(titles[: TITLE_LINES - 1])) :].lstrip()
        titles = (*titles[: TITLE_LINES - 1], cut(rest, "bold", TITLE, columns.title_width, metrics))
    words = cut(line.words, "regular", WORDS, columns.words_width, metrics)
    last_set = cut(line.last_set, "regular", WORDS, columns.last_set_width, metrics) if columns.last_set_width else ""
    facts = (*runs(words + last_set, "regular", WORDS, metrics), *runs(line.key + line.tempo, "bold", FACTS, metrics))
    first, *others = (title_rise(text, metrics) for text in titles)
    above, below = max(first, rise_of(facts, metrics)), metrics.descent("bold", TITLE)
    height = max(LEADING, above + below) + sum(max(TITLE * 1.15, rise + below) for rise in others)
    return IndexRow(line, titles, words, last_set, max(above, LEADING - below), height)


def title_rise(text: str, metrics: Metrics) -> float:
    """Return how far a line of a title rises above its baseline."""
    return rise_of(runs(text, "bold", TITLE, metrics), metrics)
