"""Whole files: the example, dumps, bytes, spans, and that any text ends in a song or in diagnostics."""

from __future__ import annotations

import dataclasses
import itertools
import random
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arranger.song.dump import dump
from arranger.song.model import Bar, Mark, Meter, Note, Piece, Section, Song, SongText, Step, WrittenChord
from arranger.song.read import decode, read
from arranger.text.diagnostics import render
from arranger.text.source import NOWHERE, Source, Span
from tests.conftest import Golden

HERE = Path(__file__).parent
EXAMPLE = (HERE / "lanterns.song.txt").read_text(encoding="utf-8")
EVERYTHING = (HERE / "everything.song.txt").read_text(encoding="utf-8")


def read_text(text: str) -> Song:
    found, said = read(Source.of("a.song.txt", text))
    assert found is not None, said
    return found


@pytest.mark.parametrize("name", ["lanterns", "everything"])
def test_whole_songs(name: str, golden: Golden) -> None:
    source, said = decode(f"{name}.song.txt", (HERE / f"{name}.song.txt").read_bytes())
    assert said == ()
    song, said = read(source)
    assert said == ()  # without a word
    assert song is not None
    golden(f"song/{name}.txt", dump(song))


@pytest.mark.parametrize("text", [EXAMPLE, EVERYTHING])
@pytest.mark.parametrize(
    "change",
    [
        lambda t: "\ufeff" + t,
        lambda t: t.replace("\n", "\r\n"),
        lambda t: t.replace("\n", "\r"),
        lambda t: t.replace("\n", "\n\n  \t\n# a remark\n"),
        lambda t: "\n".join("   " + line + " \t" for line in t.split("\n")),
        lambda t: t.replace("    ", "\t"),
        lambda t: "\n".join(line[:1].upper() + line[1:] for line in t.split("\n")),
    ],
    ids=["byte-order mark", "CR LF", "CR", "blank lines and remarks", "indentation", "tabs", "capitals"],
)
def test_what_carries_no_meaning(text, change) -> None:
    """Spans are not compared: the songs are equal in all that is music and words."""
    assert read_text(change(text)) == read_text(text)


# Bytes.


@pytest.mark.parametrize(
    ("data", "code", "place"),
    [
        (b"song T\xe9\n", "not-utf-8", (1, 7)),
        (b"song T\nkey C\nwords \xff\xfe\n", "not-utf-8", (3, 7)),
        ("song T\n".encode("utf-16"), "not-utf-8", (1, 1)),
        ("song Te\u0301st".encode() + b"\x80", "not-utf-8", (1, 10)),  # what is composed counts as one
        (b"song T\x00\n", "control-character", (1, 7)),
        (b"song T\nkey\x1b[2J C\n", "control-character", (2, 4)),
        ("song T\u2028key C".encode(), "control-character", (1, 7)),
    ],
)
def test_bytes_that_are_refused(data: bytes, code: str, place: tuple[int, int]) -> None:
    source, (said,) = decode("a.song.txt", data)
    assert said.code == code
    assert said.span is not None and source.line_column(said.span.start) == place
    assert "\x1b" not in render(said, source)


def test_a_file_of_a_mebibyte_is_the_largest() -> None:
    head = b"song T\nkey C\nsection A\n| C |\n"
    assert decode("a", head + b" " * (2**20 - len(head)))[1] == ()
    (said,) = decode("a", head + b" " * (2**20 - len(head) + 1))[1]
    assert said.code == "file-too-large"


def test_control_characters_are_refused_in_a_source_too() -> None:
    song, (said,) = read(Source.of("a", "song T\x07\nkey C\n"))
    assert song is None and said.code == "control-character"


def test_limits() -> None:
    head = "song T\nkey C\n"
    _, (said,) = read(Source.of("a", head + "section A\n| C |\nsing | " + "la" * 2000 + " |"))
    assert said.code == "line-too-long"
    many = "".join(f"section {n}\n| C |\n" for n in range(1000))
    assert read(Source.of("a", head + many))[1] == ()
    _, (said,) = read(Source.of("a", head + many + "section Last\n| C |\n"))
    assert said.code == "too-many-sections"


def test_a_file_with_too_many_errors_is_not_read_to_its_end() -> None:
    song, said = read(Source.of("a", "song T\nkey C\nsection A\n" + "| Q |\n" * 600))
    assert song is None
    assert [d.code for d in said] == ["bad-chord"] * 500 + ["too-many-errors"]


