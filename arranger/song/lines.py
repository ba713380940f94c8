"""The lines of a file. Takes the source; gives the header's and the sections' lines, each with the word that begins it.

A line that no word begins is told here, with what it most likely is; where that is a section or a row, reading goes on
as if it had been written so, and one slip is one message.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from arranger.song.cells import MANNERS, ChordWord, read_mark
from arranger.song.facts import Line
from arranger.song.grammar import with_own_signs
from arranger.song.mislaid import told
from arranger.song.problems import Problems, shown
from arranger.text.diagnostics import Fix
from arranger.text.source import Source, Span

LONGEST_LINE = 4000  # characters; a longer one is no line of a song
MOST_SECTIONS = 1000

ROW = "|"  # stands for the word of a row of chords
BROKEN_ROW = "broken row"  # a row of chords that was told already: what belongs to it is passed over
NOTE_ROWS = ("octave", "hook", "tune")
SONG_WORDS = ("song", "words", "music", "rights", "feel", "capo", "band", "start", "roadmap", "language", "copyist")
SHARED_WORDS = ("key", "meter", "tempo", "sound", "play", "dynamic", "suspensions", "octaves")
SECTION_WORDS = ("like", "tacet", "pickup", "cue", "sing", *NOTE_ROWS)
WORDS = frozenset(("section", *SONG_WORDS, *SHARED_WORDS, *SECTION_WORDS))

# What sections are mostly called: a line of one of these alone lacks its `section`.
_SECTION_NAMES = frozenset(
    (
        "intro", "introduction", "verse", "verses", "chorus", "refrain", "bridge", "prechorus", "pre-chorus",
        "interlude", "instrumental", "solo", "outro", "ending", "tag", "coda", "vamp", "turnaround", "link", "break",
        "middle",
    )
)  # fmt: skip
# Words that people type for ours.
_OTHER_WORDS = {
    "title": "song", "name": "song", "composer": "music", "author": "words", "lyrics": "sing", "lyric": "sing",
    "text": "sing", "copyright": "rights", "time": "meter", "signature": "meter", "bpm": "tempo", "speed": "tempo",
    "order": "roadmap", "structure": "roadmap", "form": "roadmap", "instrument": "sound", "sounds": "sound",
    "volume": "dynamic", "dynamics": "dynamic", "part": "section", "sections": "section", "note": "cue",
    "melody": "tune", "players": "band", "metre": "meter", "lang": "language",
}  # fmt: skip

# Of these, words that can mean nothing else in a song's file.
_SURELY = frozenset(("title", "composer", "copyright", "metre", "structure", "dynamics"))

_METER = re.compile(r"[0-9]{1,2}/[0-9]{1,2}")

_FIRST_WORD = re.compile(r"([^\W\d_]+)(?=[\s|:=]|$)")
_LETTERS = re.compile(r"[^\W\d_]+")
_TOKEN = re.compile(r"[^\s|]+")
_BAR_LETTERS = frozenset("Il!1")
_INDENTED = 20  # characters in which a remark's sign is looked for
_LOOKED_AT = 32  # marks of a line that are tried as chords before it is taken for a row


@dataclass(slots=True)
class SectionLines:
    """A section's name with its place, and its lines. Filled while the file is read."""

    name: str
    span: Span
    lines: list[Line] = field(default_factory=list)


@dataclass(slots=True)
class FileLines:
    """The lines before the first section, and the sections. Filled while the file is read."""

    header: list[Line] = field(default_factory=list)
    sections: list[SectionLines] = field(default_factory=list)
    titled: bool = False  # a line that is likely the title was told


