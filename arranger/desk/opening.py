"""Start the desk, lead the browser to it, and end it when no page is open any more.

The browser is opened on a file that nobody else may read: it leads to the page with the token in the address's
fragment, so that the token is in no list of processes, no log and no history of another site. A second start for the
same folder leads to the desk that is running.
"""

from __future__ import annotations

import asyncio
import hashlib
import http.client
import json
import os
import secrets
import signal
import socket
import sys
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from html import escape
from pathlib import Path
from typing import NamedTuple

import uvicorn

from arranger import files
from arranger.desk.engine import ProcessEngine
from arranger.desk.folder import FolderStore
from arranger.desk.server import IDLE, TOKEN_HEADER, Desk, application
from arranger.resources import cache_folder

HOST = "127.0.0.1"
LOOKS = 5.0  # seconds between two looks whether a page is still there
PATIENCE = 2.0  # seconds for a desk that may be running to answer


class Running(NamedTuple):
    """A desk that was started: where it is, and its token."""

    port: int
    token: str


def start(folder: Path, settings: Path | None, *, browser: bool, idle: float = IDLE, port: int = 0) -> None:
    """Serve the songs of a folder until no page has been open for a while, or the player stops it.

    Args:
        folder: where the songs are.
        settings: the player's; None where there is no home for them.
        browser: open it; else the address is printed alone.
        idle: seconds without a page, after which the desk ends.
        port: of this machine; 0 for any that is free.

    Raises:
        OSError: no port can be had, or there is no place for the file that leads there.
    """
    place = _place(folder)
    running = _running(place)
    if running is not None:
        _lead(place, running, browser, lambda: print("the desk for this folder is running already"))
        return
    with socket.socket() as listening:
        if os.name == "posix":  # elsewhere it would let others have the port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((HOST, port))
        listening.listen(100)  # from now on who comes waits, and is not refused
        port = listening.getsockname()[1]
        desk = Desk(secrets.token_urlsafe(32), ProcessEngine(), FolderStore(folder, settings))
        config = uvicorn.Config(application(desk, port), log_level="warning", access_log=False, server_header=False)
        server = uvicorn.Server(config)
        _keep(place, json.dumps(Running(port, desk.token)._asdict()).encode())
        with suppress(ValueError):  # where it is not the main thread that serves
            signal.signal(signal.SIGTERM, signal.default_int_handler)
        try:
            print(f"the desk is at http://{HOST}:{port}/ for the songs in {folder}", flush=True)
            _lead(place, Running(port, desk.token), browser, lambda: print("Ctrl-C ends it", flush=True))
            asyncio.run(_until_left(server, desk, listening, idle))
        except KeyboardInterrupt:
            pass  # the player has ended it
        finally:
            desk.engine.close()
            for ending in (".json", ".html"):
                with suppress(OSError):
                    place.with_suffix(ending).unlink()


async def _until_left(server: uvicorn.Server, desk: Desk, listening: socket.socket, idle: float) -> None:
    """Serve until no page has been heard of for so many seconds."""

    async def look() -> None:
        while desk.idle() < idle:
            await asyncio.sleep(min(LOOKS, idle))
        server.should_exit = True

    looking = asyncio.create_task(look())
    try:
        await server.serve(sockets=[listening])
    finally:
        looking.cancel()


def _place(folder: Path) -> Path:
    """Return where a running desk is told of, without its ending: one file for each folder."""
    name = hashlib.blake2b(os.fsencode(folder.resolve()), digest_size=12).hexdigest()
    return cache_folder() / "desk" / name


def _running(place: Path) -> Running | None:
    """Return the desk that is running for a folder; None where none answers."""
    try:
        told = json.loads(place.with_suffix(".json").read_bytes())
        running = Running(int(told["port"]), str(told["token"]))
        asking = http.client.HTTPConnection(HOST, running.port, timeout=PATIENCE)
        headers = {TOKEN_HEADER: running.token, "content-type": "application/json"}
        asking.request("POST", "/here", b"{}", headers)
        answer = json.loads(asking.getresponse().read(1000))
        return running if answer == {"desk": True} else None
    except (OSError, ValueError, KeyError, TypeError, http.client.HTTPException):
        return None


def _lead(place: Path, running: Running, browser: bool, then: Callable[[], None]) -> None:
    """Open the browser on a file that leads to the desk; tell where the file is, where none can be opened."""
    address = f"http://{HOST}:{running.port}/#{running.token}"
    lines = (
        '<!doctype html><meta charset="utf-8"><meta name="referrer" content="no-referrer"><title>Desk</title>',
        f'<meta http-equiv="refresh" content="0; url={escape(address)}"><a href="{escape(address)}">Desk</a>',
    )
    path = place.with_suffix(".html")
    _keep(path, "\n".join(lines).encode())
    opened = browser and webbrowser.open(path.as_uri())
    if not opened:
        print(f"open this file in a browser: {path}", flush=True)
    then()


def _keep(place: Path, data: bytes) -> None:
    """Write a file that nobody else may read."""
    path = place if place.suffix else place.with_suffix(".json")
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with suppress(FileNotFoundError):
        path.unlink()
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(data)


# --- a file to double-click -------------------------------------------------------------------------------------------

SHORTCUTS = {"win32": "Desk.cmd", "darwin": "Desk.command"}


def shortcut(folder: Path) -> Path:
    """Write a file into a folder that starts its desk when it is double-clicked; return it.

    Raises:
        OSError: it cannot be written, or another file has that name.
    """
    path = folder.resolve() / SHORTCUTS.get(sys.platform, "Desk.desktop")
    text = _shortcut_text(path.parent)
    files.write(path, text.encode(), lambda there: there == text.encode())
    if sys.platform != "win32":
        path.chmod(0o755)
    return path


def _shortcut_text(folder: Path) -> str:
    python = sys.executable
    if sys.platform == "win32":
        return f'@echo off\r\n"{python}" -m arranger desk "%~dp0."\r\n'
    if sys.platform == "darwin":
        return f'#!/bin/sh\nexec {_shell(python)} -m arranger desk "$(dirname "$0")"\n'
    run = " ".join(map(_entry, (python, "-m", "arranger", "desk", str(folder))))
    return (
        f"[Desktop Entry]\nType=Application\nName=Desk\nComment=Songs and their keys parts\nTerminal=true\nExec={run}\n"
    )


def _shell(text: str) -> str:
    return "'" + text.replace("'", "'\"'\"'") + "'"


def _entry(text: str) -> str:
    """Quote a word of an Exec key (Desktop Entry Specification 1.5): in quotes, then as strings are, `%` doubled."""
    for sign in '\\"`$':
        text = text.replace(sign, f"\\{sign}")
    return '"' + text.replace("\\", "\\\\").replace("%", "%%") + '"'
