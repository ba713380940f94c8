"""Settle a part's lines and pages in one look or another."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.folding import Folded, Group, folded
from arranger.layout.content.model import Column, MarginEntry, PlannedLine, SectionContent, Symbol
from arranger.layout.content.on_staves import staff_bars
from arranger.layout.model import Item
from arranger.layout.options import PartOptions
from arranger.layout.pages.around import Around, PlacedRow, with_row
from arranger.layout.pages.head_and_foot import HeadPage, foot_height, set_heading
from arranger.layout.pages.legend import entries, leading, rows_of_legend, set_legend
from arranger.layout.pages.turning import FREE, Block, PagePlan, divide
from arranger.layout.setting.known_bars import KEPT, KnownBars
from arranger.layout.setting.line_plan import Room, in_rows, plan
from arranger.layout.setting.music import SetLine, music_left, prepare
from arranger.layout.setting.row_pairs import pairs_of
from arranger.layout.setting.verse_texts import text_lines_of
from arranger.layout.style import Look, Sizes
from arranger.layout.text import Metrics, elided, place, runs, wrap
from arranger.sounding.notation import BarKey, NotatedBar
from arranger.text.source import NOWHERE, Span

NAME_LINES = 2  # of the column that the name of a section takes where it goes on


class PartLine(NamedTuple):
    """A line as it stands inside a page and at the top of one, where the section that goes on is named again.

    `turns`: a hand is free at its end, long enough to turn a page. `folded`: the line without pictures, as it stands
    after one with the same hands.
    """

    inside: SetLine
    at_top: SetLine
    turns: bool = True
    folded: SetLine | None = None

    @classmethod
    def of(
        cls, line: PlannedLine, section: str, metrics: Metrics, quarters_a_minute: float, width: float
    ) -> "PartLine":
        """Prepare a line of a section for all its places; `width` is the page's between its margins."""
        inside = prepare(line, metrics, width)
        turns = free_quarters(line) * 60 / quarters_a_minute >= FREE
        if line.first or line.across is not None or line.texts:
            return cls(inside, inside, turns)
        name = elided(f"({section})", "regular", style.MARGIN, NAME_LINES * style.COLUMN, metrics)
        named = line._replace(margin=(MarginEntry(name, "fact"), *line.margin))
        folded = prepare(_without_hands(line), metrics, width) if line.bare else None
        return cls(inside, prepare(named, metrics, width, inside.rows), turns, folded)

    @property
    def block(self) -> Block:
        """The line as the division of pages sees it: more room where a section begins, the pencil's room may hang."""
        line = self.inside.line
        return Block(
            height=self.inside.height,
            at_top=self.at_top.height,
            gap=line.look.section_gap if line.first else 0.0,
            hangs=0.0 if line.across is not None else line.look.pencil,
            first=line.first,
            leads_on=line.leads_on,
            busy=0 if self.turns else 1,
            hands=(line.section, line.hands) if line.hands is not None else None,
            folded=self.folded.height if self.folded is not None else self.inside.height,
        )

    def at(self, top: bool, as_bar: int | None) -> SetLine:
        """Return the line as it stands at the top of a page, or with the hands of another bar, or plainly inside."""
        if as_bar is None or self.folded is None:
            return self.at_top if top else self.inside
        return self.folded._replace(line=self.folded.line._replace(as_bar=as_bar))


def _without_hands(line: PlannedLine) -> PlannedLine:
    """Return a line as it stands without its pictures; without them staves have nothing to show either."""
    look = line.look._replace(hands="letters") if line.look.hands == "staff" else line.look
    return line._replace(bars=line.bare, look=look, as_bar=line.bars[0].content.number)


def free_quarters(line: PlannedLine) -> float:
    """Return how long the hands do nothing new at the end of a line, in quarters."""
    free = 0.0
    for bar in reversed(line.bars):
        busy = [
            placed.column.time
            for placed in bar.columns
            if placed.column.fill or placed.column.hook or _strikes(placed.column.symbol) or _leads_on(placed.column)
        ]
        if busy:
            return free + float(bar.content.length - max(busy))
        free += float(bar.content.length - bar.content.start)
    return float("inf")


def _leads_on(column: Column) -> bool:
    """Return whether a note of a fill or a hook stands at a column among the notes on the staves."""
    return column.fill_in_notes is not None or column.hook_in_notes is not None


def _strikes(symbol: Symbol | None) -> bool:
    return symbol is not None and symbol.role in ("chord", "resolution", "repeat")


FOOT_ROOM = 9.0  # between the last line's words and the foot, beside the pencil's room
RIGHTS_LINES = 3  # of the rights at the foot of the first page; longer ones, and those of one line, stand in the head
UNKNOWN_TEMPO = 80  # quarters a minute, where a song names no tempo


