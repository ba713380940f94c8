"""What is no typed sheet of one song: pairs of a file and what is said of it, in tests/diagnostics/sheets/."""

import ast
from pathlib import Path

import pytest

import arranger.convert
from arranger.convert.columns import decode_sheet
from arranger.convert.conversion import convert
from arranger.pipeline import all_problems
from arranger.song.mistakes import known_codes
from arranger.text.diagnostics import Diagnostic, render
from arranger.text.source import Source

FOLDER = Path(__file__).parents[1] / "diagnostics" / "sheets"
SHEETS = sorted(FOLDER.glob("*.txt"))
TYPED = "Low Tide\n\nG           D\nSand in the pockets\nEm          C\nSalt on the line\n"


def said(path: Path) -> tuple[Source, tuple[Diagnostic, ...]]:
    source, problems, _ = decode_sheet(path.name, path.read_bytes())
    if source is None:
        return Source(path.name, ""), problems
    made, problems = convert(source)
    assert made is None
    return source, problems


@pytest.mark.parametrize("path", SHEETS, ids=lambda p: p.stem)
def test_what_is_said(path, golden):
    source, problems = said(path)
    assert all(p.severity == "error" for p in problems)
    golden(path.with_suffix(".expected"), "\n".join(render(p, source) for p in problems) + "\n")


def test_every_code_occurs_and_is_explained():
    codes = set()
    for path in Path(arranger.convert.__file__).parent.glob("*.py"):
        if path.name.startswith("score_"):  # test_scores.py has those of scores
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "error":
                assert isinstance(node.args[0], ast.Constant)
                codes.add(node.args[0].value)
    assert codes == {p.code for path in SHEETS for p in said(path)[1]}
    assert codes | {"typed-sheet"} <= set(known_codes())


def test_a_sheet_given_as_a_song_is_told_once_and_how_to_convert_it():
    (problem,) = all_problems(Source.of("tide.txt", TYPED))
    assert problem.code == "typed-sheet"
    assert problem.hints == ("`arranger convert tide.txt` makes a song of it",)


@pytest.mark.parametrize(
    "text",
    [
        "song Low Tide\nkey D\nsection Verse\nG  D\nSand and\nEm  C\nsalt\n",  # a song by somebody new to it
        "song Low Tide\n\nsection Verse\n| G | H |\n",
        "Only words\nand no chord\n",
        "",
    ],
)
def test_what_is_no_sheet_is_told_line_by_line(text):
    assert "typed-sheet" not in {p.code for p in all_problems(Source.of("tide.txt", text))}


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        (TYPED.encode(), ""),
        (b"\xef\xbb\xbf" + TYPED.encode(), ""),
        (TYPED.encode("utf-16"), "UTF-16"),
        (TYPED.replace("Sand", "Sänd").encode("cp1252"), "Windows-1252"),
        (TYPED.encode() + b"\x81 \xe9\n", "ISO 8859-1"),  # a byte that Windows-1252 does not have
    ],
)
def test_encodings(data, encoding):
    source, problems, found = decode_sheet("a.txt", data)
    assert problems == () and found == encoding
    assert source is not None and convert(source)[0] is not None


def test_more_than_a_song_may_have():
    chords = "G D\nla la\n" * 60_000
    assert [p.code for p in decode_sheet("a.txt", (chords * 2).encode())[1]] == ["sheet-of-many"]
    played_often = "Verse (x99)\n" + "G D Em C G D Em C G D Em C\n" * 20
    made, problems = convert(Source.of("a.txt", played_often))
    assert made is None and [p.code for p in problems] == ["sheet-of-many"]


def test_a_line_without_an_end():
    made, problems = convert(Source.of("a.txt", TYPED + "x " * 4000))
    assert made is None and [p.code for p in problems] == ["sheet-not-text"]


def test_a_section_played_again_is_not_a_second_song():
    text = TYPED.replace("Low Tide\n\n", "Low Tide\n\nVerse 1\n") + "\nListen!\n\nVerse 1\n\nChorus\nC  G\nla  la\n"
    assert convert(Source.of("a.txt", text))[0] is not None
