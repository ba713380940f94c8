"""The command as a process: what it loads, closed pipes, full disks, Ctrl-C, terminals of other encodings."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import arranger
from arranger import cli

ROOT = Path(__file__).parents[2]
LANTERNS = ROOT / "samples" / "lanterns.song.txt"
ARRANGER = [sys.executable, "-m", "arranger"]


def run(*words, **settings):
    """Run the command; output and messages as text."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", **settings.pop("env", {})}
    return subprocess.run(
        [*ARRANGER, *map(str, words)], capture_output=True, text=True, encoding="utf-8", env=environment, **settings
    )


def loaded_by(*words: str) -> set[str]:
    """Give the modules that a command line has loaded when it ends."""
    code = f"import sys; from arranger.cli import main; main({list(words)!r}); print(*sys.modules, file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    return set(done.stderr.splitlines()[-1].split())


@pytest.mark.parametrize("words", [("--help",), ("--version",), ("part", "--help"), ()])
def test_help_and_version_load_no_stage(words):
    loaded = loaded_by(*words)
    ours = {name for name in loaded if name.startswith("arranger.")}
    assert ours == {"arranger.arguments", "arranger.cli"}
    assert not loaded & {"lark", "reportlab", "dataclasses", "pathlib", "typing", "shutil"}


def test_python_m_arranger():
    done = run("--version")
    assert (done.returncode, done.stdout) == (0, f"arranger {arranger.__version__}\n")


def test_a_reader_that_goes_away():
    """`arranger show SONG | head -1`: nothing is said, and Python adds nothing when it ends."""
    with subprocess.Popen(
        [*ARRANGER, "show", LANTERNS, "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as process:
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == cli.PIPE_CLOSED


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_under_the_output():
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*ARRANGER, "show", LANTERNS],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
    assert done.returncode == 2
    assert done.stderr.lower() == "arranger: the output cannot be written: no space left on device\n"


@pytest.mark.skipif(os.name == "nt", reason="Windows stops processes in another way")
def test_ctrl_c(tmp_path):
    """The song is a pipe that nobody writes to: the command waits until it is stopped."""
    pipe = tmp_path / "waits.song.txt"
    os.mkfifo(pipe)
    with subprocess.Popen(
        [*ARRANGER, "part", pipe],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    ) as process:
        writer = os.open(pipe, os.O_WRONLY)  # opens when the command has opened its end
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=20)
        os.close(writer)
    assert (process.returncode, out, err) == (cli.STOPPED, "", "arranger: stopped\n")
    assert [p.name for p in tmp_path.iterdir()] == ["waits.song.txt"]


def test_an_output_that_cannot_show_every_character(tmp_path):
    song = tmp_path / "café ☕.song.txt"
    song.write_text("song Café ☕\nkey D\nsection A\n| D | G |\n", encoding="utf-8")
    done = run("show", song, env={"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"})
    assert done.returncode == 0
    assert done.stdout.startswith("Caf\\xe9 \\u2615 \\xb7 D major")
    as_json = run("show", song, "--json", env={"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"})
    assert '"title": "Café ☕"' in as_json.stdout


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="names of files are Unicode there")
def test_a_name_that_is_no_text(tmp_path):
    song = tmp_path / os.fsdecode(b"low\xff\x1b[31mtide.song.txt")
    song.write_bytes(b"song A\nkey D\nsection A\n| H |\n")
    done = subprocess.run([*ARRANGER, "check", song], capture_output=True, env={**os.environ, "PYTHONPATH": str(ROOT)})
    assert done.returncode == 1
    assert b"\x1b" not in done.stderr
    assert "low��[31mtide.song.txt:4:3: error".encode() in done.stderr


def test_nothing_in_a_song_steers_the_terminal(tmp_path):
    song = tmp_path / "a.song.txt"
    song.write_text("song Up \u202eside\nkey D\nsection A\n| D |\nsing | \u202eabc |\n", encoding="utf-8")
    for words in (["show", song], ["show", song, "--json"], ["check", song]):
        done = run(*words)
        assert "\u202e" not in done.stdout + done.stderr


def test_a_fault_of_the_program_is_owned(monkeypatch, capsys):
    def fail(options):
        raise ZeroDivisionError("of no use")

    monkeypatch.setattr("arranger.commands.check.run", fail)
    monkeypatch.delenv(cli.TRACEBACK, raising=False)
    assert cli.main(["check", "a.song.txt"]) == cli.BROKEN
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("arranger: this is a fault of the program, not of your song: ZeroDivisionError: of no use\n")
    assert "Traceback" not in err
    monkeypatch.setenv(cli.TRACEBACK, "1")
    with pytest.raises(ZeroDivisionError):
        cli.main(["check", "a.song.txt"])


def limited_to_a_gibibyte() -> None:
    import resource  # not on Windows

    resource.setrlimit(resource.RLIMIT_AS, (1 << 30, 1 << 30))


@pytest.mark.skipif(sys.platform != "linux", reason="memory is limited in the way of Linux")
def test_sections_that_all_follow_each_other_need_no_gibibyte(tmp_path):
    """The whole is told not to be proven; the next lines say what another hand costs where the others stay."""
    names = [chr(ord("A") + i) for i in range(26)] + ["Aa", "Bb", "Cc", "Dd"]
    road = ", ".join(f"{one}, {two}" for i, one in enumerate(names) for two in names[i + 1 :])
    chords = ("C", "Dm", "Em", "F", "G", "Am", "G7", "Fmaj7", "D7")
    sections = "\n".join(f"section {name}\n| {chords[i % 9]} |" for i, name in enumerate(names))
    song = tmp_path / "all.song.txt"
    song.write_text(f"song All\nkey C\ntempo 80\nroadmap {road}\n\n{sections}\n")
    done = run("show", song, preexec_fn=limited_to_a_gibibyte)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1].startswith("Not proven: ")
    done = run("show", song, "--why", "1", preexec_fn=limited_to_a_gibibyte)
    assert done.returncode == 0, done.stderr
    assert "where all other hands stay" in done.stdout
