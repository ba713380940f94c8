"""Serve the desk's page on this machine alone.

Every question carries the token of this run in a header; whoever has not been led here by the file that `opening`
writes does not have it. Answers to other hosts' names or other sites' pages are refused (rebinding, forged requests).
"""

from __future__ import annotations

import hmac
import json
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from arranger.desk.engine import Engine
from arranger.desk.folder import Conflict, SongKeeper, SongKeeperError
from arranger.resources import FONT_FILES, font_bytes, font_path

MOST_BYTES = 1 << 20  # of a question
TOKEN_HEADER = "x-desk-token"
IDLE = 600.0  # seconds after the last page was heard of, then the desk ends
FACES = {f"part-{face.replace(' ', '-')}": file for face, file in FONT_FILES.items()}  # as `svg` names families
OWN_FONT = "part-other-"  # and a number from 1
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; font-src 'self' blob:; "
    "connect-src 'self'; frame-src blob:; worker-src 'self'; manifest-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
PAGE = Path(__file__).resolve().parent / "page"
KINDS = {".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}
PDF, MIDI, MUSICXML = "application/pdf", "audio/midi", "application/vnd.recordare.musicxml+xml"
BYTES_OF = {"print": PDF, "midi": MIDI, "musicxml": MUSICXML, "book": PDF}
OF_AN_EVENING = ("order", "evening", "book", "practise")  # questions that take the songs of a running order
MOST_TOGETHER = 1 << 24  # characters of all songs of an evening: a long song has 10,000


class Desk:
    """One run of the desk: its token, its engine, its songs, and when a page was last heard of."""

    def __init__(self, token: str, engine: Engine, store: SongKeeper) -> None:
        self.token, self.engine, self.store = token, engine, store
        self.heard = time.monotonic()

    def idle(self) -> float:
        """Return for how many seconds no page has been heard of."""
        return time.monotonic() - self.heard


def application(desk: Desk, port: int) -> ASGIApp:
    """Return the server of a desk at a port of this machine."""

    async def ask(request: Request) -> Response:
        question = await _question(request)
        question["settings"] = await run_in_threadpool(desk.store.settings)
        question["fonts"] = list(await run_in_threadpool(desk.store.fonts))
        if question.get("ask") in OF_AN_EVENING:
            named = await desk.engine.ask({"ask": "named", "text": question.get("text")})
            if isinstance(named, bytes) or "files" not in named:
                return JSONResponse(named)
            question |= await run_in_threadpool(_with_songs, desk.store, question, named)
        found = await desk.engine.ask(question)
        if isinstance(found, bytes):
            kind = MIDI if question.get("as") == "midi" else BYTES_OF.get(str(question.get("ask")))
            return Response(found, media_type=kind or "application/octet-stream")
        return JSONResponse(found)

    async def songs(request: Request) -> Response:
        question = await _question(request)
        return JSONResponse(await run_in_threadpool(desk.store.songs, _word(question, "words")))

    async def read(request: Request) -> Response:
        opened = await run_in_threadpool(desk.store.read, _word(await _question(request), "name"))
        return JSONResponse(opened._asdict())

    async def save(request: Request) -> Response:
        question = await _question(request)
        name, text, version = (_word(question, what) for what in ("name", "text", "version"))
        found = await run_in_threadpool(desk.store.save, name, text, version)
        if isinstance(found, Conflict):
            return JSONResponse({"conflict": found.version}, status_code=409)
        return JSONResponse({"version": found})

    async def settings(request: Request) -> Response:
        question = await _question(request)
        before = await run_in_threadpool(desk.store.settings)
        found = await desk.engine.ask({"ask": "filled", "settings": before, "values": question.get("values")})
        if isinstance(found, bytes) or "settings" not in found:
            return JSONResponse(found)
        changed = not found["problems"] and found["settings"] != before
        if changed and not await run_in_threadpool(desk.store.save_settings, found["settings"], before):
            return JSONResponse({"conflict": True}, status_code=409)
        return JSONResponse({"problems": found["problems"]})

    async def font(request: Request) -> Response:
        name = _word(await _question(request), "family")
        data = await run_in_threadpool(_font, desk.store, name)
        return Response(data, media_type="font/ttf")

    async def here(request: Request) -> Response:
        await _question(request)
        return JSONResponse({"desk": True})

    asked = {"ask": ask, "songs": songs, "read": read, "save": save, "settings": settings, "font": font, "here": here}
    routes = [Route(f"/{name}", _guarded(desk, answer), methods=["POST"]) for name, answer in asked.items()]
    routes += [Route("/", page, methods=["GET"]), Route("/page/{file}", page, methods=["GET"])]
    return _OwnHost(Starlette(routes=routes), port)


def _with_songs(store: SongKeeper, question: dict[str, Any], named: dict[str, Any]) -> dict[str, Any]:
    """Return what is put into a question about a running order: its songs, as they are kept, and how many they are.

    Raises:
        NotAskedHereError: the songs are longer together than those of any evening.
    """
    songs = store.named(str(question.get("name", "")), named["files"])
    if sum(len(song.text or "") for song in songs) > MOST_TOGETHER:
        raise NotAskedHereError("these songs are longer together than those of an evening", 413)
    return {"songs": [list(song) for song in songs], "count": named["count"]}


class NoFileError(Exception):
    """There is no such thing to send."""


def _font(store: SongKeeper, name: str) -> bytes:
    """Return the bytes of a font by the name that pages give it."""
    if name in FACES:
        return font_bytes(str(font_path(FACES[name])))
    number = name.removeprefix(OWN_FONT)
    fonts = store.fonts()
    if name.startswith(OWN_FONT) and number.isdecimal() and 1 <= int(number) <= len(fonts):
        return font_bytes(fonts[int(number) - 1])
    raise NoFileError(name)


def _guarded(desk: Desk, answer: Callable[[Request], Awaitable[Response]]) -> Callable[[Request], Awaitable[Response]]:
    """Return what answers only who has the token; what is wrong is told in words."""

    async def guarded(request: Request) -> Response:
        given = request.headers.get(TOKEN_HEADER, "")
        if not hmac.compare_digest(given.encode("utf-8", "replace"), desk.token.encode()):
            return _refused(403, "the address of this page is out of date: start the desk again")
        desk.heard = time.monotonic()
        try:
            return await answer(request)
        except NotAskedHereError as bad:
            return _refused(bad.status, str(bad))
        except SongKeeperError as fault:
            return _refused(422, str(fault))
        except (NoFileError, OSError) as fault:
            return _refused(404, f"there is nothing to send: {fault}")
        except ClientDisconnect:
            return Response(status_code=400)

    return guarded


class NotAskedHereError(Exception):
    """A request that the page does not make."""

    def __init__(self, message: str, status: int = 400) -> None:
        super().__init__(message)
        self.status = status


async def _question(request: Request) -> dict[str, Any]:
    """Read a question: a JSON object of at most 1 MiB."""
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise NotAskedHereError("expected JSON", 415)
    length = request.headers.get("content-length", "0")
    data = b""
    if length.isdecimal() and len(length) < 12 and int(length) <= MOST_BYTES:
        async for chunk in request.stream():
            data += chunk
            if len(data) > MOST_BYTES:
                break
    else:
        data = b" " * (MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise NotAskedHereError("this is longer than 1 MiB, more than a song has", 413)
    try:
        question = json.loads(data)
    except (ValueError, RecursionError):
        raise NotAskedHereError("expected JSON") from None
    if not isinstance(question, dict):
        raise NotAskedHereError("expected an object")
    return question


def _word(question: dict[str, Any], name: str) -> str:
    value = question.get(name)
    if not isinstance(value, str):
        raise NotAskedHereError(f"expected a text as {name}")
    return value


def _refused(status: int, message: str) -> Response:
    return JSONResponse({"refused": message}, status_code=status)


async def page(request: Request) -> Response:
    """Return a file of the page."""
    name = request.path_params.get("file", "index.html")
    ending = f".{name.rpartition('.')[2]}"
    found = {file.name: file for file in PAGE.iterdir()}
    if name not in found or ending not in KINDS:
        return Response("there is no such file", status_code=404, media_type="text/plain")
    return Response(found[name].read_bytes(), media_type=KINDS[ending])


class _OwnHost:
    """Answers only requests for this machine's own name, from pages of its own, with the headers of every answer."""

    def __init__(self, app: ASGIApp, port: int) -> None:
        self._app = app
        self._hosts = {f"{name}:{port}".encode() for name in ("127.0.0.1", "localhost")}
        self._origins = {b"http://" + host for host in self._hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        headers = scope["headers"]
        hosts = [value for name, value in headers if name == b"host"]
        origins = [value for name, value in headers if name == b"origin"]
        sites = [value for name, value in headers if name == b"sec-fetch-site"]
        own = len(hosts) == 1 and hosts[0] in self._hosts and all(origin in self._origins for origin in origins)
        led = scope["method"] == "GET" and scope["path"] == "/"  # from the file that leads here, another site
        own = own and (led or all(site in (b"same-origin", b"none") for site in sites))

        async def with_headers(message: Any) -> None:
            if message["type"] == "http.response.start":
                message["headers"] += [(name.lower().encode(), value.encode()) for name, value in HEADERS.items()]
            await send(message)

        app: ASGIApp = self._app if own else Response("this desk is for its own page", status_code=403)
        await app(scope, receive, with_headers)
