"""The command as a process: what it loads, closed pipes, full disks, Ctrl-C, terminals of other encodings."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import arranger
from arranger import cli
from arranger.text.source import Source

ROOT = Path(__file__).parents[2]
LANTERNS = ROOT / "samples" / "lanterns.song.txt"
ARRANGER = [sys.executable, "-m", "arranger"]


def around(**more):
    """Give the environment of a process: that of the test, and the program."""
    return {**os.environ, "PYTHONPATH": str(ROOT), **more}


def run(*words, **settings):
    """Run the command; output and messages as text."""
    environment = around(**{"PYTHONUTF8": "1", **settings.pop("env", {})})
    return subprocess.run(
        [*ARRANGER, *map(str, words)], capture_output=True, text=True, encoding="utf-8", env=environment, **settings
    )


def loaded_by(*words: str) -> set[str]:
    """Give the modules that a command line has loaded when it ends."""
    code = f"import sys; from arranger.cli import main; main({list(words)!r}); print(*sys.modules, file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=around())
    return set(done.stderr.splitlines()[-1].split())


@pytest.mark.parametrize("words", [("--help",), ("--version",), ("part", "--help"), ()])
def test_help_and_version_load_no_stage(words):
    loaded = loaded_by(*words)
    ours = {name for name in loaded if name.startswith("arranger.")}
    assert ours == {"arranger.cli", "arranger.late", "arranger.settings"}
    assert not loaded & {"lark", "reportlab", "dataclasses", "pathlib", "typing", "shutil"}


@pytest.mark.parametrize("words", [("part",), ("check",)])
def test_a_mistake_in_a_song_loads_no_later_stage(words, tmp_path):
    wrong = tmp_path / "wrong.song.txt"
    wrong.write_text("song A\nkey D\nsection A\n| H |\n", encoding="utf-8")
    loaded = loaded_by(*words, str(wrong))
    assert "arranger.song.mistakes" in loaded
    assert not loaded & {"arranger.pipeline", "arranger.harmony.arrange", "arranger.layout.model", "arranger.pdf"}
    assert not loaded & {"reportlab", "tomllib"}


def test_a_song_without_mistakes_loads_no_hints_and_no_pictures(tmp_path):
    loaded = loaded_by("part", str(LANTERNS), "-o", str(tmp_path / "part.pdf"))
    assert "arranger.pdf.write" in loaded
    assert not loaded & {"difflib", "tomllib", "PIL", "PIL.Image", "arranger.song.mistakes"}
    assert not loaded & {"arranger.habits.free_form", "arranger.habits.slips", "arranger.habits.unknown_lines"}


def test_python_m_arranger():
    done = run("--version")
    assert (done.returncode, done.stdout) == (0, f"arranger {arranger.__version__}\n")


@pytest.mark.slow
def test_a_reader_that_goes_away():
    """`arranger show SONG | head -1`: nothing is said, and Python adds nothing when it ends."""
    with subprocess.Popen(
        [*ARRANGER, "show", LANTERNS, "--json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=around()
    ) as process:
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == cli.PIPE_CLOSED


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_under_the_output():
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*ARRANGER, "show", LANTERNS], stdout=full, stderr=subprocess.PIPE, text=True, env=around()
        )
    assert done.returncode == 2
    assert done.stderr.lower() == "arranger: the output cannot be written: no space left on device\n"


WAITS = """import sys, time
from arranger import cli, files
def wait(path):
    sys.stdout.write("reading\\n")
    sys.stdout.flush()
    time.sleep(60)
