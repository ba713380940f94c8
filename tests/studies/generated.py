"""Make studies of generated songs for players with other hands, and look whether anything is not as it must be.

    python -m tests.studies.generated 500

Held in every case: no picture has a key outside the player's limits, a wider reach or more keys than the player takes;
minutes add up; pages and studies are no more than asked for; each study has its boxes; everything lies on its page.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from typing import NamedTuple

from arranger.harmony.arrange import work_out
from arranger.harmony.model import Arrangement
from arranger.harmony.taste import DEFAULT, Taste
from arranger.layout.model import Keyboard, Line, Text
from arranger.layout.options import PartOptions
from arranger.layout.pages.study_page import LaidStudies, lay_out_studies
from arranger.pdf.fonts import metrics
from arranger.song.read import read
from arranger.studies.model import StudyHand
from arranger.studies.offer import has_changes, studies_of
from arranger.studies.study_hands import ArrangedSong
from arranger.text.source import Source
from arranger.units import PAPERS
from tests.bench.songbook import songbook
from tests.harmony.arc_figures import song_text

SEED = 20_261_201
LINES_OF_A_BOX = 4


class Practised(NamedTuple):
    """What was asked for, and what came of it."""

    songs: tuple[ArrangedSong, ...]
    taste: Taste
    minutes: int
    pages: int
    options: PartOptions
    laid: LaidStudies


def taste_of(chance: random.Random) -> Taste:
    """Return a player's limits: windows of an octave and a half and more, reaches from a seventh to a tenth."""
    low = chance.randint(48, 60)
    return DEFAULT._replace(
        low=low,
        moved_low=low,
        high=low + chance.randint(18, 30),
        span=chance.choice((10, 11, 12, 12, 14, 16)),
        notes=chance.choice((3, 3, 4)),
        most_keys=chance.choice((3, 4)),
        octaves=chance.choice(("phrase", "every", "none")),
        target_shift=chance.choice((-3, 0, 3)),
        arc=chance.random() < 0.8,
    )


def texts(count: int, seed: int = SEED) -> Iterator[str]:
    """Yield the texts of songs: of the songbook, and with other meters and bands."""
    for number, made in enumerate(songbook(count, seed)):
        yield made.text if number % 2 else song_text(random.Random(f"{seed}-{number}"))


def arranged(text: str, taste: Taste) -> tuple[Arrangement, bool]:
    """Return an arrangement, and whether all of it is within the player's limits: without a word of warning."""
    song, problems = read(Source("test", text))
    assert song is not None, problems
    worked, problems = work_out(song, taste, figures=False)
    assert worked is not None, problems
    return worked.arrangement, not problems


def practised(count: int, seed: int = SEED) -> Iterator[Practised]:
    """Yield so many studies, of one to five songs each."""
    chance = random.Random(seed)
    book = texts(count * 3, seed)
    for _ in range(count):
        taste = taste_of(chance)
        found = [arranged(next(book), taste) for _ in range(chance.choice((1, 1, 2, 3)))]
        songs = tuple(
            ArrangedSong(f"{one.song.title.value} {number}", one)
            for number, (one, whole) in enumerate(found)
            if whole and has_changes(ArrangedSong("", one))
        )
        if not songs:
            continue
        minutes, pages = chance.choice((3, 4, 5, 10, 15, 15, 30, 60)), chance.choice((1, 2))
        options = PartOptions(paper=chance.choice(list(PAPERS.values())))
        laid, problems = lay_out_studies(studies_of(songs, taste, minutes), minutes, pages, options, metrics())
        assert problems == ()
        yield Practised(songs, taste, minutes, pages, options, laid)


def faults(case: Practised) -> Iterator[str]:
    """Yield what is not as it must be."""
    taste, laid = case.taste, case.laid
    for one in laid.timed:
        for row in one.study.rows:
            for hand in row.hands:
                yield from _beyond(hand, taste)
    if sum(one.minutes for one in laid.timed) != case.minutes or min(one.minutes for one in laid.timed) < 1:
        yield f"{[one.minutes for one in laid.timed]} minutes are not {case.minutes}"
    if not 1 <= len(laid.document.pages) <= case.pages:
        yield f"{len(laid.document.pages)} pages, {case.pages} asked for"
    items = [item for page in laid.document.pages for item in page.items]
    boxes = sum(isinstance(item, Line) and item.role == "box" for item in items) // LINES_OF_A_BOX
    if boxes != sum(1 if one.study.kind == "sounds" else 3 for one in laid.timed):
        yield f"{boxes} boxes for {len(laid.timed)} studies"
    told = [int(item.text.split()[0]) for item in items if isinstance(item, Text) and item.text.endswith(" min")]
    if sum(told) != case.minutes:
        yield f"the page says {told} minutes, {case.minutes} asked for"
    shown = sum(isinstance(item, Keyboard) for item in items)
    if shown != sum(len(row.hands) for one in laid.timed for row in one.study.rows[: one.rows]):
        yield f"{shown} pictures"


def _beyond(hand: StudyHand, taste: Taste) -> Iterator[str]:
    keys = [pitch.midi for pitch in hand.right]
    most = max(taste.notes, taste.most_keys, 4 if hand.chord and len(hand.chord.members) > 4 else 3)
    if keys[0] < taste.low or keys[-1] > taste.high:
        yield f"{hand.chord}: {keys} outside {taste.low} to {taste.high}"
    if keys[-1] - keys[0] > taste.span:
        yield f"{hand.chord}: {keys} is wider than {taste.span}"
    if len(keys) > most:
        yield f"{hand.chord}: {keys} are more than {most} keys"


def main() -> None:
    """Print what is wrong, and how many studies were looked at."""
    count, studies, wrong = int(sys.argv[1]) if len(sys.argv) > 1 else 500, 0, 0
    for number, case in enumerate(practised(count)):
        studies += len(case.laid.timed)
        for fault in faults(case):
            wrong += 1
            print(f"{number}: {fault}")
    print(f"{count} sheets, {studies} studies, {wrong} faults")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
