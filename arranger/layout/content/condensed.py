"""Gather what a stage copy prints: hands as letters, first words of verses, sections that are alike drawn once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import accumulate

from arranger.harmony.model import Arrangement, ChordPart
from arranger.layout.content.collect import collect, goes_on, with_verses
from arranger.layout.content.how_played import apart_onward, copies_of, drawn_order, verses_under
from arranger.layout.content.margin_text import KNOWN, is_cut, onward_of
from arranger.layout.content.model import BarContent, Column, MarginEntry, Picture, SectionContent
from arranger.layout.content.pictures import in_octaves
from arranger.layout.content.together import common_name, stated_together, verses_together
from arranger.layout.model import KeyMark
from arranger.layout.options import Prompts
from arranger.layout.style import LEFT_GAP, PROMPT_LETTERS, PROMPT_WORDS, STAGE_LOOK, UNIT
from arranger.layout.text import ELLIPSIS, Metrics, runs
from arranger.song.model import Row

Left = tuple[str, ...]  # what of a left hand is compared: the root, the root with its octave, or its letters
ROOT, ROOT_IN_OCTAVES = ("root",), ("root", "octave")


def condensed(
    arrangement: Arrangement, words: Prompts, patches: Mapping[str, str], metrics: Metrics
) -> tuple[SectionContent, ...]:
    """Return the content of a stage copy, in the order written; `patches` are as `section_margin` has them."""
    collected = collect(arrangement, metrics, STAGE_LOOK, patches)
    made = [_section(arrangement, collected[index], words, metrics) for index in drawn_order(arrangement)]
    groups: dict[object, list[SectionContent]] = {}
    for section in made:
        groups.setdefault(_without_words(section), []).append(section)
    joined = [_joined(group) for group in groups.values()]
    order = [section.indices for section in joined]

    def onward(number: int) -> tuple[str, ...]:
        first = order[number][0]
        if arrangement.sections[first].of is None:
            return onward_of(arrangement.song, order, number)
        return apart_onward(arrangement, first, order[number + 1] if number + 1 < len(order) else ())

    return tuple(replace(section, onward=onward(number)) for number, section in enumerate(joined))


def _section(arrangement: Arrangement, content: SectionContent, words: Prompts, metrics: Metrics) -> SectionContent:
    written = arrangement.song.sections[content.index]
    of = arrangement.sections[content.index].of
    own = content.index if of is None else of
    copies = set(copies_of(arrangement, own).values())
    under = verses_under(arrangement, content.index)
    if any(len(verses_under(arrangement, copy) or ()) > 1 for copy in copies):  # prompts are counted from the first
        under = None
    columns = [column for row in content.rows for bar in row.bars for column in bar.columns]
    first = next((column.chord for column in columns if column.picture is not None and column.chord is not None), None)
    begun = _form(arrangement.chord(first)) if first is not None else ROOT
    usual = begun if begun in (ROOT, ROOT_IN_OCTAVES) else ROOT

    def with_letters(column: Column) -> Column:
        """Set the hands as one light text each.

        The left hand only where it is not what the symbol and the hands before it lead to expect: the root alone is
        never stated; nor is the root with its octave where the section begins so.
        """
        if column.picture is None or column.chord is None:
            return column
        chord, letters = arrangement.chord(column.chord), "".join(run.text for run in column.picture.letters)
        form = _form(chord)
        stated = form != usual or (column.chord == first and form != ROOT)
        picture = Picture(
            marks=tuple(KeyMark(pitch.midi, "fresh") for pitch in chord.right),
            letters=runs(letters, "regular", UNIT, metrics),
            left=column.picture.left if stated else (),
            restated=column.picture.restated,
            span=column.picture.span,
        )
        return column._replace(picture=picture)

    rows = []
    for number, row in enumerate(content.rows):
        bars = tuple(replace(bar, columns=tuple(map(with_letters, bar.columns))) for bar in row.bars)
        if words != "all":
            bars = tuple(map(_wordless, bars))
            row = row._replace(verses=0, margin=tuple(entry for entry in row.margin if entry.role != "pickup"))
        if words == "first" and bars and (of is None or under):
            pickup = written.pickup.value if number == 0 and written.pickup is not None and of is None else ""
            sung = written.rows[number] if under is None else with_verses(written.rows[number], under)
            row = row._replace(prompts=_prompts(sung, pickup))
        rows.append(row._replace(bars=tuple(map(_in_a_row, bars)), stacked=bars))
    return replace(content, rows=tuple(rows), numbered=is_cut(arrangement.song, content.index))


def _form(chord: ChordPart) -> Left:
    left, root = chord.left, chord.chord.root if chord.chord is not None else None
    if len(left) == 1 and left[0].name == root:
        return ROOT
    if in_octaves(left) and left[0].name == root:
        return ROOT_IN_OCTAVES
    return tuple(str(pitch) for pitch in left)


def _in_a_row(bar: BarContent) -> BarContent:
    """Set the left hand after the right one."""

    def row(column: Column) -> Column:
        picture = column.picture
        if picture is None or not picture.left or not picture.letters:
            return column
        *letters, last = picture.letters
        apart = last._replace(width=last.width + LEFT_GAP)
        return column._replace(picture=replace(picture, letters=(*letters, apart, *picture.left), left=()))

    return replace(bar, columns=tuple(map(row, bar.columns)))


def _wordless(bar: BarContent) -> BarContent:
    """Leave out the words, and what stood only for them."""
    columns = [
        column._replace(words=())
        for number, column in enumerate(bar.columns)
        if number == 0 or column.symbol or column.picture or column.fill or column.hook or column.chord
    ]
    return replace(bar, columns=tuple(columns))


def _prompts(row: Row, pickup: str) -> tuple[MarginEntry, ...]:
    """Return the first words of each verse of a row; a pickup is sung before the first."""
    found = []
    for number, line in enumerate(row.words):
        text = pickup if number == 0 else ""
        glued = False
        for bar in line.bars:
            for piece in bar.pieces:
                if not piece.text or piece.text == "_":
                    continue
                text += piece.text if not text or piece.glued or glued else f" {piece.text}"
                glued = goes_on(piece)
                text = text.removesuffix("-") if glued else text
            glued = glued or bar.joins
            text = text.removesuffix("-") if glued else text
        if text:
            found.append(MarginEntry(_begun(text), "prompt", line.span))
    return tuple(found)


def _begun(text: str) -> str:
    """Cut a text after its first words.

    >>> _begun("we hung the lanterns one by one"), _begun("so long")
    ('we hung the lanterns…', 'so long')
    """
    words = text.split()
    lengths = list(accumulate(len(word) for word in words))
    enough = next((n for n in range(PROMPT_WORDS, len(words)) if lengths[n - 1] >= PROMPT_LETTERS), len(words))
    return " ".join(words) if enough == len(words) else " ".join(words[:enough]).rstrip(",;:.") + ELLIPSIS


def _without_words(section: SectionContent) -> object:
    """Return what must be alike in sections that are drawn once."""
    if not any(row.bars for row in section.rows):
        return section.indices

    def bare(bar: BarContent) -> object:
        columns = tuple(
            column._replace(
                words=(),
                chord=column.chord and (0, column.chord[1]),
                fill=column.fill and replace(column.fill, to=(0, column.fill.to[1]), target=None),
            )
            for column in bar.columns
        )
        return replace(bar, columns=columns)

    rows = tuple((tuple(map(bare, row.bars)), row.margin if number else ()) for number, row in enumerate(section.rows))
    return rows, section.tacet_bars, section.closing, section.numbered and section.indices


def _joined(group: Sequence[SectionContent]) -> SectionContent:
    """Make one section of several that differ in nothing but their names and words."""
    first, rows = group[0].rows[0], []
    if len(group) == 1:
        first = first._replace(margin=tuple(entry for entry in first.margin if entry.role != KNOWN))
        return replace(group[0], rows=(first, *group[0].rows[1:]))
    for alike in zip(*(section.rows for section in group), strict=True):
        rows.append(
            alike[0]._replace(
                bars=verses_together([(row.bars, row.verses) for row in alike]),
                stacked=verses_together([(row.stacked, row.verses) for row in alike]),
                prompts=tuple(prompt for row in alike for prompt in row.prompts),
                verses=sum(row.verses for row in alike),
            )
        )
    rows[0] = rows[0]._replace(margin=stated_together(group))
    indices = tuple(index for section in group for index in section.indices)
    return replace(group[0], indices=indices, name=common_name([one.name for one in group]), rows=tuple(rows))
