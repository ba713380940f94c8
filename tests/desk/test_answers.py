"""Answers: pure, the same after any others; engines and stores of another kind do as well."""

import asyncio
import base64
import json
from pathlib import Path

import pytest

from arranger.convert.score_conversion import convert_score
from arranger.desk.answers import QUESTIONS, answer
from arranger.desk.colours import colours
from arranger.desk.day_choices import BadQuestionError, filled_in
from arranger.desk.engine import ENDED, OUTDATED, TOO_LONG, ProcessEngine
from arranger.desk.folder import NEW, Conflict, FolderStore, SongKeeperError
from arranger.intake import CHECKED, to_song
from arranger.pipeline import later_problems
from arranger.text.source import Source
from tests.desk.edits import differing

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
SONG = "song A\nkey C\n\nsection V\n| C | F |\n"


@pytest.mark.slow
def test_an_answer_depends_on_the_text_alone():
    assert differing(50) == 0


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name.partition(".")[0])
def test_what_is_wrong_is_what_check_says(path):
    text = path.read_text(encoding="utf-8").replace("| G", "| Hx", 1) + "\nsection Zz\n| C |\n"
    for content in (path.read_text(encoding="utf-8"), text):
        song, problems = to_song(Source.of("song", content))
        if song is not None:
            problems = (*problems, *later_problems(song, CHECKED))
        found = answer({"ask": "pages", "text": content})["problems"]
        assert sorted((one["code"], one["message"]) for one in found) == sorted(
            (one.code, one.message) for one in problems
        )
        assert json.loads(json.dumps(found)) == found


def test_colours_are_those_of_the_lines():
    source = Source.of("x", "song Aé\n# r\nsection V\n| C  G/B% | x |\nsing | la\noctave | C4 rest |\nnonsense C\n")
    found = [(source[span], colour) for span, colour in colours(source)]
    assert found == [
        ("song", "word"), ("Aé", "name"), ("# r", "remark"), ("section", "word"), ("V", "name"),
        ("|", "bar"), ("C", "chord"), ("G/B%", "chord"), ("%", "bar"), ("|", "bar"), ("|", "bar"),
        ("sing", "word"), ("|", "bar"), ("octave", "word"), ("|", "bar"), ("C4", "note"), ("|", "bar"),
    ]  # fmt: skip


def test_twelve_keys_from_the_songs_own_upward():
    keys = answer({"ask": "pages", "text": SONG.replace("key C", "key Bb")})["keys"]
    assert keys == ["Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A"]


ABOUT_A_SONG = ("pages", "print", "midi", "musicxml", "listen", "why")


@pytest.mark.parametrize(
    "question",
    [
        {"ask": "nothing"}, {"ask": None}, {}, {"ask": "why", "text": SONG}, {"ask": "why", "text": SONG, "at": True},
        {"ask": "convert", "text": 1}, {"ask": "search", "words": "x", "songs": [[1, 2]]},
        {"ask": "search", "words": 1, "songs": []}, {"ask": "filled", "values": []}, {"ask": "settings", "settings": 1},
        {"ask": "filled", "values": {"page.fonts": "x"}}, {"ask": "filled", "values": {"hand.span": 1}},
        *({"ask": ask, "at": 0, **more} for ask in ABOUT_A_SONG for more in (
            {"text": 1}, {"text": SONG, "day": 1}, {"text": SONG, "day": {"x": "y"}}, {"text": SONG, "copy": "x"},
            {"text": SONG, "key": 1}, {"text": SONG, "day": {"easy": "yes"}},
        )),
    ],
)  # fmt: skip
def test_questions_that_nobody_asks(question):
    assert set(ABOUT_A_SONG) < set(QUESTIONS)
    with pytest.raises(BadQuestionError):
        answer(question)


def test_settings_keep_what_is_not_in_the_form():
    before = '# mine\n[hand]\nspan = "ninth"  # wide\n\n[keyboard.patches]\npiano = "1"\n'
    text, problems = filled_in(before, {"hand.span": "sixth", "stage.dark": "true"})
    assert not problems
    assert text.startswith('# mine\n[hand]\nspan = "sixth"  # wide\n')
    assert 'piano = "1"' in text and "dark = true" in text
    assert filled_in(before, {"hand.span": "elbow"})[0] == before