class PartDraft(NamedTuple):
    """A part before its items are placed: its lines, the pages of its head, its legend, which lines are on which page.

    `plans[0]` is the page on which the head ends.
    """

    sections: Mapping[int, SectionContent]  # as drawn, by the index of each section of the song
    lines: tuple[PartLine, ...]
    blocks: tuple[Block, ...]  # the same as the division of pages sees them
    head: tuple[HeadPage, ...]
    notes: tuple[Item, ...]
    plans: tuple[PagePlan, ...]
    rooms: tuple[float, float]  # of the music on the page where the head ends, and on the others
    look: Look
    groups: tuple[Group, ...]  # of sections that are drawn together
    below: PlacedRow | None = None  # at the foot of the last page

    @property
    def pages(self) -> int:
        """How many pages there are."""
        return len(self.head) - 1 + len(self.plans)

    @property
    def broken(self) -> int:
        """How many lines there are beside the first of each row, and in how many words stand on two lines."""
        music = [line.inside.line for line in self.lines if line.inside.line.bars]
        return len(music) - len({(line.section, line.row) for line in music}) + sum(bool(line.under) for line in music)


class SetLines(NamedTuple):
    """The lines of a part in a look, before they are divided over pages, with what stands under the first.

    `limits`: how far down the first page may be filled, and the others. `rights_above`: the rights stand in the head.
    `own`: no line is that of another section, which prints the same.
    """

    sections: Mapping[int, SectionContent]
    lines: tuple[PartLine, ...]
    notes: tuple[Item, ...]
    limits: tuple[float, float]
    rights_above: bool
    own: bool


class Contents:
    """Keeps the content of a part in the sizes of type that looks ask for, and its lines in looks."""

    def __init__(self, arrangement: Arrangement, options: PartOptions, metrics: Metrics) -> None:
        self.arrangement, self.options, self.metrics = arrangement, options, metrics
        self._patches = {sound.casefold(): number for sound, number in options.patches}
        self._known: dict[tuple[tuple[Group, ...], Sizes], tuple[Folded, KnownBars]] = {}
        self._lines: dict[tuple[tuple[Group, ...], Look], SetLines] = {}
        self._joined: dict[tuple[tuple[Group, ...], Look], dict[tuple[int, int], int]] = {}
        self._written: Mapping[BarKey, NotatedBar] | None = None
        KEPT.begin()

    def of(self, groups: tuple[Group, ...], look: Look) -> tuple[Folded, KnownBars]:
        """Return the content with sections drawn in groups, and what is remembered of its bars."""
        found = self._known.get((groups, look.sizes))
        if found is None:
            if self._written is None:
                self._written = staff_bars(self.arrangement, look)
            content = folded(self.arrangement, groups, self.metrics, look, self._patches, self._written)
            found = self._known[groups, look.sizes] = content, KnownBars(look.words)
        return found

    def room(self, look: Look) -> Room:
        """Return what lines must fit in a look."""
        width, bottom = _frame(self.options, look, self.metrics)
        return Room(width - music_left(look), width, bottom - style.TOP)

    def joined(self, draft: PartDraft, look: Look) -> dict[tuple[int, int], int]:
        """Return for rows that stand in one line with another in a look, by section and number, the first of those.

        Where nothing is known yet in its sizes of type, for rows that may, as far as widths allow.
        """
        key, found = (draft.groups, look), dict[tuple[int, int], int]()
        if not look.joined or key in self._joined:
            return self._joined.get(key, found)
        known = self._known.get((draft.groups, look.sizes))
        sections = known[0].sections if known else {one.index: one for one in draft.sections.values()}.values()
        for section in sections:
            if known:
                _, places = in_rows(section, self.room(look), self.metrics, look, known[1])
            else:
                places = [pair[0] for pair in pairs_of(section)]
            for one, two in pairwise((*places, len(section.rows))):
                found |= {(section.index, row): one for row in range(one, two) if two > one + 1}
        if known:
            self._joined[key] = found
        return found

    def lines(self, groups: tuple[Group, ...], look: Look) -> SetLines:
        """Return the lines in a look, with sections drawn in groups: they do not depend on what is around them.

        Those of a section that prints the same may stand for its own: their places in the song are another's.
        """
        found = self._lines.get((groups, look))
        if found is None:
            found = self._lines[groups, look] = _set_lines(self, groups, look)
        return found

    def own_lines(self, groups: tuple[Group, ...], look: Look) -> SetLines:
        """Return the same, all with their own places in the song."""
        found = self.lines(groups, look)
        return found if found.own else _set_lines(self, groups, look, own=True)

    def lines_of(
        self, section: SectionContent, known: KnownBars, look: Look, tempo: float, *, own: bool
    ) -> tuple[SectionContent, tuple[PartLine, ...]]:
        """Return the lines of a section, after the one for which they were set: it prints the same if not its `own`.

        `tempo` is the fastest in which it is played, in quarters a minute.
        """
        room = self.room(look)
        kept, key = known.rows_of(section, self.metrics).lines, (look, room, tempo)
        found = kept.get(key)
        if found is None or (own and found[0] is not section):
            planned = plan(section, room, self.metrics, look, known)
            lines = [PartLine.of(line, section.name, self.metrics, tempo, room.across) for line in planned]
            found = kept[key] = section, tuple(lines)
        return found


