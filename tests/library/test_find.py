"""Songs looked up: what is found and in which order, and that the database is never more than a help."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from arranger.library import find, reading
from arranger.library.catalogue import SongFacts, terms_of
from arranger.library.find import Findings, Wanted, open_songs, songs_path
from arranger.library.store import remove


def song(title: str, sung: str = "", key: str = "D", tempo: str = "72", meter: str = "4/4") -> str:
    words = f"sing | {sung} |\n" if sung else ""
    return f"song {title}\nkey {key}\ntempo {tempo}\nmeter {meter}\nsection Verse\n| {key} |\n{words}"


SONGS = {
    "lanterns": song("Lanterns on the Harbour", "we hung them one by one along the wall"),
    "ferry": song("Night Ferry", "the lantern on the harbour light", "Dm", "dotted 56", "6/8"),
    "deep/der/été": song("L’Été à Łódź", "Straße im Sommer, don't go", "F#", "free"),
    "harbour": song("Harbour", "nothing to see", "Gb", "120"),
    "sea": song("海の歌", "青い海と空", "Bb", "half 60", "2/2"),
    "broken": "song Broken Lantern\nkey D\ntempo 72\nsection Verse\n| Q |\nsing | out on the water\nwhat is this\n",
}


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(find, "cache_folder", lambda: tmp_path / "cache")
    return tmp_path / "cache"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "songs"
    for name, text in SONGS.items():
        path = folder / f"{name}.song.txt"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        os.utime(path, ns=(10**18, 10**18))  # long ago, so that nothing has to be looked at twice
    return folder


@pytest.fixture(params=["full text", "plain"])
def either(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """With and without full-text search in SQLite."""
    if request.param == "plain":
        monkeypatch.setattr(find, "_FULL_TEXT", "CREATE VIRTUAL TABLE texts USING left_out_of_this_build (title)")
    yield request.param


def look(folder: Path, *words: str, **wanted: object) -> Findings:
    return find.find(str(folder), Wanted(terms_of(words), **wanted))  # type: ignore[arg-type]


def look_in_what_is_kept(folder: Path, *words: str) -> Findings:
    """Look songs up in the database that is kept, and nowhere else where that cannot be used."""
    return find._find(str(folder), songs_path(folder), Wanted(terms_of(words)), None, lambda _: None)


def titles(found: Findings) -> list[str]:
    return [match.facts.title for match in found.matches]


def test_titles_come_before_words(folder: Path, either: str) -> None:
    found = look(folder, "harbour")
    assert titles(found) == ["Harbour", "Lanterns on the Harbour", "Night Ferry"]
    assert found.total == 3 and found.songs == len(SONGS)
    assert found.matches[2].place == ("Verse", "the lantern on the harbour light")


def test_whole_words_come_before_beginnings(folder: Path, either: str) -> None:
    assert titles(look(folder, "lantern")) == ["Broken Lantern", "Lanterns on the Harbour", "Night Ferry"]
    assert titles(look(folder, "lanterns")) == ["Lanterns on the Harbour"]


def test_every_word_must_be_there(folder: Path, either: str) -> None:
    assert titles(look(folder, "light", "FERRY")) == ["Night Ferry"]
    assert titles(look(folder, "wall", "ferry")) == []


def test_words_in_quotes_belong_together(folder: Path, either: str) -> None:
    for words in (["one by one"], ['"one by', 'one"'], ["“one by one” wall"]):
        assert titles(look(folder, *words)) == ["Lanterns on the Harbour"]
    found = look(folder, "by one one")
    assert titles(found) == [] and found.apart == 1
    assert look(folder, "one by on").apart == 1  # in quotes the last word is whole


@pytest.mark.parametrize("word", ["ETE", "été", "l'été", "lodz", "ŁÓDŹ", "strasse", "don't", "don’t"])
def test_accents_case_and_apostrophes_do_not_matter(folder: Path, either: str, word: str) -> None:
    assert titles(look(folder, word)) == ["L’Été à Łódź"]


@pytest.mark.parametrize("word", ["海", "海の", "の歌", "海と空"])
def test_scripts_without_blanks_are_found_by_any_sign(folder: Path, either: str, word: str) -> None:
    assert titles(look(folder, word)) == ["海の歌"]


def test_keys_that_sound_alike_are_found_together(folder: Path) -> None:
    assert titles(look(folder, sounds=(6,))) == ["Harbour", "L’Été à Łódź"]
    assert titles(look(folder, sounds=(2,))) == ["Broken Lantern", "Lanterns on the Harbour"]
    assert titles(look(folder, sounds=(14,))) == ["Night Ferry"]


def test_tempo_and_meter(folder: Path) -> None:
    assert titles(look(folder, tempo=(56, 60))) == ["Night Ferry", "海の歌"]
    assert titles(look(folder, tempo=(60, 80), meter="4/4")) == ["Broken Lantern", "Lanterns on the Harbour"]
    found = look(folder, "ferry", tempo=(60, 80))
    assert found.total == 0 and found.elsewhere == 1


def test_songs_with_errors_are_found_by_what_can_be_read(folder: Path) -> None:
    (match,) = look(folder, "water").matches
    assert (match.facts.title, match.facts.key, match.facts.tempo, match.facts.errors > 0) == (
        "Broken Lantern",
        "D",
        "72",
        True,
    )
    (folder / "latin.song.txt").write_bytes(b"song Caf\xe9\nkey D\n")
    (match,) = look(folder, "caf").matches
    assert match.facts.errors == 1


def test_where_nothing_is_found_near_titles_are_told(folder: Path, either: str) -> None:
    assert look(folder, "lantrens", "harbor").near[0] == "Lanterns on the Harbour"
    assert look(folder, "xyzzy").near == ()


def test_as_many_as_are_asked_for(folder: Path) -> None:
    found = find.find(str(folder), Wanted(terms_of(["harbour"])), 2)
    assert len(found.matches) == 2 and found.total == 3


signs = st.text(st.sampled_from('aé海*"“”()^:+-{}~|&\\\x00;\n OR AND NOT NEAR title'), max_size=20)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.lists(signs, max_size=4))
def test_no_question_is_a_mistake(folder: Path, words: list[str]) -> None:
    look(folder, *words)


# The database is a help and no more.


def reads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Give a list to which the names of songs are added that are parsed from then on."""
    parsed: list[str] = []
    real = reading.read_song

    def noting(name: str, *others: object) -> tuple[SongFacts, reading.SungLines]:
        parsed.append(name)
        return real(name, *others)  # type: ignore[arg-type]

    monkeypatch.setattr(reading, "read_song", noting)
    return parsed


