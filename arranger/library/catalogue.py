"""Define the facts of a song that lists show; sort titles, and compare words without case and accents.

Facts are plain texts and numbers, so that they can be kept in a file and looked up without reading songs again. Nothing
depends on a language or on the machine's: the same titles are in the same order everywhere. `arranger find` loads this
file each time, so it needs nothing but keys and the characters' own tables.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from arranger.theory.key import Key

MOST = 10**6  # beats a minute, and errors: far more than any song has
_BEAT = re.compile(r"[1-9][0-9]{0,3}(?:/[1-9][0-9]{0,3})?")
# Letters of Latin scripts that are no letter with an accent, as people type them who do not have them.
_PLAIN = str.maketrans(
    {"æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ħ": "h", "ı": "i", "ŋ": "ng"}
)
# The scripts that write no blanks between words: each of their signs is a word to look for.
_WITHOUT_BLANKS = re.compile("([\u3040-\u30ff\u3400-\u4dbf\u4e00-\u9fff\uf900-\ufaff\u0e00-\u0eff])")
_ISO_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_WORD = re.compile(r"[^\W_]+")
_NUMBER = re.compile(r"[0-9]+")
ARTICLES = ("a", "an", "the")  # not filed by, as libraries do. Only English ones: "die" and "la" begin other titles
FIGURES = "0–9"
NO_LETTER = "…"

MOST_WORDS = 50  # of a question that count: no line of a song is longer
_QUOTE = re.compile('["“”„«»]')
_QUOTED = re.compile(r"[\"“”„«»]([^\"“”„«»]*)[\"“”„«»]?|(\S+)")
_LONGEST_NUMBER = 9  # digits: titles count no further


class SongFacts(NamedTuple):
    """What lists of songs say about one song.

    Attributes:
        title: as it is written; the name of the file where a song with errors has none.
        key: the key that sounds: `Bb`, `F#m`. Of a song with errors any fact may be empty.
        tempo: as it is written: `dotted 56`, `free`; empty where there is none.
        bpm: beats a minute, of the beat that the tempo is written in; None without a number.
        beat: the length of that beat in quarters, as a fraction: `3/2`.
        meter: `6/8`.
        first_words: what is sung first, as the song is played.
        file: the song's path under the folder of the songs, with `/`.
        output: its part's path under the folder of the parts, with `/`; empty where there is none.
        errors: how many errors the song has.
    """

    title: str
    key: str
    tempo: str
    bpm: int | None
    beat: str
    meter: str
    first_words: str
    file: str
    output: str = ""
    errors: int = 0


class Play(NamedTuple):
    """A song in a running order.

    Attributes:
        evening, date, place: as the running order has them; empty where it says nothing.
        number: the song's among those of the evening, from 1.
        of: how many songs the evening has.
        key: the key of the evening; empty where it is the song's own.
        file: the running order, by its path under the folder, with `/`.
    """

    evening: str
    date: str
    place: str
    number: int
    of: int
    key: str
    file: str

    @property
    def words(self) -> str:
        """What a list says of it: `29 November, the net loft: Harvest Supper, 2 of 9, in E (supper.set.txt)`."""
        when = ", ".join(filter(None, (self.date, self.place)))
        what = ", ".join(filter(None, (self.evening, f"{self.number} of {self.of}", self.key and f"in {self.key}")))
        return f"{f'{when}: ' if when else ''}{what} ({self.file})"


def in_time(plays: Iterable[Play]) -> tuple[Play, ...]:
    """Sort plays from the first to the last: by dates of the form 2026-11-29 (ISO 8601), others before by their files.

    A date in other words says no year, and in no order that all languages share.
    """
    return tuple(sorted(plays, key=lambda play: (play.date if _ISO_DATE.fullmatch(play.date) else "", play.file)))


def play_from_data(data: object) -> Play:
    """Return a play from plain data, checked.

    Raises:
        ValueError: it is none.
    """
    kinds = [int if name in ("number", "of") else str for name in Play._fields]
    if not isinstance(data, dict) or list(data) != list(Play._fields) or [*map(type, data.values())] != kinds:
        raise ValueError("no play of a song")
    "".join(text for text in data.values() if type(text) is str).encode()
    return Play(**data)


_NAMES = list(SongFacts._fields)
_TYPES = [[bpm if name == "bpm" else int if name == "errors" else str for name in _NAMES] for bpm in (int, type(None))]


def from_data(data: object) -> SongFacts:
    """Return the facts of a song from plain data, checked.

    Raises:
        ValueError: it is none, or facts that no song has.
    """
    if not isinstance(data, dict) or list(data) != _NAMES or [*map(type, data.values())] not in _TYPES:
        raise ValueError("no facts of a song")
    found = SongFacts(**data)
    _check_key(found.key)
    if not _BEAT.fullmatch(found.beat) or not 0 <= (found.bpm or 0) <= MOST or not 0 <= found.errors <= MOST:
        raise ValueError("no facts of a song: its tempo, or its errors")
    "".join(text for text in data.values() if type(text) is str).encode()  # half characters are a ValueError too
    return found


@lru_cache(64)
def _check_key(text: str) -> None:
    """Raise a `ValueError` for a text that is no key; songs with errors may have an empty one."""
    if text:
        Key.parse(text)


def sounds_of(key: str) -> int:
    """Return the number that `sounding` has for a key in text; -1 for an empty text."""
    if not key:
        return -1
    parsed = Key.parse(key)
    return sounding(parsed.tonic.pitch_class, parsed.minor)


def sounding(tonic: int, minor: bool) -> int:
    """Return a number for a key, the same for keys that sound alike: its tonic's pitch class, 12 more for minor."""
    return tonic + (12 if minor else 0)


