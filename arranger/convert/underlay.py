"""Lay the words of a sheet under the bars of their chords; this makes a section ready to be written as a song's."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import islice, pairwise

from arranger.convert.barring import bars_of, evenly_typed, with_endings, with_whole_repeats
from arranger.convert.model import ChordLine, DraftBar, DraftRow, DraftSection, Remark, SheetLine, SungText, TypedMark
from arranger.convert.parting import FEWEST_PACKED
from arranger.convert.placing import are_loose, placed
from arranger.convert.sharing import shared_out, stand_nowhere
from arranger.convert.stanzas import RawRow, RawSection
from arranger.convert.syllables import FILLER, next_start, words_and_syllables
from arranger.habits.jumps import landmark_of
from arranger.habits.signs import TIMES_WORDS, times_in_words, times_of
from arranger.song.model import Meter

_TIMES_AT_END = re.compile(
    r"\s+(?:[|}\]]+\s*)?[(\[]?(?:[x×X]\s?[0-9]{1,2}|[0-9]{1,2}\s?[x×X])[)\]]?\s*$"
    rf"|\s+[(\[](?P<words>repeat|{TIMES_WORDS})[)\]]\s*$|\s(?:\s+|[|}}\]]+\s*)(?P<bare>{TIMES_WORDS})\s*$",
    re.I,
)
# What fills the room between two syllables in a typed sheet: `bo - dy`, `ev'ry --- bo`, `a--`.
_DASHES = re.compile(r"(?<=\w)\s+-+\s*$|(?<=\w)\s+-+\s+(?=[^\W\d_A-Z])|(?<=\w)-{2,}\s*$")
# A word for the player behind the words, well apart: what is sung stands nearer.
_ARROW = re.compile(r"\s{2,}(?:<[-=]+|←|⇐)\s*(\S.*?)\s*$")  # a note to the line: `bitter the rain   <- watch!`
_ASIDE = re.compile(r"\s{3,}[(\[]([^()\[\]]*[^\W\d_][^()\[\]]*)[)\]]\s*$")
# One that says how it is played, however near: `Hear it rattle (stop)`.
_STOPPED = re.compile(
    r"\s+\(((?:stop|hold|pause|break|fade|tacet|rit\.?|rall\.?|slower|softly|clap|band (?:in|out)))\)\s*$", re.I
)
_LANDMARK = re.compile(r"\s+([(\[]?[^\s()\[\]][^()\[\]]*[)\]])\s*$|\s+([𝄋𝄌§⊕])\s*$")
UNDER = 1  # columns from a chord to what is sung to it
_REPEATED = re.compile(r"(?:\|:|/:|\[:|‖:)(.*)(?::\||:/|:\]|:‖)")


def section_of(
    raw: RawSection, meter: Meter, bars_a_chord: int, *, packed: bool = False, loose: bool = False
) -> DraftSection:
    """Return a section to be written, with bars and words, of one as typed; `packed` and `loose` as the sheet is."""
    section = DraftSection(
        raw.heading.name,
        raw.line,
        raw.heading.times,
        closing=raw.notes,
        closing_cues=raw.cues,
        key=raw.key,
        raised=raw.raised,
        raised_here=raw.raised_here,
        remark=raw.heading.remark,
    )
    if all(row.chords is None for row in raw.rows):
        words = [word for row in raw.rows for word in row.words]
        if len(words) == 1:  # the first words of a chorus stand for all of it: `Roll, you apples... (x2)`
            words[0], times = _counted(words[0])
            section = replace(section, times=max(times, section.times))
        return replace(
            section,
            words=tuple(words),
            notes=tuple(note for row in raw.rows for note in row.notes),
            cues=tuple(cue for row in raw.rows for cue in row.cues),
        )
    rows: list[DraftRow] = []
    pickup = ""
    even = evenly_typed([row.chords for row in raw.rows if row.chords is not None])
    for typed in raw.rows:
        row, before, joins = _lay(typed, meter, bars_a_chord, goes_on=bool(rows), even=even, packed=packed, loose=loose)
        if before and rows:
            rows[-1] = _with_upbeat(rows[-1], before, joins)
        elif before:
            pickup = before + ("-" if joins and not before.endswith("-") else "")
        rows.append(row)
    rows = with_whole_repeats(with_endings(rows, [typed.ending for typed in raw.rows]))
    first = rows[0].bars[0]
    if first.marks[0] in ("/", "%"):  # goes on with the last chord, but nothing is before it
        rows[0] = replace(rows[0], bars=(replace(first, marks=("N.C.", *first.marks[1:])), *rows[0].bars[1:]))
    return replace(section, rows=tuple(_with_doubt(row, rows) for row in rows), pickup=pickup)


def shared_under(row: DraftRow, words: SheetLine) -> DraftRow:
    """Return a row with words that no column ties to its chords: each bar has about as many syllables."""
    bars, before, _, _ = _sung(shared_out(row.bars, words, from_first=True), words, loose=False)
    first = bars[0].segments[0]
    first = replace(first, text=f"{before} {first.text}".strip())
    bars = (replace(bars[0], segments=(first, *bars[0].segments[1:])), *bars[1:])
    return replace(row, line=words.number, bars=bars)


def are_packed(raws: Iterable[RawSection], meter: Meter, bars_a_chord: int) -> bool:
    """Return whether a sheet types its chords side by side, over no syllables: most lines of three and more show it."""
    rows = [row for raw in raws for row in raw.rows if row.chords is not None and row.words]
    rows = [row for row in rows if row.chords is not None and len(row.chords.chords) >= FEWEST_PACKED]
    nowhere = 0
    for row in rows:
        line = row.chords
        if line is not None and line.packed:
            nowhere += stand_nowhere(bars_of(line, meter, bars_a_chord, spaced=False)[0], row.words[0])
    return 2 * nowhere > len(rows)


def is_loose(raws: Iterable[RawSection]) -> bool:
    """Return whether a sheet has chords that stand beside their syllables, in any line without barlines."""
    rows = [row for raw in raws for row in raw.rows if row.words and not row.words[0].exact]
    lines = [(row.words[0], row.chords) for row in rows if row.chords is not None and not row.chords.barred]
    return are_loose((words, [m.column for m in chords.chords]) for words, chords in lines if not chords.packed)


def words_without_chords(section: DraftSection, meter: Meter) -> DraftSection:
    """Return a section of words alone with bars without chords, where no other section lends it any."""
    rows = [_lay(RawRow(None, (word,)), meter, 1, goes_on=False)[0] for word in section.words]
    return replace(section, rows=tuple(rows), words=())


def _with_doubt(row: DraftRow, rows: Sequence[DraftRow]) -> DraftRow:
    """Mark a line that has one bar more than all others: two of its chords may share one."""
    count = len(row.bars)
    others = {len(other.bars) for other in rows if other is not row}
    if len(rows) <= 2 or not row.sung or others != {count - 1}:
        return row
    said = f"{count} bars here and {count - 1} in the other lines: do two chords share a bar?"
    return replace(row, notes=(*row.notes, Remark("check", row.line, said)))


def _with_upbeat(row: DraftRow, before: str, joins: bool) -> DraftRow:
    """Sing the words before a row's first chord in the last bar of the row before, after its last chord."""
    last = row.bars[-1]
    places = 1 + sum(mark not in ("/", "rest", "%") for mark in last.marks[1:])
    segments = [*last.segments, *[SungText("")] * (places - len(last.segments))]
    segments[-1] = SungText(f"{segments[-1].text} {before}".strip(), segments[-1].glued)
    notes = row.notes
    if ":" in row.end:
        notes = (*notes, Remark("check", row.line, f"`{before}` is sung before the next line, not each time"))
    return replace(row, bars=(*row.bars[:-1], replace(last, segments=tuple(segments), joins=joins)), notes=notes)


