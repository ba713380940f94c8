"""Define and read running orders, `NAME.set.txt`: the songs of one evening, their facts for it, how each goes on.

A running order with mistakes is read as far as it can be, so that what is wrong with its songs is told too. Facts are
kept as they were typed: `song/tonight.py` puts them into their song.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import Literal

from arranger.habits.order_words import OTHER_ORDER_WORDS, meant_way
from arranger.habits.signs import with_own_signs
from arranger.song.cells import ChordWord, read_mark
from arranger.song.grammar import Failure, Lexeme, lexemes, parse
from arranger.song.model import SongText
from arranger.song.read import controls
from arranger.song.song_line import SongLine
from arranger.song.song_lines import LONGEST_LINE, WORDS, read_text
from arranger.text.diagnostics import Diagnostic, Fix, error
from arranger.text.problems import MOST_ERRORS, EnoughError, Problems, shown
from arranger.text.source import NOWHERE, Source, Span
from arranger.theory.chord import Chord

MOST_SONGS = 500  # of an evening
MOST_CHORDS = 8  # of a way from song to song
LONGEST_TALK = 3600  # seconds

NO_TITLE = SongText("")
EVENING_FACTS = ("key", "tempo", "capo", "roadmap", "band", "sound", "texture")  # of a song, that an evening may change
HEAD_WORDS = ("set", "date", "place")
ORDER_WORDS = (*HEAD_WORDS, "song", "break", "then", *EVENING_FACTS)

OnwardKind = Literal["attacca", "pad", "talk", "stop"]


@dataclass(frozen=True, slots=True)
class Onward:
    """How a song or a break goes on. `seconds` of talk; `way` are the chords that are played over to the next song."""

    kind: OnwardKind = "stop"
    seconds: int = 0
    way: tuple[Chord, ...] = ()
    written: bool = False
    span: Span = field(default=NOWHERE, compare=False)


STOP = Onward()


@dataclass(frozen=True, slots=True)
class EveningFact:
    """A fact of a song for one evening, as it was typed after its word."""

    word: str
    text: str
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class OrderedSong:
    """A song of the evening: its file by a path from the running order, its facts for the evening, how it goes on."""

    file: str
    facts: tuple[EveningFact, ...] = ()
    onward: Onward = STOP
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class OrderedBreak:
    """A break in words, and how it goes on."""

    text: str
    onward: Onward = STOP
    span: Span = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class RunningOrder:
    """The songs and breaks of an evening, in order."""

    source: Source = field(compare=False)
    title: SongText = NO_TITLE
    date: SongText | None = None
    place: SongText | None = None
    items: tuple[OrderedSong | OrderedBreak, ...] = ()

    @property
    def songs(self) -> tuple[OrderedSong, ...]:
        """The songs alone."""
        return tuple(item for item in self.items if isinstance(item, OrderedSong))


@dataclass(slots=True)
class _Draft:
    """What is read of a running order so far."""

    head: dict[str, SongText] = field(default_factory=dict)
    items: list[OrderedSong | OrderedBreak] = field(default_factory=list)
    unplaced: bool = False  # what stands before the first song was told
    seen: set[str] = field(default_factory=set)  # words of the last song


def read_order(source: Source) -> tuple[RunningOrder, tuple[Diagnostic, ...]]:
    """Read a running order.

    Returns:
        The order as far as it can be read, and all that is wrong with it: with an error in it nothing is made of it.
    """
    problems, draft = Problems(), _Draft()
    refused = controls(source)
    if refused:
        return RunningOrder(source), refused
    try:
        _read_lines(source, draft, problems)
        _check_whole(source, draft, problems)
    except EnoughError:
        message = f"expected a running order, found {MOST_ERRORS} errors; the rest of the file was not read"
        told = error("too-many-errors", message, None, "mend the first ones and try again")
        return RunningOrder(source), (*problems.all(), told)
    head = draft.head
    title = head.get("set", NO_TITLE)
    return RunningOrder(source, title, head.get("date"), head.get("place"), tuple(draft.items)), problems.all()


_FIRST_WORD = re.compile(r"([^\W\d_]+)(?=[\s:=]|$)")


def _read_lines(source: Source, draft: _Draft, problems: Problems) -> None:
    start = 0
    for text in source.text.split("\n"):
        body = text.strip()
        at = start + len(text) - len(text.lstrip())
        start += len(text) + 1
        if not body or body[0] == "#":
            continue
        if len(text) > LONGEST_LINE:
            message = f"expected {LONGEST_LINE} characters at most in a line, found {len(text)}"
            problems.error("line-too-long", message, Span(at, at + 1), "set the rest on a line of its own")
            continue
        line = _line(body, at, draft, problems)
        if line is not None:
            _take(line, draft, problems)


def _line(body: str, at: int, draft: _Draft, problems: Problems) -> SongLine | None:
    """Divide a line into its word and what follows; None after what is wrong with it was told."""
    whole = Span(at, at + len(body))
    match = _FIRST_WORD.match(body)
    word = match[1].casefold() if match is not None else ""
    if match is None or word not in ORDER_WORDS:
        _unknown(body, whole, word, problems)
        return None
    value = body[match.end() :].lstrip()
    if value[:1] in (":", "="):
        place = Span(whole.end - len(value), whole.end - len(value) + 1)
        sign, value = value[0], value[1:].lstrip()
        fix = Fix(Span(whole.start + match.end(), whole.end - len(value)), " " if value else "")
        message = f"expected a space after {shown(word)}, found {shown(sign)}"
        problems.error("colon-after-word", message, place, f"write `{word} {value[:40]}`".rstrip(), fix=fix)
    return SongLine(word, value, Span(whole.end - len(value), whole.end) if value else whole)


def _unknown(body: str, whole: Span, word: str, problems: Problems) -> None:
    """Report a line that no word of running orders begins."""
    typed = body.split()[0]
    place = Span(whole.start, whole.start + len(typed))
    if word in WORDS:
        message = f"expected a fact that one evening may change, found {shown(word)}"
        facts = ", ".join(f"`{fact}`" for fact in EVENING_FACTS)
        hint = f"write it into the song; an evening may change {facts}"
        problems.error("not-for-an-evening", message, place, hint)
        return
    if body.lower().endswith(".song.txt"):
        hints: tuple[str, ...] = (f"write `song {body[:60]}`",)
    elif meant_way(body)[0] or word in ("attacca", "pad", "talk", "stop", "chords"):
        hints = (f"write `then {meant_way(body)[0] or ' '.join(body.split())[:40]}`",)
    else:
        near = OTHER_ORDER_WORDS.get(word) or next(iter(problems.nearest(word, [*ORDER_WORDS, *OTHER_ORDER_WORDS])), "")
        near = OTHER_ORDER_WORDS.get(near, near)
        known = "lines begin with `set`, `date`, `place`, `song`, `break`, `then`, or a fact of the song above"
        hints = (f"did you mean `{near}`?", known) if near else (known, "a remark begins with `#`")
    message = f"expected a word that says what the line is, found {shown(typed)}"
    problems.error("unknown-word", message, place, *hints)


def _take(line: SongLine, draft: _Draft, problems: Problems) -> None:
    """Put a line where it belongs."""
    if line.word in HEAD_WORDS:
        _take_head(line, draft, problems)
    elif line.word in ("song", "break"):
        text = read_text(line, problems)
        draft.seen = set()
        value, span = (text.value, text.span) if text is not None else ("", line.span)
        if len(draft.items) >= 2 * MOST_SONGS:
            problems.error("too-many-songs", f"expected {MOST_SONGS} songs at most in an evening, found more", span)
            raise EnoughError
        draft.items.append(OrderedSong(value, span=span) if line.word == "song" else OrderedBreak(value, span=span))
    elif not draft.items:
        if not draft.unplaced:  # told once: all lines up to the first song have the same fault
            message = f"expected `song` and a file before `{line.word}`"
            problems.error("before-first-song", message, line.span, "what is said of a song stands under it")
        draft.unplaced = True
    elif line.word == "then":
        _take_onward(line, draft, problems)
    else:
        _take_fact(line, draft, problems)


def _take_head(line: SongLine, draft: _Draft, problems: Problems) -> None:
    text = read_text(line, problems)
    if line.word in draft.head and line.word == "set":
        message = f"expected one running order in a file, found the second {shown(line.text)}"
        problems.error("set-twice", message, line.span, "each evening has a file of its own")
    elif line.word in draft.head:
        problems.error("fact-twice", f"expected one `{line.word}`, found another", line.span, "leave one of them out")
    elif draft.items:
        message = f"expected `{line.word}` before the first song"
        problems.error("header-word-late", message, line.span, "move the line to the top")
    if text is not None:
        draft.head.setdefault(line.word, text)


def _take_fact(line: SongLine, draft: _Draft, problems: Problems) -> None:
    song = draft.items[-1]
    text = read_text(line, problems)
    if isinstance(song, OrderedBreak):
        message = f"expected a song above `{line.word}`, found a break"
        problems.error("fact-of-a-break", message, line.span, "facts of a song stand under it, before the break")
    elif line.word in draft.seen and line.word != "roadmap":
        problems.error("fact-twice", f"expected one `{line.word}`, found another", line.span, "leave one of them out")
    elif text is not None:
        fact = EveningFact(line.word, text.value, text.span)
        draft.items[-1] = replace(song, facts=(*song.facts, fact))
    draft.seen.add(line.word)


def _take_onward(line: SongLine, draft: _Draft, problems: Problems) -> None:
    item = draft.items[-1]
    found = read_onward(line, problems)
    if found is None:
        draft.seen |= {"then", "then chords"}
        return
    word = "then chords" if found.way else "then"
    if word in draft.seen:
        message = f"expected one `{word}` under a song or break, found another"
        problems.error("then-twice", message, line.span, "leave one of them out")
        return
    both = item.onward.written and (found.way or item.onward.way)
    if both and "stop" in (found.kind if not found.way else "", item.onward.kind if not item.onward.way else ""):
        message = "expected chords to go on by, or `then stop`, found both"
        problems.error("then-against", message, line.span, "leave out one of them: after a stop nothing leads on")
        return
    draft.seen.add(word)
    if both:
        way, other = (found, item.onward) if found.way else (item.onward, found)
        found = replace(other, way=way.way)
    draft.items[-1] = replace(item, onward=found)


def read_onward(line: SongLine, problems: Problems) -> Onward | None:
    """Read `attacca`, `pad`, `talk 30 s`, `stop`, `chords Em A7`."""
    tree = parse("set.lark", "then", with_own_signs(line.text))
    if isinstance(tree, Failure):
        _bad_onward(tree, line, problems)
        return None
    first, *rest = lexemes(tree.children)
    if first.kind == "CHORDS":
        way = tuple(chord for one in rest if (chord := _chord(one, line, problems)) is not None)
        if len(rest) > MOST_CHORDS:
            message = f"expected {MOST_CHORDS} chords at most from one song to the next, found {len(rest)}"
            problems.error("bad-then", message, line.span, "more is a song of its own")
            return None
        return Onward("attacca", way=way, written=True, span=line.span) if len(way) == len(rest) else None
    if first.kind == "TALK":
        seconds = int(rest[0].text[:6])
        if not 1 <= seconds <= LONGEST_TALK:
            message = f"expected 1 to {LONGEST_TALK} seconds of talk, found {shown(rest[0].text)}"
            problems.error("bad-then", message, line.within(rest[0].start, rest[0].end))
            return None
        return Onward("talk", seconds, written=True, span=line.span)
    kinds: dict[str, OnwardKind] = {"ATTACCA": "attacca", "PAD": "pad", "STOP": "stop"}
    return Onward(kinds[first.kind], written=True, span=line.span)


def _chord(one: Lexeme, line: SongLine, problems: Problems) -> Chord | None:
    mark = read_mark(one.text)
    if isinstance(mark, ChordWord) and not (mark.push or mark.optional or mark.pins or mark.as_written):
        return mark.chord
    hint = "chords as in a row of chords, without bars, pushes and pins: `then chords Em A7`"
    message = f"expected a chord, found {shown(one.text)}"
    problems.error("bad-then", message, line.within(one.start, one.end), hint)
    return None


def _bad_onward(failure: Failure, line: SongLine, problems: Problems) -> None:
    better, certain = meant_way(line.text)
    if not better:
        near = problems.nearest(line.text.split()[0] if line.text else "", ("attacca", "pad", "talk", "stop", "chords"))
        better = {"talk": "talk 30 s", "chords": "chords Em A7"}.get(near[0], near[0]) if near else ""
    at = min(failure.at, max(0, len(line.text) - 1))
    place = line.within(at, len(line.text)) if line.text else line.span
    wanted = "`attacca`, `pad`, `talk 30 s`, `stop` or `chords Em A7`"
    found = shown(line.text) if line.text else "nothing"
    fix = Fix(line.span, better) if certain and line.text else None
    hint = f"write `then {better}`" if better else ""
    problems.error("bad-then", f"expected {wanted} after `then`, found {found}", place, hint, fix=fix)


def _check_whole(source: Source, draft: _Draft, problems: Problems) -> None:
    songs = sum(isinstance(item, OrderedSong) for item in draft.items)
    first = Span(0, 0)
    if "set" not in draft.head:
        hint = "begin the file with `set` and what the evening is called"
        problems.error("missing-set", "expected the name of the evening, found none", first, hint)
    if not songs:
        hint = "write `song` and a file for each song: `song lanterns.song.txt`"
        problems.error("empty-set", "expected a song, found none in the running order", first, hint)
    elif songs > MOST_SONGS:
        message = f"expected {MOST_SONGS} songs at most in an evening, found {songs}"
        problems.error("too-many-songs", message, first)
