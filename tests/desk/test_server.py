"""The desk's server: for its own page alone. The tries are those of the design's table of safety."""

import json
import os
import socket
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.desk.conftest import ROOT, end, serve

SONG = "song A\nkey C\n\nsection V\n| C | F |\n"


def test_the_page_is_for_everyone_and_its_answers_for_who_has_the_token(desk):
    assert desk.request("GET", "/")[0] == 200
    for token in (None, "", "x" * len(desk.token), desk.token[:-1], desk.token + "x", "é"):
        for path in ("/ask", "/songs", "/read", "/save", "/settings", "/font", "/here"):
            status, answer, _ = desk.post(
                path, {"ask": "samples"}, x_desk_token=token and token.encode().decode("latin-1")
            )
            assert (status, list(answer)) == (403, ["refused"]), path
    assert desk.post("/here")[:2] == (200, {"desk": True})


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example:{port}", ""])
def test_other_names_for_this_machine_are_refused(desk, host):
    """Rebinding: a site whose name leads to 127.0.0.1 sends its own name as Host (RFC 9110, 7.2)."""
    named = host.format(port=desk.port)
    assert desk.request("GET", "/", headers={"host": named})[0] in (400, 403)
    assert desk.post("/here", host=named)[0] in (400, 403)


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1:{port}", "file://"])
def test_other_origins_are_refused(desk, origin):
    assert desk.post("/here", origin=origin.format(port=desk.port))[0] == 403
    assert desk.post("/here", origin=f"http://127.0.0.1:{desk.port}")[0] == 200


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_pages_of_other_sites_are_refused(desk, site):
    assert desk.post("/here", sec_fetch_site=site)[0] == 403
    assert desk.request("GET", "/page/main.js", headers={"sec-fetch-site": site})[0] == 403


