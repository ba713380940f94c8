"""Lay out the stage copy of a song on its pages, and measure from how far it can be read."""

from __future__ import annotations

from dataclasses import dataclass

from arranger.harmony.model import Arrangement, ChordId
from arranger.layout.content.symbols import symbol
from arranger.layout.model import Bookmark, Box, Document, Item, Link, Page, Shape, moved
from arranger.layout.options import StageOptions
from arranger.layout.pages.around import ALONE, Ladder
from arranger.layout.pages.fitting import MINIMUM, Fitting, StageDraft, capital, legible_to, margins_of, minutes
from arranger.layout.pages.head_and_foot import document_of, missing_glyphs, set_stage_foot
from arranger.layout.pages.turning import FREE, SILENT, Passage
from arranger.layout.style import STAGE_LOOK
from arranger.layout.text import Metrics
from arranger.text.diagnostics import Diagnostic, error, warning
from arranger.units import SHEETS, Point, Rect

MARK = 8.0  # points: the width of the mark in the margin where no hand is free to turn
MARK_GAP = 2.0
NEARER = 0.05  # metres: by so much nearer distances are tried where a copy does not fit
NEAREST = 0.3
SLACK = 1e-9  # of a step
LARGER = 1.1  # times the area: papers that are less than that apart are alike

Way = tuple[str, str]  # what is played next, and its first chord or its page


@dataclass(frozen=True, slots=True)
class Legibility:
    """How well a stage copy can be read: its pages, its type, its distance, its turns.

    Attributes:
        pages: of the copy; two may lie on a sheet.
        size: of its type, in points.
        minutes: of arc, of its smallest capitals at the distance asked for.
        legible_to: the greatest distance at which they have 16, in metres.
        turns: the seconds that hands are free at each turn of a page.
    """

    pages: int
    size: float
    minutes: float
    legible_to: float
    turns: tuple[float, ...]


def lay_out(
    arrangement: Arrangement, metrics: Metrics, options: StageOptions, ladder: Ladder = (ALONE,)
) -> tuple[Document | None, Legibility | None, tuple[Diagnostic, ...]]:
    """Lay out the stage copy; `ladder` has what may stand around its pages in a book, the best first.

    Returns:
        The pages and how they read, None where they cannot be read from so far; an error then, and one for each
        character that no font has; a warning for each turn of a page that finds no hand free.
    """
    fitting = Fitting(arrangement, options, metrics, ladder[-1])
    least = fitting.largest()
    if least is None:
        return None, None, (_too_much(fitting),)
    for around in ladder[:-1]:
        richer = fitting.around_with(around)
        draft = richer.at(least.size)
        if draft.whole and draft.pages <= least.pages and draft.busy <= least.busy:
            return finished(richer, draft)
    return finished(fitting, least)


def finished(fitting: Fitting, draft: StageDraft) -> tuple[Document, Legibility, tuple[Diagnostic, ...]]:
    """Place everything of a draft; see `lay_out`."""
    metrics = fitting.metrics
    document = _Pages(fitting, draft).document()
    reading = Legibility(
        len(draft.plans),
        draft.size,
        minutes(draft.size * capital(metrics), fitting.options.distance),
        legible_to(draft.size, metrics),
        tuple(passage.free for passage, _, _ in draft.turned),
    )
    quick = {(passage.chord, one, two): passage for passage, one, two in draft.turned if not passage.turns}
    hints = _calmer(fitting) if quick else ()
    problems = [_busy(fitting.arrangement, passage, one, two, hints) for (_, one, two), passage in quick.items()]
    return document, reading, (*problems, *missing_glyphs(document.pages, metrics))


