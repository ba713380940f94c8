"""A thousand inputs of the attack on the whole program (`python -m tests.fuzz attack` makes a hundred thousand)."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SHARE = 250  # inputs of one test; four of them

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs fork, limits and /dev/full")


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


def attacked(tmp_path: Path, body: str, *before: str) -> str:
    """Run the attack's judge on a command that does something, and return its verdict."""
    code = f"""
import sys
from pathlib import Path
from tests.attack import case
def main(words):
    import os, time
    {body}
case.main = main
verdict = case.judged(case.Case(("x",), {{"a": b"mine"}}, ("out",)), Path({str(tmp_path)!r}))
print(*verdict.faults, *verdict.escapes, sep="\\n")
"""
    return subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stdout


@pytest.mark.parametrize(
    ("body", "told"),
    [
        ("open('out', 'w').close(); return 0", "\n"),
        ("raise ZeroDivisionError", "raised: ZeroDivisionError"),
        ("return 70", "status 70"),
        ("print('please report it'); return 0", "a fault of the program"),
        ("return 1", "status 1 without a word"),
        ("os.kill(os.getpid(), 11)", "ended by SIGSEGV"),
        ("bytearray(2 << 30)", "raised: MemoryError"),
        ("open('a', 'w').close(); return 0", "changed 'a'"),
        ("os.remove('a'); return 0", "removed 'a'"),
        ("open('b', 'w').close(); return 0", "made 'b'"),
        ("open('../b', 'w').close(); return 0", "wrote outside of the folder: open "),
        ("os.system('true'); return 0", "wrote outside of the folder: os.system"),
        ("print('\\x1b[2J'); return 0", "U+001B reached the terminal in the output"),
    ],
)
def test_the_judge_sees(tmp_path: Path, body: str, told: str) -> None:
    (tmp_path / "root").mkdir()
    assert attacked(tmp_path / "root", body).startswith(told)
