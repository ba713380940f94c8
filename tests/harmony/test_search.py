"""The exact search against brute force, on random problems: every kind of graph that a roadmap can make."""

import random
from itertools import product

import pytest

from arranger.harmony.answer import best
from arranger.harmony.search import Problem, min_fill_order, plan, solve


def random_problem(r: random.Random, most_nodes: int = 6, most: int = 4, top: int = 20) -> Problem:
    count = r.randint(1, most_nodes)
    sizes = [r.randint(1, most) for _ in range(count)]
    nodes = tuple([r.randint(0, top) for _ in range(s)] for s in sizes)
    pairs = {
        (i, j): tuple([r.randint(0, top) for _ in range(sizes[j])] for _ in range(sizes[i]))
        for i in range(count)
        for j in range(i + 1, count)
        if r.random() < 0.6
    }
    return Problem(nodes, pairs)


def brute(problem: Problem) -> int:
    return min(problem.cost(c) for c in product(*(range(len(n)) for n in problem.nodes)))


@pytest.mark.parametrize("seed", range(400))
def test_no_choice_costs_less(seed: int) -> None:
    problem = random_problem(random.Random(seed))
    assert problem.cost(solve(problem)) == brute(problem)


def test_the_first_of_equals_wins() -> None:
    problem = Problem(([1, 1, 1], [2, 2]), {(0, 1): ([0, 0], [0, 0], [0, 0])})
    assert solve(problem) == (0, 0)


def test_chains_make_small_tables() -> None:
    nodes = tuple([0] * 5 for _ in range(100))
    pairs = {(i, i + 1): tuple([1] * 5 for _ in range(5)) for i in range(99)}
    assert plan(Problem(nodes, pairs)).entries <= 100 * 5 * 5


def test_min_fill_takes_leaves_first() -> None:
    order, neighbours = min_fill_order(4, ((0, 1), (1, 2), (2, 3), (1, 3)))
    assert order[0] == 0
    assert all(len(n) <= 2 for n in neighbours)


@pytest.mark.parametrize("seed", range(200))
def test_where_it_is_too_large_the_bound_holds(seed: int) -> None:
    """The bound is never above the least cost, the choice never below it."""
    r = random.Random(seed)
    problem = random_problem(r, most_nodes=5, top=1000)
    count = len(problem.nodes)
    walk = [r.randrange(count) for _ in range(r.randint(1, 12))]
    answer = best(problem, walk, most_entries=-1)
    least = brute(problem)
    assert answer.bound <= least <= answer.cost == problem.cost(answer.choice)
    assert answer.proven == (answer.bound == answer.cost)