def test_only_what_has_changed_is_read(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    parsed = reads(monkeypatch)
    look(folder, "x")
    assert sorted(parsed) == sorted(f"{name}.song.txt" for name in SONGS)
    parsed.clear()
    look(folder, "x")
    assert parsed == []
    (folder / "harbour.song.txt").write_text(song("Haven"))
    assert titles(look(folder, "haven")) == ["Haven"] and titles(look(folder, "nothing to see")) == []
    assert parsed == ["harbour.song.txt"]
    parsed.clear()
    os.utime(folder / "ferry.song.txt", ns=(10**18 + 10, 10**18 + 10))  # another time, the same song
    assert titles(look(folder, "ferry")) == ["Night Ferry"]
    assert parsed == []


def test_a_song_changed_twice_in_a_moment_is_seen(folder: Path) -> None:
    """Of the same size, and at the same time of change as the system counts it."""
    path = folder / "harbour.song.txt"
    path.write_text(song("Haven"))
    moment = path.stat().st_mtime_ns
    assert titles(look(folder, "haven")) == ["Haven"]
    path.write_text(song("Maven"))
    os.utime(path, ns=(moment, moment))
    assert titles(look(folder, "maven")) == ["Maven"]


@pytest.mark.skipif(sys.platform == "win32", reason="files have no such time there")
def test_a_song_put_back_to_its_time_is_seen(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the same size and time of change, long ago: as tools leave files that keep their times."""
    path = folder / "harbour.song.txt"
    path.write_text(song("Haven"))
    os.utime(path, ns=(10**18, 10**18))
    assert titles(look(folder, "haven")) == ["Haven"]
    monkeypatch.setattr(find, "COARSE_NS", -(10**18))  # nothing is in doubt
    path.write_text(song("Maven"))
    os.utime(path, ns=(10**18, 10**18))
    assert titles(look(folder, "maven")) == ["Maven"]


def test_a_fault_of_the_program_in_one_song_leaves_the_others_findable(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = reading.read_song

    def record(name: str, *others: object) -> tuple[SongFacts, reading.SungLines]:
        if name == "sea.song.txt":
            raise RecursionError("too deep")
        return real(name, *others)  # type: ignore[arg-type]

    monkeypatch.setattr(reading, "read_song", record)
    found = look(folder, "ferry")
    assert titles(found) == ["Night Ferry"]
    message = "cannot be read: a fault of the program, RecursionError: too deep"
    assert [(problem.name, problem.message) for problem in found.problems] == [("sea.song.txt", message)]


def test_removed_and_renamed_songs(folder: Path) -> None:
    look(folder, "x")
    (folder / "harbour.song.txt").unlink()
    (folder / "ferry.song.txt").rename(folder / "night.song.txt")
    found = look(folder, "harbour")
    assert [match.facts.file for match in found.matches] == ["lanterns.song.txt", "night.song.txt"]


def test_what_cannot_be_read_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    look(folder, "x")
    (folder / "gone.song.txt").symlink_to("nowhere.song.txt")
    path = folder / "harbour.song.txt"
    path.write_text(song("Haven"))

    def refused(path: Path) -> bytes:
        if path.name == "harbour.song.txt":
            raise PermissionError(13, "Permission denied")
        return path.read_bytes()

    with monkeypatch.context() as patched:
        patched.setattr(reading, "read_bytes", refused)
        found = look(folder, "harbour")
    assert [problem.name for problem in found.problems] == ["gone.song.txt", "harbour.song.txt"]
    assert found.problems[1].message == "cannot be read: permission denied"
    assert titles(found) == ["Lanterns on the Harbour", "Night Ferry"]
    assert titles(look(folder, "haven")) == ["Haven"]


def spoil_with_nonsense(path: Path) -> None:
    path.write_bytes(b"this is no database\n" * 400)


def spoil_by_emptying(path: Path) -> None:
    path.write_bytes(b"")


def spoil_by_cutting(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: 3 * 4096 + 100])


def spoil_inside(path: Path) -> None:
    """Leave the first page, which says what the database is, and fill all others with nonsense."""
    data = path.read_bytes()
    path.write_bytes(data[:4096] + b"\xa5" * (len(data) - 4096))


def spoil_by_another_program(path: Path) -> None:
    path.unlink()
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE songs (title TEXT)")
    other.close()


def spoil_by_another_version(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("UPDATE lines SET line = CAST('0.0.1 0' AS BLOB)")
        other.execute("UPDATE songs SET title = 'of yesterday'")
    other.close()


def spoil_with_other_values(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("UPDATE songs SET size = 'many', lines = 5, bpm = 'quick'")
    other.close()


def spoil_with_words_that_are_no_text(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("UPDATE songs SET title = CAST(X'ff41' AS TEXT)")
    other.close()


def spoil_without_a_column(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("ALTER TABLE songs RENAME COLUMN beat TO pulse")
    other.close()


def spoil_by_forbidding_to_write(path: Path) -> None:
    """Say in the header that a later SQLite has written it: this one may then read it alone."""
    data = path.read_bytes()
    path.write_bytes(data[:18] + b"\x09" + data[19:])


def spoil_the_lock_too(path: Path) -> None:
    path.write_bytes(b"")
    path.with_name(path.name + find.LOCK).write_bytes(b"this is no database\n" * 400)


@pytest.mark.parametrize(
    "spoil",
    [
        spoil_with_nonsense,
        spoil_by_emptying,
        spoil_by_cutting,
        spoil_inside,
        spoil_by_another_program,
        spoil_by_another_version,
        spoil_with_other_values,
        spoil_with_words_that_are_no_text,
        spoil_without_a_column,
        spoil_by_forbidding_to_write,
        spoil_the_lock_too,
    ],
)
def test_a_database_that_cannot_be_used_is_made_anew(folder: Path, spoil: object) -> None:
    expected = look(folder, "harbour")
    path = songs_path(folder)
    spoil(path)  # type: ignore[operator]
    (folder / "more.song.txt").write_text(song("More"))  # so that something is to be written
    expected = expected._replace(songs=len(SONGS) + 1)
    assert look(folder, "harbour") == expected
    assert look(folder, "harbour") == expected
    assert look_in_what_is_kept(folder, "harbour") == expected


def test_no_damage_to_a_database_is_a_fault(folder: Path) -> None:
    look(folder, "x")
    path = songs_path(folder)
    whole = path.read_bytes()
    for number in range(40):
        chance = random.Random(number)
        data = bytearray(whole)
        for _ in range(chance.choice((1, 20, 2000))):
            data[chance.randrange(len(data))] = chance.randrange(256)
        path.write_bytes(data[: chance.choice((len(data), chance.randrange(len(data))))])
        assert look(folder, "harbour").songs == len(SONGS)
        assert look(folder, tempo=(60, 80)).songs == len(SONGS)
        assert look(folder, "lantrens").songs == look_in_what_is_kept(folder, "lantrens").songs == len(SONGS)


def test_a_database_without_its_search_is_made_anew(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As where another Python was built without it: a module of tables that is not there."""
    expected = look(folder, "harbour")
    path = songs_path(folder)
    with sqlite3.connect(path) as other:
        other.execute("PRAGMA writable_schema = ON")
        other.execute("UPDATE sqlite_master SET sql = replace(sql, 'fts5', 'fts9') WHERE name = 'texts'")
    other.close()
    assert look(folder, "harbour") == expected


def test_where_nothing_can_be_kept_songs_are_found_all_the_same(folder: Path, cache: Path) -> None:
    cache.write_text("a file where the folder should be")
    assert titles(look(folder, "ferry")) == ["Night Ferry"]


def test_a_full_disk_is_no_obstacle(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = find.SongStore.change

    def full(self: find.SongStore, *changes: object) -> None:
        if self.rows("PRAGMA database_list")[0][2]:  # kept in a file
            raise sqlite3.OperationalError("database or disk is full")
        real(self, *changes)  # type: ignore[arg-type]

    monkeypatch.setattr(find.SongStore, "change", full)
    assert titles(look(folder, "ferry")) == ["Night Ferry"]


def test_another_run_that_writes_is_waited_for_and_not_harmed(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    look(folder, "x")
    (folder / "harbour.song.txt").write_text(song("Haven"))
    monkeypatch.setattr(find, "PATIENCE", 0.05)
    path = songs_path(folder)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    waits: list[bool] = []
    found = find.find(str(folder), Wanted(terms_of(["haven"])), None, lambda _: None, lambda: waits.append(True))
    assert (titles(found), waits) == (["Haven"], [True])  # from memory, this once
    other.execute("ROLLBACK")
    other.close()
    assert path.is_file() and titles(look(folder, "haven")) == ["Haven"]


def test_what_others_write_between_two_queries_is_not_seen(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another run puts songs in again under other numbers, while this one has asked for some and not yet for all."""
    whole = titles(look(folder, ""))
    real = find._matches

    def disturbed(store: find.SongStore, *asked: object) -> object:
        other = sqlite3.connect(songs_path(folder), timeout=0.01, isolation_level=None)
        with contextlib.suppress(sqlite3.OperationalError):  # it would wait until this run has been answered
            other.execute("DELETE FROM songs")
        other.close()
        return real(store, *asked)  # type: ignore[arg-type]

    begun_anew: list[object] = []
    monkeypatch.setattr(find, "_matches", disturbed)
    monkeypatch.setattr(find, "remove", begun_anew.append)
    assert titles(look(folder, "")) == whole != []
    assert begun_anew == []


RUN = """
import os, signal, sys
from pathlib import Path
from arranger.library import find, reading
find.cache_folder = lambda: Path(sys.argv[2])
find.AT_ONCE = 5
if sys.argv[3] == "die":  # while its workers are at work
    reading.POOL_FROM, os.cpu_count = 2, lambda: 2
    find.SongStore.change = lambda *changes: os.kill(os.getpid(), signal.SIGKILL)
found = find.find(sys.argv[1], find.Wanted((find.Term(("gull",), False),)))
print(found.total, found.songs)
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no signals there")
def test_runs_at_once_and_runs_killed_do_no_harm(tmp_path: Path, cache: Path) -> None:
    folder = tmp_path / "many"
    folder.mkdir()
    for number in range(60):
        (folder / f"{number}.song.txt").write_text(song(f"Gull {number}"))

    def start(end: str = "live") -> subprocess.Popen[str]:
        return subprocess.Popen([sys.executable, "-c", RUN, folder, cache, end], stdout=subprocess.PIPE, text=True)

    for patience in (0.15, 0.25, 0.3):
        with start() as killed:
            time.sleep(patience)
            killed.kill()
    with start("die") as killed:
        killed.communicate(timeout=20)  # its workers hold the same output, so they have ended too
        assert killed.returncode == -signal.SIGKILL
    runs = [start() for _ in range(3)]
    assert [run.communicate()[0] for run in runs] == ["60 60\n"] * 3
    opened = open_songs(songs_path(folder))
    assert opened.rows("PRAGMA integrity_check") == [("ok",)]
    assert len(opened.seen()) == 60
    opened.close()


def test_many_songs_are_read_by_several_processes(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    expected = look(folder, "harbour")
    remove(songs_path(folder))
    monkeypatch.setattr(reading, "POOL_FROM", 2)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    assert look(folder, "harbour") == expected


def test_where_there_are_no_processes_one_reads_all(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    expected = look(folder, "harbour")
    remove(songs_path(folder))

    def none(*_: object, **__: object) -> None:
        raise OSError("no semaphores here")

    monkeypatch.setattr(reading, "POOL_FROM", 2)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    monkeypatch.setattr(reading, "Pool", none)
    assert look(folder, "harbour") == expected
