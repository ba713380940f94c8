"""How fast pages are made, as ratios measured side by side in one run: `python -m tests.bench.pages`.

The unit L is the bare drawing of the same placed items (tests/bench/bare.py); A5 is their drawing by the usual calls.
The sample nearest to the reference song is laid out in each of the three ways of showing hands; fonts are loaded and
subsets finished, as in a process that has made a part before. Medians over rounds in which everything is measured once.
"""

from __future__ import annotations

from dataclasses import replace

from arranger.layout.model import Document, Keyboard, Text
from arranger.layout.options import HANDS, PartOptions
from arranger.pdf.fonts import FILES, finished, subsets
from arranger.pdf.write import to_bytes
from arranger.pipeline import Wishes, to_arrangement, to_pages, to_song
from arranger.song.read import decode
from tests.bench.bare import bare, usual
from tests.bench.one_song import SONG, measure

ROUNDS = 30
DRAWING = 3.0  # drawing / L, committed
# Layout has no goal of its own: the whole pipeline has 6 L, of which reading, search and drawing leave it about this.
LAYOUT = 3.0


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
    programs = {face: finished(face, subsets(face, used)[0], 0).program for face in FILES}
    works = {"L": bare(document, programs), "A5": lambda: usual(document)}
    documents = {}
    for hands in HANDS:
        other = replace(wishes, pages=PartOptions(hands=hands))
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


if __name__ == "__main__":
    main()
