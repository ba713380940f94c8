"""The head of a song's first pages, the foot of each page, and the check that every character can be printed.

A head that is longer than a page (a title without end, a roadmap of hundreds of steps) goes on over the next pages.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.margin_text import played_key, song_facts, step_words
from arranger.layout.direction import joins
from arranger.layout.model import Bookmark, Document, Face, Item, Line, Page, Text
from arranger.layout.style import PIECE_GAP, QUIET_GREY, ROADMAP, STAGE_FOOT_GAP, STAGE_TITLE, UNIT
from arranger.layout.text import Metrics, elided, place, runs, width_of, wrap
from arranger.song.model import Song
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.source import NOWHERE, Span
from arranger.units import Rect

SEPARATOR = " · "
TITLE_GAP = 14.0  # between the title and the key on its right
RULE_GAP = 5.0


class HeadPage(NamedTuple):
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
    done: list[HeadPage] = field(default_factory=list)
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
        self.done.append(HeadPage(tuple(self.items), tuple(self.steps), self.y))
        self.items, self.steps, self.y = [], [], self.top

    def paragraph(self, text: str, face: Face, size: float, role: str, span: Span = NOWHERE) -> None:
        """Place a text in as many lines as it needs."""
        leading = size * style.HEADER_LEADING / style.HEADER * 0.78
        for line in wrap(text, face, size, self.width, self.metrics):
            above = max(self.metrics.rise(line, face, size), leading)
            baseline = self.baseline(above, self.metrics.descent(face, size))
            self.items += place(runs(line, face, size, self.metrics), self.x, baseline, role, span)

    def title(self, text: str, size: float, span: Span) -> tuple[float, float, int]:
        """Place a title in as many lines as it needs; return where the last ends, its baseline, how many there are."""
        lines = wrap(text, "bold", size, self.width, self.metrics)
        end, baseline = self.x, self.y
        for line in lines:
            parts = runs(line, "bold", size, self.metrics)
            above = max(self.metrics.rise(line, "bold", size), self.metrics.cap_height("bold", size))
            baseline = self.baseline(above, self.metrics.descent("bold", size))
            self.items += place(parts, self.x, baseline, "title", span)
            end = self.x + width_of(parts)
        return end, baseline, len(lines)

    def finish(self) -> tuple[HeadPage, ...]:
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
) -> tuple[HeadPage, ...]:
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
    end, baseline, lines = flow.title(song.title.value, style.TITLE, song.title.span)
    if lines == 1 and end + TITLE_GAP + width_of(right) <= flow.x + flow.width:
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


SHAPING = "shaping"  # what is remembered of scripts whose letters are not joined: one report tells all
FOOT_APART = 12.0
NEXT_SHARE = 0.4  # of the width that the words about the next page may take at most
FACTS_SHARE = 0.35  # and the key with the date


def foot_height(metrics: Metrics) -> float:
    """Return how far the foot's one line rises above the bottom margin."""
    return metrics.rise("dl", "regular", style.FOOTER)


def set_foot(
    title: str, facts: str, following: str, right: str, metrics: Metrics, paper: tuple[float, float]
) -> list[Item]:
    """Place the foot: what the sheet is, what follows on the next page, which page it is. Long titles are cut short.

    Args:
        title: the song.
        facts: its key, the date; printed after the title, whole but for absurd dates.
        following: what to have ready when the page is turned; empty on the last page.
        right: the page's number.
        metrics: of the fonts.
        paper: width and height of the page.
    """
    width, height = paper
    y = height - style.BOTTOM
    room = width - 2 * style.SIDE
    number = runs(right, "regular", style.FOOTER, metrics)
    number_x = width - style.SIDE - width_of(number)
    next_text = elided(following, "bold", style.FOOTER, room * NEXT_SHARE, metrics)
    next_runs = runs(next_text, "bold", style.FOOTER, metrics)
    next_x = number_x - (width_of(next_runs) + FOOT_APART if next_text else 0.0)
    after = elided(f" · {facts}", "regular", style.FOOTER, room * FACTS_SHARE, metrics)
    title_room = next_x - FOOT_APART - style.SIDE - width_of(runs(after, "regular", style.FOOTER, metrics))
    # The two are set apart: a title that runs to the left would turn what follows it.
    sheet = runs(elided(title, "regular", style.FOOTER, title_room, metrics), "regular", style.FOOTER, metrics)
    beside = runs(after, "regular", style.FOOTER, metrics)
    return [
        *place((*sheet, *beside), style.SIDE, y, "foot"),
        *place(next_runs, next_x, y, "next"),
        *place(number, number_x, y, "page"),
    ]


def document_of(
    arrangement: Arrangement, kind: str, pages: tuple[Page, ...], bookmarks: tuple[Bookmark, ...]
) -> Document:
    """Return the pages with what a document says of itself; `kind` is what it is in the key that is played."""
    song = arrangement.song
    authors = [text.value for text in (song.words_by, song.music_by) if text is not None]
    return Document(
        pages=pages,
        title=song.title.value,
        author=", ".join(dict.fromkeys(authors)),
        subject=f"{kind} in {played_key(arrangement).removeprefix('played in ')}",
        language=song.language.value if song.language is not None else "",
        bookmarks=bookmarks,
    )


