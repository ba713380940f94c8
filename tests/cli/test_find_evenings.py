"""`arranger find --set`: when songs were played."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def songs(folder: Path) -> Path:
    """Return a folder with three songs and two evenings."""
    for name, title in (("a", "Apple Boat"), ("b", "Bell Buoy"), ("c", "Cold Harbour")):
        (folder / f"{name}.song.txt").write_text(f"song {title}\nkey C\nsection V\n| C | G |\n", encoding="utf-8")
    (folder / "sets").mkdir()
    (folder / "1 supper.set.txt").write_text(
        "set Supper\ndate 29 November\nplace the loft\nsong a.song.txt\nkey E\nsong b.song.txt\n", encoding="utf-8"
    )
    (folder / "sets" / "2.set.txt").write_text(
        "set Fair\nsong ../b.song.txt\nsong ./../a.song.txt\nsong ../a.song.txt\n", encoding="utf-8"
    )
    return folder


def test_under_each_song_stands_when_it_was_played(run: Run, songs: Path) -> None:
    status, out, err = run("find", "--set")
    assert (status, err) == (0, "")
    assert [line.split("  ")[0] if not line.startswith(" ") else line for line in out.splitlines()] == [
        "Apple Boat",
        "    29 November, the loft: Supper, 1 of 2, in E (1 supper.set.txt)",
        "    Fair, 2 of 3 (sets/2.set.txt)",
        "    Fair, 3 of 3 (sets/2.set.txt)",
        "Bell Buoy",
        "    29 November, the loft: Supper, 2 of 2 (1 supper.set.txt)",
        "    Fair, 1 of 3 (sets/2.set.txt)",
        "Cold Harbour",
        "    in no running order",
    ]


def test_with_words_and_for_programs(run: Run, songs: Path) -> None:
    _, out, _ = run("find", "bell", "--set", "--json")
    (song,) = json.loads(out)["found"]
    assert [(play["evening"], play["number"], play["of"]) for play in song["sets"]] == [
        ("Supper", 2, 2),
        ("Fair", 1, 3),
    ]
    _, out, _ = run("find", "bell", "--json")
    assert "sets" not in json.loads(out)["found"][0]


def test_a_running_order_with_mistakes_is_read_as_far_as_it_can_be(run: Run, songs: Path) -> None:
    (songs / "3.set.txt").write_text("set Late\nsong c.song.txt\nmeter 3/4\nthen dance\n", encoding="utf-8")
    (songs / "4.set.txt").write_bytes(b"\xff\xfe\x00")
    status, out, err = run("find", "cold", "--set")
    assert status == 0 and "Late, 1 of 1 (3.set.txt)" in out
    assert "3.set.txt has mistakes" in err and "4.set.txt has mistakes" in err