def fold(text: str) -> str:
    """Return a text without case and accents, as it is compared.

    >>> fold("Été à L’Œuvre"), fold("Straße"), fold("Ħal Łódź")
    ('ete a l’oeuvre', 'strasse', 'hal lodz')
    """
    if text.isascii():
        return text.lower()
    parts = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(c for c in parts if not unicodedata.combining(c))
    return unicodedata.normalize("NFC", bare.casefold()).translate(_PLAIN)


def tokens(text: str) -> list[str]:
    """Return the words of a text as they are looked up.

    >>> tokens("Don't  go—Été!"), tokens("海の歌")
    (['don', 't', 'go', 'ete'], ['海', 'の', '歌'])
    """
    folded = fold(text)
    if not folded.isascii():
        folded = _WITHOUT_BLANKS.sub(r" \1 ", folded)
    return _WORD.findall(folded)


@lru_cache(maxsize=4096)
def title_key(title: str) -> str:
    """Return what a title is sorted by: word by word, figures by their value and before letters, no leading article.

    >>> sorted(["Seaside", "The Sea Song", "Été", "10 Gulls", "9 Gulls", "A Tide"], key=title_key)
    ['9 Gulls', '10 Gulls', 'Été', 'The Sea Song', 'Seaside', 'A Tide']
    """
    words = (_NUMBER.sub(lambda number: number[0].zfill(_LONGEST_NUMBER), word) for word in filed_words(title))
    return f"{' '.join(words)}\0{title}"  # a blank and the end come before all figures and letters


def filed_words(title: str) -> list[str]:
    """Return the words that a title is filed by: without its article, unless that is all there is."""
    words = tokens(title)
    return words[1:] if len(words) > 1 and words[0] in ARTICLES else words


def article(title: str) -> str:
    """Return the leading article of a title with the blank after it, as it is written; empty where there is none.

    >>> article("The Kettle"), article("Theatre"), article("A"), article("“A” Side")
    ('The ', '', '', '')
    """
    first, blank, rest = title.partition(" ")
    return first + blank if fold(first) in ARTICLES and tokens(rest) else ""


def letter(title: str) -> str:
    """Return the letter that a title is found under: `0–9` for figures, `…` where there is neither.

    >>> letter("The Kettle"), letter("Été"), letter("7 Bridges"), letter("?!"), letter("Οδός")
    ('K', 'E', '0–9', '…', 'Ο')
    """
    words = filed_words(title)
    if not words:
        return NO_LETTER
    first = words[0][0]
    return FIGURES if unicodedata.category(first) == "Nd" else first.upper()


class Term(NamedTuple):
    """What must be found: words that follow each other. `whole`: its last word too is one, not a beginning."""

    words: tuple[str, ...]
    whole: bool


def terms_of(words: Iterable[str]) -> tuple[Term, ...]:
    """Return the words and phrases to look for, from the words of a command line; nothing in them can be wrong.

    What stands in quotes, or came in quotes to the command line and so has blanks in it, belongs together.

    >>> [(*term.words, term.whole) for term in terms_of(["Été", "down to the", "don't", "?"])]
    [('ete', False), ('down', 'to', 'the', True), ('don', 't', False)]
    """
    found = []
    for text in words:
        whole = " " in text.strip() and not _QUOTE.search(text)
        for quoted, word in [(text, "")] if whole else _QUOTED.findall(text):
            parts = tuple(tokens(quoted or word))[:MOST_WORDS]
            if parts:
                found.append(Term(parts, bool(quoted)))
    return tuple(dict.fromkeys(found))[:MOST_WORDS]


def has_term(words: str, term: Term) -> bool:
    """Return whether a text has a term; its words as `tokens` gives them, with a blank before, between and after."""
    return f" {' '.join(term.words)}{' ' if term.whole else ''}" in words


def best_line(lines: Iterable[tuple[str, str]], terms: Sequence[Term]) -> tuple[str, str] | None:
    """Return the line, with its section before it, that has the most of what is looked for; the first of several."""
    best, found = 0, None
    for section, line in lines:
        words = f" {' '.join(tokens(line))} "
        having = sum(has_term(words, term) for term in terms)
        if having > best:
            best, found = having, (section, line)
    return found