def missing_glyphs(pages: Iterable[Page], metrics: Metrics) -> tuple[Diagnostic, ...]:
    """Report each character that no font has, once, where it is first printed."""
    reported: set[str] = set()
    checked: set[tuple[str, Face, bool]] = set()
    found = []
    for page in pages:
        for item in page.items:
            if not isinstance(item, Text):
                continue
            for character in item.text:
                seen = (character, item.face, bool(item.glyphs))
                if seen in checked:
                    continue
                checked.add(seen)
                if joins(character) and not item.glyphs and metrics.covers(character, item.face):
                    if SHAPING not in reported:
                        reported.add(SHAPING)
                        found.append(_unshaped(character, item))
                elif not metrics.covers(character, item.face) and character not in reported:
                    reported.add(character)
                    found.append(_missing(character, item))
    return tuple(found)


def _unshaped(character: str, item: Text) -> Diagnostic:
    return error(
        "unshaped-script",
        f"the letters of the script of {character!r} join, and this installation cannot join them",
        item.span if item.span.end else None,
        "the extra `scripts` can: pip install 'keys-arranger[scripts]'",
    )


def _missing(character: str, item: Text) -> Diagnostic:
    return error(
        "missing-glyph",
        f"the fonts have no sign for {character!r} (U+{ord(character):04X})",
        item.span if item.span.end else None,
        "the program's own fonts have the letters of Latin, Greek and Cyrillic scripts",
        "--font FILE takes a font for others",
    )


STAGE_NEXT_SHARE = 0.5  # of the width that the words about the next page may take in any case
ONE_LINE = 23 * UNIT  # a page so wide has its foot in one line
TALL = "dÉ"  # what a line of the foot is as high as


def set_stage_head(arrangement: Arrangement, metrics: Metrics, width: float, height: float) -> tuple[HeadPage, ...]:
    """Place title, key, tempo and meter, who begins, and the roadmap.

    Args:
        arrangement: whose head it is.
        metrics: of the fonts.
        width: of a page inside its margins.
        height: of the same.

    Returns:
        One for each page that the head stands on.
    """
    song = arrangement.song
    flow = Flow(0.0, width, 0.0, (height, height), metrics, 0.0)
    flow.title(song.title.value, STAGE_TITLE, song.title.span)
    pieces: list[tuple[str, Face, str, Span]] = [(SEPARATOR.join(song_facts(arrangement)), "bold", "key", NOWHERE)]
    if song.start is not None:
        pieces.append((f"start: {song.start.value}", "regular", "header", song.start.span))
    _side_by_side(pieces, flow)
    if song.roadmap_written:
        set_roadmap(song, flow, ROADMAP)
    return flow.finish()


def _side_by_side(pieces: Sequence[tuple[str, Face, str, Span]], flow: Flow) -> None:
    """Place pieces of text in one line where they fit, the last at its right end; else one under the other."""
    widths = [width_of(runs(text, face, UNIT, flow.metrics)) for text, face, _, _ in pieces]
    if len(pieces) == 1 or sum(widths) + PIECE_GAP > flow.width:
        for text, face, role, span in pieces:
            flow.paragraph(text, face, UNIT, role, span)
        return
    above = max(flow.metrics.rise(text, face, UNIT) for text, face, _, _ in pieces)
    baseline = flow.baseline(max(above, UNIT), flow.metrics.descent("bold", UNIT))
    for (text, face, role, span), x in zip(pieces, (0.0, flow.width - widths[-1]), strict=True):
        flow.items += place(runs(text, face, UNIT, flow.metrics), x, baseline, role, span)


def stage_foot_height(width: float, metrics: Metrics) -> float:
    """Return the height of the foot with the gap over it, on a page of a width."""
    line = metrics.rise(TALL, "bold", UNIT) + metrics.descent("bold", UNIT)
    return STAGE_FOOT_GAP + line * (1 if width >= ONE_LINE else 2)


def set_stage_foot(
    following: Sequence[str], about: Sequence[str], number: str, metrics: Metrics, width: float, height: float
) -> list[Item]:
    """Place the foot: what to have ready when the page is turned; what this copy is, and which page.

    Args:
        following: what is played next elsewhere, in ever fewer words; empty where nothing is.
        about: what is told of the copy, the first first, as much as there is room for.
        number: of the page; empty where there is one page only.
        metrics: of the fonts.
        width: of the page inside its margins.
        height: of the same, above the foot.
    """
    y = height + STAGE_FOOT_GAP + metrics.rise(TALL, "bold", UNIT)
    below = y if width >= ONE_LINE else y + metrics.rise(TALL, "bold", UNIT) + metrics.descent("bold", UNIT)
    least = runs(SEPARATOR.join(filter(None, (about[0], number))), "regular", UNIT, metrics)
    share = width if below > y else max(width * STAGE_NEXT_SHARE, width - PIECE_GAP - width_of(least))
    short = (text for text in following if width_of(runs(text, "bold", UNIT, metrics)) <= share)
    told = next(short, following[-1] if following else "")  # nothing is cut off
    ready = runs(told, "bold", UNIT, metrics) if told else ()
    room = width - (width_of(ready) + PIECE_GAP if told and below == y else 0.0)
    page = runs(SEPARATOR + number if number else "", "regular", UNIT, metrics)
    if width_of(least) > room:
        page = runs(SEPARATOR + number.replace(" of ", "/"), "regular", UNIT, metrics)
    texts = [SEPARATOR.join(about[:count]) for count in range(len(about), 0, -1)]
    left = room - width_of(page)
    fits = (text for text in (*texts, *about[1:]) if width_of(runs(text, "regular", UNIT, metrics)) <= left)
    text = next(fits, "")
    quiet = (*runs(text, "regular", UNIT, metrics), *page) if text else runs(number, "regular", UNIT, metrics)
    return [*place(ready, 0.0, y, "next"), *place(quiet, width - width_of(quiet), below, "foot", grey=QUIET_GREY)]
