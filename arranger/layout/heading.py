"""The head of the first page: title, key, tempo and meter, who plays and begins, the roadmap, the authors.

A head that is longer than a page (a title without end, a roadmap of hundreds of steps) goes on over the next pages.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.facts import song_facts, step_words
from arranger.layout.metrics import Metrics
from arranger.layout.model import Face, Item, Line
from arranger.layout.text import Run, place, runs, width_of, wrap
from arranger.song.model import Song
from arranger.text.source import NOWHERE, Span
from arranger.units import Rect

SEPARATOR = " · "
TITLE_GAP = 14.0  # between the title and the key on its right
RULE_GAP = 5.0


@dataclass(frozen=True, slots=True)
class Heading:
    """What a page has of the head.

    Attributes:
        items: placed.
        steps: for each step of the roadmap that stands here the index of its section, and the rectangle of its words.
        bottom: the y where it ends.
    """

    items: tuple[Item, ...]
    steps: tuple[tuple[int, Rect], ...]
    bottom: float


@dataclass(slots=True)
class Flow:
    """Where the next line goes: down the page between `top` and the page's bottom, then on to the next page."""

    x: float
    width: float
    top: float
    bottoms: tuple[float, float]  # of the first page, of the others
    metrics: Metrics
    y: float
    done: list[Heading] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    steps: list[tuple[int, Rect]] = field(default_factory=list)

    def baseline(self, above: float, below: float) -> float:
        """Make room for a line that rises so far above its baseline and hangs so far below it; give the baseline."""
        if self.y + above + below > self.bottoms[1 if self.done else 0] and (self.items or self.done):
            self.turn()
        baseline = self.y + above
        self.y = baseline + below
        return baseline

    def turn(self) -> None:
        """Begin the next page."""
        self.done.append(Heading(tuple(self.items), tuple(self.steps), self.y))
        self.items, self.steps, self.y = [], [], self.top

    def paragraph(self, text: str, face: Face, size: float, role: str, span: Span = NOWHERE) -> None:
        """Place a text in as many lines as it needs."""
        leading = size * style.HEADER_LEADING / style.HEADER * 0.78
        for line in wrap(text, face, size, self.width, self.metrics):
            above = max(self.metrics.rise(line, face, size), leading)
            baseline = self.baseline(above, self.metrics.descent(face, size))
            self.items += place(runs(line, face, size, self.metrics), self.x, baseline, role, span)

    def finish(self) -> tuple[Heading, ...]:
        """Rule off the head and give its pages."""
        rule = self.baseline(RULE_GAP, 0.0)
        self.items.append(Line(self.x, rule, self.x + self.width, rule, style.BARLINE, "rule", style.LINE_GREY))
        self.turn()
        return tuple(self.done)


def set_heading(
    arrangement: Arrangement,
    metrics: Metrics,
    x: float,
    top: float,
    width: float,
    bottoms: tuple[float, float],
    with_rights: bool = False,
) -> tuple[Heading, ...]:
    """Place the head.

    Args:
        arrangement: whose head it is.
        metrics: of the fonts.
        x: the left edge.
        top: of each page.
        width: of the lines.
        bottoms: how far down the first page the head may reach, and the others.
        with_rights: the rights stand in the head, for they are one line, or too long for the foot of the page.

    Returns:
        One for each page that the head stands on.
    """
    flow = Flow(x, width, top, bottoms, metrics, top)
    _title(arrangement, flow)
    song = arrangement.song
    who = []
    if song.start is not None:
        who.append((f"start: {song.start.value}", song.start.span))
    if song.band:
        who.append((f"with {', '.join(song.band)}", NOWHERE))
    if who:
        flow.paragraph(SEPARATOR.join(part for part, _ in who), "regular", style.HEADER, "header", who[0][1])
    set_roadmap(arrangement.song, flow, style.HEADER)
    credits = [("words", song.words_by), ("music", song.music_by), ("copyist", song.copyist)]
    if song.words_by is not None and song.music_by is not None and song.words_by.value == song.music_by.value:
        credits = [("words and music", song.words_by), ("copyist", song.copyist)]
    named = SEPARATOR.join(f"{role}: {text.value}" for role, text in credits if text is not None)
    if named:
        flow.paragraph(named, "regular", style.SMALL, "header")
    if song.rights is not None and with_rights:
        flow.paragraph(song.rights.value, "regular", style.SMALL, "rights", song.rights.span)
    return flow.finish()


def _title(arrangement: Arrangement, flow: Flow) -> None:
    """Place the title and, on its right or under it, key, tempo and meter."""
    song, metrics = arrangement.song, flow.metrics
    facts = SEPARATOR.join(song_facts(arrangement))
    right = runs(facts, "bold", style.HEADER, metrics)
    lines = wrap(song.title.value, "bold", style.TITLE, flow.width, metrics)
    end, baseline = flow.x, flow.y
    for line in lines:
        text: tuple[Run, ...] = runs(line, "bold", style.TITLE, metrics)
        above = max(metrics.rise(line, "bold", style.TITLE), metrics.cap_height("bold", style.TITLE))
        baseline = flow.baseline(above, metrics.descent("bold", style.TITLE))
        flow.items += place(text, flow.x, baseline, "title", song.title.span)
        end = flow.x + width_of(text)
    if len(lines) == 1 and end + TITLE_GAP + width_of(right) <= flow.x + flow.width:
        flow.items += place(right, flow.x + flow.width - width_of(right), baseline, "key")
    else:
        flow.paragraph(facts, "bold", style.HEADER, "key")


def set_roadmap(song: Song, flow: Flow, size: float) -> None:
    """Place the playing order, each step whole on one line where it fits."""
    metrics = flow.metrics
    leading = size * style.HEADER_LEADING / style.HEADER
    face: Face = "bold"
    above, below = metrics.rise("dÉ", face, size), metrics.descent(face, size)
    cap, blank = metrics.cap_height(face, size), metrics.width(" ", face, size)
    at = flow.x
    baseline = flow.baseline(above, below) if song.roadmap else flow.y
    for number, step in enumerate(song.roadmap):
        text = step_words(song, step) + ("," if number < len(song.roadmap) - 1 else "")
        for part, line in enumerate(wrap(text, face, size, flow.width, metrics)):
            set_text = runs(line, face, size, metrics)
            width = width_of(set_text)
            if part or (at > flow.x and at + width > flow.x + flow.width):
                at = flow.x
                baseline = flow.baseline(max(metrics.rise(line, face, size), leading - below), below)
            flow.items += place(set_text, at, baseline, "roadmap", step.span)
            flow.steps.append((step.section, Rect(at, baseline - cap, width, cap + below)))
            at += width + blank
