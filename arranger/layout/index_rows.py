"""The lines of an index of songs: how wide its columns are, and what stands where in a line.

Takes lists of lines with their texts; gives placed items. A title may take two lines; whatever else is too long is cut
short at a blank, with an ellipsis.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from arranger.layout import style
from arranger.layout.model import Face, Item
from arranger.layout.text import ELLIPSIS, Metrics, Run, elided, place, runs, width_of, wrap

TITLE = 11.0  # bold: 16 minutes at 60 cm, on a stand; looked for among fifty others
FACTS = 10.5
WORDS = 9.5  # read once the title is found
LEADING = 15.0
EVERY = 5  # lines after which a little room leads the eye across, as in long tables
EVERY_GAP = 3.5
GAP = 11.0  # between columns
TITLE_LINES = 2
TITLE_SHARE = 0.56  # of the room for titles and first words, that titles take at most
TEMPO_WIDEST = 84.0  # of a tempo in words that nobody foresaw
WHOLE_WORD = 0.6  # of what fits: a cut at a blank must leave as much, or a word is cut


@dataclass(frozen=True, slots=True)
class IndexLine:
    """What a line says of a song, as it is printed.

    Attributes:
        title: with its article.
        article: that of the title, with its blank; it is printed light, for the title is filed by the next word.
        key, tempo, meter: empty where it is not known.
        words: the first ones.
        part: the file of its part, by a path from the index with `/`; empty where there is none.
    """

    title: str
    article: str
    key: str
    tempo: str
    meter: str
    words: str
    part: str


@dataclass(frozen=True, slots=True)
class IndexGroup:
    """Lines that stand together: what they have in common, the same in three or four letters, a remark beside it."""

    label: str
    short: str
    lines: tuple[IndexLine, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class IndexList:
    """All songs in one order. `by_title`: those of a group are in the order of their titles."""

    name: str
    groups: tuple[IndexGroup, ...]
    by_title: bool = True


@dataclass(frozen=True, slots=True)
class Columns:
    """Where the columns of a list stand, from its left edge; `equals` is where the tempi's numbers line up."""

    title: float
    title_width: float
    key: float
    equals: float
    tempo: float
    meter_right: float
    words: float
    words_width: float


@dataclass(frozen=True, slots=True)
class Row:
    """A line with the lines of its title, and how high it stands over its first baseline and under its last."""

    line: IndexLine
    titles: tuple[str, ...]
    words: str
    above: float
    height: float


def label_face(group: IndexGroup) -> tuple[Face, float]:
    """Return the face and size of a group's label: a letter is as large as the line is high."""
    return "bold", 15.0 if len(group.label) == 1 else TITLE


def columns_of(index: IndexList, width: float, metrics: Metrics) -> Columns:
    """Settle the columns of a list over the width that it has."""
    lines = [line for group in index.groups for line in group.lines]
    label = max((_label_width(group, metrics) for group in index.groups), default=0.0)
    key = _widest((line.key for line in lines), "key", "bold", metrics)
    tempi = {_at_number(line.tempo) for line in lines}
    before = max((_width(sign, "regular", metrics) for sign, _ in tempi), default=0.0)
    tempo = max(
        _width("tempo", "regular", metrics, style.SMALL),
        *((before if sign else 0.0) + _width(rest, "regular", metrics) for sign, rest in tempi),
    )
    tempo = min(TEMPO_WIDEST, tempo)
    meter = _widest((line.meter for line in lines), "meter", "regular", metrics)
    rest = width - label - key - tempo - meter - 5 * GAP
    longest = max((width_of(runs(line.title, "bold", TITLE, metrics)) for line in lines), default=0.0)
    titles = max(min(longest, rest * TITLE_SHARE), rest / 3)
    key_at = label + GAP + titles + GAP
    tempo_at = key_at + key + GAP
    meter_right = tempo_at + tempo + GAP + meter
    return Columns(
        title=label + GAP,
        title_width=titles,
        key=key_at,
        equals=tempo_at + before,
        tempo=tempo_at,
        meter_right=meter_right,
        words=meter_right + GAP,
        words_width=width - meter_right - GAP,
    )


def _at_number(tempo: str) -> tuple[str, str]:
    """Divide a tempo where it lines up with others: behind the note that it counts. Words before it line up nowhere.

    >>> _at_number("♩. = 56"), _at_number("half = 60"), _at_number("free")
    (('♩. ', '= 56'), ('', 'half = 60'), ('', 'free'))
    """
    sign, equals, number = tempo.partition("=")
    return (sign, equals + number) if equals and not sign.strip().isalpha() else ("", tempo)


