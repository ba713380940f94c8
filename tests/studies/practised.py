"""Songs to practise, from text, for the tests of studies."""

from __future__ import annotations

from arranger.harmony.arrange import work_out
from arranger.harmony.taste import DEFAULT, Taste
from arranger.song.read import read
from arranger.studies.model import StudyRow
from arranger.studies.study_hands import ArrangedSong
from arranger.text.source import Source


def practised(text: str, taste: Taste = DEFAULT) -> ArrangedSong:
    """Return the arranged song of a text without mistakes."""
    song, problems = read(Source("test", text))
    assert song is not None, problems
    worked, problems = work_out(song, taste, figures=False)
    assert worked is not None, problems
    return ArrangedSong(song.title.value, worked.arrangement)


def one(rows: str, facts: str = "key C\ntempo 72\n", title: str = "Low Tide", taste: Taste = DEFAULT) -> ArrangedSong:
    """Return a song of one section."""
    return practised(f"song {title}\n{facts}\nsection Verse\n{rows}\n", taste)


def told(row: StudyRow) -> str:
    """Return the label of a row as plain text."""
    return "".join(map(str, row.label))