files.read = wait
sys.exit(cli.main())
"""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no /dev/full")
def test_a_full_disk_under_the_messages(tmp_path):
    (tmp_path / "a.song.txt").write_text("song A\nkey D\nsection A\n| H |\n")
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*ARRANGER, "check", tmp_path / "a.song.txt"], stdout=subprocess.PIPE, stderr=full, env=around()
        )
    assert (done.returncode, done.stdout) == (2, b"")


@pytest.mark.skipif(os.name == "nt", reason="Windows stops processes in another way")
def test_ctrl_c(tmp_path):
    """The command is stopped while it reads its song."""
    song = tmp_path / "waits.song.txt"
    song.write_bytes(LANTERNS.read_bytes())
    with subprocess.Popen(
        [sys.executable, "-c", WAITS, "part", song],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=around(),
    ) as process:
        assert process.stdout.readline() == "reading\n"
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=20)
    assert (process.returncode, out, err) == (cli.STOPPED, "", "arranger: stopped\n")
    assert [p.name for p in tmp_path.iterdir()] == ["waits.song.txt"]


@pytest.mark.slow
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
    done = subprocess.run([*ARRANGER, "check", song], capture_output=True, env=around())
    assert done.returncode == 1
    assert b"\x1b" not in done.stderr
    assert "low��[31mtide.song.txt:4:3: error".encode() in done.stderr


@pytest.mark.slow
def test_nothing_in_a_song_steers_the_terminal(tmp_path):
    song = tmp_path / "a.song.txt"
    song.write_text("song Up \u202eside\nkey D\nsection A\n| D |\nsing | \u202eabc |\n", encoding="utf-8")
    for words in (["show", song], ["show", song, "--json"], ["check", song]):
        done = run(*words)
        assert "\u202e" not in done.stdout + done.stderr


@pytest.mark.skipif(os.name == "nt", reason="there it is the shell of another system")
@pytest.mark.parametrize("words", [["show", LANTERNS], ["show", LANTERNS, "--json"], ["check", LANTERNS], ["player"]])
def test_an_output_that_is_closed(words):
    closed = subprocess.run(
        ["sh", "-c", 'exec "$0" "$@" >&-', *ARRANGER, *map(str, words)],
        stderr=subprocess.PIPE,
        text=True,
        env=around(),
    )
    assert (closed.returncode, closed.stderr) == (2, "arranger: the output cannot be written: it is closed\n")


@pytest.mark.skipif(os.name == "nt", reason="there it is the shell of another system")
def test_messages_that_nobody_hears_do_not_get_into_the_output(tmp_path):
    (tmp_path / "a.song.txt").write_text("song A\nkey D\nsection A\n| H |\n")
    done = subprocess.run(
        ["sh", "-c", 'exec "$0" "$@" 2>&-', *ARRANGER, "check", tmp_path / "a.song.txt"],
        stdout=subprocess.PIPE,
        env=around(),
    )
    assert (done.returncode, done.stdout) == (1, b"")


@pytest.mark.skipif(os.name == "nt", reason="a folder that one stands in cannot be removed there")
def test_a_folder_that_is_gone(tmp_path):
    gone = tmp_path / "gone"
    gone.mkdir()
    code = f"import os; os.rmdir({str(gone)!r}); from arranger.cli import main; raise SystemExit(main(['check', 'a']))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=gone, env=around())
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "arranger: the folder that you stand in is not there any more\n"


DISTURBANCES = {
    "SOURCE_DATE_EPOCH": "yesterday",
    "EVAL_DEBUG": "no number",
    "RL_documentLang": "xx-XX",
    "RL_pdfMultiLine": "1",
    "RL_pdfComments": "1",
    "RL_invariant": "perhaps",
    "RL_pageCompression": "0",
    "RL_useA85": "1",
    "RL_xmlParser": "of no kind",
}


@pytest.mark.slow
def test_nothing_around_changes_the_bytes_or_is_run(tmp_path):
    """What the PDF library takes from the environment, the player's folder and from beside other modules."""
    home, beside = tmp_path / "home", tmp_path / "beside"
    for folder in (home, beside):
        folder.mkdir()
    trap = f"open({str(tmp_path / 'run')!r}, 'w').close()\npageCompression = 0\n"
    for path in (home / ".reportlab_settings", home / ".reportlab_mods"):
        path.write_text(trap)
    plain, disturbed, beset = (tmp_path / f"{name}.pdf" for name in ("plain", "disturbed", "beset"))
    settings = {"HOME": str(home), "USERPROFILE": str(home)}
    assert run("part", LANTERNS, "-o", plain).returncode == 0
    for target, around in ((disturbed, DISTURBANCES), (beset, {"PYTHONPATH": f"{ROOT}{os.pathsep}{beside}"})):
        done = run("part", LANTERNS, "-o", target, env=settings | around)
        assert (done.returncode, done.stderr) == (0, "")
        assert target.read_bytes() == plain.read_bytes()
        for name in ("reportlab_settings.py", "reportlab_mods.py"):
            (beside / name).write_text(trap)
    assert not (tmp_path / "run").exists()


@pytest.mark.parametrize(
    "fault", [ZeroDivisionError("of no use"), RecursionError("too deep"), MemoryError(), KeyError()]
)
@pytest.mark.parametrize("command", ["part", "stage", "check", "tidy", "show", "convert"])
def test_a_fault_names_its_song_and_the_next_one_follows(tmp_path, monkeypatch, capsys, command, fault):
    """The fault is in the first step that all commands share: making a source of a file's bytes."""
    monkeypatch.chdir(tmp_path)
    sheet = "Tide\n\nD      G\nSand in the pockets\nA      D\nSalt\n"
    song = "song      Tide\nkey       D\n\nsection   Verse\n| D | G |\n"
    names = ["b.txt"] if command == "show" else ["a.txt", "b.txt", "c.txt"]
    for name in names:
        Path(name).write_text(sheet if command == "convert" else song)
    for name in ("b.pdf", "b.stage.pdf", "b.song.txt") if command != "convert" else ():
        Path(name).write_bytes(b"kept")
    decode = Source.of

    def fail(name, text):
        if name == "b.txt":
            raise fault
        return decode(name, text)

    monkeypatch.setattr(Source, "of", fail)
    monkeypatch.delenv(cli.TRACEBACK, raising=False)
    assert cli.main([command, *names, *(["--force"] if command in ("part", "stage") else [])]) == cli.BROKEN
    out, err = capsys.readouterr()
    assert "arranger: b.txt: " in err and "Traceback" not in err
    what = "the memory of this machine does not suffice" if isinstance(fault, MemoryError) else type(fault).__name__
    assert what in err and "; what was there of it stays\n" in err
    assert ("a." in out) is ("c." in out) is (command not in ("check", "show"))
    assert Path("b.txt").read_text() == (sheet if command == "convert" else song)
    assert command == "convert" or {Path(name).read_bytes() for name in ("b.pdf", "b.stage.pdf")} == {b"kept"}
    monkeypatch.setenv(cli.TRACEBACK, "1")
    with pytest.raises(type(fault)):
        cli.main([command, "b.txt", *(["--force"] if command in ("part", "stage") else [])])


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


@pytest.mark.slow
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
