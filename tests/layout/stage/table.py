"""How stage copies of the samples read: `python -m tests.layout.stage.table` prints angle, pages and turns of each.

The angle asked for is 20 minutes of arc; the angle got is that of the lowest capitals. Of each turn of a page that is
played, the seconds that a hand is free are given; in brackets where they are fewer than a turn takes.
"""

from __future__ import annotations

from pathlib import Path

from arranger.layout.options import StageOptions
from arranger.layout.pages.turning import FREE
from arranger.pdf.fonts import metrics
from arranger.pipeline import Wishes, to_arrangement, to_song
from arranger.song.read import decode
from arranger.units import SHEETS
from tests.layout.stage.drawn import lay_out

SAMPLES = Path(__file__).parents[3] / "samples"
PAPERS = ("a4", "a5", "tablet", "a4-pair")
DISTANCES = (0.6, 0.9, 1.3)


def main() -> None:
    """Print the table."""
    print(f"{'song':16}{'paper':9}{'metres':>7}{'angle':>7}{'points':>8}{'pages':>7}  free seconds")
    for path in sorted(SAMPLES.glob("*.song.txt")):
        song, _ = to_song(decode(path.name, path.read_bytes())[0])
        assert song is not None
        arrangement, _ = to_arrangement(song, Wishes(figures=False))
        assert arrangement is not None
        for paper in PAPERS:
            for distance in DISTANCES:
                _, reading, problems = lay_out(arrangement, metrics(), StageOptions(SHEETS[paper], distance=distance))
                start = f"{path.name.partition('.')[0]:16}{paper:9}{distance:7g}"
                if reading is None:
                    print(f"{start}  {problems[0].message}")
                    continue
                turns = " ".join(f"{s:.1f}" if s >= FREE else f"[{s:.1f}]" for s in sorted(reading.turns))
                print(f"{start}{reading.minutes:7.1f}{reading.size:8.2f}{reading.pages:7}  {turns}")


if __name__ == "__main__":
    main()
