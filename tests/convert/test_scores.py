"""Scores with each fault and habit that notation programs export, and the song that is wanted of each.

`scores/NAME.musicxml` (or `.xml`, `.mxl`) is a score of our own, `scores/NAME.song.txt` the wanted song. music21 reads
the same scores as a second reader (`second_reader`): all chord symbols and all syllables of the first verse are there.
"""

import ast
import codecs
import re
from pathlib import Path

import pytest
from music21 import converter

import arranger.convert
from arranger.cli import main
from arranger.convert.score_conversion import convert_score
from arranger.convert.score_file import is_score
from arranger.pipeline import all_problems, to_song
from arranger.song.mistakes import known_codes
from arranger.song.tidy import tidied
from arranger.text.diagnostics import render
from arranger.text.source import Source
from tests.convert.random_scores import written
from tests.convert.second_reader import differences, differences_as_played

FOLDER = Path(__file__).parent / "scores"
SCORES = sorted(path for path in FOLDER.iterdir() if path.suffix in (".musicxml", ".mxl", ".xml"))
FEWEST = 22  # scores that are promised; files that are not found would be tested by nothing
BAD = sorted(p for p in (FOLDER.parents[1] / "diagnostics" / "scores").iterdir() if p.suffix != ".expected")

# The second reader reads no symbols that count from the key, no chords that are words, and no scores bar by bar.
UNREAD = {"numerals": "", "chords as words": "", "bar by bar": "chords in the second part.musicxml"}
# Words that another voice sings at the same place are told, and not in the song's line.
TOLD = {"two voices": ["words lost: low"]}

each_score = pytest.mark.parametrize("score", SCORES, ids=lambda path: path.stem)


def made_of(score: Path) -> str:
    """Convert a score as the command does."""
    made, problems = convert_score(score.read_bytes(), title=score.stem)
    assert made is not None, problems
    return made.text


def test_all_scores_are_found():
    assert len(SCORES) >= FEWEST


@each_score
def test_the_wanted_song(score, golden):
    golden(score.with_suffix(".song.txt"), made_of(score))


@each_score
def test_the_song_is_clean_and_tidy(score):
    text = made_of(score)
    assert [p.message for p in all_problems(Source.of("made.song.txt", text))] == []
    assert tidied(Source.of("made.song.txt", text)) == text


@each_score
def test_a_second_reader_finds_all_chords_and_words(score):
    twin = UNREAD.get(score.stem, score.name)
    if twin:
        assert differences(FOLDER / twin, made_of(score)) == TOLD.get(score.stem, [])


def test_chords_typed_as_words_are_those_that_are_printed():
    """Compared with the words over the notes as music21 reads them."""
    score = FOLDER / "chords as words.musicxml"
    printed = [text.content for text in converter.parse(score).flatten().getElementsByClass("TextExpression")]
    song, _ = to_song(Source.of("made.song.txt", made_of(score)))
    assert song is not None
    marks = (mark for section in song.sections for bar in section.bars for mark in bar.marks)
    assert [mark.chord.written for mark in marks if mark.chord is not None] == printed != []


def test_letters_of_parts_are_no_chords():
    text = (FOLDER / "chords as words.musicxml").read_text(encoding="utf-8")
    letters = iter("ABCDEF")
    text = re.sub("<words>[^<]*</words>", lambda _: f"<words>{next(letters)}</words>", text)
    made, problems = convert_score(text.encode())
    assert made is None and [p.code for p in problems] == ["score-without-chords"]


@each_score
def test_what_is_open_is_told_and_stands_in_the_song(score):
    made, _ = convert_score(score.read_bytes())
    assert made is not None
    for note in made.notes:
        kind = {"left": "score"}.get(note.kind, note.kind)
        assert any(line.startswith(f"# {kind}") and note.text[:60] in line for line in made.text.splitlines()), note


@pytest.mark.parametrize("number", range(10))
def test_scores_made_by_chance(number, tmp_path):
    """See `python -m tests.convert.scores`."""
    path = tmp_path / "chance.musicxml"
    strophic = written(path, 1, number)
    text = made_of(path)
    assert differences(path, text) == []
    assert strophic or differences_as_played(path, text) == []


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_what_is_said_of_what_is_no_score(path, golden):
    made, problems = convert_score(path.read_bytes())
    assert made is None
    source = Source(path.name, "")
    golden(path.with_name(f"{path.stem}.expected"), "\n".join(render(p, source) for p in problems) + "\n")


def test_every_code_occurs_and_is_explained():
    codes = set()
    for path in Path(arranger.convert.__file__).parent.glob("score_*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "error":
                assert isinstance(node.args[0], ast.Constant)
                codes.add(node.args[0].value)
    assert codes == {p.code for path in BAD for p in convert_score(path.read_bytes())[1]}
    assert codes <= set(known_codes())


@pytest.mark.parametrize(
    ("name", "data", "expected"),
    [
        ("tide.musicxml", b"", True),
        ("tide.MXL", b"PK\x03\x04", True),
        ("tide.txt", b"\xef\xbb\xbf<?xml version='1.0'?>\n<!DOCTYPE score-partwise>", True),
        ("tide.txt", codecs.BOM_UTF16_LE + "<?xml?><score-timewise>".encode("utf-16-le"), True),
        ("tide.txt", b"<html><body>score-partwise", False),
        ("tide.txt", b"G    D\n<score-partwise>\n", False),
        ("tide.txt", b"PK\x03\x04", False),
    ],
)
def test_a_typed_sheet_is_never_taken_for_a_score(name, data, expected):
    assert is_score(name, data) is expected


def test_the_command(tmp_path, monkeypatch, capsys):
    """Scores and sheets together, and the parts of both."""
    monkeypatch.chdir(tmp_path)
    Path("tide.txt").write_text("Tide\n\nG    D\nSand and\nEm   C\nsalt\n", encoding="utf-8")
    Path("kelp.mxl").write_bytes((FOLDER / "malformed container.mxl").read_bytes())
    assert main(["convert", "tide.txt", "kelp.mxl", "-o", "songs/", "--part"]) == 0
    assert sorted(p.name for p in Path("songs").iterdir()) == [
        "kelp.pdf", "kelp.song.txt", "tide.pdf", "tide.song.txt",
    ]  # fmt: skip
    assert "1 place to look at (# check)" in capsys.readouterr().out
    assert main(["convert", "kelp.mxl", "--key", "C", "--meter", "2/2", "-o", "again.song.txt"]) == 0
    text = Path("again.song.txt").read_text(encoding="utf-8")
    assert "key       C\n" in text and "meter     2/2\n" in text
