"""The program in a terminal of 40, 80 and 120 columns: whole outputs, colours, watching, completion.

A pseudo-terminal of the system (POSIX.1-2017, 11.1) stands for the screen; Windows has none.
"""

import os
import select
import shutil
import signal
import struct
import subprocess
import sys
import time
from pathlib import Path

import pytest

fcntl = pytest.importorskip("fcntl")
pty = pytest.importorskip("pty")
termios = pytest.importorskip("termios")

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "samples"
WIDTHS = (40, 80, 120)
WRONG = "song A\nkey D\n\nsection V\n| D | Hx |\nsing | la\n"


class Screen:
    """A program that runs in a terminal of so many columns; what it writes is kept."""

    def __init__(self, words, columns, folder, **environment):
        self.shown = ""
        self.pid, self.handle = pty.fork()
        if self.pid == 0:
            os.chdir(folder)
            own = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES", "NO_COLOR")}
            own |= {"TERM": "xterm", "PYTHONPATH": str(ROOT), "HOME": str(folder), **environment}
            try:
                fcntl.ioctl(1, termios.TIOCSWINSZ, struct.pack("HHHH", 50, columns, 0, 0))
                os.execve(sys.executable, [sys.executable, "-m", "arranger", *words], own)
            finally:
                os._exit(127)

    def until(self, words, patience=60):
        """Read until the words are shown."""
        end = time.monotonic() + patience
        while words not in self.shown:
            assert time.monotonic() < end, self.shown
            if select.select([self.handle], [], [], 0.2)[0]:
                self._read()
        return self.shown

    def all(self, patience=60):
        """Read to the end; gives the status and what was shown."""
        end = time.monotonic() + patience
        while time.monotonic() < end:
            if select.select([self.handle], [], [], 0.2)[0] and not self._read():
                break
        else:
            os.kill(self.pid, signal.SIGKILL)
        os.close(self.handle)
        _, status = os.waitpid(self.pid, 0)
        return os.waitstatus_to_exitcode(status), self.shown.replace("\r\n", "\n")

    def _read(self):
        try:
            data = os.read(self.handle, 65536)
        except OSError:  # Linux says so where the other end is closed
            return False
        self.shown += data.decode()
        return bool(data)


def in_terminal(words, columns, folder, **environment):
    return Screen(words, columns, folder, **environment).all()


@pytest.mark.parametrize("columns", WIDTHS)
@pytest.mark.parametrize("command", ["", "part", "find"])
def test_help_is_as_wide_as_the_terminal(command, columns, tmp_path, golden):
    status, shown = in_terminal([*filter(None, [command]), "--help"], columns, tmp_path)
    assert status == 0
    assert max(map(len, shown.splitlines())) <= min(columns, 88)
    golden(f"terminal/help {command or 'all'} {columns}.txt", shown)


def test_columns_stands_over_the_terminal(tmp_path):
    _, shown = in_terminal(["part", "--help"], 120, tmp_path, COLUMNS="50")
    assert max(map(len, shown.splitlines())) <= 50
    for odd in ("0", "-3", "x", "", "9" * 30):
        status, shown = in_terminal(["part", "--help"], 80, tmp_path, COLUMNS=odd)
        assert status == 0
        assert max(map(len, shown.splitlines())) <= 80
    status, shown = in_terminal(["part", "--help"], 3, tmp_path)
    assert status == 0


@pytest.mark.parametrize("columns", WIDTHS)
def test_messages_have_colours_in_a_terminal(columns, tmp_path, golden):
    (tmp_path / "a.song.txt").write_text(WRONG)
    status, shown = in_terminal(["check", "a.song.txt"], columns, tmp_path)
    assert status == 1
    golden(f"terminal/check {columns}.txt", shown.replace("\x1b", "␛"))


@pytest.mark.parametrize(
    ("words", "environment", "has"),
    [
        ([], {}, True),
        ([], {"NO_COLOR": "1"}, False),
        ([], {"NO_COLOR": ""}, True),  # no-color.org: present and not an empty string
        ([], {"TERM": "dumb"}, False),
        (["--color", "never"], {}, False),
        (["--color=always"], {"NO_COLOR": "1"}, True),
    ],
)
def test_who_wants_no_colours_has_none(words, environment, has, tmp_path):
    (tmp_path / "a.song.txt").write_text(WRONG)
    _, shown = in_terminal(["check", "a.song.txt", *words], 80, tmp_path, **environment)
    assert ("\x1b[" in shown) is has


