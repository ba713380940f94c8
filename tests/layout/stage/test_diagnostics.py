"""What is said of stage copies: pairs of a song and what is printed, in tests/diagnostics/stage/."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import arranger.layout
from arranger.layout.options import StageOptions
from arranger.pipeline import Wishes, to_arrangement, to_song
from arranger.song.read import decode
from arranger.staging import to_stage
from arranger.text.diagnostics import Diagnostic, render
from arranger.text.source import Source
from arranger.units import SHEETS
from tests.conftest import Golden

FOLDER = Path(__file__).parents[2] / "diagnostics" / "stage"
ASKED = {
    "busy-turn": StageOptions(SHEETS["tablet"], distance=0.9),
    "too-small-to-read": StageOptions(SHEETS["a5"], distance=0.9, pages=1),
}
OF_PARTS_TOO = {"missing-glyph", "unshaped-script"}  # said of every kind of page


def said(name: str) -> tuple[Source, tuple[Diagnostic, ...]]:
    path = FOLDER / f"{name}.song.txt"
    source, _ = decode(path.name, path.read_bytes())
    song, problems = to_song(source)
    assert song is not None and not problems
    wishes = Wishes(stage=ASKED[name], figures=False)
    arrangement, problems = to_arrangement(song, wishes)
    assert arrangement is not None and not problems
    copy, problems = to_stage(arrangement, wishes)
    assert (copy is None) == any(problem.severity == "error" for problem in problems)
    return source, problems


@pytest.mark.parametrize("name", ASKED)
def test_what_is_said(name: str, golden: Golden) -> None:
    source, problems = said(name)
    assert {problem.code for problem in problems} == {name}
    golden(FOLDER / f"{name}.expected", "\n".join(render(problem, source) for problem in problems) + "\n")


def test_every_code_occurs() -> None:
    known = {
        node.args[0].value
        for path in Path(arranger.layout.__file__).parent.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("error", "warning")
        if isinstance(node.args[0], ast.Constant)
    }
    assert (
        known - OF_PARTS_TOO
        == set(ASKED)
        == {path.name.removesuffix(".song.txt") for path in FOLDER.glob("*.song.txt")}
    )