def test_every_answer_says_what_may_be_loaded(desk):
    for status, _, headers in (
        desk.request("GET", "/"), desk.request("GET", "/page/main.js"), desk.request("GET", "/nothing"),
        desk.post("/here"), desk.post("/here", x_desk_token=""), desk.post("/here", host="evil.example"),
    ):  # fmt: skip
        assert status in (200, 403, 404)
        policy = headers["content-security-policy"]
        for words in ("default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "base-uri 'none'"):
            assert words in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"


def test_questions_that_the_page_does_not_ask(desk):
    assert desk.post("/ask", b"{" * 100_000)[0] == 400
    assert desk.post("/ask", b"[1]")[0] == 400
    assert desk.post("/ask", b"x" * ((1 << 20) + 1))[0] == 413
    assert desk.post("/ask", {}, content_length="99999999999999999999")[0] in (400, 413)
    assert desk.post("/ask", {}, content_type="text/plain")[0] == 415
    assert desk.request("GET", "/ask")[0] == 405
    for question in (
        {"ask": "nothing"},
        {"ask": ["pages"]},
        {"ask": "pages", "text": 3},
        {"ask": "pages", "text": SONG, "day": []},
        {"ask": "pages", "text": SONG, "day": {"fonts": "x"}},
        {"ask": "pages", "text": SONG, "copy": "x"},
        {"ask": "why", "text": SONG, "at": "x"},
    ):
        status, answer, _ = desk.post("/ask", question)
        assert status == 200
        assert "bad" in answer


@pytest.mark.parametrize(
    "name",
    [
        "../outside.song.txt", "/etc/passwd", "/etc/x.song.txt", "a/../../x.song.txt", "passwd", ".hidden.song.txt",
        "C:\\x.song.txt", "x\\..\\y.song.txt", "x.song.txt/../../y.song.txt", "out/x.song.txt", "link.song.txt", "",
        ".song.txt", "player.toml", "x\0.song.txt", "NUL:.song.txt",
    ],
)  # fmt: skip
def test_only_songs_of_the_folder_are_read_and_written(desk, name):
    outside = desk.folder.parent / "elsewhere"
    outside.mkdir(exist_ok=True)
    (outside / "x.song.txt").write_text("secret")
    for link, to in (("out", outside), ("link.song.txt", outside / "x.song.txt")):
        if not (desk.folder / link).is_symlink():
            (desk.folder / link).symlink_to(to)
    before = sorted(path.name for path in desk.folder.parent.rglob("*"))
    assert desk.post("/read", {"name": name})[0] == 422
    assert desk.post("/save", {"name": name, "text": SONG, "version": ""})[0] == 422
    assert (outside / "x.song.txt").read_text() == "secret"
    assert sorted(path.name for path in desk.folder.parent.rglob("*")) == before


def test_songs_of_a_running_order_come_from_the_folder_alone(desk):
    (desk.folder.parent / "x.song.txt").write_text("song secret\nkey C\n\nsection V\n| C | F |\n")
    text = "set X\nsong lanterns.song.txt\nsong ../x.song.txt\n"
    given = [["lanterns.song.txt", SONG, "", ""], ["../x.song.txt", SONG, "", ""]]
    question = {"text": text, "name": "e.set.txt", "songs": given, "count": 10**9}
    status, found, _ = desk.post("/ask", {"ask": "order", **question})
    assert status == 200
    assert [one["code"] for one in found["problems"]] == ["song-missing"]
    assert found["facts"]["lanterns.song.txt"]["title"] == "Lanterns on the Harbour"
    assert "secret" not in json.dumps(found)
    for ask in ("book", "practise", "evening"):
        assert desk.post("/ask", {"ask": ask, **question, "number": 0})[1]["problems"] == found["problems"]
    assert "bad" in desk.post("/ask", {"ask": "order", "text": 3})[1]
    (desk.folder.parent / "x.song.txt").unlink()


def test_songs_that_are_longer_than_an_evening_are_refused(desk):
    names = [f"long {number}.song.txt" for number in range(9)]
    for name in names:
        (desk.folder / name).write_text("# " + "x" * ((2 << 20) - 10))
    text = "set X\n" + "".join(f"song {name}\n" for name in names)
    status, found, _ = desk.post("/ask", {"ask": "order", "text": text, "name": "e.set.txt"})
    assert status == 413
    assert "longer together" in found["refused"]
    for name in names:
        (desk.folder / name).unlink()


def test_files_of_the_page_alone_are_sent(desk):
    for path in ("/page/../server.py", "/page/%2e%2e/server.py", "/page/..%2fserver.py", "/page/server.py", "/page/"):
        assert desk.request("GET", path)[0] == 404, path
    assert desk.request("GET", "/page/look.css")[2]["content-type"].startswith("text/css")


def test_settings_take_no_paths_from_the_page(desk):
    for values in ({"page.fonts": "/etc/passwd"}, {"keyboard.patches": "x"}, {"x.y": "z"}, {"hand.span": 3}):
        assert "bad" in desk.post("/settings", {"values": values})[1]
    assert (
        desk.post("/ask", {"ask": "pages", "text": SONG, "fonts": ["/etc/passwd"], "settings": "]"})[1]["problems"]
        == []
    )
    assert desk.post("/font", {"family": "part-other-1"})[0] == 404
    assert desk.post("/font", {"family": "part-regular"})[1][:4] == b"\0\1\0\0"


def test_it_listens_on_this_machine_alone(desk):
    with socket.socket() as other:
        other.settimeout(2)
        own = next((found[4][0] for found in socket.getaddrinfo(socket.gethostname(), desk.port, socket.AF_INET)), None)
        if own is None or own.startswith("127."):
            own = "127.0.0.2"  # as much this machine, and another address
        with pytest.raises(OSError):
            other.connect((own, desk.port))


def test_what_leads_there_is_for_nobody_else(desk):
    for path in desk.led.parent.iterdir():
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    if sys.platform == "linux":
        assert desk.token.encode() not in Path(f"/proc/{desk.process.pid}/cmdline").read_bytes()


def test_a_second_start_leads_to_the_running_desk(desk):
    command = [sys.executable, "-m", "arranger", "desk", str(desk.folder), "--no-browser"]
    second = subprocess.run(command, env=desk.environment, cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert second.returncode == 0
    assert "running already" in second.stdout
    assert desk.token in desk.led.read_text()
    assert desk.post("/here")[0] == 200


def test_it_ends_when_no_page_is_left(tmp_path, monkeypatch):
    script = (
        "from pathlib import Path; from arranger.desk.opening import start;"
        f"start(Path({str(tmp_path)!r}), None, browser=False, idle=1.0)"
    )
    environment = {**os.environ, "XDG_CACHE_HOME": str(tmp_path), "PYTHONPATH": str(ROOT)}
    began = time.monotonic()
    done = subprocess.run([sys.executable, "-c", script], env=environment, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert time.monotonic() - began > 1
    assert not list(tmp_path.rglob("*.json"))


def test_ended_by_the_player_it_leaves_nothing(tmp_path):
    served = serve(tmp_path, tmp_path / "home")
    assert served.led.exists()
    end(served)
    assert not served.led.exists()


def test_what_is_wrong_with_the_command_is_said(tmp_path):
    environment = {**os.environ, "XDG_CACHE_HOME": str(tmp_path), "HOME": str(tmp_path), "PYTHONPATH": str(ROOT)}
    for words, told in (
        (["nowhere"], "there is no folder nowhere"),
        (["README.md"], "found the file README.md"),
        ([".", "--port", "80"], "expected a port from 1024 to 65535 after --port, found `80`"),
    ):
        command = [sys.executable, "-m", "arranger", "desk", *words, "--no-browser"]
        done = subprocess.run(command, env=environment, cwd=ROOT, capture_output=True, text=True, timeout=60)
        assert done.returncode == 2
        assert told in done.stderr