def split_lines(source: Source, problems: Problems) -> FileLines:
    """Sort a file's lines into the header and the sections."""
    found = FileLines()

    def unknown(body: str, span: Span) -> Line | None:
        return _unknown(body, span, found, problems)

    start = 0
    heading: Span | None = None  # of a remark just above that looks like a section's name
    for text in source.text.split("\n"):
        line = read_line(text, start, WORDS, unknown, problems) if text and not text.isspace() else None
        if line is None:
            heading = _heading(text, start) or heading
        start += len(text) + 1
        if line is None:
            continue
        if heading is not None and line.word == ROW:
            name = source[heading].lstrip("# \t").rstrip(": \t")
            problems.warning(
                "section-in-remark",
                f"expected `section` before the name of a section, found the remark {shown(source[heading])}",
                heading,
                f"write `section {name}` if a section starts here; a line that begins with `#` is only a remark",
            )
        heading = None
        if line.word != "section":
            (found.sections[-1].lines if found.sections else found.header).append(line)
            continue
        if len(found.sections) == MOST_SECTIONS:
            problems.error("too-many-sections", f"expected {MOST_SECTIONS} sections at most", line.span)
            break
        found.sections.append(SectionLines(line.text, line.span))
    return found


_HEADING = re.compile(r"\s*(#+[ \t]*([^\W\d_-]+)(?:[ \t]*[0-9]{1,2})?[ \t]*:?)\s*")


def _heading(text: str, start: int) -> Span | None:
    """Return whether a remark is no more than what sections are called."""
    match = _HEADING.fullmatch(text) if "#" in text[:_INDENTED] else None
    if match is None or match[2].casefold() not in _SECTION_NAMES:
        return None
    return Span(start + match.start(1), start + match.end(1))


def read_line(
    text: str, start: int, words: frozenset[str], unknown: Callable[[str, Span], Line | None], problems: Problems
) -> Line | None:
    """Return what a line is; None for a remark and for what cannot be read.

    Args:
        text: the line, not empty and not of blanks alone.
        start: where it starts in the file.
        words: those that can begin it.
        unknown: takes a line that none of them begins, with its place.
        problems: takes what is wrong.
    """
    body = text.strip()
    if text[0] != body[0]:
        start += len(text) - len(text.lstrip())
    first = body[0]
    if first == "#":
        return None
    whole = Span(start, start + len(body))
    if len(text) > LONGEST_LINE:
        problems.error(
            "line-too-long",
            f"expected {LONGEST_LINE} characters at most in a line, found {len(text)}",
            Span(start, start + 1),
            "set the rest on a line of its own",
        )
        return None
    if first == "|" or (not first.isalpha() and with_own_signs(body[:2]).startswith(("|", ":|"))):
        return Line(ROW, body, whole)
    match = _FIRST_WORD.match(body)
    word = match[1].casefold() if match else ""
    if match is None or word not in words:
        return unknown(body, whole)
    rest = body[match.end() :]
    value = rest.lstrip()
    if value[:1] in (":", "="):
        value = value[1:].lstrip()
        problems.error(
            "colon-after-word",
            f"expected a space after {shown(word)}, found {shown(rest.lstrip()[0])}",
            Span(whole.start + len(body) - len(rest.lstrip()), whole.start + len(body) - len(rest.lstrip()) + 1),
            f"write `{word} {' '.join(value.split())[:40]}`".rstrip(),
            fix=Fix(Span(whole.start + match.end(), whole.end - len(value)), " " if value else ""),
        )
    return Line(word, value, Span(whole.end - len(value), whole.end))


