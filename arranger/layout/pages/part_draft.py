"""Settle a part's lines and pages in one look or another, and choose: the fewest pages, then the largest look.

Sections that are played alike are drawn once where no page is turned back for that; two pages lie side by side.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.folding import Folded, Group, folded, groups_of
from arranger.layout.content.how_played import drawn_order
from arranger.layout.content.model import Column, MarginEntry, PlannedLine, Rows, SectionContent, Symbol
from arranger.layout.content.on_staves import staff_bars
from arranger.layout.model import Item
from arranger.layout.options import PartOptions
from arranger.layout.pages.around import ALONE, Around, PlacedRow, with_row
from arranger.layout.pages.head_and_foot import HeadPage, foot_height, set_heading
from arranger.layout.pages.legend import entries, leading, rows_of_legend, set_legend
from arranger.layout.pages.turning import FREE, Block, PagePlan, divide
from arranger.layout.setting.known_bars import KnownBars
from arranger.layout.setting.line_plan import Room, plan
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
    def of(cls, line: PlannedLine, section: str, metrics: Metrics, quarters_a_minute: float, width: float) -> PartLine:
        """Prepare a line of a section for all its places; `width` is the page's between its margins."""
        inside = prepare(line, metrics, width)
        turns = free_quarters(line) * 60 / quarters_a_minute >= FREE
        if line.first or line.across is not None or line.texts:
            return cls(inside, inside, turns)
        name = elided(f"({section})", "regular", style.MARGIN, NAME_LINES * style.COLUMN, metrics)
        named = replace(line, margin=(MarginEntry(name, "fact"), *line.margin))
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
        return self.folded._replace(line=replace(self.folded.line, as_bar=as_bar))