def test_a_process_that_takes_too_long_or_too_much_is_begun_again():
    async def tries():
        long = "song A\nkey C\n\nsection V\n" + "| C F G Am | Dm7 G7 C E7 |\n" * 150
        engine = ProcessEngine(longest=0.2)
        engine._warm = True
        try:
            assert isinstance((await engine.ask({"ask": "pages", "text": SONG})), dict)  # the first is given longer
            assert await engine.ask({"ask": "pages", "text": long}) == {"failed": TOO_LONG.format("0.2")}
            assert (await engine.ask({"ask": "pages", "text": SONG}))["pages"]
            first, second, third = await asyncio.gather(*(engine.ask({"ask": "pages", "text": SONG}) for _ in range(3)))
            assert second == OUTDATED  # the first was on its way before it came
            assert first["pages"] == third["pages"]
            assert third["pages"]
            assert "bad" in await engine.ask({"ask": "what"})
        finally:
            engine.close()
        engine = ProcessEngine(memory=1 << 26)
        try:
            assert await engine.ask({"ask": "pages", "text": SONG}) == {"failed": ENDED}
        finally:
            engine.close()

    asyncio.run(tries())


def test_the_folder_keeps_line_ends_and_the_version_before(tmp_path):
    store = FolderStore(tmp_path, None)
    path = tmp_path / "a.song.txt"
    path.write_bytes(b"\xef\xbb\xbfsong A\r\nkey C\r\n")
    opened = store.read("a.song.txt")
    assert opened.text == "song A\nkey C\n"
    version = store.save("a.song.txt", opened.text + "tempo 60\n", opened.version)
    assert path.read_bytes() == b"\xef\xbb\xbfsong A\r\nkey C\r\ntempo 60\r\n"
    assert (tmp_path / "a.song.txt.before-save").read_bytes() == b"\xef\xbb\xbfsong A\r\nkey C\r\n"
    assert isinstance(store.save("a.song.txt", "x", opened.version), Conflict)
    assert isinstance(store.save("a.song.txt", "x", NEW), Conflict)
    assert store.save("b/c.song.txt", SONG, NEW) == store.read("b/c.song.txt").version
    path.unlink()
    assert store.save("a.song.txt", "x", version) == Conflict(NEW)
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(SongKeeperError, match="UTF-8"):
        store.read("a.song.txt")
    with pytest.raises(SongKeeperError, match="half of a character"):
        store.save("d.song.txt", "\ud800", NEW)
    (tmp_path / "e.song.txt").mkdir()
    with pytest.raises(SongKeeperError):
        store.save("e.song.txt", SONG, NEW)


WORDS = (
    "",
    "l",
    "lantern",
    "the",
    "the tide",
    '"the tide"',
    "tide the",
    "Été",
    "bread salt",
    "harbour wall",
    "zzz",
    "?",
)


@pytest.mark.parametrize("words", WORDS)
def test_songs_in_the_browser_are_found_as_on_the_disk(words, tmp_path, monkeypatch):
    """As SQLite's full-text index finds them (`library.find`)."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    songs = [[path.name, path.read_text(encoding="utf-8")] for path in SAMPLES]
    found = answer({"ask": "search", "songs": songs, "words": words})
    there = FolderStore(SAMPLES[0].parent, None).songs(words)
    assert {one["name"] for one in found["songs"]} == {one["name"] for one in there["songs"]}
    assert found["total"] == there["total"]
    if not words:
        assert [one["title"] for one in found["songs"]] == [one["title"] for one in there["songs"]]


def test_scores_become_songs(tmp_path):
    scores = sorted((Path(__file__).parents[1] / "convert" / "scores").glob("*.musicxml"))
    assert scores
    for path in scores[:6]:
        data = base64.b64encode(path.read_bytes()).decode()
        found = answer({"ask": "score", "name": path.name, "data": data})
        wanted, _ = convert_score(path.read_bytes(), title=path.name.partition(".")[0])
        assert found["song"] == wanted.text
        for check in found["checks"]:
            assert found["song"][check["from"] : check["to"]].strip() == check["text"]
    damaged = answer({"ask": "score", "name": "x.mxl", "data": base64.b64encode(b"PK damaged").decode()})
    assert damaged["song"] is None and damaged["problems"]
    with pytest.raises(BadQuestionError):
        answer({"ask": "score", "name": "x.mxl", "data": "%"})


def test_sheets_become_songs_with_their_places_to_check():
    folder = Path(__file__).parents[1] / "convert" / "sheets"
    sheets = sorted(path for path in folder.glob("*.txt") if not path.name.endswith(".song.txt"))
    found = [answer({"ask": "convert", "text": path.read_text(encoding="utf-8")}) for path in sheets[:20]]
    assert sum(one["song"] is not None for one in found) > 15
    for one in found:
        for check in one.get("checks", ()):
            units = one["song"].encode("utf-16-le")
            assert units[2 * check["from"] : 2 * check["to"]].decode("utf-16-le").strip() == check["text"]
    assert answer({"ask": "convert", "text": "no chords"})["song"] is None
