"""Running orders and studies on the desk: the same bytes and the same words as the commands', nothing from outside."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from arranger.desk.answers import answer
from arranger.desk.day_choices import BadQuestionError
from arranger.desk.engine import EACH, LONGEST, MOST_EACH, longest
from arranger.desk.evening_answers import QUESTIONS
from arranger.desk.folder import FolderStore
from arranger.desk.server import OF_AN_EVENING
from tests.desk.conftest import ROOT

FOLDER = ROOT / "samples"
SUPPER = "harvest supper.set.txt"
SHORT = "set Two\n\nsong lanterns.song.txt\nkey E\nthen pad\n\nsong rosalie.song.txt\n"
SONG = "song A\nkey C\n\nsection V\n| C | F |\n"


def asked(ask, text, name="evening.set.txt", folder=FOLDER, **more):
    """Ask about a running order as the server does, with the songs of a folder."""
    named = answer({"ask": "named", "text": text})
    songs = FolderStore(folder, None).named(name, named["files"])
    return answer({
        "ask": ask, "text": text, "name": name, "songs": list(map(list, songs)), "count": named["count"], **more,
    })  # fmt: skip


def command(*words, cwd=FOLDER):
    done = subprocess.run(
        [sys.executable, "-m", "arranger", *words], cwd=cwd, capture_output=True, text=True, check=False,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "HOME": "/nonexistent", "LANG": "C.UTF-8"},
    )  # fmt: skip
    return done.returncode, done.stderr


def own_text(picture):
    """Return the texts of a picture of a page, without markup."""
    import re

    return re.findall(r">([^<>]+)</text>", picture)


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    """A folder with a running order of two songs."""
    folder = tmp_path_factory.mktemp("short")
    for name in ("lanterns.song.txt", "rosalie.song.txt"):
        (folder / name).write_bytes((FOLDER / name).read_bytes())
    (folder / "two.set.txt").write_text(SHORT)
    return folder


@pytest.mark.slow
def test_the_book_is_that_of_the_command(tmp_path):
    made = tmp_path / "x.pdf"
    assert command("evening", SUPPER, "-o", str(made))[0] == 0
    assert asked("book", (FOLDER / SUPPER).read_text(encoding="utf-8"), SUPPER) == made.read_bytes()


def test_the_book_of_stage_copies_is_that_of_the_command(short):
    more = {"copy": "stage", "facing": True, "day": {"stage_paper": "a5"}}
    assert command("evening", "two.set.txt", "--stage", "--facing", "--paper", "a5", cwd=short)[0] == 0
    assert asked("book", SHORT, "two.set.txt", short, **more) == (short / "two.evening.stage.pdf").read_bytes()


def test_pages_song_by_song_are_those_of_the_book():
    """Texts of the pictures, page by page, beside those of the PDF as pypdf reads them."""
    import io

    from pypdf import PdfReader

    text = "set Three\ndate 3 May\n\nsong slow boats.song.txt\nthen talk 20 s\n" + SHORT.partition("\n")[2]
    pictures, counts = [], []
    for number in range(3):
        found = asked("evening", text, number=number, facing=True)
        assert found["problems"] == []
        counts.append(len(found["pages"]))
        pictures.append(found["pages"])
    first = asked("evening", text, counts=counts, facing=True)
    assert not any("data-from" in page for song in pictures for page in song)
    shown = list(first["pages"])
    for number, song in enumerate(pictures):
        shown += [first["blank"]] if number in first["blanks"] else []
        shown += song
    assert first["blanks"], "a song of two pages that would begin on the right"
    book = PdfReader(io.BytesIO(asked("book", text, facing=True)))
    assert len(book.pages) == len(shown)

    def letters(words):
        return sorted("".join("".join(words).split()))

    for page, picture in zip(book.pages, shown, strict=True):
        drawn = [text.replace("&amp;", "&") for text in own_text(picture)]
        assert letters(page.extract_text()) == letters(drawn)


def test_the_study_of_an_evening_is_that_of_the_command(short):
    more = {"copy": "study", "minutes": 20, "sheets": 2}
    assert command("study", "two.set.txt", "--minutes", "20", "--pages", "2", "--also", "midi", cwd=short)[0] == 0
    assert asked("book", SHORT, "two.set.txt", short, **more) == (short / "two.study.pdf").read_bytes()
    heard = asked("practise", SHORT, "two.set.txt", short, **{"as": "midi"}, **more)
    assert heard == (short / "two.study.mid").read_bytes()
    assert 1 <= len(asked("practise", SHORT, "two.set.txt", short, **more)["pages"]) <= 2


def test_the_study_of_a_song_is_that_of_the_command(short):
    name = "lanterns.song.txt"
    assert command("study", name, "--key", "E", "--minutes", "9", "--also", "midi", cwd=short)[0] == 0
    text = (short / name).read_text(encoding="utf-8")
    question = {"text": text, "name": name, "key": "E", "copy": "study", "minutes": 9}
    assert answer({"ask": "print", **question}) == (short / "lanterns.study.pdf").read_bytes()
    assert answer({"ask": "midi", **question}) == (short / "lanterns.study.mid").read_bytes()
    (page,) = answer({"ask": "pages", **question})["pages"]
    assert any("Studies: Lanterns" in words for words in own_text(page))


def test_songs_without_a_change_of_chord():
    still = "song B\nkey C\n\nsection V\n| C | C |\n"
    assert answer({"ask": "pages", "text": still, "copy": "study"})["problems"][0]["code"] == "no-change"
    assert answer({"ask": "print", "text": still, "copy": "study"})["problems"][0]["code"] == "no-change"
    assert answer({"ask": "midi", "text": still, "copy": "study"})["problems"][0]["code"] == "no-change"
    order = {"ask": "practise", "text": "set X\nsong b\nsong a\n", "copy": "study"}
    both = answer({**order, "songs": [["a", SONG, "", ""], ["b", still, "", ""]]})
    assert [one["message"] for one in both["problems"]] == ["b has no change of chord; no study is from it"]
    assert both["pages"]


BROKEN = """set Broken
song lanterns.song.txt
key Qm
then tlak 30 s
song nowhere.song.txt
song lantern.song.txt
song wrong.song.txt
song rosalie.song.txt
roadmap Verse 9
speed 3
song wrong.song.txt
"""


def test_mistakes_are_told_in_the_words_of_the_command(tmp_path):
    for name in ("lanterns.song.txt", "rosalie.song.txt"):
        (tmp_path / name).write_bytes((FOLDER / name).read_bytes())
    (tmp_path / "wrong.song.txt").write_text(SONG + "| Hx |\n")
    (tmp_path / "broken.set.txt").write_text(BROKEN)
    status, told = command("evening", "broken.set.txt", cwd=tmp_path)
    assert status == 1
    found = asked("order", BROKEN, "broken.set.txt", tmp_path)
    assert not found["whole"]
    assert len(found["problems"]) >= 8
    units = BROKEN.encode("utf-16-le")
    for one in found["problems"]:
        message = one["message"]
        if "song" in one:
            message = message.partition(": ")[2]
            assert units[2 * one["from"] : 2 * one["to"]].decode("utf-16-le") == one["song"]
        assert f"{one['code']}: {message}" in told, message
        assert all(hint in told for hint in one["hints"])
    assert told.count(": error ") == sum(one["severity"] == "error" for one in found["problems"])
    assert json.loads(json.dumps(found)) == found
    for ask in ("book", "practise", "evening"):
        assert asked(ask, BROKEN, "broken.set.txt", tmp_path)["problems"] == found["problems"]


def test_facts_of_songs_for_the_list():
    found = asked("order", SHORT)
    assert found["facts"]["lanterns.song.txt"]["title"] == "Lanterns on the Harbour"
    assert found["facts"]["lanterns.song.txt"]["keys"][:3] == ["D", "Eb", "E"]
    assert [SHORT[a:b] for a, b, kind in found["colours"] if kind == "word"] == ["set", "song", "key", "then", "song"]
    assert found["count"] == 2


def test_answers_are_the_same_after_others():
    """What is remembered of a song is of its text, its facts and the player's wishes."""
    first = asked("evening", SHORT, number=0)
    for change in (("key E", "key A"), ("then pad", "then stop"), ("set Two", "set Other")):
        assert asked("evening", SHORT.replace(*change), number=0) != first or change[0] == "set Two"
    assert asked("evening", SHORT, number=0, day={"easy": True}) != first
    moved = asked("order", "\n\n" + SHORT.replace("key E", "key Q"))["problems"]
    assert moved[0]["line"] == 6
    assert asked("evening", SHORT, number=0) == first