def _without_hands(line: PlannedLine) -> PlannedLine:
    """Return a line as it stands without its pictures; without them staves have nothing to show either."""
    look = line.look._replace(hands="letters") if line.look.hands == "staff" else line.look
    return replace(line, bars=line.bare, look=look, as_bar=line.bars[0].content.number)


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
FACING = 2  # pages that lie side by side: all of a part that has no more
# Of their size, what letters take from the highest to the lowest at most: of names and signs; of words with accents.
LETTERS_HIGH, WORDS_HIGH = 1.15, 1.5
HEAD_LINE = 14.0  # points that a line over the music takes at least
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
    """

    sections: Mapping[int, SectionContent]
    lines: tuple[PartLine, ...]
    notes: tuple[Item, ...]
    limits: tuple[float, float]
    rights_above: bool


class Contents:
    """Keeps the content of a part in the sizes of type that looks ask for, and its lines in looks."""

    def __init__(self, arrangement: Arrangement, options: PartOptions, metrics: Metrics) -> None:
        self.arrangement, self.options, self.metrics = arrangement, options, metrics
        self._patches = {sound.casefold(): number for sound, number in options.patches}
        self._known: dict[tuple[tuple[Group, ...], Sizes], tuple[Folded, KnownBars]] = {}
        self._lines: dict[tuple[tuple[Group, ...], Look], SetLines] = {}
        self._written: Mapping[BarKey, NotatedBar] | None = None

    def of(self, groups: tuple[Group, ...], look: Look) -> tuple[Folded, KnownBars]:
        """Return the content with sections drawn in groups, and what is remembered of its bars."""
        found = self._known.get((groups, look.sizes))
        if found is None:
            if self._written is None:
                self._written = staff_bars(self.arrangement, look)
            content = folded(self.arrangement, groups, self.metrics, look, self._patches, self._written)
            found = self._known[groups, look.sizes] = content, KnownBars(look.words)
        return found

    def lines(self, groups: tuple[Group, ...], look: Look) -> SetLines:
        """Return the lines in a look, with sections drawn in groups: they do not depend on what is around them."""
        found = self._lines.get((groups, look))
        if found is None:
            found = self._lines[groups, look] = _set_lines(self, groups, look)
        return found


def _frame(options: PartOptions, look: Look, metrics: Metrics) -> tuple[float, float]:
    """Return the width of a page between its margins, and how far down it may be filled."""
    paper = options.paper
    return paper.width - 2 * look.side, paper.height - style.BOTTOM - foot_height(metrics) - FOOT_ROOM


def _set_lines(contents: Contents, groups: tuple[Group, ...], look: Look) -> SetLines:
    arrangement, metrics = contents.arrangement, contents.metrics
    width, bottom = _frame(contents.options, look, metrics)
    room = Room(width - music_left(look), width, bottom - style.TOP)
    content, known = contents.of(groups, look)
    planned = [line for section in content.sections for line in plan(section, room, metrics, look, known)]
    planned += _texts(content, look, metrics, width, room.height)
    sections = {index: section for section in content.sections for index in section.indices}
    tempi = [section.facts.tempo for section in arrangement.song.sections]
    speeds = [float((tempo and tempo.quarters_a_minute) or UNKNOWN_TEMPO) for tempo in tempi]
    fastest = {index: max(speeds[number] for number in section.indices) for index, section in sections.items()}
    lines = tuple(
        PartLine.of(line, sections[line.section].name, metrics, fastest[line.section], width) for line in planned
    )
    rights = arrangement.song.rights
    span = rights.span if rights is not None else NOWHERE
    texts = wrap(rights.value, "regular", style.SMALL, width, metrics) if rights is not None else ()
    above = len(texts) == 1 or len(texts) > RIGHTS_LINES
    notes, notes_top = _notes(planned, () if above else texts, span, metrics, (look.side, width), bottom)
    return SetLines(sections, lines, notes, (notes_top - FOOT_ROOM, bottom), above)


def _draft(contents: Contents, groups: tuple[Group, ...], look: Look, around: Around) -> PartDraft:
    """Settle everything but the places of the items, with sections drawn in groups."""
    arrangement, metrics = contents.arrangement, contents.metrics
    width, bottom = _frame(contents.options, look, metrics)
    sections, lines, notes, limits, rights_above = contents.lines(groups, look)
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
    return [replace(line, section=line.texts[0].index) for line in lines]


def pages_at_least(draft: PartDraft, look: Look) -> int:
    """Return how many pages a part needs in a look at least, by the heights of its rows in a draft in a larger one.

    No row is higher in one line than in several, none gets lower than by what is smaller in the look, and where letters
    are as large and the page is no wider, none has fewer lines.
    """
    pairs = _pairs(draft) if look.joined else {}
    as_broken = look.sizes == draft.look.sizes and (draft.look.over or not look.over)
    rows: dict[tuple[int, int, int], Block] = {}
    for number, line in enumerate(draft.lines):
        planned = line.inside.line
        if not planned.bars or planned.verse_range is not None:
            continue
        beside = 0.0 if look.over else _beside(line.inside)
        shared = bool(line.inside.rows.octave)  # it may stand in the row of fills
        over = HEAD_LINE if look.over and planned.margin and not shared else 0.0
        less = _lower(planned, line.inside.rows, draft.look, look)
        height = max(line.inside.rows.bottom - less, beside) + over + look.pencil
        bare = max(line.folded.rows.bottom - less, beside) + over + look.pencil if line.folded else height
        row = pairs.get((planned.section, planned.row), planned.row)
        key = planned.section, row, number if as_broken and not pairs else 0
        known = rows.get(key)
        if known is not None:
            height, bare = max(height, known.height), max(bare, known.folded)
        hands = line.block.hands if known is None else known.hands
        first = planned.first or (known is not None and known.first)
        rows[key] = Block(height, height, 0.0, look.pencil, first, hands=hands, folded=bare)
    # The roadmap may need a line less, and who plays may have none of its own.
    wider = 2 * style.HEADER_LEADING if look.side < draft.look.side else 0.0
    plans = divide(tuple(rows.values()), draft.rooms[0] + wider, draft.rooms[1])
    return len(draft.head) - 1 + len(plans)


def _pairs(draft: PartDraft) -> dict[tuple[int, int], int]:
    """Return for rows, by section and number, the first of the rows with which they may stand in one line."""
    sections = {section.index: section for section in draft.sections.values()}
    pairs = ((index, pair) for index, section in sections.items() for pair in pairs_of(section))
    return {(index, row): pair[0] for index, pair in pairs for row in pair}


def _lower(line: PlannedLine, rows: Rows, own: Look, look: Look) -> float:
    """Return by how much a line may be lower in another look at most."""
    columns = [placed.column for bar in line.bars for placed in bar.columns]
    lettered = 1 + any(c.fill for c in columns) + any(c.hook for c in columns) + (own.hands == "letters")
    less = lettered * LETTERS_HIGH * (own.sizes.chord - look.sizes.chord)
    less += WORDS_HIGH * (own.words - look.words) * line.verses
    less += own.keyboard - look.keyboard if own.hands == "keyboard" else 0.0
    less += sum(WORDS_HIGH * own.words for _ in rows.under)
    return less + (_lower_beside(line, rows) if look.beside and not line.look.beside else 0.0)


def _lower_beside(line: PlannedLine, rows: Rows) -> float:
    """Return by how much a line may be lower with its hands beside its chords, beside what is smaller, at most."""
    pictures = any(placed.picture is not None for bar in line.bars for placed in bar.columns)
    if line.look.hands == "keyboard" and pictures:
        return max(0.0, rows.chord - rows.keyboard - line.look.keyboard)
    return rows.chord - rows.top


def _beside(ready: SetLine) -> float:
    """Return how high what stands beside a line is; nothing where words before the first bar may yet leave it."""
    pickup = any(text.entry.role == "pickup" for text in ready.margin)
    return 0.0 if pickup or not ready.margin else ready.margin[-1].y


class PartChoice:
    """Tries looks for one part."""

    def __init__(
        self, arrangement: Arrangement, options: PartOptions, metrics: Metrics, around: Around = ALONE
    ) -> None:
        self._options, self._around = options, around
        self._contents = Contents(arrangement, options, metrics)
        self._looks = style.looks(options.hands)
        self._tried: dict[tuple[tuple[Group, ...], Look], PartDraft] = {}

    def around_with(self, around: Around) -> PartChoice:
        """Return the same with something else around the pages; what was measured is kept."""
        other = copy(self)
        other._around, other._tried = around, {}
        return other

    def best(self) -> PartDraft:
        """Return the draft with the largest look of those with the fewest pages, or with no more than are asked for.

        Where none has so few, that in the least look.
        """
        groups: tuple[Group, ...] = tuple((index,) for index in drawn_order(self._contents.arrangement))
        if self._options.verses == "together":
            groups = groups_of(self._contents.arrangement)
        draft = self._largest(groups)
        while draft.pages > FACING and (apart := self._apart(groups, draft)) != groups:
            turned = len(self._turned_back(draft))
            if len(self._turned_back(self.at(apart, draft.look))) >= turned:  # as many, where others are played again
                break
            other = self._largest(apart)
            if len(self._turned_back(other)) >= turned:
                break
            groups, draft = apart, other
        return draft

    def _largest(self, groups: tuple[Group, ...]) -> PartDraft:
        """Return the draft with the largest look of those with the fewest pages, or with so few as are asked for.

        The least look tells how few pages there may be; the others are tried from the largest down, but for those that
        cannot have so few.
        """
        most = self._options.pages
        best = self._of_one_size(groups, self._looks[:2], most)
        if best is not None and most is None:
            if best.pages == 1 or not self._may_fit(groups, self._looks[-1], best.pages - 1):
                return best
            most = self.at(groups, self._looks[-1]).pages
            best = best if best.pages <= most else None
        for number in range(2, len(self._looks), 2):
            if best is not None:
                return best
            best = self._of_one_size(groups, self._looks[number : number + 2], most)
        if best is None:
            return min((self.at(groups, look) for look in self._looks[-2:]), key=lambda draft: draft.pages)
        return best

    def _of_one_size(self, groups: tuple[Group, ...], looks: Sequence[Look], most: int | None) -> PartDraft | None:
        """Return the draft with the fewest pages, then the fewest broken rows; None where all have too many pages."""
        best: PartDraft | None = None
        for look in looks:
            if best is not None:
                most = best.pages if best.broken else best.pages - 1
            if most is None or self._may_fit(groups, look, most):
                draft = self.at(groups, look)
                if most is None or draft.pages <= most:
                    best = draft if best is None else min(best, draft, key=lambda one: (one.pages, one.broken))
        return best

    def _may_fit(self, groups: tuple[Group, ...], look: Look, most: int) -> bool:
        """Return whether a look may have so few pages, for all that is known of larger ones."""
        known = self._tried.get((groups, look))
        if known is not None:
            return known.pages <= most
        larger = (
            draft
            for (of, _), draft in self._tried.items()
            if of == groups and draft.look.size >= look.size and look.joined >= draft.look.joined
        )
        return all(pages_at_least(draft, look) <= most for draft in larger)

    def at(self, groups: tuple[Group, ...], look: Look) -> PartDraft:
        """Return the draft of a look, with sections drawn in groups."""
        known = self._tried.get((groups, look))
        if known is None:
            known = self._tried[groups, look] = _draft(self._contents, groups, look, self._around)
        return known

    def _turned_back(self, draft: PartDraft) -> list[tuple[int, int]]:
        """Return between which sections a page is turned back, each pair as often as it is."""
        if draft.pages <= FACING:
            return []
        begun: dict[int, int] = {}
        ended: dict[int, int] = {}
        for page, here in enumerate(draft.plans):
            for line in draft.lines[here.first : here.end]:
                if not line.inside.line.texts:
                    begun.setdefault(line.inside.line.section, page)
                    ended[line.inside.line.section] = page
        drawn = {index: section.index for index, section in draft.sections.items()}
        played = [step.section for step in self._contents.arrangement.song.roadmap]
        return [(one, two) for one, two in pairwise(played) if begun[drawn[two]] < ended[drawn[one]]]

    def _apart(self, groups: tuple[Group, ...], draft: PartDraft) -> tuple[Group, ...]:
        """Return the groups without those sections for which a page is turned back to the drawing of another.

        But for those that would stand no farther on by themselves: they are written before what is played before them.
        """
        drawn = {index: section.index for index, section in draft.sections.items()}
        back = {two for one, two in self._turned_back(draft) if drawn[two] != two > drawn[one]}
        kept = [tuple(index for index in group if index not in back) for group in groups]
        place = drawn_order(self._contents.arrangement).index
        return tuple(sorted((*kept, *((index,) for index in back)), key=lambda group: place(group[0])))
