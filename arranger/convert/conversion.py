"""Make a song's text of a typed sheet, step by step; refuse what is no sheet of one song.

What was guessed, and what found no place, is said in the song at its place and returned beside it. Nothing is lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial
from typing import NamedTuple

from arranger.convert.barring import without_repeats
from arranger.convert.braces import Braced, with_braces_read
from arranger.convert.columns import lines_of
from arranger.convert.compare import SongOrder, in_order, merged, with_names
from arranger.convert.german_b import flat_b_is_likely, with_doubts
from arranger.convert.lending import with_lent_chords
from arranger.convert.marks import Habits, chord_candidates, chord_of, habits_of
from arranger.convert.misread import with_chords_mended
from arranger.convert.model import Converted, DraftSection, Remark, SheetFacts, SheetLine
from arranger.convert.numbered import with_numbers_named
from arranger.convert.recognise import is_song
from arranger.convert.retyped import (
    chords_set_above,
    marks_between,
    with_blocks_paired,
    with_carets_bracketed,
    with_chords_above,
    with_phrases_apart,
)
from arranger.convert.rising import at_home, is_raised, with_raised_keys, with_shifts_heard
from arranger.convert.settling import settled
from arranger.convert.sheet_head import head_of, keys_of
from arranger.convert.singers import with_singers_apart
from arranger.convert.song_text import chord_row, spelled_sections, text_of
from arranger.convert.spelled_out import with_joined_chords
from arranger.convert.stanzas import RawItem, RawSection, sections_in
from arranger.convert.syllables import with_every_e, with_joined_syllables
from arranger.convert.typed_lines import LineMeaning, meanings_of
from arranger.convert.underlay import are_packed, is_loose, section_of, words_without_chords
from arranger.habits.headings import Heading
from arranger.song.cells import ChordWord, read_mark
from arranger.song.model import COMMON, Meter
from arranger.song.read import read
from arranger.song.roadmap import folded, name_fault
from arranger.song.tidy import tidied
from arranger.text.diagnostics import Diagnostic, error, has_errors
from arranger.text.source import Source, Span
from arranger.theory.chord import Chord
from arranger.theory.key import Key

_ABOVE = "chords stand in a line above the words: `G  D/F#  Em7`"
_NUMBERS = "expected the key from which the chords are counted, found numbers and no key"
_SAY_KEY = "say it with `--key`, or in a line above the first section: `Key: E`"
_FALLBACK = "Part"
_IN_WORDS = re.compile(r"([/*_~\\\"])(?P<chord>[A-H][^/*_~\\\"\s]{0,12})\1")  # between signs that may mean anything
_TITLES = re.compile(r"\s*(?:song(?: title)?|title)\s*[:=]\s*\S", re.I)
_KEY_STATED = re.compile(r"\b(?:key|capo|tonart)\b", re.I)
LONGEST = 1000  # columns of a line; a song's line has room for so many, with its barlines
_TOO_LARGE = frozenset(("song-too-long", "too-many-sections"))


class _Prepared(NamedTuple):
    """The lines of a sheet, ready to be read, with its habits and what is to be said of how they were made ready.

    `unsure`, `behind`, `braced` are as `_read` takes them; `notes` come before those of the head, `later_notes` after.
    """

    lines: tuple[SheetLine, ...]
    habits: Habits
    unsure: tuple[int, ...]
    behind: tuple[int, ...]
    braced: tuple[Braced, ...]
    notes: tuple[Remark, ...]
    later_notes: tuple[Remark, ...]


def _prepared(source: Source, key: Key | None) -> _Prepared | None:
    """Return the lines of a sheet with chords as others type them; None where chords are numbers of an unknown key."""
    numbered = with_numbers_named(lines_of(source), key)
    if numbered is None:
        return None
    lines, braced, brace_notes = with_braces_read(numbered.lines)
    lines, misread = with_chords_mended(lines)
    joined = with_joined_chords(lines)
    lines, carets = with_carets_bracketed(joined.lines, Habits(german=True))
    habits = habits_of((*chord_candidates(lines), *marks_between(lines)))
    lines, unsure, behind = chords_set_above(with_every_e(lines), habits)
    notes = (*numbered.notes, *joined.notes)
    return _Prepared(lines, habits, unsure, behind, braced, notes, (*misread, *brace_notes, *carets))


def convert(
    source: Source, *, title: str = "Untitled", key: Key | None = None, meter: Meter | None = None, bars: int = 1
) -> tuple[Converted | None, tuple[Diagnostic, ...]]:
    """Make a song of a typed sheet; None where it is none, with what was found instead.

    Args:
        source: the sheet.
        title: where the sheet has none (the name of its file).
        key: of the sheet, as if it said so; None where the sheet or its chords say it.
        meter: likewise.
        bars: how many bars a chord lasts where no barlines are typed.
    """
    prepared = _prepared(source, key)
    if prepared is None:
        return None, (error("sheet-without-key", _NUMBERS, None, _SAY_KEY),)
    lines, habits = prepared.lines, prepared.habits
    read_again = partial(_read, lines, unsure=prepared.unsure, behind=prepared.behind, braced=prepared.braced)
    meanings, below = read_again(habits)
    refused = refusal(source, lines, meanings)
    if refused:
        return None, refused
    head, body = _gathered(meanings)
    facts, notes = head_of(head)
    if flat_b_is_likely(meanings, key or facts.key, habits):
        habits = replace(habits, flat_b=True, flat_b_guessed=True)
        meanings, below = read_again(habits)
        head, body = _gathered(meanings)
    facts = replace(facts, title=facts.title or title, key=key or facts.key, meter=meter or facts.meter)
    song_meter = facts.meter or COMMON
    raws = [item for item in body if isinstance(item, RawSection)]
    packed = are_packed(raws, song_meter, bars)
    draft = partial(_draft, meter=song_meter, bars=bars, packed=packed, loose=not packed and is_loose(raws))
    drafts = with_names([draft(item) if isinstance(item, RawSection) else item for item in body])
    drafts = with_shifts_heard(with_lent_chords(drafts))
    home = tuple(_chords_of(at_home(drafts))) if is_raised(drafts) else ()
    drafts = with_raised_keys(drafts, keys_of(facts, home)[0]) if home else drafts
    drafts = with_doubts(drafts, habits)
    ordered = in_order(drafts, lambda section: words_without_chords(section, song_meter))
    ordered = _in_stated_order(ordered, facts)
    marks = (mark for s in ordered.sections for row in s.rows for bar in row.bars for mark in bar.marks)
    if not any(isinstance(read_mark(mark), ChordWord) for mark in marks):
        return None, (error("sheet-without-chords", "expected chords, found only bars without one", None, _ABOVE),)
    sounding, capo, key_notes = keys_of(facts, home or tuple(_chords(ordered)))
    ordered = replace(ordered, sections=spelled_sections(ordered.sections, sounding, capo))
    notes = (
        *prepared.notes,
        *_assumed(facts, raws, bars, habits),
        *_turned(lines, below),
        *key_notes,
        *notes,
        *prepared.later_notes,
        *ordered.notes,
    )
    tidy = tidied(Source.of(source.name, text_of(facts, sounding, capo, ordered, notes)))
    problems = read(Source.of(source.name, tidy))[1]
    if any(problem.code in _TOO_LARGE for problem in problems):
        hint = "give each song a file of its own"
        return None, (error("sheet-of-many", "expected the sheet of one song, found too much for one", None, hint),)
    if has_errors(problems):
        raise AssertionError(f"a sheet became a song with mistakes: {problems[0].message}")
    for section in ordered.sections:
        notes += (*section.notes, *section.closing, *(note for row in section.rows for note in row.notes))
    return Converted(tidy, tuple(sorted(notes, key=lambda note: note.line))), ()


def _in_stated_order(ordered: SongOrder, facts: SheetFacts) -> SongOrder:
    """Return the sections in the order that the head of the sheet states, if it names those that are here."""
    if order := _order(facts.order, ordered.sections):
        said_of = [f"{step.name}: {step.remark}" for step in ordered.order if step.remark]  # the order has its own
        lost = tuple(Remark("left", facts.order_line, said) for said in said_of)
        return replace(ordered, order=tuple(merged(order)), notes=(*ordered.notes, *lost))
    if facts.order:
        said = f"the order `{facts.order_text}` names a section that is not here"
        return replace(ordered, notes=(*ordered.notes, Remark("check", facts.order_line, said)))
    return ordered


def _read(
    lines: tuple[SheetLine, ...],
    habits: Habits,
    *,
    unsure: Sequence[int],
    behind: Sequence[int],
    braced: Sequence[Braced],
) -> tuple[tuple[LineMeaning, ...], bool]:
    """Return what each line is, chords above their words, and whether the sheet has them below.

    Args:
        lines: of the sheet.
        habits: how it writes chords.
        unsure: numbers of lines in which a chord stands behind a word.
        behind: numbers of lines that had their chords behind their words.
        braced: lines that a brace holds together.
    """
    said = "a chord in brackets stands behind a word: it is taken for the next one"
    meanings = []
    for meaning in settled(meanings_of(lines, habits)[0]):
        chords, number = meaning.chords, meaning.line.number
        if chords is not None and number in unsure:
            chords = replace(chords, guess=said)
        if chords is not None and number in behind:
            chords = replace(chords, behind=True)
        meanings.append(replace(meaning, chords=chords))
    for held in braced:
        inside = [i for i, m in enumerate(meanings) if m.chords and held.first <= m.line.number <= held.last]
        for place, changes in ((inside[:1], {"opens": True}), (inside[-1:], {"closes": held.times})):
            for index in place:
                chords = meanings[index].chords
                assert chords is not None
                meanings[index] = replace(meanings[index], chords=replace(chords, **changes))
    above, below = with_chords_above(with_phrases_apart(with_blocks_paired(meanings)))
    return with_singers_apart(above), below


def _gathered(meanings: Sequence[LineMeaning]) -> tuple[tuple[SheetLine, ...], tuple[RawItem, ...]]:
    """Return the lines of the head, and the sections, with syllables joined that the sheet sets apart."""
    joined = with_joined_syllables([m.line if m.kind == "words" else SheetLine(0, ()) for m in meanings])
    return sections_in([replace(m, line=joined.get(i, m.line)) for i, m in enumerate(meanings)])


def _draft(raw: RawSection, meter: Meter, bars: int, *, packed: bool, loose: bool) -> DraftSection:
    """Return a section to be written with a name, if it has any, and signs of repetition that can stand in a song."""
    draft = section_of(raw, meter, bars, packed=packed, loose=loose)
    if any(bar.sign != "|" for row in draft.rows for bar in row.bars):
        rows = "\n".join(map(chord_row, draft.rows))
        song = f"song a\nkey C\nmeter {meter}\nsection a\n{rows}\n"
        draft = without_repeats(draft) if has_errors(read(Source.of("", song))[1]) else draft
    if draft.name and name_fault(draft.name):
        letters = "".join(c for c in draft.name if c.isalnum() or c == " ")
        draft = replace(draft, name=f"{_FALLBACK} {letters}".strip())
    return draft


def _order(steps: Sequence[Heading], sections: Sequence[DraftSection]) -> tuple[Heading, ...]:
    """Return the playing order that the sheet states, if it names sections alone."""
    names = {_plain(section.name): section.name for section in sections}
    found: list[Heading] = []
    for step in steps:
        wanted = _plain(step.name)
        letter = wanted.removeprefix("part ")[:1]  # B may be a bridge, or a part called B
        lettered = names.get(f"part {letter}") or names.get(f"{letter} part")
        name = names.get(wanted) or next((n for f, n in names.items() if f.startswith(wanted)), lettered)
        if name is None:
            return ()
        found.append(replace(step, name=name))
    return tuple(found)


def _plain(name: str) -> str:
    """Return a name as it is compared with one in an order: `Pre-Chorus` is `prechorus`."""
    return folded(name.replace("-", ""))


def _chords(ordered: SongOrder) -> Iterator[tuple[Chord, Fraction]]:
    """Return the chords in the order in which they are played, each with its share of a bar; none in another key."""
    sections = {s.name: s for s in ordered.sections}
    played = [sections[step.name] for step in ordered.order]
    return _chords_of(sections[section.like or section.name] for section in played if section.key is None)


def _chords_of(sections: Iterable[DraftSection]) -> Iterator[tuple[Chord, Fraction]]:
    """Return the chords of some sections, each with its share of a bar."""
    for bar in (bar for section in sections for row in section.rows for bar in row.bars):
        for word in map(read_mark, bar.marks):
            if isinstance(word, ChordWord):
                yield word.chord, Fraction(1, len(bar.marks))


def _assumed(facts: SheetFacts, raws: Sequence[RawSection], bars: int, habits: Habits) -> Iterator[Remark]:
    """Return what was taken for granted about the whole song."""
    if any(row.chords is not None and not row.chords.barred for raw in raws for row in raw.rows):
        long = "one bar" if bars == 1 else f"{bars} bars"
        yield Remark("assumed", 0, f"each chord lasts {long} where the sheet has no barlines; check the bars")
    if facts.meter is None:
        yield Remark("assumed", 0, "the meter is 4/4; the sheet names none")
    if len(raws) > 1 and not any(raw.heading.name for raw in raws):
        yield Remark("assumed", 0, "the sheet names no sections; their names are guesses")
    if habits.sung_names:
        yield Remark("assumed", 0, "the chords are named Do Re Mi Fa Sol La Si")
    if habits.german:
        also = ", and B is Bb" if habits.flat_b else ""
        yield Remark("assumed", 0, f"the sheet's H is B{also}: it names notes as in German")
    if habits.small_minor:
        yield Remark("assumed", 0, "chords in small letters are minor")


def _turned(lines: Sequence[SheetLine], below: bool) -> Iterator[Remark]:
    """Return what was taken for granted about where the chords stand."""
    if below:
        yield Remark("assumed", 0, "the chords stand below their words")
    if any(line.exact for line in lines):
        yield Remark("assumed", 0, "the chords in brackets between the words stand before what is sung to them")


def refusal(source: Source, lines: Sequence[SheetLine], meanings: Sequence[LineMeaning]) -> tuple[Diagnostic, ...]:
    """Return why a text is no sheet of one song; empty where it is one."""
    if not any(line.cells for line in lines):
        return (error("sheet-without-chords", "expected a typed sheet, found an empty file", None),)
    if number := next((line.number for line in lines if len(line.cells) > LONGEST), 0):
        place = source.line_span(number)
        message = f"expected lines of a sheet, found one of {len(source[place])} characters"
        hint = "set each line of the song on its own line"
        return (error("sheet-not-text", message, Span(place.start, place.start + 1), hint),)
    if is_song(source.text):
        message = "expected a typed sheet, found a song in the program's own notation"
        return (error("sheet-is-a-song", message, None, "`arranger part` makes its part as it is"),)
    titles = [line.number for line in lines if _TITLES.match(line.text)]
    titles = titles if len(titles) > 1 else _beginnings(meanings)
    if len(titles) > 1:
        places = ", ".join(map(str, titles[:8])) + (", …" if titles[8:] else "")
        message = f"expected the sheet of one song, found {len(titles)}: they begin in lines {places}"
        hint = "give each song a file of its own: cut the file before each title"
        return (error("sheet-of-many", message, source.line_span(titles[1]), hint),)
    chords = sum(meaning.kind == "chords" for meaning in meanings)
    inside = [line.number for line in lines if _chords_inside(line.text)]
    if len(inside) > chords:
        message = "expected chords in a line above the words, or in brackets, found chords inside the words"
        hint = "set the chords in a line above the words, or in brackets right before the syllable: `(G)out`"
        return (error("sheet-chords-inside", message, source.line_span(inside[0]), hint),)
    if chords:
        return ()
    if tablature := next((meaning.line.number for meaning in meanings if meaning.kind == "tablature"), 0):
        message = "expected chords by name, found tablature and no chord"
        hint = "write the names of the chords above the words; from fingers on strings they cannot be told for certain"
        return (error("sheet-tablature", message, source.line_span(tablature), hint),)
    return (error("sheet-without-chords", "expected chords above the words, found no line of chords", None, _ABOVE),)


def _beginnings(meanings: Sequence[LineMeaning]) -> list[int]:
    """Find lines that look like titles, each over a section or a key that the song before it had already."""
    found: list[int] = []
    seen: set[str] = set()
    title = 0
    for index, item in enumerate(meanings):
        if item.kind == "words" and (not index or meanings[index - 1].kind in ("blank", "fact")) and not title:
            title = item.line.number
        elif item.kind in ("chords", "tablature") or (item.kind == "words" and meanings[index - 1].kind == "chords"):
            title = 0
        what = _first_name(item)
        if not what:
            continue
        follows = next((meaning.kind for meaning in meanings[index + 1 :] if meaning.kind != "blank"), "")
        if title and (what in seen or not found) and (item.kind == "fact" or follows == "chords"):
            found.append(title)
            seen, title = set(), 0
        seen.add(what)
    return found


def _first_name(item: LineMeaning) -> str:
    """Return what a song begins with and has once: a first section, or a key; empty for everything else."""
    if item.kind == "fact":
        return "key" if _KEY_STATED.search(item.line.text) else ""
    name = item.heading.name.casefold() if item.heading is not None else ""
    return name if name in ("intro", "verse", "verse 1", "strophe 1", "vers 1", "couplet 1") else ""


def _chords_inside(text: str) -> bool:
    """Return whether signs with chords in them stand among words."""
    chords = any(chord_of(m["chord"]) is not None for m in _IN_WORDS.finditer(text))
    return chords and sum(c.isalpha() for c in _IN_WORDS.sub("", text)) > 2
