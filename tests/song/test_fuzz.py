"""Ten thousand songs that nobody would type (tests/fuzz.py makes a million): all end in a Song or in diagnostics."""

import pytest

from tests import fuzz

SHARE = 2500  # inputs of one test; four of them


@pytest.mark.slow
@pytest.mark.parametrize("part", range(4))
def test_every_input_ends_in_a_song_or_in_diagnostics(part: int) -> None:
    tally = fuzz.run(7, range(part * SHARE, (part + 1) * SHARE))
    assert tally.faults == []
    assert tally.inputs == SHARE
    assert tally.songs > SHARE // 20, "too few inputs are songs for this to say anything about songs"
    assert len(tally.codes) > 60, "too few kinds of mistake are met"


def test_inputs_are_the_same_every_time() -> None:
    songs = fuzz.material()
    assert [fuzz.made(1, n, songs) for n in range(50)] == [fuzz.made(1, n, songs) for n in range(50)]