def _lay(
    raw: RawRow,
    meter: Meter,
    bars_a_chord: int,
    *,
    goes_on: bool,
    even: bool = False,
    packed: bool = False,
    loose: bool = False,
) -> tuple[DraftRow, str, bool]:
    """Lay the words of a row under its chords; return the words before the first chord too, and if they go on in it.

    Args:
        raw: a line of chords, words, or both.
        meter: of the song.
        bars_a_chord: how many bars a chord lasts where nothing shows the bars.
        goes_on: a chord sounds already, and goes on where words have none.
        even: the section's lines of chords are typed on one even grid, so that their spacing shows the bars.
        packed: the sheet types chords side by side, over no syllables.
        loose: the sheet is not typed to the column.
    """
    words = raw.words[0] if raw.words else None
    line = raw.chords
    cues, notes = list(raw.cues), list(raw.notes)
    number = line.number if line is not None else words.number if words is not None else 0
    times = line.times if line is not None else 1
    if words is not None:
        words, sung_times = _counted(words)
        times = max(times, sung_times)
        aside = _aside_in(words, line)
        if aside is not None:
            cues.append(" ".join((aside[1] or aside[0]).strip("()[] ").split()))
            words = words.up_to(aside.start())
    if line is None or all(m.kind == "bar" for m in line.marks):
        said = "no chords over these words: " + ("the last one goes on" if goes_on else "N.C.")
        notes.append(Remark("check", number, said))
        line = ChordLine(number, (TypedMark("slash", "/", 0) if goes_on else TypedMark("none", "N.C.", 0),), times)
    bars, end, guess = bars_of(line, meter, bars_a_chord, spaced=words is None or even)
    notes += [Remark("check", number, said) for said in (line.guess, guess) if said]
    notes += [Remark("left", number, f"no chord: {stray}") for stray in line.strays]
    packed = packed or line.signed
    settled = False
    if words is not None and (line.behind or ((line.packed or packed) and stand_nowhere(bars, words))):
        shared = "shared out" if packed or line.behind else "left as typed"
        bars = shared_out(bars, words, from_first=line.signed or line.behind) if packed or line.behind else bars
        settled = True
        notes.append(Remark("check", number, f"the chords stand side by side, not over their syllables: {shared}"))
    bars, before, joins, unsure = _sung(bars, words, loose=loose) if words is not None else (bars, "", False, ())
    if unsure and not settled:
        named = ", ".join(f"`{mark}`" for mark in dict.fromkeys(unsure))
        notes.append(
            Remark("check", number, f"the columns fit another word as well: is the word under {named} the right one?")
        )
    bars = _opened(bars) if line.opens else bars
    end = _closed(line.closes) if line.closes else end
    if times > 1 and (any(":" in bar.sign for bar in bars[1:]) or (":" in bars[0].sign) != (":" in end)):
        notes.append(Remark("check", number, f"the line is marked to be played {times} times"))
    elif times > 1:
        bars, end = _opened(bars), _closed(times)
    return DraftRow(number, bars, end, tuple(notes), tuple(cues)), before, joins