def _unknown(body: str, span: Span, found: FileLines, problems: Problems) -> Line | None:
    """Tell a line that no known word begins; give what it is taken for."""
    name = body.strip("[](){}<>*#:= \t")
    first = _LETTERS.match(name)
    word = first[0].casefold() if first else ""
    hyphened = name.casefold().split(" ")[0]
    if "|" not in body and len(name) <= 40 and (word in _SECTION_NAMES or hyphened in _SECTION_NAMES):
        at = span.start + body.index(name)
        problems.error(
            "section-missing",
            f"expected `section` before the name of a section, found {shown(body)}",
            span,
            f"write `section {name}`",
            fix=Fix(span, f"section {name}"),
        )
        return Line("section", name, Span(at, at + len(name)))
    row = _as_row(body, span, problems)
    if row is not None:
        return row
    near = word if word in _OTHER_WORDS else next(iter(problems.nearest(word, sorted({*WORDS, *_OTHER_WORDS}))), "")
    near = _OTHER_WORDS.get(near, near)
    slip = told(body, bool(found.sections or found.header or near))
    if slip is not None:
        slip.tell(body, span, problems)
        found.titled = found.titled or slip.code == "title-line"
        if slip.code == "like-line" and found.sections:
            return Line("like", slip.name, Span(span.end - len(slip.name), span.end))
        return Line(BROKEN_ROW, body, span) if slip.code == "chords-in-words" and found.sections else None
    found.titled = found.titled or near == "song"
    hints = [f"did you mean `{near}`?"] if near else []
    if found.sections:
        if "|" in body:
            hints.append("a row of words begins with `sing`: `sing | …`")
        lines = found.sections[-1].lines
        if lines and lines[-1].word in (ROW, BROKEN_ROW) and "|" not in body and not near:
            few = " ".join(body.split()[:3])
            hints.append(f"if this is sung to the chords above, write `sing | {few} …`, with `|` where a bar begins")
        hints.append("words that are sung begin with `sing`, chords with `|`, words for the player with `cue`")
    else:
        hints.append("the lines at the top begin with `song`, `key`, `tempo` and their like; a remark begins with `#`")
    shown_word = body.split()[0]
    rest = body[len(word) :].strip(": \t")
    certain = word == shown_word.casefold().rstrip(":") and (
        word in _SURELY or (word == "time" and _METER.fullmatch(rest) is not None)
    )
    problems.error(
        "unknown-word",
        f"expected a word that says what the line is, found {shown(shown_word)}",
        Span(span.start, span.start + len(shown_word)),
        *hints,
        fix=Fix(Span(span.start, span.start + len(word)), near) if certain else None,
    )
    return Line("section", body[len(word) :].strip(), span) if near == "section" else None


def _as_row(body: str, span: Span, problems: Problems) -> Line | None:
    """Tell a row of chords that does not begin with its barline."""
    tokens = _TOKEN.findall(with_own_signs(body))[:_LOOKED_AT]
    if not tokens:
        return None
    letters = [t for t in tokens if t in _BAR_LETTERS]
    others = [t for t in tokens if t not in _BAR_LETTERS]
    marks = sum(map(_is_mark, others))
    # One slip among many chords does not make a row anything else; a name such as "A B" must not become one.
    if not others or (marks < len(others) and (marks < 2 or 3 * marks < 2 * len(others))):
        return None
    if tokens[0] in _BAR_LETTERS and letters:
        problems.error(
            "bar-letter",
            f"expected `|` at the start of a row of chords, found {shown(tokens[0])}",
            Span(span.start, span.start + 1),
            "type the barline `|`: on many keyboards it is with the backslash, on phones under the symbols",
            fix=Fix(span, _with_bars(body)),
        )
    else:
        problems.error(
            "row-start",
            f"expected `|` at the start of a row of chords, found {shown(tokens[0])}",
            Span(span.start, span.start + len(tokens[0])),
            f"begin with the barline and set one between the bars: `| {' | '.join(others[:4])} |`",
            fix=Fix(Span(span.start, span.start), "| ") if "|" in body else None,
        )
    return Line(BROKEN_ROW, body, span)


def _with_bars(body: str) -> str:
    """Put barlines in the place of the letters that were typed for them."""
    return _TOKEN.sub(lambda m: "|" if m[0] in _BAR_LETTERS else m[0], body)


def _is_mark(token: str) -> bool:
    word = token.lower()
    if word in ("/", "%", "rest", "n.c.", "nc", *MANNERS):
        return True
    return len(token) <= 24 and isinstance(read_mark(token), ChordWord)