class _Pages:
    """Places everything of a draft."""

    def __init__(self, fitting: Fitting, draft: StageDraft) -> None:
        self._fitting = fitting
        self._draft = draft
        self._arrangement, self._metrics, self._options = fitting.arrangement, fitting.metrics, fitting.options
        self._sections = fitting.sections
        self._bookmarks: list[Bookmark] = []

    def document(self) -> Document:
        """Return the document."""
        sheets = self._sheets()
        return document_of(self._arrangement, "stage copy of the keys part", sheets, tuple(self._bookmarks))

    def _sheets(self) -> tuple[Page, ...]:
        """Place all pages, side by side where the sheet has two."""
        options, draft = self._options, self._draft
        sheet, factor = options.sheet, draft.frame.factor
        side, inside, end = margins_of(options)
        sheets = []
        for first in range(0, len(draft.plans), sheet.pages):
            numbers = range(first, min(first + sheet.pages, len(draft.plans)))
            items: list[Item] = []
            if options.dark:
                items.append(Box(0.0, 0.0, sheet.width / factor, sheet.height / factor, "paper", 1.0))
            links: list[Link] = []
            for place, number in enumerate(numbers):
                left = place * sheet.page_width + (inside if place else side)
                items += self._page(number, left / factor, end / factor, first // sheet.pages)
                links += self._links(number, left, end)
            label = "–".join(str(number + 1) for number in dict.fromkeys((numbers[0], numbers[-1])))
            sheets.append(Page(sheet.width, sheet.height, tuple(items), tuple(links), label, factor, options.dark))
        return tuple(sheets)

    def _page(self, number: int, x: float, y: float, sheet: int) -> list[Item]:
        """Place a page in units of the copy, on a sheet: the top left of what is inside its margins at (x, y)."""
        draft, end = self._draft, margins_of(self._options)[2]
        factor, width, height = draft.frame
        items: list[Item] = []
        if number < len(draft.head):
            items += (moved(item, x, y) for item in draft.head[number].items)
        for index, top in draft.tops(number):
            line, at_top = draft.lines[index], index == draft.plans[number].first
            items += self._fitting.typesetter.placed(line, width, x, y + top, at_top=at_top)
            if line.first:
                section = self._sections[line.section]
                self._bookmarks.append(Bookmark(section.name, sheet, top * factor + end, section.span))
        title, date = self._arrangement.song.title.value, self._options.date
        legible = f"legible to {legible_to(draft.size, self._metrics):g} m"
        about: tuple[str | None, ...] = (legible, date) if number < len(draft.head) else (title, legible, date)
        count = len(draft.plans)
        page = f"{number + 1} of {count}" if count > 1 else ""
        if self._fitting.around.number:
            page = self._fitting.around.paging(number + 1, count)
            about = (date,) if number < len(draft.head) else (date, title)
        texts = [text for text in about if text] or [""]
        if draft.below is not None and number == count - 1:
            items += draft.below.at(y + height - draft.below.height, x)
        foot = set_stage_foot(self._following(number), texts, page, self._metrics, width, height)
        return [*items, *(moved(item, x, y) for item in foot), *self._mark(number, x + width, y + height)]

    def _links(self, number: int, left: float, top: float) -> list[Link]:
        """Lead from the steps of the roadmap that stand on a page to the bookmarks of their sections."""
        draft, factor = self._draft, self._draft.frame.factor
        of = {index: place for place, section in enumerate(self._sections) for index in section.indices}
        links = []
        for section, rect in draft.head[number].steps if number < len(draft.head) else ():
            size = rect.width * factor, rect.height * factor
            links.append(Link(Rect(rect.x * factor + left, rect.y * factor + top, *size), of[section]))
        return links

    def _following(self, number: int) -> tuple[str, ...]:
        """Return what to have ready when a page is turned: what is played next elsewhere; then in ever fewer words."""
        ways: dict[int, Way] = {}
        pages: dict[str, None] = {}
        quick = False
        for passage, one, two in self._draft.turned:
            if one == number:
                ways.setdefault(self._draft.places[passage.after], self._way(passage, one, two))
                pages[f"page {two + 1}"] = None
                quick = quick or not passage.turns
        last = number == len(self._draft.plans) - 1
        around = self._fitting.around if last else ALONE
        if not ways:
            return tuple(filter(None, (around.onward, around.briefly)))
        texts = [
            [", ".join(filter(None, (name, chord))) for name, chord in ways.values()],
            list(dict.fromkeys(name for name, _ in ways.values())),
            list(pages),
        ]
        word = "quick turn" if quick else "next"
        said = (*(f"{word}: {' or '.join(ways_on)}" for ways_on in texts), word)
        return (*(around.after(text) for text in said if around.briefly), *said)

    def _way(self, passage: Passage, one: int, two: int) -> Way:
        """Name what is played after a turn, and its first chord; or its page, where that is not the next one."""
        leaves, line = self._draft.leaves, self._draft.lines[self._draft.places[passage.after]]
        name = self._arrangement.song.sections[passage.after[0]].name
        if not line.first:
            name = self._sections[line.section].name
        if two // leaves != one // leaves + 1:
            return name, f"page {two + 1}"
        return name, _opening(self._arrangement, passage.after, self._metrics)

    def _mark(self, number: int, x: float, bottom: float) -> list[Item]:
        """Mark the margin of a page that is turned while no hand is free: a dark triangle that points over."""
        if all(one != number or passage.turns for passage, one, _ in self._draft.turned):
            return []
        mark = MARK / self._draft.frame.factor  # as large on every copy
        x += MARK_GAP / self._draft.frame.factor
        return [Shape((Point(x, bottom - 2 * mark), Point(x, bottom), Point(x + mark, bottom - mark)), "turn")]


def _opening(arrangement: Arrangement, where: ChordId, metrics: Metrics) -> str:
    """Return the symbol of a chord in plain text; that nothing is played in a silent section."""
    if where[1] == SILENT:
        return "tacet"
    return "".join(run.text for run in symbol(arrangement.chord(where), metrics, STAGE_LOOK.sizes))


def _busy(arrangement: Arrangement, passage: Passage, one: int, two: int, hints: tuple[str, ...]) -> Diagnostic:
    """Return the warning of a turn without a free hand."""
    number, place = passage.chord
    section = arrangement.song.sections[number]
    after, span = section.name, section.span
    if place != SILENT:
        chord = arrangement.chord(passage.chord)
        after, span = f"bar {chord.bar} of {section.name}", chord.span
    return warning(
        "busy-turn",
        f"no hand is free to turn from page {one + 1} to page {two + 1}: after {after} there are {passage.free:.1f} s, "
        f"expected {FREE:g} s",
        span,
        *hints,
    )


def _calmer(fitting: Fitting) -> tuple[str, ...]:
    """Return hints at fewer pages that have no turn without a free hand, each tried."""
    options, found = fitting.options, []
    for pages in (1, 2):
        if options.pages is not None and pages >= options.pages:
            break
        draft = fitting.within(pages)
        if draft is not None and not draft.busy:
            angle = minutes(draft.size * capital(fitting.metrics), options.distance)
            beside = " side by side" if pages == 2 and draft.leaves == 2 else ""
            found.append(f"--pages {pages} fits{beside}, with capitals of {angle:.0f} minutes of arc")
    return tuple(found)


def _too_much(fitting: Fitting) -> Diagnostic:
    """Return the error that a copy cannot be read from so far, with what would help: each way was tried."""
    options, hints = fitting.options, []

    def changed(**changes: object) -> Fitting:
        options_then = options._replace(**changes)  # type: ignore[arg-type]
        return Fitting(fitting.arrangement, options_then, fitting.metrics, fitting.around)

    if options.pages is not None:
        free = fitting.least()
        if options.pages == 1 and free.whole and len(free.plans) == 2:
            hints.append("--pages 2 fits")
        elif free.whole:
            hints.append(f"--pages any needs {len(free.plans)} pages")
    if options.words != "none" and changed(words="none").fits():
        hints.append("--words none fits")
    area = options.sheet.page_width * options.sheet.height
    for name, sheet in SHEETS.items():
        larger = not sheet.screen and sheet.page_width * sheet.height > area * LARGER
        if larger and changed(sheet=sheet, margin=None).fits():
            hints.append(f"--paper {name} fits")
            break
    steps = int((options.distance - NEAREST) / NEARER + SLACK)
    nearer = (round(options.distance - step * NEARER, 2) for step in range(1, steps + 1))
    found = next((metres for metres in nearer if fitting.fits(metres)), None)
    if found is not None:
        hints.append(f"--distance {found:g}m fits")
    count = {1: "1 page", 2: "2 pages"}.get(options.pages or 0, "its pages")
    low = f"capitals would be under {MINIMUM:g} minutes of arc"
    return error("too-small-to-read", f"at {options.distance:g} m the song does not fit {count}: {low}", None, *hints)
