"""Edit samples at random and ask for their pages: an answer depends on the text alone, never on those before it.

`python -m tests.desk.edits 500` asks for 500 edited texts in one process, and for the same in another process in the
opposite order, and compares all answers. The tests do a tenth.
"""

from __future__ import annotations

import multiprocessing
import random
import sys
from pathlib import Path
from typing import Any

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
SNIPPETS = (
    "C",
    "Am7",
    "| ",
    " |",
    "\n",
    "la",
    " ",
    "#",
    "hold",
    "\nsection X\n| C | F |\n",
    "\ntempo 90\n",
    "%",
    "é",
    "\U0001d11e",
)


def edited(count: int, seed: int) -> list[dict[str, Any]]:
    """Return questions for pages, each of them an edit of the one before or of a sample."""
    chance = random.Random(seed)
    questions = []
    text = ""
    for number in range(count):
        if number % 12 == 0:
            text = chance.choice(SAMPLES).read_text(encoding="utf-8")
        at = chance.randrange(len(text) + 1)
        taken = chance.choice((0, 0, 1, 1, 4))
        text = text[:at] + chance.choice((*SNIPPETS, "")) + text[at + taken :]
        day = chance.choice(({}, {}, {"hands": "letters"}, {"easy": True}))
        questions.append({"ask": "pages", "text": text, "day": day, "copy": chance.choice(("part", "part", "stage"))})
    return questions


def answers(questions: list[dict[str, Any]]) -> list[Any]:
    """Answer questions in order."""
    from arranger.desk.answers import answer

    return [answer(question) for question in questions]


def differing(count: int, seed: int = 1) -> int:
    """Return how many of some edited texts have another answer after other questions."""
    questions = edited(count, seed)
    with multiprocessing.get_context("spawn").Pool(2, maxtasksperchild=1) as pool:
        forward, backward = pool.map(answers, [questions, questions[::-1]], chunksize=1)
    return sum(one != other for one, other in zip(forward, backward[::-1], strict=True))


if __name__ == "__main__":
    how_many = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    print(f"{how_many} edits, {differing(how_many)} with another answer after other questions")
