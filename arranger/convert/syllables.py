"""Find the syllable under a chord, and lay words over bars by their syllables.

Typed sheets stand a column or two beside what is meant. A chord at the first letter of a word or a syllable stays
there; one that is a column off goes to the nearest such place; one in the middle of a word stays where it is.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import accumulate, pairwise, takewhile

from arranger.convert.model import DraftBar, DraftRow, DraftSection, Remark, SheetLine, SungText

BEYOND = 99  # columns: further than any chord is moved
FILLER = "\u00ad"  # stands in the columns of what parts two syllables of a typed word: `Lan - tern`
NEAR = 1  # columns that a chord may stand beside a syllable's start and still be meant for it
_VOWELS = frozenset("aeiouyæœøıаеёиоуыэюяіїєαεηιουωάέήίόύώ")
# Two letters that are one sound in most languages of typed sheets: no syllable ends between them.
_PAIRS = frozenset("aa ae ai au aw ay ea ee ei eu ey ie oa oe oi oo ou ow oy ue ui äu ау".split())  # noqa: SIM905
_APOSTROPHES = frozenset("'’‘`´")
# Consonants that begin a syllable together (English, German, Romance).
_ONSETS = frozenset(
    "bl br ch cl cr dr fl fr gl gr kl kn kr ph pl pr qu sc sch scr sh sk sl sm sn sp spl spr st str sw th thr tr tw wh "  # noqa: SIM905
    "wr".split()
)
# Two consonants after which a last e is silent: dance, horse, twelve, bridge, taste, bathe.
_BEFORE_SILENT = frozenset(("nc", "ns", "rs", "ls", "rv", "lv", "rg", "ng", "dg", "st", "th", "rc"))
# First parts of longer words that keep their silent e: somebody, lonely, homeward.
_FIRST_PARTS = frozenset("care fire grace home hope life lone love name safe shore side some time wise".split())  # noqa: SIM905
# Endings that keep their own letters where words are parted: lov-ing, not lo-ving.
_ENDINGS = frozenset(("ing", "ings", "er", "ers", "ed", "est", "en", "ened", "able", "ence", "ous", "ern", "ers,"))


def _base(cell: str) -> str:
    """Return a letter without its accent, small."""
    return unicodedata.normalize("NFD", cell[:1].lower())[:1]


def _is_vowel(cell: str) -> bool:
    return bool(cell) and (_base(cell) in _VOWELS or cell[:1].lower() in _VOWELS)


def _sounds(word: Sequence[str], place: int) -> bool:
    """Return whether a letter is a vowel in its word: a y before a vowel is none, nor is the u after a q."""
    if not _is_vowel(word[place]):
        return False
    after = place + 1 < len(word) and _is_vowel(word[place + 1])
    if _base(word[place]) == "y":
        return not after or (place > 0 and not _is_vowel(word[place - 1]))
    return not (after and _base(word[place]) == "u" and place > 0 and _base(word[place - 1]) == "q")


def _is_letter(cell: str) -> bool:
    return bool(cell) and cell[:1].isalpha()


@lru_cache(maxsize=4096)
def starts_in(word: tuple[str, ...], every_e: bool = False) -> tuple[int, ...]:
    """Return the columns in a word at which its syllables start, by spelling: the first is 0.

    No e is silent where `every_e` says so.

    >>> starts_in(tuple("lanterns")), starts_in(tuple("over")), starts_in(tuple("home")), starts_in(tuple("a-gain"))
    ((0, 3), (0, 1), (0,), (0, 2))
    """
    starts = [0]
    vowels = [i for i in range(len(word)) if _sounds(word, i)]
    for index in range(1, len(word)):
        if word[index - 1] in ("-", FILLER) and _is_letter(word[index]):
            starts.append(index)
    for here, there in pairwise(vowels):
        between = word[here + 1 : there]
        if not between:
            if not _one_sound(word, here, there, every_e) and (here - 1) not in vowels:
                starts.append(there)
        elif all(map(_is_letter, between)) and (every_e or not _silent(word, there)):
            onset = _onset("".join(map(_base, between)), last=not any(map(_is_letter, word[there + 1 :])))
            starts.append(there - (1 if _is_ster(word, there - 2) else onset))
        elif _left_out(between, word[there:]):  # ev'ry, wand'ring; not you're, nor o'er
            after = [_base(c) for c in between[_apostrophe(between) + 1 :]]
            starts.append(there - _onset("".join(after), last=not any(map(_is_letter, word[there + 1 :]))))
    return tuple(sorted({s for s in starts if s == 0 or any(map(_is_vowel, word[s:]))}))


def _apostrophe(cells: Sequence[str]) -> int:
    """Return the place of the last apostrophe; -1 where there is none."""
    return max((i for i, cell in enumerate(cells) if cell[:1] in _APOSTROPHES), default=-1)


def _left_out(between: Sequence[str], rest: Sequence[str]) -> bool:
    """Return whether an apostrophe between two vowels stands for one that is not sung, and a syllable begins behind."""
    place = _apostrophe(between)
    after = between[place + 1 :]
    letters = sum(map(_is_letter, between)) == len(between) - 1
    ending = "".join(_base(c) for c in (*after, *rest) if _is_letter(c))
    return place >= 0 and bool(after) and letters and ending not in ("re", "ve", "res", "ves")


def _one_sound(word: Sequence[str], here: int, there: int, every_e: bool) -> bool:
    """Return whether two vowels side by side are one: rain, but not go-ing."""
    if "".join(c for c in word[there:] if _is_letter(c)).lower() in ("ing", "ings"):
        return False
    return _base(word[here]) + _base(word[there]) in _PAIRS or (not every_e and _silent(word, there))


def _silent(word: Sequence[str], place: int) -> bool:
    """Return whether an e is only written: home, lives, loved, dance; not in table, Sonne, Größe."""
    if _base(word[place]) != "e" or word[place][:1] not in "eE" or not place:
        return False
    if any(cell[:1].isalpha() and not cell[:1].isascii() for cell in word):
        return False  # only English leaves out its last e, and English has no such letters
    if (
        "".join(map(_base, word[: place + 1])) in _FIRST_PARTS
        and len(word) > place + 2
        and not _is_vowel(word[place + 1])
    ):
        return True
    rest = "".join(_base(c) for c in word[place + 1 :] if _is_letter(c))
    before = _base(word[place - 1])
    pair = (_base(word[place - 2]) if place > 1 else "") + before
    if rest == "d":
        return before not in "td"
    if rest == "s":
        return before not in "sxzcgh" and (_is_vowel(word[place - 2]) or pair in _BEFORE_SILENT)
    return not rest and (place < 2 or _is_vowel(word[place - 2]) or pair in _BEFORE_SILENT)


def _is_ster(word: Sequence[str], place: int) -> bool:
    """Return whether `ster` stands at a place behind a vowel: the s belongs to that one, as in sis-ter, yes-ter-day."""
    return place > 0 and _is_vowel(word[place - 1]) and "".join(map(_base, word[place : place + 4])) == "ster"


def _onset(consonants: str, *, last: bool) -> int:
    """Return how many consonants between two vowels begin the second syllable, which is the `last` letter or more."""
    if last and len(consonants) > 1 and consonants[-1] == "l":
        return 2  # gen-tle
    for size in (3, 2):
        if len(consonants) > size - 1 and consonants[-size:] in _ONSETS:
            return size
    return 1


def plausible(word: Sequence[str], place: int, every_e: bool = False) -> bool:
    """Return whether a word can be parted at a place: a vowel on both sides, and sounds that can begin a syllable."""
    left, right = word[:place], word[place:]
    heard = [i for i in range(len(word)) if _sounds(word, i) and (every_e or not _silent(word, i))]
    if not heard or not heard[0] < place <= heard[-1]:
        return False
    if not _is_letter(right[0]) or not _is_letter(left[-1]) or _is_ster(word, place):
        return False
    if _is_vowel(right[0]):
        if _is_vowel(left[-1]) and not _sounds(word, place - 1):
            return False  # be-yond, not bey-ond: this y begins a syllable
        if _is_vowel(left[-1]):
            return not _one_sound(word, place - 1, place, every_e)
        # ev-er or e-ver, morn-ing: where one consonant is between two vowels, spellings differ.
        single = len(left) > 1 and _is_vowel(left[-2])
        return single or "".join(c for c in right if _is_letter(c)).lower() in _ENDINGS
    onset = "".join(map(_base, takewhile(lambda cell: not _is_vowel(cell), right)))
    if "".join(filter(str.isalpha, map(_base, right))) in ("le", "les", "led") and _base(left[-1]) not in _VOWELS | {
        "l"
    }:
        return False  # can-dle
    return len(onset) == 1 or onset in _ONSETS or (len(onset) == 2 and "".join(right).lower()[1:3] in ("ly", "le"))


def can_begin(word: Sequence[str]) -> bool:
    """Return whether sounds can begin a word: a vowel, one consonant before it, or some that begin syllables."""
    onset = "".join(map(_base, takewhile(lambda cell: not _is_vowel(cell), word)))
    return len(onset) < len(word) and (len(onset) < 2 or onset in _ONSETS)


# Words that hardly a line of a song does without, in English and in languages that sing each e.
_ENGLISH = frozenset("the and of you to in is my me we it for on are with all be your that this".split())  # noqa: SIM905
_OTHERS = frozenset(
    "und der die das ist nicht ich du ein den het een ik je niet van en zijn och att det som på vi jag og jeg ikke er "  # noqa: SIM905
    "la le les et dans des que il che non di del el los por mi una un w nie się na jest o as os não um uma".split()
)
_WORD = re.compile(r"[^\W\d_]+")


def with_every_e(lines: Sequence[SheetLine]) -> tuple[SheetLine, ...]:
    """Mark the lines of a sheet in another language than English: no e of its words is silent."""
    words = [word for line in lines for word in _WORD.findall(line.text.lower())]
    english = sum(word in _ENGLISH for word in words)
    others = sum(word in _OTHERS for word in words)
    return tuple(replace(line, every_e=True) for line in lines) if others > 2 * english else tuple(lines)


_APART = re.compile(r"(?<=[^\W\d_])( +-+ +)(?=[^\W\d_])")
MOST_APART = 4  # places in a sheet from which on dashes part syllables, and not thoughts


def with_joined_syllables(lines: Sequence[SheetLine]) -> dict[int, SheetLine]:
    """Join syllables that a sheet sets apart with dashes; return the changed lines by their place. Columns stay."""
    texts = ["".join(cell[:1] or FILLER for cell in line.cells) for line in lines]
    found = {i: [m for m in _APART.finditer(text) if _parts_word(text, m)] for i, text in enumerate(texts)}
    if sum(map(len, found.values())) < MOST_APART or sum(bool(f) for f in found.values()) < 2:
        return {}
    joined = {}
    for place, matches in ((place, matches) for place, matches in found.items() if matches):
        cells = list(lines[place].cells)
        for match in matches:
            cells[match.start(1) : match.end(1)] = [FILLER] * len(match[1])
        joined[place] = replace(lines[place], cells=tuple(cells))
    return joined


def _parts_word(text: str, match: re.Match[str]) -> bool:
    """Return whether a dash parts a word: it goes on small, and is not said twice (`ooh - ooh`)."""
    left, right = text[: match.start(1)].split()[-1], text[match.end(1) :].split()[0]
    return right[:1].islower() and left.strip(",.!?").casefold() != right.strip(",.!?").casefold()


def place_of(line: SheetLine, column: int) -> int:
    """Return the column of the syllable under a chord at a column; at or past the end where none is there."""
    cells = line.cells
    if column >= len(cells):
        return len(cells)
    start, end = _word_at(cells, column)
    if cells[column] == " " or not any(cell[:1].isalnum() for cell in cells[start:end]):
        # A blank or a dash: the next syllable is meant.
        return min(next_word(cells, column), len(cells))
    return _in_word(line, column, start, end)


def _word_at(cells: Sequence[str], column: int) -> tuple[int, int]:
    """Return where the run of characters around a column starts and ends."""
    start = end = column
    while start and cells[start - 1] != " ":
        start -= 1
    while end < len(cells) and cells[end] != " ":
        end += 1
    return start, end


def _in_word(line: SheetLine, column: int, start: int, end: int) -> int:
    """Find the place in a word."""
    cells = line.cells
    word = tuple(cells[start:end])
    at = column - start
    lead = next((i for i, cell in enumerate(word) if cell[:1].isalnum()), 0)
    if at <= lead:
        return start
    if cells[column] == "":  # the second half of a wide character
        return column - 1 if at > 1 else start
    if not any(map(_is_vowel, word)):  # a script whose letters are syllables, or none that is known here
        return column if _is_letter(word[at]) and any(ord(c[:1] or "a") > 0x2E80 for c in word) else start
    starts = starts_in(word, line.every_e)
    if at in starts or plausible(word, at, line.every_e):
        return start + at
    nearest = min(starts, key=lambda s: (abs(s - at), s > at))
    following = next_word(cells, column)
    if following - column <= min(NEAR + 1, abs(nearest - at)):
        return following
    if abs(nearest - at) <= NEAR:
        return start + nearest
    return start + max(s for s in starts if s <= at)


def columns_under(columns: Sequence[int], model: SheetLine, line: SheetLine) -> list[int]:
    """Move columns of a line of words to the same syllables of another one that has as many; else leave them."""
    words, syllables = words_and_syllables(line)
    _, others = words_and_syllables(model)
    if len(syllables) != len(others) or all(c in words or c >= len(line.cells) for c in columns):
        return list(columns)
    found: list[int] = []
    for column in columns:
        place = place_of(model, column)
        if place in others:
            found.append(syllables[others.index(place)])
        else:  # beyond the words, or at a place that is no syllable's start by spelling
            found.append(max(column, len(line.cells)) if place >= len(model.cells) else column)
    return found if found == sorted(found) else list(columns)


def next_word(cells: Sequence[str], column: int) -> int:
    """Return the column of the first word that starts behind a column; far behind the end where there is none."""
    column = _word_at(cells, column)[1]
    while column < len(cells) and cells[column] == " ":
        column += 1
    return column if column < len(cells) else len(cells) + BEYOND


def next_start(line: SheetLine, column: int) -> int:
    """Return the next syllable behind a column, in its word or after it; the end of the words where there is none."""
    cells = line.cells
    start, end = _word_at(cells, column)
    inside = [start + s for s in starts_in(tuple(cells[start:end]), line.every_e) if start + s > column]
    return inside[0] if inside else min(next_word(cells, column), len(cells))


def laid_over(section: DraftSection, model: DraftSection) -> DraftSection | None:
    """Lay words without chords over the bars of a model by syllables; None where there are more lines than rows."""
    sung = [row for row in model.rows if row.sung]
    if not sung or len(section.words) > len(sung):
        return None
    rows = []
    pickup = ""
    for line, row in zip(section.words, sung, strict=False):
        laid, before = _line_over(line, row, model.pickup if row is sung[0] else "")
        pickup = pickup or before
        rows.append(laid)
    first = Remark(
        "check", section.words[0].number, f"no chords over these words: laid over those of {model.name} by syllables"
    )
    rows[0] = replace(rows[0], notes=(first, *rows[0].notes))
    return replace(section, rows=tuple(rows), words=(), like=model.name, pickup=pickup)


def _line_over(line: SheetLine, row: DraftRow, pickup: str) -> tuple[DraftRow, str]:
    """Lay one line of words over a row; return the words before its first chord too."""
    cells = line.cells
    words, beats = words_and_syllables(line)
    counts = [_syllables(s.text, line.every_e) for bar in row.bars for s in bar.segments]
    lead = _syllables(pickup.rstrip("-"), line.every_e)
    total = lead + sum(counts)
    cuts: list[int] = []
    for number in accumulate(counts[:-1], initial=lead):  # of the syllable at which each chord stands
        if total != len(beats):  # counts differ: the nearest word
            number = round(number * len(beats) / max(total, 1))
        if number >= len(beats):
            place = len(cells)
        else:
            place = beats[number]
            free = [w for w in words if w > max(cuts, default=-1)] or words  # no bar without words, if there are any
            place = place if total == len(beats) else min(free, key=lambda w: (abs(w - place), w))
        cuts.append(max(place, *cuts[-1:], 0))
    if not lead:
        cuts[0] = 0
    texts = [" ".join(line.part(a, b).replace(FILLER, "").split()) for a, b in pairwise([0, *cuts, len(cells)])]
    segments = [SungText(text, _glued(cells, place)) for text, place in zip(texts[1:], cuts, strict=True)]
    bars: list[DraftBar] = []
    for bar in row.bars:
        mine, segments = segments[: len(bar.segments)], segments[len(bar.segments) :]
        joins = bool(mine) and bool(mine[-1].text) and bool(segments) and segments[0].glued
        bars.append(replace(bar, segments=tuple(mine), joins=joins))
    before = texts[0] + ("-" if texts[0] and _glued(cells, cuts[0]) else "")
    return replace(row, line=line.number, bars=tuple(bars), notes=(), cues=()), before


def _glued(cells: Sequence[str], place: int) -> bool:
    return 0 < place < len(cells) and cells[place - 1] != " " and cells[place] != " "


def words_and_syllables(line: SheetLine) -> tuple[list[int], list[int]]:
    """Return the columns at which the words of a line start, and those at which its syllables do."""
    cells = line.cells
    words = [i for i, cell in enumerate(cells) if cell != " " and (not i or cells[i - 1] == " ")]
    typed = [(start, cells[start : _word_at(cells, start)[1]]) for start in words]
    sung = [(start, word) for start, word in typed if any(c[:1].isalnum() for c in word)]
    return words, [start + s for start, word in sung for s in starts_in(word, line.every_e)]


def _syllables(text: str, every_e: bool) -> int:
    return len(words_and_syllables(SheetLine(0, tuple(text.replace("_", " ")), every_e=every_e))[1])