def test_problems_come_in_the_order_of_their_places() -> None:
    text = "song T\nkey H\ntempo x\nroadmap A, B\nsection A\n| Q |\nsing | a | b |\nsection C\n| C | | R |\n"
    song, said = read(Source.of("a", text))
    assert song is None
    assert [d.code for d in said] == [
        "bad-key", "bad-tempo", "unknown-section", "bad-chord", "too-many-bars", "empty-bar",
        "bad-chord",
    ]  # fmt: skip
    starts = [d.span.start for d in said if d.span]
    assert starts == sorted(starts) and len(starts) == len(said)


# Spans: the text of a span is the text that caused the node.


def nodes(value: object) -> Iterator[object]:
    """Walk all dataclasses of a model but its source."""
    if isinstance(value, tuple):
        for item in value:
            yield from nodes(item)
    elif dataclasses.is_dataclass(value) and not isinstance(value, Source | Span):
        yield value
        for one in dataclasses.fields(value):
            yield from nodes(getattr(value, one.name))


def check_span(node: object, source: Source, moved: bool) -> None:
    """Hold that the text at a node's span is what the node says."""
    text = source.text[node.span.start : node.span.end]  # type: ignore[attr-defined]
    match node:
        case SongText():
            assert text == node.value
        case Section():
            assert text == node.name
        case Meter():
            assert text == str(node)
        case Mark(kind="chord") if not moved:
            assert node.chord is not None and node.chord.written in text
        case Mark(kind="rest"):
            assert text.lower() == "rest"
        case Mark(kind="slash"):
            assert text == "/"
        case Mark(kind="none"):
            assert text.upper() in ("N.C.", "NC", "N.C")
        case WrittenChord() if not moved:
            assert text.startswith(("<", "(", node.written[0]))
        case Note() if not moved:
            assert text == "rest" if node.pitch is None else str(node.pitch).startswith(text.rstrip("0123456789"))
        case Bar(repeats_last=True):
            assert "%" in text
        case Bar():
            assert text.strip() == text and "|" not in text
        case Piece():
            assert "|" not in text and (("\\" in text) or text == node.text)
        case Step():
            assert "," not in text.split("(")[0]


@pytest.mark.parametrize("text", [EXAMPLE, EVERYTHING])
def test_spans(text: str) -> None:
    song = read_text(text)
    seen = set()
    for node in nodes((song.sections, song.roadmap, song.title, song.tempo, song.band)):
        if getattr(node, "span", NOWHERE) != NOWHERE:
            seen.add(type(node).__name__)
            check_span(
                node, song.source, moved=song.capo is not None or any(s.facts.key != song.key for s in song.sections)
            )
    assert seen >= {
        "Section",
        "Row",
        "Bar",
        "Mark",
        "WrittenChord",
        "SungLine",
        "BarWords",
        "Piece",
        "Step",
        "SongText",
    }


# Any text.

MARKS = [
    "C", "Am7", "F#m7b5/E", "<G", "(D)", "G=BDG", "G=B3DG", "/", "%", "rest", "N.C.", "hold", "3/4", "short 1/4",
    "H", "am", "x2", "*", "C-5", "(", "C7(b9 #5)",
]  # fmt: skip
BARS = ["|", "||", "|:", ":|", ":|:", ":| x3", "|1.", ":|2.", "|1.2.", " | "]
WORDS = """
song T
key D
key
tempo 72
meter 3/4
section A
section B
like A
tacet
sing | la |
sing
pickup Oh
hook | D4 E / |
Title: x
octave | (D4 E) |
tune
cue now
roadmap A, B x2
capo 2 in C
sound a + b
dynamic p to f
feel swing
suspensions off
# remark
Verse 1
band a,b

""".splitlines()

row_text = st.lists(
    st.tuples(st.sampled_from(BARS), st.sampled_from(MARKS), st.sampled_from(["", *MARKS])), max_size=6
).map(lambda cells: "| " + "".join(f"{m} {n} {b} " for b, m, n in cells))
sing_text = st.text(alphabet="|*-_\\ aé:ß שn", max_size=40).map(lambda t: f"sing | {t}")
lines = st.one_of(st.sampled_from(WORDS), row_text, sing_text, st.text(max_size=30))


