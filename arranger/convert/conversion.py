"""A typed sheet to a song: the steps in order. Takes a source and what the player says; gives the song's text.

What was guessed, and what found no place, is said in the song at its place and given beside it. Nothing is lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from arranger.convert.barring import without_repeats
from arranger.convert.columns import lines_of
from arranger.convert.compare import Item, Ordered, in_order, merged, with_names
from arranger.convert.marks import Habits, chord_of
from arranger.convert.model import Converted, DraftSection, Facts, Note, Options, SheetLine
from arranger.convert.recognise import is_song
from arranger.convert.sheet_head import head_of, keys_of
from arranger.convert.song_text import chord_row, spelled_sections, text_of
from arranger.convert.stanzas import Gathered, RawSection, gather
from arranger.convert.syllables import with_joined_syllables
from arranger.convert.typed_lines import Told, tell
from arranger.convert.underlay import section_of, words_without_chords
from arranger.habits.headings import Again, Heading
from arranger.song.cells import ChordWord, read_mark
from arranger.song.house_style import tidied
from arranger.song.model import COMMON, Meter
from arranger.song.read import read
from arranger.song.roadmap import folded, name_fault
from arranger.text.diagnostics import Diagnostic, error, has_errors
from arranger.text.source import Source, Span
from arranger.theory.chord import Chord

_FALLBACK = "Part"
_TOO_LARGE = frozenset(("song-too-long", "too-many-sections"))


def convert(source: Source, options: Options) -> tuple[Converted | None, tuple[Diagnostic, ...]]:
    """Make a song of a typed sheet; None where it is none, with what was found instead."""
    lines = lines_of(source)
    told, habits = tell(lines)
    refused = refusal(source, lines, told)
    if refused:
        return None, refused
    joined = with_joined_syllables([t.line if t.kind == "words" else SheetLine(0, ()) for t in told])
    gathered = gather([replace(t, line=joined.get(i, t.line)) for i, t in enumerate(told)])
    facts, notes = head_of(gathered.head)
    facts = _with_options(facts, options)
    meter = facts.meter or COMMON
    items = _items(gathered, meter, options.bars)
    ordered = in_order(items, lambda section: words_without_chords(section, meter))
    order = _order(facts.order, ordered)
    if order:
        ordered = replace(ordered, order=tuple(merged(order)))
    elif facts.order:
        said = f"the order `{facts.order_text}` names a section that is not here"
        ordered = replace(ordered, notes=(*ordered.notes, Note("left", facts.order_line, said)))
    if not any(isinstance(read_mark(mark), ChordWord) for mark in _marks(ordered)):
        hint = "chords stand in a line above the words: `G  D/F#  Em7`"
        return None, (error("sheet-without-chords", "expected chords, found only bars without one", None, hint),)
    key, capo, key_notes = keys_of(facts, tuple(_chords(ordered)))
    ordered = replace(ordered, sections=spelled_sections(ordered.sections, key, capo))
    head = (*_assumed(facts, gathered, options, habits), *key_notes, *notes, *ordered.notes)
    text = text_of(facts, str(key), f"{capo.fret} in {capo.shapes}" if capo else "", ordered, head)
    tidy = tidied(Source.of(source.name, text))
    problems = read(Source.of(source.name, tidy))[1]
    if any(problem.code in _TOO_LARGE for problem in problems):
        hint = "give each song a file of its own"
        return None, (error("sheet-of-many", "expected the sheet of one song, found too much for one", None, hint),)
    if has_errors(problems):
        raise AssertionError(f"a sheet became a song with mistakes: {problems[0].message}")
    return Converted(tidy, _all_notes(head, ordered)), ()


def _with_options(facts: Facts, options: Options) -> Facts:
    return replace(
        facts,
        title=facts.title or options.title,
        key=options.key or facts.key,
        meter=options.meter or facts.meter,
    )


def _items(gathered: Gathered, meter: Meter, bars: int) -> list[Item | tuple[int, Again]]:
    """Make bars of all sections, with names that can stand in a song."""
    items: list[Item | tuple[int, Again]] = []
    for raw in gathered.body:
        if isinstance(raw, RawSection):
            section = _sound(section_of(raw, meter, bars), meter)
            name = _sound_name(section.name) if section.name else ""
            items.append(Item(replace(section, name=name), raw.heading.times))
        else:
            items.append(raw)
    return with_names(items)


def _sound_name(name: str) -> str:
    """Return a name that a song's section can have."""
    return (
        name if not name_fault(name) else f"{_FALLBACK} {''.join(c for c in name if c.isalnum() or c == ' ')}".strip()
    )