def _label_width(group: IndexGroup, metrics: Metrics) -> float:
    return width_of(label_runs(group, metrics))


def label_runs(group: IndexGroup, metrics: Metrics) -> tuple[Run, ...]:
    """Set a group's label with its remark."""
    face, size = label_face(group)
    note = runs(f"\u00a0{group.note}", "regular", style.SMALL, metrics) if group.note else ()
    return (*runs(group.label, face, size, metrics), *note)


def _width(text: str, face: Face, metrics: Metrics, size: float = FACTS) -> float:
    return width_of(runs(text, face, size, metrics))


def _widest(texts: Iterable[str], head: str, face: Face, metrics: Metrics) -> float:
    return max(_width(head, "regular", metrics, style.SMALL), *(_width(text, face, metrics) for text in set(texts)))


def row_of(line: IndexLine, columns: Columns, metrics: Metrics) -> Row:
    """Break a title and cut what is too long."""
    title = " ".join(line.title.split())
    titles = wrap(title, "bold", TITLE, columns.title_width, metrics) or ("",)
    if len(titles) > TITLE_LINES:
        rest = title[len(" ".join(titles[: TITLE_LINES - 1])) :].lstrip()
        titles = (*titles[: TITLE_LINES - 1], cut(rest, "bold", TITLE, columns.title_width, metrics))
    words = cut(line.words, "regular", WORDS, columns.words_width, metrics)
    rises = [_rise(text, "bold", TITLE, metrics) for text in titles]
    above = max(rises[0], _rise(words, "regular", WORDS, metrics), _rise(line.key + line.tempo, "bold", FACTS, metrics))
    below = metrics.descent("bold", TITLE)
    height = max(LEADING, above + below)
    for rise in rises[1:]:
        height += max(TITLE * 1.15, rise + below)
    return Row(line, titles, words, max(above, LEADING - below), height)


def _rise(text: str, face: Face, size: float, metrics: Metrics) -> float:
    """Return how far a text rises above its baseline, in whichever face has its signs."""
    return max((metrics.rise(run.text, run.face, run.size) for run in runs(text, face, size, metrics)), default=0.0)


def cut(text: str, face: Face, size: float, width: float, metrics: Metrics) -> str:
    """Cut a text short where it is wider than there is room: at a blank, if that leaves most of what fits."""
    short = elided(text, face, size, width, metrics)
    if short == text:
        return text
    head = short.removesuffix(ELLIPSIS)
    at = head.rfind(" ") if text[len(head) : len(head) + 1] != " " else len(head)
    if at >= WHOLE_WORD * len(head):
        head = head[:at]
    return head.rstrip(" ,;:.–-") + ELLIPSIS


def set_row(row: Row, columns: Columns, x: float, y: float, metrics: Metrics) -> list[Item]:
    """Place a line: its left edge at x, its top at y. The items stand in reading order."""
    line = row.line
    baseline = y + row.above
    items: list[Item] = []
    at = baseline
    for number, text in enumerate(row.titles):
        if number:
            at += max(TITLE * 1.15, _rise(text, "bold", TITLE, metrics) + metrics.descent("bold", TITLE))
        article = line.article if not number and text.startswith(line.article) else ""
        parts = (
            *runs(article, "regular", TITLE, metrics),
            *runs(text.removeprefix(article), "bold", TITLE, metrics),
        )
        items += place(parts, x + columns.title, at, "title")
    items += place(runs(line.key, "bold", FACTS, metrics), x + columns.key, baseline, "key")
    sign, rest = _at_number(line.tempo)
    before = runs(sign, "regular", FACTS, metrics)
    told = runs(cut(rest, "regular", FACTS, TEMPO_WIDEST, metrics), "regular", FACTS, metrics)
    tempo_at = columns.equals - width_of(before) if sign else columns.tempo
    items += place((*before, *told), x + tempo_at, baseline, "tempo")
    meter = runs(line.meter, "regular", FACTS, metrics)
    items += place(meter, x + columns.meter_right - width_of(meter), baseline, "meter")
    items += place(
        runs(row.words, "regular", WORDS, metrics), x + columns.words, baseline, "words", grey=style.QUIET_GREY
    )
    return items
