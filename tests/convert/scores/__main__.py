"""Scores made by chance with music21, converted and compared with what that library reads in them.

    python -m tests.convert.scores [HOW MANY] [SEED]

A tenth of a hundred is in the tests. A score of a seed and a number is always the same.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path

from arranger.convert.score_conversion import convert_score
from tests.convert.random_scores import written
from tests.convert.second_reader import differences, differences_as_played


def main() -> int:
    """Convert scores; tell what was lost."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    told: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(count):
            path = Path(folder) / f"{number}.musicxml"
            strophic = written(path, seed, number)
            made, problems = convert_score(path.read_bytes(), title="Chance")
            said = [p.message for p in problems] if made is None else differences(path, made.text)
            if made is not None and not said and not strophic:
                said = differences_as_played(path, made.text)
            for one in said:
                print(f"{number}: {one}")
            told["right" if not said else "wrong"] += 1
            told["open places"] += sum(note.kind == "check" for note in made.notes) if made is not None else 0
    print(f"{told['right']} of {count} right, {told['open places']} places to check")
    return int(told["wrong"] > 0)


if __name__ == "__main__":
    raise SystemExit(main())
