"""What studies cost beside the parts of the same songs, measured side by side: `python -m tests.bench.study`.

The unit is all parts of the songs: hands worked out, pages laid out and drawn. Studies work the hands out too, and lay
out and draw a page or two. Songs are read before. Medians by the clock over rounds in which everything is
measured once.
"""

from __future__ import annotations

from arranger.harmony.model import Arrangement
from arranger.harmony.settled import forget
from arranger.pipeline import Wishes, to_arrangement, to_part, to_song
from arranger.practising import to_studies
from arranger.song.model import Song
from arranger.song.read import decode
from tests.bench.one_song import ROOT, measure

ROUNDS = 7
GOAL = 1.5  # studies / parts
WISHES = Wishes(figures=False)


def arranged(songs: list[Song]) -> list[Arrangement]:
    """Work out songs from nothing."""
    forget()
    found = [to_arrangement(song, WISHES)[0] for song in songs]
    return [one for one in found if one is not None]


def parts(songs: list[Song]) -> None:
    """Make the part of each song."""
    for one in arranged(songs):
        to_part(one, WISHES)


def studies(songs: list[Song], minutes: int, pages: int) -> None:
    """Make the studies of all songs."""
    to_studies(arranged(songs), minutes, pages, WISHES)


def main() -> None:
    """Measure and print medians and ratios."""
    book = []
    for path in sorted((ROOT / "samples").glob("*.song.txt")):
        song, _ = to_song(decode(path.name, path.read_bytes())[0])
        assert song is not None
        book.append(song)
    print(f"{'':34}{'parts ms':>10}{'studies ms':>12}{'ratio':>8}{'goal':>6}")
    cases = {
        "one song, 15 minutes, 1 page": (book[4:5], 15, 1),
        "five songs, 15 minutes, 1 page": (book[:5], 15, 1),
        "ten songs, 15 minutes, 1 page": (book, 15, 1),
        "ten songs, 60 minutes, 2 pages": (book, 60, 2),
    }
    for name, (songs, minutes, pages) in cases.items():
        works = {
            "parts": lambda songs=songs: parts(songs),
            "studies": lambda songs=songs, minutes=minutes, pages=pages: studies(songs, minutes, pages),
        }
        times = measure(works, ROUNDS)
        ratio = times["studies"] / times["parts"]
        print(f"{name:34}{times['parts']:10.1f}{times['studies']:12.1f}{ratio:8.2f}{GOAL:6g}")


if __name__ == "__main__":
    main()