def _frame(options: PartOptions, look: Look, metrics: Metrics) -> tuple[float, float]:
    """Return the width of a page between its margins, and how far down it may be filled."""
    paper = options.paper
    return paper.width - 2 * look.side, paper.height - style.BOTTOM - foot_height(metrics) - FOOT_ROOM


def _set_lines(contents: Contents, groups: tuple[Group, ...], look: Look, *, own: bool = False) -> SetLines:
    arrangement, metrics = contents.arrangement, contents.metrics
    width, bottom = _frame(contents.options, look, metrics)
    content, known = contents.of(groups, look)
    sections = {index: section for section in content.sections for index in section.indices}
    tempi = [section.facts.tempo for section in arrangement.song.sections]
    speeds = [float((tempo and tempo.quarters_a_minute) or UNKNOWN_TEMPO) for tempo in tempi]
    fastest = {index: max(speeds[number] for number in section.indices) for index, section in sections.items()}
    lines: list[PartLine] = []
    all_own = True
    for section in content.sections:
        of, some = contents.lines_of(section, known, look, fastest[section.index], own=own)
        all_own = all_own and of is section
        lines += some
    for line in _texts(content, look, metrics, width, contents.room(look).height):
        lines.append(PartLine.of(line, sections[line.section].name, metrics, fastest[line.section], width))
    rights = arrangement.song.rights
    span = rights.span if rights is not None else NOWHERE
    texts = wrap(rights.value, "regular", style.SMALL, width, metrics) if rights is not None else ()
    above = len(texts) == 1 or len(texts) > RIGHTS_LINES
    planned = [line.inside.line for line in lines]
    notes, notes_top = _notes(planned, () if above else texts, span, metrics, (look.side, width), bottom)
    return SetLines(sections, tuple(lines), notes, (notes_top - FOOT_ROOM, bottom), above, all_own)


def drafted(contents: Contents, groups: tuple[Group, ...], look: Look, around: Around) -> PartDraft:
    """Settle everything but the places of the items, with sections drawn in groups."""
    arrangement, metrics = contents.arrangement, contents.metrics
    width, bottom = _frame(contents.options, look, metrics)
    sections, lines, notes, limits, rights_above, _ = contents.lines(groups, look)
    over, under = (row and row(look.side, width) for row in (around.above, around.below))
    head = set_heading(
        arrangement, metrics, look.side, width, limits, with_rights=rights_above, compact=look.over, over=over
    )
    rooms = limits[0 if len(head) == 1 else 1] - head[-1].bottom - style.HEADER_GAP, bottom - style.TOP
    blocks = with_row([line.block for line in lines], under)
    plans = divide(blocks, *rooms, strict=True)
    return PartDraft(sections, lines, blocks, head, notes, plans, rooms, look, groups, under)


def _notes(
    lines: Sequence[PlannedLine],
    rights: Sequence[str],
    span: Span,
    metrics: Metrics,
    across: tuple[float, float],
    bottom: float,
) -> tuple[tuple[Item, ...], float]:
    """Place what stands under the music of the first page: the legend, the rights; return it and its top."""
    (left, width), step = across, leading(metrics)
    rows = rows_of_legend(entries(lines), metrics, width)
    baseline = bottom - step * len(rights)
    items = set_legend(rows, metrics, left, baseline)
    for number, text in enumerate(rights, 1):
        set_text = runs(text, "regular", style.SMALL, metrics)
        items += place(set_text, left, baseline + step * number, "rights", span)
    return tuple(items), bottom - step * (len(rows) + len(rights))


def _texts(content: Folded, look: Look, metrics: Metrics, width: float, height: float) -> list[PlannedLine]:
    """Return the lines of the verses that stand as text after the song."""
    if not content.texts:
        return []
    lines = text_lines_of(content.texts, content.texts[0].index, look, metrics, width, height)
    return [line._replace(section=line.texts[0].index) for line in lines]
