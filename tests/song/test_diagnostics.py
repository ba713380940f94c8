"""What is said of songs that were typed badly: pairs of a song and what is printed, in tests/diagnostics/."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import arranger.habits
import arranger.song
from arranger.song.read import decode, read
from arranger.song.running_order import read_order
from arranger.song.tonight import song_tonight
from arranger.text.diagnostics import Diagnostic, in_order, render
from arranger.text.source import Source
from tests.conftest import Golden

FOLDER = Path(__file__).parent.parent / "diagnostics"
SAMPLES = FOLDER.parents[1] / "samples"  # the songs of the running orders
SONGS = sorted((*FOLDER.glob("*.song.txt"), *FOLDER.glob("*.set.txt")))
CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)+")

# Their texts would be too large to keep; tests/song/test_read.py and test_running_order.py have them.
ELSEWHERE = {"file-too-large", "too-many-errors", "too-many-songs"}

# What makes diagnostics, with the code first.
MAKERS = {"error", "warning", "BadMark", "Slip", "_Look", "_instead"}


def said(path: Path) -> tuple[Source, tuple[Diagnostic, ...]]:
    source, problems = decode(path.name, path.read_bytes())
    if path.name.endswith(".set.txt") and not problems:
        return source, said_of_order(source)
    return source, problems or read(source)[1]


def said_of_order(source: Source) -> tuple[Diagnostic, ...]:
    """Say what is wrong with a running order, and with its facts for those of the samples that it names."""
    order, found = read_order(source)
    more: list[Diagnostic] = []
    for one in order.songs:
        path = SAMPLES / one.file
        if path.is_file():
            song, _ = read(decode(path.name, path.read_bytes())[0])
            assert song is not None
            more += song_tonight(song, one.facts)[1]
    return in_order((*found, *more))


def name(path: Path) -> str:
    return path.name.removesuffix(".song.txt").removesuffix(".set.txt")


@pytest.mark.parametrize("path", SONGS, ids=name)
def test_what_is_said(path: Path, golden: Golden) -> None:
    source, problems = said(path)
    assert problems
    golden(
        path.with_name(f"{name(path)}.expected"),
        "\n".join(render(p, source) for p in problems) + "\n",
    )


def test_there_is_a_song_to_each_expectation() -> None:
    assert {p.name.removesuffix(".expected") for p in FOLDER.glob("*.expected")} == {name(p) for p in SONGS}


def codes_in_the_room() -> Iterator[str]:
    """Find all codes that the room can give: first words of its errors and warnings."""
    for path in sorted(p for room in (arranger.habits, arranger.song) for p in Path(room.__file__).parent.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                first = node.args[0] if node.args else None
                if name in MAKERS and isinstance(first, ast.Constant):
                    yield first.value
                if name == "_parsed" and isinstance(first, ast.Constant):
                    yield f"bad-{first.value}"
            elif isinstance(node, ast.Return | ast.Tuple):
                value = node.value if isinstance(node, ast.Return) else (node.elts[0] if node.elts else None)
                if (
                    isinstance(value, ast.Constant)
                    and isinstance(value.value, str)
                    and path.name in ("mistakes.py", "cells.py")
                ):
                    yield value.value


def test_every_code_occurs() -> None:
    known = {code for code in codes_in_the_room() if CODE.fullmatch(code)}
    seen = {p.code for path in SONGS for p in said(path)[1]}
    assert len(known) > 70
    assert known - seen == ELSEWHERE
    assert seen - known == set()


def test_style_of_messages() -> None:
    """Lower case, no full stop, hints apart; what was found and what is right stand in back-quotes."""
    for path in SONGS:
        for one in said(path)[1]:
            assert CODE.fullmatch(one.code)
            assert one.message[0].islower() and one.message[-1] not in ".!", one.message
            for hint in one.hints:
                assert hint and hint[-1] not in ".!" and not hint[0].isupper(), hint
            assert one.message.count("`") % 2 == 0 or "\\" in one.message