@pytest.mark.parametrize("ask", sorted(set(QUESTIONS) - {"named"}))
@pytest.mark.parametrize(
    "more",
    [
        {"text": 1}, {"songs": 1}, {"songs": [["a"]]}, {"songs": [["a", 1, "", ""]]}, {"songs": [[None, "", "", ""]]},
        {"copy": "x"}, {"day": {"fonts": "x"}}, {"facing": "yes"}, {"minutes": 2}, {"minutes": 61}, {"minutes": "9"},
        {"sheets": 3}, {"sheets": True},
    ],
)  # fmt: skip
def test_questions_about_evenings_that_nobody_asks(ask, more):
    with pytest.raises(BadQuestionError):
        answer({"ask": ask, "text": SHORT, "songs": [], **more})


def test_numbers_that_no_evening_has():
    for more in ({"number": 2}, {"number": -1}, {"number": True}, {"counts": [-1]}, {"counts": ["x"]}, {"counts": 1}):
        with pytest.raises(BadQuestionError):
            asked("evening", SHORT, **more)
    assert set(OF_AN_EVENING) == set(QUESTIONS) - {"named"}


def test_what_is_made_of_many_songs_may_take_longer():
    assert longest({"ask": "pages"}) == longest({"ask": "evening", "count": 20}) == LONGEST
    assert longest({"ask": "book", "count": 20}) == LONGEST + 20 * EACH
    assert longest({"ask": "practise", "count": 10**9}) == LONGEST + MOST_EACH
    assert longest({"ask": "book", "count": "x"}) == LONGEST


