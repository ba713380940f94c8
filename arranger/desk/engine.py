"""Answer questions in a process of its own, which is ended and begun again where it takes too long or too much.

The page's server asks; the pages stay as they are meanwhile. Of questions for pages the newest alone is answered.
"""

from __future__ import annotations

import asyncio
import multiprocessing
from collections.abc import Mapping
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, Protocol

from arranger.late import load

LONGEST = 10.0  # seconds for an answer about a song
EACH = 2.0  # seconds more for each song of an evening whose book or studies are made: six times what a long one takes
MOST_EACH = 300.0  # seconds more at most: nobody waits longer
FIRST = 30.0  # seconds for the first one, in which everything is loaded
MOST_MEMORY = 1 << 30  # bytes
OUTDATED = {"outdated": True}  # the answer to a question that a newer one has overtaken
NEWEST_ONLY = ("pages",)
TOGETHER = ("book", "practise")
TOO_LONG = "this took more than {} seconds and was ended; the pages stay as they were"
ENDED = "this needed more memory than it may have and was ended; the pages stay as they were"
WRONG = "a fault of the program stopped this; the pages stay as they were"


def longest(question: Mapping[str, Any], song: float = LONGEST) -> float:
    """Return how many seconds the answer to a question may take; `song` are those of a question about a song.

    The pages of an evening are asked for song by song; its book and its studies are of all songs together.
    """
    count = question.get("count", 0)
    together = question.get("ask") in TOGETHER and isinstance(count, int)
    return song + min(max(0.0, EACH * count), MOST_EACH) if together else song


class Engine(Protocol):
    """Whoever answers the page's questions."""

    async def ask(self, question: Mapping[str, Any]) -> dict[str, Any] | bytes:
        """Return the answer to a question (`answers`); `failed`, in words, where there is none."""

    def close(self) -> None:
        """End what was begun for it."""


class ProcessEngine:
    """An engine in a process of its own, begun when it is first asked."""

    def __init__(self, longest: float = LONGEST, memory: int = MOST_MEMORY) -> None:
        self._longest, self._memory = longest, memory
        self._process: multiprocessing.process.BaseProcess | None = None
        self._pipe: Connection | None = None
        self._turn = asyncio.Lock()
        self._newest: dict[str, int] = {}
        self._count = 0
        self._warm = False

    async def ask(self, question: Mapping[str, Any]) -> dict[str, Any] | bytes:
        """Return the answer to a question; questions wait for each other."""
        self._count += 1
        number, kind = self._count, str(question.get("ask"))
        self._newest[kind] = number
        async with self._turn:
            if kind in NEWEST_ONLY and self._newest[kind] != number:
                return OUTDATED
            return await asyncio.to_thread(self._asked, dict(question))

    def _asked(self, question: dict[str, Any]) -> dict[str, Any] | bytes:
        if self._process is None or not self._process.is_alive():
            self.close()
            self._begin()
        pipe = self._pipe
        assert pipe is not None
        try:
            pipe.send(question)
            allowed = longest(question, self._longest)
            if not pipe.poll(allowed if self._warm else max(allowed, FIRST)):
                self.close()
                return {"failed": TOO_LONG.format(f"{allowed:g}")}
            found: dict[str, Any] | bytes = pipe.recv()
        except (EOFError, OSError):
            self.close()
            return {"failed": ENDED}
        self._warm = True
        return found

    def _begin(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=serve, args=(theirs, self._memory), daemon=True)
        self._process.start()
        theirs.close()
        self._warm = False

    def close(self) -> None:
        """End the process, if there is one."""
        if self._process is not None:
            self._process.kill()
            self._process.join()
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None


def serve(pipe: Connection, memory: int) -> None:
    """Answer questions from a pipe until it is closed. The work of the process."""
    with suppress(ImportError, ValueError, OSError):  # systems without such a limit do without
        resource = load("resource")
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
    answers = load("arranger.desk.answers")
    bad_question = load("arranger.desk.day_choices").BadQuestionError
    while True:
        try:
            question = pipe.recv()
        except (EOFError, OSError, KeyboardInterrupt):
            return
        found: dict[str, Any] | bytes
        try:
            found = answers.answer(question)
        except bad_question as bad:
            found = {"bad": str(bad)}
        except MemoryError:
            return  # what is left may be broken: the next one begins anew
        except Exception as fault:
            found = {"failed": f"{WRONG} ({type(fault).__name__}: {fault})"}
        pipe.send(found)
