"""Problems in pieces that one limit joins, against brute force and against the search of the whole."""

import random
from collections.abc import Sequence
from itertools import pairwise, product

import pytest

from arranger.harmony import within_limits
from arranger.harmony.arrange import work_out
from arranger.harmony.choices import ChoiceProblem
from arranger.harmony.limits import Limit
from arranger.harmony.pieces import Joint, _pieces, best_apart
from arranger.harmony.search import Choice
from arranger.harmony.within_limits import _Search, best_within
from tests.bench.harmony import all_different
from tests.harmony import songs


def nested(r: random.Random, chains: Sequence[int], top: int) -> tuple[ChoiceProblem, list[Limit]]:
    """Make chains that nothing joins but the limit over all; each with its own, and some with one over two nodes."""
    count = sum(chains)
    sizes = [r.randint(1, 3) for _ in range(count)]
    places = r.sample(range(count), count)  # the nodes of a chain lie anywhere
    starts = [sum(chains[:i]) for i in range(len(chains))]
    sections = [sorted(places[start : start + length]) for start, length in zip(starts, chains, strict=True)]
    pairs = {}
    for section in sections:
        for i, j in pairwise(section):
            pairs[i, j] = tuple([r.randint(0, top) for _ in range(sizes[j])] for _ in range(sizes[i]))
    uses = [(0, *(r.choice((0, 1, 1, 2)) for _ in range(size - 1))) for size in sizes]
    limits = [Limit({n: uses[n] for n in section}, r.randint(0, 3)) for section in sections]
    limits += [Limit({n: uses[n] for n in some[:2]}, 1) for some in sections if len(some) > 2 and r.random() < 0.5]
    limits.append(Limit({n: uses[n] for n in range(count)}, r.randint(0, count)))
    nodes = tuple([r.randint(0, top) - use * r.randint(0, top) for use in some] for some in uses)
    return ChoiceProblem(nodes, pairs), limits


def first_of_the_best(problem: ChoiceProblem, limits: Sequence[Limit], most: int) -> tuple[int, Choice] | None:
    """Try all choices."""
    allowed = [
        (problem.cost(c), c)
        for c in product(*(range(len(costs)) for costs in problem.nodes))
        if all(limit.used(c) <= limit.most for limit in limits)
    ]
    return min((one for one in allowed if one[0] <= most), default=None)


@pytest.mark.parametrize("seed", range(150))
def test_what_pieces_share_is_shared_out_for_the_least(seed: int) -> None:
    """Whatever the price, and each piece found by brute force; the first of equals, of which there are many."""
    r = random.Random(seed)
    problem, limits = nested(r, [r.randint(1, 3) for _ in range(3)], r.choice((2, 20, 3000)))
    joined = Joint(len(limits) - 1, _pieces(problem, limits[:-1]))
    assert len(joined.pieces) >= 3
    idle = (0,) * len(problem.nodes)

    def find(piece: ChoiceProblem, within: Sequence[Limit], most: int, known: Choice) -> tuple[int, Choice] | None:
        return first_of_the_best(piece, within, most)

    found = best_apart(problem, limits, r.choice((0, 1, 7, 2000)), joined, idle, find)
    assert (problem.cost(found), found) == first_of_the_best(problem, limits, problem.cost(idle))


@pytest.mark.parametrize("seed", range(200))
def test_nested_limits_leave_the_first_of_the_best(seed: int) -> None:
    r = random.Random(seed)
    problem, limits = nested(r, [r.randint(2, 4) for _ in range(3)], r.choice((2, 20, 3000)))
    found = best_within(problem, limits)
    assert found.proven
    assert (found.cost, found.choice) == first_of_the_best(problem, limits, found.cost)


@pytest.mark.parametrize("seed", range(100))
def test_with_a_cost_that_is_too_much_there_is_nothing_or_the_best(seed: int) -> None:
    r = random.Random(seed)
    problem, limits = nested(r, [r.randint(2, 4), r.randint(1, 3)], r.choice((2, 20, 3000)))
    best = first_of_the_best(problem, limits, 10**9)
    assert best is not None
    for most in (best[0] - 1, best[0], best[0] + r.randint(1, 3000)):
        found = _Search(problem, limits, within_limits.MOST_MADE, most).run()
        assert found.proven
        assert found.choice == (best[1] if most >= best[0] else ())


def test_long_problems_are_the_same_in_pieces_as_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    apart = []

    def noted(*given):  # type: ignore[no-untyped-def]
        apart.append(len(given[3].pieces))
        return best_apart(*given)

    problems = [nested(r, [r.randint(4, 12) for _ in range(5)], 3000) for r in map(random.Random, range(25))]
    with monkeypatch.context() as patch:
        patch.setattr(within_limits, "best_apart", noted)
        in_pieces = [best_within(*one) for one in problems]
    assert len(apart) >= 10 and max(apart) >= 4
    monkeypatch.setattr(within_limits, "joint", lambda problem, limits: None)
    assert in_pieces == [best_within(*one) for one in problems]
    assert all(found.proven for found in in_pieces)


@pytest.mark.slow
def test_six_hundred_chords_are_proven() -> None:
    """A whole of 1,908,545 was taken here once, with a bound of 1,904,410."""
    song = all_different(24)
    worked, _ = work_out(song, songs.TODAY, figures=False)
    assert worked is not None
    movement = worked.arrangement.movement
    assert (movement.whole, movement.bound, movement.proven) == (1_907_805, 1_907_805, True)
