"""A thousand inputs of the attack on the whole program (`python -m tests.fuzz attack` makes a hundred thousand)."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from arranger.cli import main
from tests.attack import surroundings

ROOT = Path(__file__).parents[2]
SHARE = 250  # inputs of one test; four of them

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs fork, limits and /dev/full")


@pytest.mark.slow
@pytest.mark.parametrize("part", range(4))
def test_no_input_brings_the_program_down(part: int, tmp_path: Path) -> None:
    """In a process of its own: each input is forked from it, and its memory has a limit."""
    words = [str(SHARE), "1", "--from", str(part * SHARE), "--keep", str(tmp_path / "failed")]
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzz", "attack", *words],
        cwd=ROOT,
        env={**os.environ, "TMPDIR": str(tmp_path)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{SHARE} inputs: 0 faults, 0 escapes" in done.stdout
    for kind in ("part", "stage", "study", "tidy", "fix", "show", "sheet", "score", "evening", "font"):
        (told,) = (line for line in done.stdout.splitlines() if line.startswith(f"{kind} "))
        assert " 0:" in told, f"no input that the program takes: this says nothing of {kind}"


def test_a_whole_font_is_taken_for_its_letters(tmp_path: Path) -> None:
    """Else damaged ones would be refused, or left unused, for a reason of their own."""
    (tmp_path / "x.ttf").write_bytes(surroundings.fonts()[0])
    song, letter = tmp_path / "a.song.txt", chr(surroundings.GEORGIAN + ord("α") - surroundings.GREEK)
    song.write_text(surroundings.SONG.format("D", letter), encoding="utf-8")
    assert main(["check", str(song)]) == 1
    assert main(["part", str(song), "--font", str(tmp_path / "x.ttf")]) == 0


SEEN = {  # what a command does, and what the judge says of it first
    "open('out', 'w').close(); return 0": "",
    "raise ZeroDivisionError": "raised: ZeroDivisionError",
    "return 70": "status 70",
    "print('please report it'); return 0": "a fault of the program",
    "return 1": "status 1 without a word",
    "os.kill(os.getpid(), 11)": "ended by SIGSEGV",
    "bytearray(2 << 30)": "raised: MemoryError",
    "open('a', 'w').close(); return 0": "changed 'a'",
    "os.remove('a'); return 0": "removed 'a'",
    "open('b', 'w').close(); return 0": "made 'b'",
    "open('../b', 'w').close(); return 0": "raised: PermissionError",
    "os.system('true'); return 0": "raised: PermissionError",
    "print('\\x1b[2J'); return 0": "U+001B reached the terminal in the output",
    "resource.setrlimit(resource.RLIMIT_CPU, (1, 9)); exec('while True: 0')": "slow: more than 10 s of CPU",
}


@pytest.mark.slow
def test_the_judge_sees_what_is_wrong(tmp_path: Path) -> None:
    """In a process of its own, whose memory is small enough for the limit."""
    lines = ["import os, resource", "from pathlib import Path", "from tests.attack import case, run"]
    for number, body in enumerate(SEEN):
        root = tmp_path / str(number) / "root"
        root.mkdir(parents=True)
        lines += [f"def main(words):\n    {body}", "run.main = main"]
        lines += [f"v = case.judged(case.Case(('x',), {{'a': b'mine'}}, ('out',)), Path({str(root)!r}))"]
        lines += ["print(*v.faults, *v.escapes, sep='; ')"]
    done = subprocess.run(
        [sys.executable, "-c", "\n".join(lines)], cwd=ROOT, capture_output=True, text=True, check=True
    )
    told = done.stdout.splitlines()
    assert [
        (said[: len(wanted)] if wanted else said) for said, wanted in zip(told, SEEN.values(), strict=True)
    ] == list(SEEN.values())
    assert "wrote outside of the folder: open " in told[list(SEEN).index("open('../b', 'w').close(); return 0")]
