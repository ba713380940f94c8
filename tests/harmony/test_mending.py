"""Choices made to keep within limits: they do, and what is changed after that makes them better only."""

import random

import pytest

from arranger.harmony.limits import Mending
from tests.harmony.test_limited import random_limits, song_like
from tests.harmony.test_search import random_problem


@pytest.mark.parametrize("seed", range(200))
def test_what_is_mended_and_merged_keeps_within_the_limits(seed: int) -> None:
    r = random.Random(seed)
    problem, limits = song_like(r, r.randint(3, 14), r.choice((3, 3000)))
    if seed % 2:
        problem = random_problem(r, most_nodes=8, top=300)
        limits = random_limits(r, [len(costs) for costs in problem.nodes])
    mending = Mending(problem, limits)
    nodes = range(len(problem.nodes))
    one, two = (mending.mended([r.randrange(len(costs)) for costs in problem.nodes], nodes) for _ in range(2))
    merged = mending.merged(one, two)
    for choice in (one, two, merged):
        assert all(limit.used(choice) <= limit.most for limit in limits)
    assert problem.cost(merged) <= problem.cost(one)
    assert problem.cost(mending.mended(one, nodes)) <= problem.cost(one)
    assert mending.merged(one, one) == one