def _opened(bars: tuple[DraftBar, ...]) -> tuple[DraftBar, ...]:
    """Return bars with the sign that a repeat begins."""
    return (replace(bars[0], sign="|:"), *bars[1:])


def _closed(times: int) -> str:
    """Return the sign at the end of what is played so many times."""
    return ":|" if times == 2 else f":| x{times}"


def _aside_in(words: SheetLine, chords: ChordLine | None) -> re.Match[str] | None:
    """Return what the last of a line's words say for the player; what stands right under a chord is sung."""
    text = words.padded
    aside = _ASIDE.search(text)
    if aside is not None and chords is not None:
        start = aside.start(1) - 1
        if any(abs(mark.column - start) <= UNDER for mark in chords.chords):
            aside = None
    landmark = _LANDMARK.search(text)
    if landmark is not None and landmark_of(landmark[0]) is not None:
        return landmark
    return _ARROW.search(text) or aside or _STOPPED.search(text)


def _counted(words: SheetLine) -> tuple[SheetLine, int]:
    """Take `x2` and signs of repetition out of a line of words."""
    match = _TIMES_AT_END.search(words.padded)
    times = 1
    if match is not None:
        times = times_of(match[0].strip(" |}])[(")) or times_in_words(match["words"] or match["bare"] or "") or 2
        words = words.up_to(match.start())
    repeated = _REPEATED.search(words.padded)
    if repeated is not None:
        signs = {*range(repeated.start(), repeated.start(1)), *range(repeated.end(1), repeated.end())}
        words, times = words.blanked(signs), max(times, 2)
    return words, times


def _sung(
    bars: Sequence[DraftBar], words: SheetLine, *, loose: bool
) -> tuple[tuple[DraftBar, ...], str, bool, tuple[str, ...]]:
    """Cut the words at the places of the chords; return what stands before the first one, and doubtful chords too."""
    words, columns = _by_own_bars(bars if words.exact else _at_words(bars, words), words)
    columns, pushed = (columns, ()) if words.exact else _drawn_back(columns, _names(bars), words)
    places, doubtful = ([c or 0 for c in columns], ()) if words.exact else _places(words, columns, loose=loose)
    doubtful = (*doubtful, *pushed)
    cuts = pairwise([*places, max(len(words.cells), places[-1])])
    found: list[DraftBar] = []
    for bar in bars:
        own = list(islice(cuts, len(bar.columns)))
        segments = tuple(SungText(_plain(words.part(a, b)), _inside(words, a)) for a, b in own)
        joins = bool(segments[-1].text) and _inside(words, own[-1][1])
        found.append(replace(bar, segments=segments, joins=joins))
    unsure = tuple(
        mark
        for bar in bars
        for mark, column in zip((m for m in bar.marks if m not in ("/", "%", "rest")), bar.columns, strict=False)
        if column in doubtful
    )
    return tuple(found), _plain(words.part(0, places[0])), _inside(words, places[0]), unsure


def _names(bars: Sequence[DraftBar]) -> list[str]:
    """Return what stands at each place where words can stand."""
    return [mark for bar in bars for mark in (bar.marks[0], *(m for m in bar.marks[1:] if m not in ("/", "%", "rest")))]