@pytest.fixture
def shelf(tmp_path):
    """A folder with songs, and something outside that no running order may show."""
    folder = tmp_path / "songs"
    (folder / "sets").mkdir(parents=True)
    (folder / "a.song.txt").write_text(SONG)
    (folder / "bad.song.txt").write_bytes(b"\xff\xfe\x00")
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "x.song.txt").write_text("song secret\n")
    (folder / "link.song.txt").symlink_to(outside / "x.song.txt")
    (folder / "way").symlink_to(outside)
    (folder / "player.toml").write_text("secret")
    return FolderStore(folder, None)


@pytest.mark.parametrize(
    "name",
    [
        "../outside/x.song.txt", "../../etc/passwd", "/etc/passwd", "link.song.txt", "way/x.song.txt", "player.toml",
        "x/../../outside/x.song.txt", "nul\0.song.txt", "C:\\x.song.txt", "\\\\host\\x.song.txt", "sets", ".song.txt",
        ".hidden.song.txt", "~/x.song.txt", "bad.song.txt", "e.set.txt", "sets/e.set.txt", "*.song.txt",
        "a.song.txt.before-save",
    ],
)  # fmt: skip
def test_a_running_order_shows_no_song_from_outside(shelf, name):
    (found,) = shelf.named("e.set.txt", [name])
    assert found.text is None
    assert found.missing
    assert str(shelf.folder.parent) not in found.missing + found.hint
    if "\0" not in name:
        told = asked("order", f"set X\nsong {name}\n", "e.set.txt", shelf.folder)["problems"]
        assert [one["code"] for one in told] == ["song-missing"]
        assert "secret" not in json.dumps(told)


def test_songs_are_named_from_the_running_orders_own_place(shelf):
    (found,) = shelf.named("sets/e.set.txt", ["../a.song.txt"])
    assert found.text == SONG
    (near,) = shelf.named("e.set.txt", ["aa.song.txt"])
    assert near.missing == "there is no file aa.song.txt"
    assert near.hint == "is a.song.txt meant?"


def test_running_orders_are_found_beside_the_songs(shelf):
    for name, text in (("e.set.txt", SHORT), ("sets/<b>.set.txt", "set <i>Été</i>\ndate May\n")):
        (shelf.folder / name).write_text(text, encoding="utf-8")
    found = shelf.songs("")["orders"]
    assert [(one["name"], one["title"], one["songs"], one["errors"]) for one in found] == [
        ("e.set.txt", "Two", 2, 0), ("sets/<b>.set.txt", "<i>Été</i>", 0, 1),
    ]  # fmt: skip
    assert [one["name"] for one in shelf.songs("ete may")["orders"]] == ["sets/<b>.set.txt"]
    assert shelf.songs("zzz")["orders"] == []
    pairs = [["e.set.txt", SHORT], ["a.song.txt", SONG]]
    in_browser = answer({"ask": "search", "songs": pairs, "words": "two"})
    assert [one["name"] for one in in_browser["orders"]] == ["e.set.txt"]
    assert in_browser["songs"] == []


def test_a_running_order_is_saved_as_songs_are(shelf):
    version = shelf.save("e.set.txt", SHORT, "")
    again = shelf.save("e.set.txt", SHORT + "# more\n", version)
    assert isinstance(again, str)
    assert Path(shelf.folder, "e.set.txt.before-save").read_text() == SHORT
    assert not isinstance(shelf.save("e.set.txt", "x", version), str)


def test_hostile_words_stay_text():
    hostile = "<script>alert(1)</script>&\"'<svg onload=x>"
    text = f"set {hostile}\n\nsong a\nthen pad\n\nbreak {hostile}\n\nsong b\n"
    songs = [["a", SONG.replace("song A", f"song {hostile}"), "", ""], ["b", SONG, "", ""]]
    question = {"text": text, "songs": songs, "count": 2}
    first = answer({"ask": "evening", **question, "counts": [1, 1]})
    pages = [*first["pages"], *answer({"ask": "evening", "number": 0, **question})["pages"]]
    assert len(pages) == 2
    assert not any("<script" in page or "<svg onload" in page for page in pages)
    assert any("alert(1)" in "".join(own_text(page)) for page in pages)