def _sound(section: DraftSection, meter: Meter) -> DraftSection:
    """Leave signs of repetition out where the song would not read with them."""
    if not section.rows or all(bar.sign == "|" for row in section.rows for bar in row.bars):
        return section
    rows = "\n".join(map(chord_row, section.rows))
    song = f"song a\nkey C\nmeter {meter}\nsection a\n{rows}\n"
    return without_repeats(section) if has_errors(read(Source.of("", song))[1]) else section


def _order(steps: Sequence[Heading], ordered: Ordered) -> tuple[Heading, ...]:
    """Take the playing order that the sheet states, if it names sections alone."""
    names = {_plain(s.name): s.name for s in ordered.sections}
    found: list[Heading] = []
    for step in steps:
        wanted = _plain(step.name)
        lettered = names.get(f"part {wanted[0]}")  # B may be a bridge, or a part called B
        name = names.get(wanted) or next((n for f, n in names.items() if f.startswith(wanted)), lettered)
        if name is None:
            return ()
        found.append(replace(step, name=name))
    return tuple(found)


def _plain(name: str) -> str:
    """Return a name as it is compared with one in an order: `Pre-Chorus` is `prechorus`."""
    return folded(name.replace("-", ""))


def _chords(ordered: Ordered) -> Iterator[tuple[Chord, Fraction]]:
    """Return the chords in the order in which they are played, each with its share of a bar; none in another key."""
    sections = {s.name: s for s in ordered.sections}
    for step in ordered.order:
        section = sections[step.name]
        if section.key is not None:
            continue
        rows = sections[section.like].rows if section.like else section.rows
        for row in rows:
            for bar in row.bars:
                for mark in bar.marks:
                    word = read_mark(mark)
                    if isinstance(word, ChordWord):
                        yield word.chord, Fraction(1, len(bar.marks))


def _marks(ordered: Ordered) -> Iterator[str]:
    """Return the marks of all sections as they are written."""
    return (mark for s in ordered.sections for row in s.rows for bar in row.bars for mark in bar.marks)


def _assumed(facts: Facts, gathered: Gathered, options: Options, habits: Habits) -> Iterator[Note]:
    """Say what was taken for granted about the whole song."""
    lines = [
        row.chords for raw in gathered.body if isinstance(raw, RawSection) for row in raw.rows if row.chords is not None
    ]
    if any(not line.barred for line in lines):
        bars = "one bar" if options.bars == 1 else f"{options.bars} bars"
        yield Note("assumed", 0, f"each chord lasts {bars} where the sheet has no barlines; check the bars")
    if facts.meter is None:
        yield Note("assumed", 0, "the meter is 4/4; the sheet names none")
    raws = [raw for raw in gathered.body if isinstance(raw, RawSection)]
    if len(raws) > 1 and not any(raw.heading.name for raw in raws):
        yield Note("assumed", 0, "the sheet names no sections; their names are guesses")
    if habits.german:
        also = ", and B is Bb" if habits.flat_b else ""
        yield Note("assumed", 0, f"the sheet's H is B{also}: it names notes as in German")
    if habits.small_minor:
        yield Note("assumed", 0, "chords in small letters are minor")


def _all_notes(head: Sequence[Note], ordered: Ordered) -> tuple[Note, ...]:
    notes = list(head)
    for section in ordered.sections:
        notes += [*section.notes, *section.closing]
        for row in section.rows:
            notes += row.notes
    return tuple(sorted(notes, key=lambda note: note.line))


Diagnostics = tuple[Diagnostic, ...]

_IN_WORDS = re.compile(r"[\[{<]([A-H][^\[\]{}<>\s]{0,12})[\]}>]")
_TITLES = re.compile(r"\s*(?:song(?: title)?|title)\s*[:=]\s*\S", re.I)
_KEY_STATED = re.compile(r"\b(?:key|capo|tonart)\b", re.I)
LONGEST = 1000  # columns of a line; a song's line has room for so many, with its barlines