def test_without_a_terminal_there_are_none_unless_asked_for(folder, run):
    (folder / "a.song.txt").write_text(WRONG)
    plain = run("check", "a.song.txt")[2]
    assert "\x1b" not in plain
    coloured = run("check", "a.song.txt", "--color", "always")[2]
    assert "\x1b[" in coloured
    assert _without_colours(coloured) == plain
    assert run("check", "a.song.txt")[2] == plain
    assert (
        run("check", "a.song.txt", "--color", "red")[2]
        == "arranger: expected auto, always or never after --color, found `red`\n"
    )


def _without_colours(text):
    for code in ("1", "1;31", "1;33", "2", "0"):
        text = text.replace(f"\x1b[{code}m", "")
    return text


def test_many_songs_are_summed_up_in_one_line(folder, run):
    for name in ("lanterns", "rosalie"):
        shutil.copy(SAMPLES / f"{name}.song.txt", folder)
    (folder / "wrong.song.txt").write_text(WRONG)
    status, out, _ = run("part", "lanterns.song.txt", "rosalie.song.txt", "wrong.song.txt")
    assert status == 1
    pages = sum(int(line.split(": ")[1].split()[0]) for line in out.splitlines()[:2])
    assert out.splitlines()[-1] == f"2 of 3 songs made, {pages} pages in all; 1 not: see the messages"
    assert run("part", "lanterns.song.txt")[1].count("\n") == 1
    status, out, told = run("check", "lanterns.song.txt", "rosalie.song.txt", "wrong.song.txt")
    assert (status, out, told.splitlines()[-1]) == (1, "", "3 songs checked: 1 with mistakes")
    assert run("check", "lanterns.song.txt", "rosalie.song.txt") == (0, "", "")


@pytest.mark.slow
@pytest.mark.parametrize("columns", WIDTHS)
def test_a_part_is_made_again_at_each_save(columns, tmp_path):
    song = tmp_path / "lanterns.song.txt"
    shutil.copy(SAMPLES / song.name, song)
    screen = Screen(["part", song.name, "--watch"], columns, tmp_path)
    screen.until("Ctrl-C ends it")
    first = (tmp_path / "lanterns.pdf").read_bytes()
    text = song.read_text(encoding="utf-8")
    song.write_text(text.replace("Lanterns on", "Lamps on"), encoding="utf-8")
    _wait_for(lambda: (tmp_path / "lanterns.pdf").read_bytes() != first)
    song.write_text(text.replace("| G |", "| Hx |", 1), encoding="utf-8")
    screen.until("found `Hx`")
    other = tmp_path / "other"  # as editors do that save by putting a new file in its place
    other.write_text(text, encoding="utf-8")
    other.replace(song)
    _wait_for(lambda: (tmp_path / "lanterns.pdf").read_bytes() == first)
    os.kill(screen.pid, signal.SIGINT)
    status, shown = screen.all()
    assert status == 0
    assert "Traceback" not in shown


def _wait_for(true, patience=60):
    end = time.monotonic() + patience
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_completion_knows_commands_options_and_values(shell, folder, run):
    status, out, told = run("completion", shell)
    assert (status, told) == (0, "")
    for word in ("part", "stage", "hands", "keyboard", "letters", "never"):
        assert word in out
    found = shutil.which(shell)
    if found and shell != "powershell":
        script = folder / "script"
        script.write_text(out)
        assert subprocess.run([found, "-n", str(script)], capture_output=True).returncode == 0


@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash")
def test_bash_completes(folder, run):
    (folder / "script").write_text(run("completion", "bash")[1])
    asks = """
    source ./script
    complete -p arranger >/dev/null || exit 3
    COMP_WORDS=(arranger part --hands ""); COMP_CWORD=3
    _shtab_arranger; echo "${COMPREPLY[@]}"
    """
    done = subprocess.run(["bash", "-c", asks], capture_output=True, text=True, cwd=folder)
    assert set(done.stdout.split()) == {"keyboard", "staff", "letters"}, done.stderr


def test_shells_that_are_not_known(run):
    assert run("completion", "tcsh")[0] == 2
    assert "expected bash, zsh, fish or powershell, found `tcsh`" in run("completion", "tcsh")[2]
