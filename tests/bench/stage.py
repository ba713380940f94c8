"""What fitting a stage copy costs, as multiples of one layout, measured side by side: `python -m tests.bench.stage`.

The unit is one layout of the same copy: its content gathered, and everything set and placed at the one size that fits.
Fitting tries sizes from the largest down until one fits, so `--pages 1` costs the more the fuller the page is. Beside
it stands the player's part of the same song. Medians over rounds in which everything is measured once.
"""

from __future__ import annotations

from collections.abc import Callable

from arranger.harmony.model import Arrangement
from arranger.layout.options import PartOptions, StageOptions
from arranger.layout.pages.fitting import Fitting, sizes
from arranger.layout.pages.players_part import lay_out as lay_out_part
from arranger.layout.pages.stage_copy import finished, lay_out
from arranger.pdf.fonts import metrics
from arranger.pipeline import Wishes, to_arrangement, to_song
from arranger.song.read import decode
from tests.bench.one_song import ROOT, measure

ROUNDS = 30
FITTING = 4.0  # goal: the whole of `--pages` / one layout; twenty to forty sizes are tried
ASKED = (("pages 1", 1), ("pages 2", 2), ("pages any", None))
DISTANCES = tuple(step / 20 for step in range(40, 5, -1))  # from which it is read: the farthest that fits is taken


def fullest(arrangement: Arrangement, pages: int | None) -> StageOptions:
    """Give the options at which a song fills its pages: from the farthest distance, so that most sizes are tried."""
    for distance in DISTANCES:
        options = StageOptions(distance=distance, pages=pages)
        if pages is None or lay_out(arrangement, metrics(), options)[0] is not None:
            return options if pages is not None else options._replace(distance=0.9)
    raise ValueError(f"the song does not fit {pages} pages from anywhere")


def tried(arrangement: Arrangement, options: StageOptions) -> int:
    """Count the sizes that are tried."""
    fitting = Fitting(arrangement, options, metrics())
    fitting.largest()
    return len(fitting._tried)


def one(arrangement: Arrangement, options: StageOptions, size: float) -> None:
    """Lay a copy out at one size."""
    fitting = Fitting(arrangement, options, metrics())
    finished(fitting, fitting.at(size))


def main() -> None:
    """Measure and print medians and ratios."""
    print(f"{'':34}{'sizes':>6}{'tried':>6}{'ms':>8}{'/ one':>8}{'/ part':>8}{'goal':>6}")
    for path in sorted((ROOT / "samples").glob("*.song.txt")):
        song, _ = to_song(decode(path.name, path.read_bytes())[0])
        assert song is not None
        arrangement, _ = to_arrangement(song, Wishes(figures=False))
        assert arrangement is not None
        part = arrangement  # bound for the closures of this round
        works: dict[str, Callable[[], object]] = {
            "part": lambda part=part: lay_out_part(part, metrics(), options=PartOptions())
        }
        chosen = {name: fullest(arrangement, pages) for name, pages in ASKED}
        for name, options in chosen.items():
            _, reading, _ = lay_out(arrangement, metrics(), options)
            assert reading is not None
            works[name] = lambda part=part, options=options: lay_out(part, metrics(), options)
            at = reading.size
            works[f"{name}, one"] = lambda part=part, options=options, at=at: one(part, options, at)
        times = measure(works, ROUNDS)
        for name, options in chosen.items():
            grid, count = len(sizes(options.distance, metrics())), tried(arrangement, options)
            ratio, beside = times[name] / times[f"{name}, one"], times[name] / times["part"]
            label = f"{path.name.partition('.')[0]}, {name}, {options.distance:g} m"
            print(f"{label:34}{grid:6}{count:6}{times[name]:8.2f}{ratio:8.2f}{beside:8.2f}{FITTING:6g}")


if __name__ == "__main__":
    main()