def refusal(source: Source, lines: Sequence[SheetLine], told: Sequence[Told]) -> Diagnostics:
    """Say why a text is no sheet of one song; empty where it is one."""
    if not any(line.cells for line in lines):
        return (error("sheet-without-chords", "expected a typed sheet, found an empty file", None),)
    if any(len(line.cells) > LONGEST for line in lines):
        number = next(line.number for line in lines if len(line.cells) > LONGEST)
        message = f"expected lines of a sheet, found one of {len(source[source.line_span(number)])} characters"
        start = source.line_span(number).start
        return (error("sheet-not-text", message, Span(start, start + 1), "set each line of the song on its own line"),)
    if is_song(source.text):
        return (
            error(
                "sheet-is-a-song",
                "expected a typed sheet, found a song in the program's own notation",
                None,
                "`arranger part` makes its part as it is",
            ),
        )
    return _many(source, lines, told) or _other_notation(source, lines, told)


def _many(source: Source, lines: Sequence[SheetLine], told: Sequence[Told]) -> Diagnostics:
    """Tell several songs in one file: several titles, or sections that begin anew under lines that look like titles."""
    titles = [line.number for line in lines if _TITLES.match(line.text)]
    if len(titles) < 2:
        titles = _beginnings(told)
    if len(titles) < 2:
        return ()
    places = ", ".join(map(str, titles[:8]))
    message = f"expected the sheet of one song, found {len(titles)}: they begin in lines {places}"
    hint = "give each song a file of its own: cut the file before each title"
    return (error("sheet-of-many", message + (", …" if titles[8:] else ""), source.line_span(titles[1]), hint),)


def _beginnings(told: Sequence[Told]) -> list[int]:
    """Find lines that look like titles, each over a section or a key that the song before it had already."""
    found: list[int] = []
    seen: set[str] = set()
    title = 0
    for index, item in enumerate(told):
        if item.kind == "words" and (not index or told[index - 1].kind in ("blank", "fact")) and not title:
            title = item.line.number
        elif item.kind in ("chords", "tablature") or (
            item.kind == "words" and index and told[index - 1].kind == "chords"
        ):
            title = 0
        elif item.kind in ("heading", "fact") and title:
            what = _first_name(item)
            follows = next((t.kind for t in told[index + 1 :] if t.kind != "blank"), "")
            if what and (what in seen or not found) and (item.kind == "fact" or follows == "chords"):
                found.append(title)
                seen = {what}
                title = 0
        what = _first_name(item)
        if what:
            seen.add(what)
    return found


def _first_name(item: Told) -> str:
    """Return what a song begins with and has once: a first section, or a key; empty for everything else."""
    if item.kind == "fact":
        return "key" if _KEY_STATED.search(item.line.text) else ""
    name = item.heading.name.casefold() if item.heading is not None else ""
    return name if name in ("intro", "verse", "verse 1", "strophe 1", "vers 1", "couplet 1") else ""


def _other_notation(source: Source, lines: Sequence[SheetLine], told: Sequence[Told]) -> Diagnostics:
    """Tell chords inside the words, tablature, and words alone."""
    chords = sum(t.kind == "chords" for t in told)
    inside = [line for line in lines if _chords_inside(line.text)]
    if inside and len(inside) > chords:
        hint = "set the chords in a line of their own above the words, each over its syllable; then convert the sheet"
        return (
            error(
                "sheet-chords-inside",
                "expected chords in a line above the words, found chords inside the words",
                source.line_span(inside[0].number),
                hint,
            ),
        )
    if chords:
        return ()
    tablature = [t.line for t in told if t.kind == "tablature"]
    if tablature:
        hint = "write the names of the chords above the words; from fingers on strings they cannot be told for certain"
        return (
            error(
                "sheet-tablature",
                "expected chords by name, found tablature and no chord",
                source.line_span(tablature[0].number),
                hint,
            ),
        )
    hint = "chords stand in a line above the words: `G  D/F#  Em7`"
    return (error("sheet-without-chords", "expected chords above the words, found no line of chords", None, hint),)


def _chords_inside(text: str) -> bool:
    """Return whether signs with chords in them stand among words."""
    found = [m for m in _IN_WORDS.finditer(text) if chord_of(m[1]) is not None]
    rest = _IN_WORDS.sub("", text)
    return bool(found) and sum(c.isalpha() for c in rest) > 2
