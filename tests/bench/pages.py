"""How fast pages are made, as ratios measured side by side in one run: `python -m tests.bench.pages`.

The unit L is the bare drawing of the same placed items (tests/bench/bare.py); A5 is their drawing by the usual calls.
The sample nearest to the reference song is laid out in each of the three ways of showing hands; fonts are loaded and
subsets finished, as in a process that has made a part before. Medians over rounds in which everything is measured once.

    python -m tests.bench.pages --count

counts the pages of all samples and of the songs of tests/bench/songbook.py, for each way of showing hands, beside the
counts before sections were folded.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from statistics import fmean
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.layout.model import Document, Keyboard, Text
from arranger.layout.options import HANDS, Hands, PartOptions
from arranger.pdf.fonts import finished, subsets
from arranger.pdf.write import to_bytes
from arranger.pipeline import Wishes, to_arrangement, to_pages, to_song
from arranger.resources import FONT_FILES
from arranger.song.read import decode
from tests.bench.bare import bare, usual
from tests.bench.one_song import ROOT, SONG, measure
from tests.bench.songbook import songbook

ROUNDS = 30
DRAWING = 3.0  # drawing / L, committed
# Layout has no goal of its own: the whole pipeline has 6 L, of which reading, search and drawing leave it about this.
LAYOUT = 3.0


class Counts(NamedTuple):
    """Pages as they were: of the samples in their order, and of the songbook in words."""

    samples: str
    book: str


BEFORE = {  # every section drawn, two looks
    "keyboard": Counts(
        "bread and salt 3, lanterns 2, marquee 3, night ferry 3, rosalie 2, slow boats 3, tide clock 2",
        "2 of 1, 66 of 2, 71 of 3, 39 of 4, 15 of 5, 6 of 6, 1 of 7; mean 3.10, of many verses 3.57",
    ),
    "staff": Counts(
        "bread and salt 4, lanterns 2, marquee 4, night ferry 3, rosalie 3, slow boats 4, tide clock 3",
        "29 of 2, 62 of 3, 44 of 4, 29 of 5, 21 of 6, 7 of 7, 5 of 8, 3 of 9; mean 4.04, of many verses 4.67",
    ),
    "letters": Counts(
        "bread and salt 3, lanterns 1, marquee 3, night ferry 2, rosalie 2, slow boats 3, tide clock 2",
        "12 of 1, 103 of 2, 58 of 3, 24 of 4, 3 of 5; mean 2.52, of many verses 2.83",
    ),
}


def laid_out(wishes: Wishes) -> Document:
    """Lay the song out once."""
    song, _ = to_song(decode(SONG.name, SONG.read_bytes())[0])
    arrangement, _ = to_arrangement(song, wishes)
    document, _ = to_pages(arrangement, wishes)
    return document


def main() -> None:
    """Measure and print medians and ratios."""
    song, _ = to_song(decode(SONG.name, SONG.read_bytes())[0])
    wishes = Wishes(figures=False)
    arrangement, _ = to_arrangement(song, wishes)
    document = laid_out(wishes)
    used = {c for page in document.pages for item in page.items if isinstance(item, Text) for c in item.text}
    programs = {face: finished(face, subsets(face, used)[0], 0).program for face in FONT_FILES}
    works = {"L": bare(document, programs), "A5": lambda: usual(document)}
    documents = {}
    for hands in HANDS:
        other = wishes._replace(pages=PartOptions(hands=hands))
        documents[hands] = laid_out(other)
        works[f"layout, {hands}"] = lambda other=other: to_pages(arrangement, other)
        works[f"drawing, {hands}"] = lambda hands=hands: to_bytes(documents[hands])
    times = measure(works, ROUNDS)
    for hands, made in documents.items():
        items = [item for page in made.pages for item in page.items]
        texts, pictures = (sum(isinstance(item, kind) for item in items) for kind in (Text, Keyboard))
        size = len(to_bytes(made)) / 1000
        print(f"{hands}: {len(made.pages)} pages, {texts} texts, {pictures} keyboards, {size:.1f} KB")
    print(f"\n{'':24}{'ms':>8}{'/ L':>8}{'/ A5':>8}{'goal':>8}")
    for name, value in times.items():
        goal = f"{DRAWING if name.startswith('drawing') else LAYOUT:8g}" if "," in name else ""
        print(f"{name:24}{value:8.2f}{value / times['L']:8.2f}{value / times['A5']:8.2f}{goal}")


MANY = 3  # verses of a song that has many


def count_pages() -> None:
    """Print how many pages songs have, in each way of showing hands, and how many had so many before."""
    wishes = Wishes(figures=False)
    samples = sorted((ROOT / "samples").glob("*.song.txt"))
    texts = [(path.name.removesuffix(".song.txt"), path.read_bytes(), 0) for path in samples]
    texts += [(made.name, made.text.encode(), made.verses) for made in songbook()]
    songs = []
    for name, text, verses in texts:
        song, _ = to_song(decode(name, text)[0])
        songs.append((name, to_arrangement(song, wishes)[0], verses))
    for hands in HANDS:
        pages = _pages_of([arrangement for _, arrangement, _ in songs], hands)
        print(f"{hands}: samples before {BEFORE[hands].samples}")
        now = ", ".join(f"{name} {count}" for (name, *_), count in zip(songs[: len(samples)], pages, strict=False))
        print(f"    now {now}")
        made = list(zip(songs, pages, strict=True))[len(samples) :]
        print(f"    before: {BEFORE[hands].book}")
        print(f"    now:    {_summary([(verses, count) for (_, _, verses), count in made])}")


def _pages_of(arrangements: Sequence[Arrangement], hands: Hands) -> list[int]:
    wishes = Wishes(figures=False, pages=PartOptions(hands=hands))
    return [len(to_pages(arrangement, wishes)[0].pages) for arrangement in arrangements]


def _summary(counts: Sequence[tuple[int, int]]) -> str:
    """Return how many songs have how many pages, and the means, of (verses, pages)."""
    by_pages = sorted(Counter(pages for _, pages in counts).items())
    many = fmean(pages for verses, pages in counts if verses >= MANY)
    told = ", ".join(f"{songs} of {pages}" for pages, songs in by_pages)
    return f"{told}; mean {fmean(pages for _, pages in counts):.2f}, of many verses {many:.2f}"


if __name__ == "__main__":
    if "--count" in sys.argv[1:]:
        count_pages()
    else:
        main()
