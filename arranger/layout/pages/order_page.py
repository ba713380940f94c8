"""Lay out the order of an evening: a line for each song with what has to be known before it, and the breaks between."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from arranger.evening.model import EveningBreak, EveningSong
from arranger.layout import style
from arranger.layout.content.margin_text import key_words, sound_words, tempo_words
from arranger.layout.model import Face, Item, Line
from arranger.layout.pages.head_and_foot import SEPARATOR, foot_height, set_foot
from arranger.layout.pages.join_row import count_words, then_words
from arranger.layout.text import Metrics, place, rise_of, runs, width_of, wrap
from arranger.song.running_order import Onward, RunningOrder
from arranger.units import Rect

TITLE = 13.0  # bold: found at a glance among twenty others
FACTS = 10.5
GAP = 12.0  # between columns
ROW_GAP = 5.0  # over a song and under it, with a hairline between songs
LINE = 1.22  # x the size of type, from line to line
LEAST_TITLE = 0.3  # of the width that titles have at least; facts go to the line below where they leave less
MINUTE = 60


class OrderEntry(NamedTuple):
    """A song of the order, how it goes on, and the breaks after it."""

    song: EveningSong
    onward: Onward
    breaks: tuple[EveningBreak, ...] = ()


class OrderFrame(NamedTuple):
    """The page: its width and height, its margins at the sides and at top and bottom."""

    width: float
    height: float
    side: float = style.SIDE
    end: float = style.TOP


class OrderLeaf(NamedTuple):
    """A page of the order: its items, and for each song on it the number (from 0) and where it stands."""

    items: tuple[Item, ...]
    places: tuple[tuple[int, Rect], ...]


class _Columns(NamedTuple):
    """Where columns begin, from the left margin; `time` is where times end. `below`: facts are in the line below."""

    title: float
    title_width: float
    key: float
    tempo: float
    meter: float
    below: bool


@dataclass(slots=True)
class _Leaf:
    items: list[Item] = field(default_factory=list)
    places: list[tuple[int, Rect]] = field(default_factory=list)


@dataclass(slots=True)
class _Flow:
    """Where the next line of the order stands. Mutable; lives for one order."""

    frame: OrderFrame
    metrics: Metrics
    leaves: list[_Leaf] = field(default_factory=lambda: [_Leaf()])
    y: float = 0.0

    @property
    def width(self) -> float:
        return self.frame.width - 2 * self.frame.side

    @property
    def bottom(self) -> float:
        return self.frame.height - style.BOTTOM - foot_height(self.metrics) - ROW_GAP

    def room(self, height: float) -> None:
        """Begin a page where there is no room for so much."""
        if self.y + height > self.bottom and self.y > self.frame.end:
            self.leaves.append(_Leaf())
            self.y = self.frame.end

    def text(self, text: str, face: Face, size: float, x: float, share: float = 0.0, grey: float = 0.0) -> None:
        """Place a text on the baseline `y`, so that a share of it stands before x."""
        parts = runs(text, face, size, self.metrics)
        x += self.frame.side - share * width_of(parts)
        self.leaves[-1].items += place(parts, x, self.y, "order", grey=grey)

    def lines(self, text: str, face: Face, size: float, x: float, grey: float = 0.0) -> None:
        """Place a text from x to the right margin in as many lines as it needs."""
        for line in wrap(text, face, size, self.width - x, self.metrics):
            self.y += max(size * LINE, rise_of(runs(line, face, size, self.metrics), self.metrics))
            self.text(line, face, size, x, grey=grey)

    def rule(self, width: float = style.HAIR) -> None:
        """Place a rule across the page."""
        left = self.frame.side
        self.leaves[-1].items.append(Line(left, self.y, left + self.width, self.y, width, "rule", style.LINE_GREY))


def clock(seconds: Fraction) -> str:
    """Return a time in minutes and seconds.

    >>> clock(Fraction(157)), clock(Fraction(4000))
    ('2:37', '66:40')
    """
    whole = round(seconds)
    return f"{whole // MINUTE}:{whole % MINUTE:02}"


def long_time(seconds: Fraction) -> str:
    """Return a time in hours and minutes.

    >>> long_time(Fraction(157)), long_time(Fraction(5400))
    ('3 min', '1 h 30 min')
    """
    minutes = max(1, round(seconds / MINUTE))
    return f"{minutes // MINUTE} h {minutes % MINUTE} min" if minutes >= MINUTE else f"{minutes} min"


def totals(entries: Sequence[OrderEntry], first: Sequence[EveningBreak] = ()) -> str:
    """Return the number of songs with the time of playing and of talk: `9 songs · 41 min of playing · 90 s of talk`."""
    count = len(entries)
    playing = sum((entry.song.seconds for entry in entries), Fraction())
    breaks = [*first, *(one for entry in entries for one in entry.breaks)]
    talk = sum(onward.seconds for onward in (*(e.onward for e in entries), *(b.onward for b in breaks)))
    parts = [f"{count} song{'' if count == 1 else 's'}", f"{long_time(playing)} of playing"]
    if talk:
        rest = f" {talk % MINUTE} s" if talk % MINUTE else ""
        parts.append(f"{talk} s of talk" if talk < 2 * MINUTE else f"{talk // MINUTE} min{rest} of talk")
    if breaks:
        parts.append(f"{len(breaks)} break{'' if len(breaks) == 1 else 's'}")
    return SEPARATOR.join(parts)


def notes_on_times(entries: Sequence[OrderEntry]) -> list[str]:
    """Return what has to be known about the times that stand in the order."""
    notes = []
    if any(entry.song.open_ended for entry in entries):
        notes.append("+ what is played until somebody is ready is counted twice")
    if any(entry.song.reckoned for entry in entries):
        notes.append("~ a tempo that is free or not written is reckoned with 80 quarters a minute")
    return notes


def time_words(song: EveningSong) -> str:
    """Return the playing time of a song: `2:37`, with signs that `notes_on_times` explains."""
    return f"{'~' if song.reckoned else ''}{clock(song.seconds)}{'+' if song.open_ended else ''}"


def lay_out_order(
    order: RunningOrder,
    entries: Sequence[OrderEntry],
    first: Sequence[EveningBreak],
    frame: OrderFrame,
    patches: Mapping[str, str],
    metrics: Metrics,
) -> tuple[OrderLeaf, ...]:
    """Lay out the order on as many pages as it needs.

    Args:
        order: the evening's name, date and place.
        entries: the songs, one at least.
        first: breaks before the first song.
        frame: of the pages.
        patches: the player's number for each sound, by its name without case.
        metrics: of the fonts.
    """
    flow = _Flow(frame, metrics, y=frame.end)
    flow.lines(order.title.value, "bold", style.TITLE, 0.0)
    flow.y += metrics.descent("bold", style.TITLE)
    about = [text.value for text in (order.date, order.place) if text is not None]
    flow.lines(SEPARATOR.join([*about, totals(entries, first)]), "regular", style.HEADER, 0.0)
    flow.y += ROW_GAP + metrics.descent("regular", style.HEADER)
    flow.rule(style.BARLINE)
    columns = _columns(entries, flow)
    _breaks(flow, first, columns)
    for number, entry in enumerate(entries):
        _song(flow, number, entry, columns, patches, last=number == len(entries) - 1)
    for note in notes_on_times(entries):
        flow.room(style.SMALL * LINE)
        flow.lines(note, "regular", style.SMALL, columns.title, style.QUIET_GREY)
    return tuple(_finished(flow, order, at) for at in range(len(flow.leaves)))


def _columns(entries: Sequence[OrderEntry], flow: _Flow) -> _Columns:
    def widest(texts: Sequence[str], face: Face = "regular", size: float = FACTS) -> float:
        return max(width_of(runs(text, face, size, flow.metrics)) for text in texts)

    number = widest([f"{len(entries)}"], "bold", TITLE)
    key = widest([key_words(entry.song.key) for entry in entries], "bold")
    tempo = widest([_tempo(entry.song) for entry in entries])
    meter = widest([str(entry.song.meter) for entry in entries])
    time = widest([time_words(entry.song) for entry in entries])
    left = number + GAP
    right = flow.width - time - GAP
    facts = key + GAP + tempo + GAP + meter
    below = right - facts - GAP - left < LEAST_TITLE * flow.width
    at = left if below else right - facts
    width = right - left if below else at - GAP - left
    return _Columns(left, width, at, at + key + GAP, at + key + GAP + tempo + GAP, below)


def _tempo(song: EveningSong) -> str:
    feel = f" {song.feel}" if song.feel != "straight" else ""
    return (tempo_words(song.tempo) if song.tempo is not None else "") + feel


def _song(
    flow: _Flow, number: int, entry: OrderEntry, columns: _Columns, patches: Mapping[str, str], *, last: bool
) -> None:
    """Place a song, on one page whole, and the breaks after it."""
    song, metrics = entry.song, flow.metrics
    titles = wrap(song.title, "bold", TITLE, columns.title_width, metrics) or ("",)
    sound = song.first.sound
    said = [
        f"start: {song.start}" if song.start else "",
        count_words(song.first.tempo, song.first.meter),
        f"sound: {sound_words(sound, patches)}" if sound is not None else "",
    ]
    if not last or entry.onward.written:
        said.append(then_words(entry.onward))
    facts = SEPARATOR.join(filter(None, said))
    lines = len(wrap(facts, "regular", FACTS, flow.width - columns.title, metrics)) + columns.below
    height = 2 * ROW_GAP + TITLE * LINE * len(titles) + FACTS * LINE * lines + metrics.descent("regular", FACTS)
    flow.room(height)
    top = flow.y
    flow.y += ROW_GAP
    for at, title in enumerate(titles):
        flow.y += max(TITLE * LINE, rise_of(runs(title, "bold", TITLE, metrics), metrics))
        flow.text(title, "bold", TITLE, columns.title)
        if at == 0:
            flow.text(str(song.number), "bold", TITLE, columns.title - GAP, share=1.0)
            flow.text(time_words(song), "regular", FACTS, flow.width, share=1.0)
            if not columns.below:
                _facts(flow, song, columns)
    if columns.below:
        flow.y += FACTS * LINE
        _facts(flow, song, columns)
    flow.lines(facts, "regular", FACTS, columns.title)
    flow.y += metrics.descent("regular", FACTS) + ROW_GAP
    flow.leaves[-1].places.append((number, Rect(flow.frame.side, top, flow.width, flow.y - top)))
    flow.rule()
    _breaks(flow, entry.breaks, columns)


def _facts(flow: _Flow, song: EveningSong, columns: _Columns) -> None:
    flow.text(key_words(song.key), "bold", FACTS, columns.key)
    flow.text(_tempo(song), "regular", FACTS, columns.tempo)
    flow.text(str(song.meter), "regular", FACTS, columns.meter)


def _breaks(flow: _Flow, breaks: Sequence[EveningBreak], columns: _Columns) -> None:
    for one in breaks:
        then = SEPARATOR + then_words(one.onward) if one.onward.written else ""
        text = f"break: {one.text}{then}"
        lines = len(wrap(text, "regular", FACTS, flow.width - columns.title, flow.metrics))
        flow.room(FACTS * LINE * lines + 2 * ROW_GAP)
        flow.y += ROW_GAP / 2
        flow.lines(text, "regular", FACTS, columns.title, style.QUIET_GREY)
        flow.y += flow.metrics.descent("regular", FACTS) + ROW_GAP
        flow.rule()


def _finished(flow: _Flow, order: RunningOrder, at: int) -> OrderLeaf:
    """Return a page of the order with its foot."""
    frame, count, leaf = flow.frame, len(flow.leaves), flow.leaves[at]
    date = order.date.value if order.date is not None else "order"
    page = f"order, page {at + 1} of {count}" if count > 1 else "order"
    foot = set_foot(order.title.value, date, (), page, flow.metrics, (frame.width, frame.height), frame.side)
    return OrderLeaf((*leaf.items, *foot), tuple(leaf.places))