def _drawn_back(
    columns: Sequence[int | None], names: Sequence[str], words: SheetLine
) -> tuple[list[int | None], tuple[int, ...]]:
    """Draw chords back over the last words that long names before them have pushed beyond; return the columns of these.

    `Gmaj7(add13) A7sus4` over `ring it slow`: the second chord had no room where it belongs.
    """
    found = list(columns)
    starts = words_and_syllables(words)[0]
    pushed: list[int] = []
    for index in range(1, len(found)):
        before, here = found[index - 1], found[index]
        if before is None or here is None or here < len(words.cells) or here > before + len(names[index - 1]) + 1:
            continue
        free = [start for start in starts if start > max(before, *(c for c in found[:index] if c is not None))]
        later = len([c for c in found[index:] if c is not None])
        if free and later == 1:
            found[index] = free[-1]
            pushed.append(here)
    return found, tuple(pushed)


def _at_words(bars: Sequence[DraftBar], words: SheetLine) -> list[DraftBar]:
    """Let a bar begin at a word that begins between its barline and its first chord, or over none, behind the chord."""
    text = words.padded
    found = []
    for bar, after in pairwise([*bars, None]):
        assert bar is not None
        column = bar.columns[0]
        start = next((i for i in range(max(bar.left, 0), column) if _starts_word(text, i)), column)
        if start == column and not text[column : column + 1].strip():
            end = after.left if after is not None and after.left >= 0 else len(text)
            end = min(end, *bar.columns[1:2]) if bar.columns[1:] else end
            start = next((i for i in range(column, end) if _starts_word(text, i)), column)
        columns = (start, *bar.columns[1:]) if bar.left >= 0 and text[start : start + 1] != "|" else bar.columns
        found.append(replace(bar, columns=columns))
    return found


def _plain(text: str) -> str:
    """Return words with one blank between them, and held syllables with one sign."""
    text = text.replace(FILLER, "")
    text = _DASHES.sub("-", re.sub(r"\s*_+", " _", text))
    return " ".join(text.split())


def _inside(words: SheetLine, place: int) -> bool:
    """Return whether a place is inside a word."""
    cells = words.cells
    return 0 < place < len(cells) and cells[place - 1] != " " and cells[place] not in (" ", "_")


def _by_own_bars(bars: Sequence[DraftBar], words: SheetLine) -> tuple[SheetLine, list[int | None]]:
    """Take barlines out of the words; where they have as many bars as the chords, words stay in their bars."""
    text = words.padded
    at = [i for i, c in enumerate(text) if c == "|"]
    blank = words.blanked(tuple(at))
    if at and text[: at[0]].strip():
        at.insert(0, -1)
    if at and not text[at[-1] + 1 :].strip():
        at.pop()
    starts = [start + 1 for start in at] if len(at) == len(bars) else [bar.columns[0] for bar in bars]
    typed = [column for start, bar in zip(starts, bars, strict=True) for column in (start, *bar.columns[1:])]
    return blank, [column if column >= 0 else None for column in typed]


def _places(words: SheetLine, columns: Sequence[int | None], *, loose: bool) -> tuple[list[int], tuple[int, ...]]:
    """Find the place of each chord in the words, in order, and the columns at which it is doubtful.

    None stands for a bar without a chord of its own.
    """
    moved = [c for c in columns if c is not None]
    placing = placed(words, moved, loose=loose)
    found = iter(placing.columns)
    typed = [None if c is None else next(found) for c in columns]
    places: list[int] = []
    last = -1  # where the last chord was typed
    for index, place in enumerate(typed):
        if place is None:
            places.append(-1)
            continue
        before = max(places, default=-1)
        if place == last and columns[index] != columns[index - 1]:
            # Two chords at one syllable: the second comes while it is held, and what follows is sung to it, unless
            # another chord stands there.
            later = (p for p in typed[index + 1 :] if p is not None and p > place)
            places.append(min(next_start(words, before), next(later, len(words.cells))))
        else:
            places.append(max(place, before))
        last = place
    return _halved(words, places), tuple(moved[number] for number in placing.doubtful)


def _halved(words: SheetLine, places: list[int]) -> list[int]:
    """Share the words of a bar evenly with the bars behind it that have no chord of their own."""
    cells = words.cells
    for index, place in enumerate(places):
        if place >= 0:
            continue
        run = next((i for i in range(index, len(places)) if places[i] >= 0), len(places))
        start = places[index - 1] if index else 0
        end = places[run] if run < len(places) else len(cells)
        starts = [i for i in range(start + 1, end) if cells[i] != " " and cells[i - 1] == " "]
        for step in range(index, run):
            wanted = start + (end - start) * (step - index + 1) // (run - index + 1)
            near = min(starts, key=lambda i: (abs(i - wanted), i), default=end)
            places[step] = max(near, places[step - 1] if step else 0)
    return places


def _starts_word(text: str, column: int) -> bool:
    return 0 <= column < len(text) and text[column] != " " and (column == 0 or text[column - 1] == " ")