def ends_well(text: str) -> None:
    source = Source.of("a.song.txt", text)
    song, said = read(source)
    assert (song is None) == any(d.severity == "error" for d in said)
    for one in said:
        assert one.span is None or 0 <= one.span.start <= one.span.end <= len(source.text)
        assert "\n" not in source[one.span] if one.span else True
        render(one, source)
    if song is not None:
        dump(song)


@pytest.mark.slow
@settings(max_examples=400, deadline=None)
@given(st.lists(lines, max_size=14))
def test_any_lines_end_in_a_song_or_in_diagnostics(found: list[str]) -> None:
    ends_well("\n".join(["song T", "key C", *found]))


@settings(max_examples=200, deadline=None)
@given(st.text())
def test_any_text_ends_in_diagnostics(text: str) -> None:
    ends_well(text)


@settings(deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_end_well(data: bytes) -> None:
    source, said = decode("a", data)
    for one in said:
        render(one, source)
    if not said:
        ends_well(source.text)


@pytest.mark.slow
def test_damaged_songs_end_well() -> None:
    """Characters taken away, doubled, exchanged: slips of the hand in a whole song."""
    chance = random.Random(1)
    for text in itertools.islice(itertools.cycle((EXAMPLE, EVERYTHING)), 300):
        letters = list(text)
        for _ in range(chance.randint(1, 8)):
            at = chance.randrange(len(letters))
            letters[at] = chance.choice(["", letters[at] * 2, chance.choice(letters), "|", "*", "(", "\n", "#", ":"])
        ends_well("".join(letters))


HARD = {
    "good rows": lambda n: "| C | G/B | Am7 F | G |\nsing | one | two | three * four | five |\n" * (n // 68),
    "rows": lambda n: "| C | G :| x2 |1. F / / G |\n" * (n // 30),
    "one long bar": lambda n: ("| " + "C " * 1900 + "|\n") * (n // 3800),
    "parentheses": lambda n: ("| " + "(" * 3900 + "|\n") * (n // 3900),
    "half parentheses": lambda n: ("| " + "((a)" * 900 + "|\n") * (n // 3600),
    "stars": lambda n: ("| C |\nsing | " + "*" * 3900 + "\n") * (n // 3900),
    "backslashes": lambda n: ("| C |\nsing | " + "\\" * 3900 + "|\n") * (n // 3900),
    "bars": lambda n: ("|" * 3900 + "\n") * (n // 3900),
    "blanks": lambda n: ("sound a" + " " * 3900 + "b\n") * (n // 3900),
    "words": lambda n: "".join(f"word{i} and more\n" for i in range(n // 16)),
    "chords that are none": lambda n: "".join(f"| Cx{i}y |\n" for i in range(n // 10)),
    "names": lambda n: "roadmap " + ", ".join(f"Verse{i}" for i in range(360)) + "\n",
    "pluses": lambda n: ("| C" + "+" * 3900 + "|\n") * (n // 3900),
    "digits": lambda n: ("tempo " + "9" * 3900 + "\n| C :| x" + "9" * 3900 + "|\n") * (n // 7800),
    "remarks": lambda n: ("roadmap A " + "(" * 3900 + "\n") * (n // 3900),
    "splits": lambda n: ("sound " + "split " * 640 + "\n") * (n // 3900),
    "untils": lambda n: ("roadmap " + "A until " * 480 + "\n") * (n // 3900),
}


def calls(text: str) -> int:
    """Count the calls of functions that reading a text takes: the same on every machine, whatever else it does."""
    made = 0

    def note(frame: object, event: str, argument: object) -> None:
        nonlocal made
        made += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        read(Source.of("a.song.txt", text))
    finally:
        sys.setprofile(before)
    return made


@pytest.mark.slow
@pytest.mark.parametrize("kind", HARD)
def test_hard_texts_take_work_in_proportion_to_their_size(kind: str) -> None:
    """Work is counted in calls, not timed; tests/bench/reading.py has the times. 128 KiB, whatever is in it, ends."""
    head = (
        "song T\nkey C\n"
        if kind in ("blanks", "names", "remarks", "splits", "untils")
        else "song T\nkey C\nsection A\n"
    )
    ends_well(head + HARD[kind](1 << 17))
    small, large = (calls(head + HARD[kind](1 << n)) for n in (13, 15))
    assert large <= 4.4 * small + 2000
