"""What README.md, DEVELOPERS.md and .ci/run say is so: examples parse, commands exist, the checks are the same."""

import re
import shlex
from pathlib import Path

import pytest

from arranger.cli import parsers
from arranger.pipeline import Wishes, to_arrangement, to_song
from arranger.text.source import Source

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


def test_two_commands_and_both_install_for_themselves():
    make, check = blocks(README, "sh")
    for command in (make, check):
        assert command.startswith("python3 -m venv .venv && .venv/bin/pip install ")
        assert command.count("\n") == 1
    words = shlex.split(make.split("&&")[-1])
    assert words[:2] == [".venv/bin/arranger", "part"]
    assert (ROOT / words[2]).is_file()


def test_the_checks_of_readme_are_those_of_ci():
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    check = blocks(README, "sh")[1]
    in_readme = [step.strip().removeprefix(".venv/bin/") for step in check.split("&&")][2:]
    in_ci = re.findall(r'^"\$fresh/bin/(.+?)" ?(.*?) \|\| status=1$', ci, re.MULTILINE)
    assert in_readme == [" ".join(filter(None, step)) for step in in_ci]
    assert {step.split()[0] for step in in_readme} == {"ruff", "mypy", "pytest"}


def test_the_song_of_readme_is_clean_and_has_a_part():
    (text,) = blocks(README, "song")
    song, problems = to_song(Source.of("README.song.txt", text))
    assert problems == ()
    arrangement, problems = to_arrangement(song, Wishes())
    assert arrangement
    assert problems == ()


@pytest.mark.parametrize("command", parsers()[1])
def test_readme_has_every_option_of_every_command(command):
    (text,) = blocks(README, "text")
    assert re.search(rf"^arranger {command} ", text, re.MULTILINE)
    for option in set(parsers()[1][command].long_options) - {"--help", "--output"}:  # `-o` says it there
        assert option in text, option


def test_every_option_of_readme_exists():
    known = {option for parser in parsers()[1].values() for option in parser.long_options}
    known |= {"--pyodide"}  # of `python -m arranger.desk.site`
    known |= {"--nworkers", "--nthreads"}  # of `dask worker`
    outside = re.sub(r"```sh\n.*?```", "", README, flags=re.DOTALL)  # pip's and ruff's own
    assert set(re.findall(r"(?<![\w-])--[a-z]+(?:-[a-z]+)*", outside)) <= known


def test_developers_knows_every_room():
    rooms = {p.stem for p in (ROOT / "arranger").iterdir() if p.suffix == ".py" or (p / "__init__.py").is_file()}
    for room in rooms - {"__init__", "__main__"}:
        assert re.search(rf"`{room}(/|\.py)`", DEVELOPERS), room
