"""Set what is typed in another order as most sheets have it: chords in a line above their words, one phrase in a line.

Chords between words (`[G]out on the [D]water`) get a line of their own; lines of chords below their words go above
them; phrases of chords that share a line (`C - D - Em / G - D - G`) become lines.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Container, Iterator, Sequence
from dataclasses import replace
from itertools import groupby, takewhile

from arranger.convert.marks import WORDY, Habits, chord_of, is_sung_name
from arranger.convert.model import ChordLine, Remark, SheetLine, TypedMark
from arranger.convert.syllables import FILLER, can_begin
from arranger.convert.typed_lines import LineMeaning
from arranger.habits.headings import heading_of, number_of
from arranger.habits.signs import sign_of, times_of

_BETWEEN = re.compile(
    r"\[(?P<square>[^\[\]|]{1,24})\]|\((?P<round>(?:[^()|]|\([^()]*\)){1,24})\)|\{(?P<curly>[^{}|]{1,24})\}|"
    r"<(?P<angle>[^<>|]{1,24})>"
)
_CARET = re.compile(r"\^(?=[A-H])")
_CARET_CHORD = re.compile(r"[A-H][#b♯♭]?(?:maj|min|m|M|dim|aug|sus|add|[0-9+°()]){0,5}(?:/[A-H][#b♯♭]?)?")
NARROW = 2  # blanks
_NARROW_GAP = re.compile(rf"(?<=\S) {{{NARROW},}}(?=\S)")
FEWEST = 2  # chords between words that show a habit, and no joke with one word
LETTERS = 3  # letters beside the chords of a line from which on it has words


def _inner(match: re.Match[str]) -> str:
    return next(group for group in match.groups() if group).strip()


def _chords_in(match: re.Match[str], habits: Habits) -> tuple[str, ...]:
    """Return the chords that stand in a pair of brackets; none where anything else stands there."""
    marks = _inner(match).split()
    small = habits.small_minor and match["square"] is not None
    named = [m[:1].isupper() or small for m in marks]
    read = [chord_of(m, habits) is not None or sign_of(m) == "none" for m in marks]
    return tuple(marks) if marks and all(named) and all(read) else ()


def marks_between(lines: Sequence[SheetLine]) -> Iterator[str]:
    """Yield what stands in brackets among words and may be a chord, in any habit: it shows how a sheet names them."""
    wide = Habits(german=True)
    for line in lines:
        if tail := _tail(line, Habits(german=True, small_minor=True)):
            yield from line.part(tail).split()
        if _is_mixed(line, wide) or _is_mixed(line, Habits(sung_names=True)):
            marks = (mark for match in _BETWEEN.finditer(line.padded) for mark in _inner(match).split())
            yield from (m for m in marks if is_sung_name(m) or chord_of(m, wide) is not None)


def _is_mixed(line: SheetLine, habits: Habits) -> bool:
    """Return whether chords in brackets stand among the words of a line."""
    text = line.padded
    if not any(_chords_in(match, habits) for match in _BETWEEN.finditer(text)):
        return False
    bare = _BETWEEN.sub(" ", text)
    head = heading_of(bare)
    if head is not None:
        bare = head[1]  # [Chorus] [G] [D] has no words
    pieces = [p for p in bare.split() if not times_of(p)]
    if any(chord_of(p, habits) is not None and p not in WORDY and p[:1].isupper() for p in pieces):
        return False  # a line of chords some of which are in parentheses
    return sum(c.isalpha() for p in pieces for c in p) >= LETTERS


def with_carets_bracketed(
    lines: Sequence[SheetLine], habits: Habits
) -> tuple[tuple[SheetLine, ...], tuple[Remark, ...]]:
    """Set chords with a caret before them, among words, in brackets: `^Gout on the ^Dwater`, `^G out`.

    What is a chord and what a word behind it is told where both `^Amoon` and `^A moon` could be meant.
    """
    if sum(_is_careted(line) for line in lines) < FEWEST:
        return tuple(lines), ()
    found: list[SheetLine] = []
    notes: list[Remark] = []
    for line in lines:
        cells = list(line.cells)
        for match in reversed(list(_CARET.finditer(line.padded)) if _is_careted(line) else []):
            run = _CARET_CHORD.match(line.padded, match.end())
            ends = [n for n in range(1, len(run[0]) + 1) if chord_of(run[0][:n], habits)] if run is not None else []
            good = [n for n in ends if run is not None and _can_follow(line.padded[match.end() + n :])]
            if not (good or ends):
                continue
            size = (good or ends)[-1]
            if len(good) > 1:
                chord, other = (line.part(match.end(), match.end() + n) for n in (size, good[-2]))
                notes.append(Remark("check", line.number, f"`^` stands before {chord}, or is it {other}?"))
            cells[match.start() : match.end() + size] = ["[", *cells[match.end() : match.end() + size], "]"]
        found.append(replace(line, cells=tuple(cells)))
    return tuple(found), tuple(notes)


def _is_careted(line: SheetLine) -> bool:
    """Return whether carets with chords stand among words."""
    text = line.padded
    words = [p for p in text.split() if not (p.startswith("^") and chord_of(p[1:]) is not None)]
    return _CARET.search(text) is not None and sum(c.isalpha() for p in words for c in p) >= LETTERS


def _can_follow(text: str) -> bool:
    """Return whether what stands behind a chord can begin a word."""
    word = tuple(re.match(r"[^\W\d_]*", text)[0])  # type: ignore[index]
    return not text[:1].strip() or not word or can_begin(word)


def chords_set_above(
    lines: Sequence[SheetLine], habits: Habits
) -> tuple[tuple[SheetLine, ...], tuple[int, ...], tuple[int, ...]]:
    """Set the chords that stand between words, or behind them, in lines of their own, if a sheet has that habit.

    Return the lines, the numbers of those where a chord stands between two words, so that it may belong to either, and
    of those that had their chords behind their words.
    """
    lines, behind = _taken_from_behind(lines, habits)
    mixed = {line.number: line for line in lines if _is_mixed(line, habits)}
    places = [m for line in mixed.values() for m in _BETWEEN.finditer(line.padded) if _chords_in(m, habits)]
    if len(places) < FEWEST:
        return tuple(lines), (), behind
    found: list[SheetLine] = []
    doubtful: list[int] = []
    for line in lines:
        if line.number not in mixed:
            found.append(line)
            continue
        head, rest = _without_heading(line)
        chords, words, unsure = _taken_apart(rest, habits)
        found += [*head, chords, words]
        doubtful += [line.number] if unsure else []
    return tuple(found), tuple(doubtful), behind


def _taken_from_behind(lines: Sequence[SheetLine], habits: Habits) -> tuple[tuple[SheetLine, ...], tuple[int, ...]]:
    """Set chords that stand behind the words of their line above it, if a sheet has that habit; return which lines."""
    found: list[SheetLine] = []
    numbers: list[int] = []
    near = Counter(m.end() for line in lines for m in _NARROW_GAP.finditer(line.padded))
    shared = frozenset(column for column, count in near.items() if count >= FEWEST)
    for line in lines:
        tail = _tail(line, habits, shared)
        if tail:
            numbers.append(line.number)
            found += [SheetLine(line.number, tuple(line.part(tail))), line.up_to(tail)]
        else:
            found.append(line)
    if len(numbers) < FEWEST or any(_are_chords(line.text, habits) for line in lines):
        return tuple(lines), ()
    return tuple(found), tuple(numbers)


def _tail(line: SheetLine, habits: Habits, shared: Container[int] = ()) -> int:
    """Return the column from which on a line has chords alone, behind words and a wide gap; 0 where none has.

    A gap of two blanks is wide where other lines go on in the same column, which is `shared`.
    """
    gaps = [m.end() for m in _NARROW_GAP.finditer(line.padded) if len(m[0]) > NARROW or m.end() in shared]
    tail = next((end for end in gaps if _are_chords(line.part(end), habits)), 0)
    head = line.part(0, tail).strip(" :")
    if all(chord_of(piece.strip("()"), habits) is not None for piece in head.split()):
        return 0  # chords all along, one of them in parentheses
    named = heading_of(head)
    if named is not None and all(chord_of(piece, habits) is not None for piece in named[1].split()):
        return 0  # Verse 1: G  D  Em
    return tail if sum(c.isalpha() for c in head) >= LETTERS else 0


def _are_chords(text: str, habits: Habits) -> bool:
    pieces = [p.strip("[]") for p in text.split() if p not in ("|", "-", "/")]
    small = habits.small_minor
    return bool(pieces) and all((small or p[:1].isupper()) and chord_of(p, habits) is not None for p in pieces)


def _without_heading(line: SheetLine) -> tuple[tuple[SheetLine, ...], SheetLine]:
    """Part a heading from the words behind it: `Verse 1: [G]Out on the water`."""
    text = line.padded
    lead = re.match(r"\s*(?:\[[^\[\]]+\]|\([^()]+\)|[^:\[\]()]+:)\s*", text)
    named = heading_of(lead[0]) if lead is not None else None
    if lead is None or named is None or named[1]:
        return (), line
    return (line.up_to(lead.end()),), line.cut(lead.end())


def _taken_apart(line: SheetLine, habits: Habits) -> tuple[SheetLine, SheetLine, bool]:
    """Part a line into its chords and its words; a chord stands over what follows it.

    Words make room where a chord is wider than what is sung to it, with a sign of no width inside a word.
    """
    text = line.padded
    cells: list[str] = []
    chords = ""
    unsure = False
    at = 0
    for match in _BETWEEN.finditer(text):
        marks = _chords_in(match, habits)
        if not marks:
            continue
        cells += line.cells[at : match.start()]
        at = match.end()
        behind = bool(cells) and cells[-1] != " "
        before = at < len(text) and text[at] != " "
        unsure = unsure or (behind and not before and any(c.isalnum() for c in text[at:]))
        for mark in marks:
            room = len(chords) + 1 if chords else 0
            cells += [FILLER if behind and before else " "] * (room - len(cells))
            chords = chords.ljust(len(cells)) + mark
    cells += line.cells[at:]
    return (
        SheetLine(line.number, tuple(chords)),
        SheetLine(line.number, tuple(cells), exact=True, every_e=line.every_e),
        unsure,
    )


def with_chords_above(lines: Sequence[LineMeaning]) -> tuple[tuple[LineMeaning, ...], bool]:
    """Set lines of chords above their words where a sheet has them below; return whether it has.

    It has them below where every stretch of lines with both begins with words, ends with chords, and has them by turns.
    """
    blocks: list[list[LineMeaning]] = []
    for laid, group in groupby(lines, lambda line: line.kind in ("chords", "words")):
        block = list(group)
        blocks += [block] if laid else [[line] for line in block]
    shapes = ["".join(line.kind[0] for line in block if line.kind in ("chords", "words")) for block in blocks]
    both = [shape for shape in shapes if {"c", "w"} <= set(shape)]
    if sum(map(len, both)) < 4 or not all(shape == "wc" * (len(shape) // 2) for shape in both):
        return tuple(lines), False
    turned = [
        line
        for block, shape in zip(blocks, shapes, strict=True)
        for line in (
            [m for a, b in zip(block[::2], block[1::2], strict=True) for m in (b, a)] if "wc" in shape else block
        )
    ]
    return tuple(turned), True


def with_phrases_apart(lines: Sequence[LineMeaning]) -> tuple[LineMeaning, ...]:
    """Make a line of each phrase of chords in a line, each above its own line of words where there are as many."""
    found: list[LineMeaning] = []
    index = 0
    while index < len(lines):
        item = lines[index]
        phrases = _phrases(item.chords) if item.chords is not None else ()
        index += 1
        sung = _sung_to_one_line(lines, index - 1)
        if phrases and len(sung) > len(phrases) and len(sung) % len(phrases) == 0:
            said = "the chords behind the name are taken for each line" if len(phrases) == 1 else _IN_TURN
            found += _in_turn(item, [replace(_moved_to(p, phrases[0]), guess=said) for p in phrases], sung)
            index += len(sung)
            continue
        if len(phrases) < 2:
            found.append(item)
            continue
        words = 0
        while index + words < len(lines) and lines[index + words].kind == "words":
            words += 1
        if words == 1:  # one line of words under all of them
            whole = tuple(mark for phrase in phrases for mark in phrase.marks)
            found.append(replace(item, chords=replace(phrases[0], marks=whole)))
            continue
        own = [replace(item, chords=phrase) for phrase in phrases]
        if words == len(phrases):
            own = [replace(item, chords=_moved_to(phrase, phrases[0])) for phrase in phrases]
            found += [m for pair in zip(own, lines[index : index + words], strict=True) for m in pair]
            index += words
        else:
            found += own
    return tuple(found)


def with_blocks_paired(lines: Sequence[LineMeaning]) -> tuple[LineMeaning, ...]:
    """Set the lines of a block of chords above the lines of a block of words behind it, where there are as many.

    A block of words with twice as many lines has the chords twice.
    """
    found: list[LineMeaning] = []
    index = 0
    while index < len(lines):
        chords = list(takewhile(lambda line: line.kind == "chords", lines[index:]))
        after = index + len(chords)
        blanks = len(list(takewhile(lambda line: line.kind == "blank", lines[after:])))
        words = list(takewhile(lambda line: line.kind == "words", lines[after + blanks :]))
        end = after + blanks + len(words)
        ended = end == len(lines) or lines[end].kind != "chords"
        whole = len(chords) > 1 and len(words) % len(chords) == 0 and len(words) > 1 and ended
        if not whole or not blanks:
            found += lines[index : index + max(len(chords), 1)]
            index += max(len(chords), 1)
            continue
        for place, line in enumerate(words):
            above = chords[place % len(chords)]
            assert above.chords is not None
            said = replace(above.chords, behind=True, number=line.line.number)
            found += [replace(above, chords=said if place < len(chords) else replace(said, cues=(), strays=())), line]
        index = end
    return tuple(found)


_IN_TURN = "the phrases behind the name are taken for the lines in turn"


def _sung_to_one_line(lines: Sequence[LineMeaning], place: int) -> Sequence[LineMeaning]:
    """Return the lines of words, two or more, of a section whose only chords stand side by side behind its name."""
    item = lines[place]
    named = place and lines[place - 1].heading is not None and lines[place - 1].line.number == item.line.number
    if item.chords is None or not named or not (item.chords.packed or item.chords.signed):
        return ()
    after = lines[place + 1 :]
    words = list(takewhile(lambda line: line.kind == "words", after))
    rest = (line for line in after[len(words) :] if line.kind != "blank")
    following = next((line.kind for line in rest), "heading")
    numbered = any(number_of(line.line.text.lstrip()) for line in words)
    return words if len(words) > 1 and following in ("heading", "again", "fact", "remark") and not numbered else ()


def _in_turn(item: LineMeaning, phrases: Sequence[ChordLine], words: Sequence[LineMeaning]) -> Iterator[LineMeaning]:
    """Yield lines of words, each under one of some phrases, in turn; what is said of the chords' line is said once."""
    for place, line in enumerate(words):
        number = line.line.number if place else item.line.number
        chords = replace(phrases[place % len(phrases)], number=number, behind=True)
        yield replace(item, chords=chords if not place else replace(chords, cues=(), strays=()))
        yield line


def _moved_to(phrase: ChordLine, first: ChordLine) -> ChordLine:
    """Return a phrase in the columns in which the first one begins: above its own words."""
    by = phrase.marks[0].column - first.marks[0].column
    return replace(phrase, marks=tuple(replace(mark, column=mark.column - by) for mark in phrase.marks))


def _phrases(line: ChordLine) -> tuple[ChordLine, ...]:
    """Part a line of chords at the signs between its phrases; what is said of the line is said once."""
    parts: list[list[TypedMark]] = [[]]
    for mark in line.marks:
        if mark.kind == "phrase":
            parts.append([])
        else:
            parts[-1].append(mark)
    if len(parts) < 2:
        return (line,)
    plain = replace(line, cues=(), strays=(), guess="", times=1)
    first = replace(line, marks=tuple(parts[0]), times=1)
    return (first, *(replace(plain, marks=tuple(part)) for part in parts[1:] if part))
