"""The exact search against brute force, on random problems: every kind of graph that a roadmap can make."""

import random
from itertools import product

import pytest

from arranger.harmony.choices import MOST_ENTRIES, ChoiceProblem, min_fill_order, plan
from arranger.harmony.optimum import best
from arranger.harmony.search import Solver, solve


def random_problem(r: random.Random, most_nodes: int = 6, most: int = 4, top: int = 20) -> ChoiceProblem:
    count = r.randint(1, most_nodes)
    sizes = [r.randint(1, most) for _ in range(count)]
    nodes = tuple([r.randint(0, top) for _ in range(s)] for s in sizes)
    pairs = {
        (i, j): tuple([r.randint(0, top) for _ in range(sizes[j])] for _ in range(sizes[i]))
        for i in range(count)
        for j in range(i + 1, count)
        if r.random() < 0.6
    }
    return ChoiceProblem(nodes, pairs)


def brute(problem: ChoiceProblem) -> int:
    return min(problem.cost(c) for c in product(*(range(len(n)) for n in problem.nodes)))


@pytest.mark.parametrize("seed", range(400))
def test_no_choice_costs_less(seed: int) -> None:
    problem = random_problem(random.Random(seed))
    assert problem.cost(solve(problem)) == brute(problem)


@pytest.mark.parametrize("seed", range(200))
def test_however_it_is_solved_the_same_of_equals_is_taken(seed: int) -> None:
    """Problems of few neighbours are solved in their own way."""
    problem = random_problem(random.Random(seed), most_nodes=7, top=random.Random(seed).choice((2, 20)))
    planned = plan(problem)
    assert planned is not None
    assert solve(problem) == Solver(problem, planned).solve(problem.nodes)


def test_the_first_of_equals_wins() -> None:
    problem = ChoiceProblem(([1, 1, 1], [2, 2]), {(0, 1): ([0, 0], [0, 0], [0, 0])})
    assert solve(problem) == (0, 0)


def test_chains_make_small_tables() -> None:
    nodes = tuple([0] * 5 for _ in range(100))
    pairs = {(i, i + 1): tuple([1] * 5 for _ in range(5)) for i in range(99)}
    planned = plan(ChoiceProblem(nodes, pairs))
    assert planned is not None and planned.entries <= 100 * 5 * 5


def test_min_fill_takes_leaves_first() -> None:
    ordered = min_fill_order(4, ((0, 1), (1, 2), (2, 3), (1, 3)))
    assert ordered is not None
    order, neighbours = ordered
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


@pytest.mark.parametrize("seed", range(100))
def test_what_another_candidate_costs(seed: int) -> None:
    """Against the search anew with that candidate alone, and the same choice of equals."""
    problem = random_problem(random.Random(seed), most_nodes=7, top=random.Random(seed).choice((2, 20)))
    planned = plan(problem)
    assert planned is not None
    solver = Solver(problem, planned)
    choice = solver.solve(problem.nodes)
    regrets = solver.regrets(problem.nodes)
    for node, costs in enumerate(problem.nodes):
        for candidate in range(len(costs)):
            alone = [c if i == candidate else 1 << 50 for i, c in enumerate(costs)]
            anew = solve(ChoiceProblem((*problem.nodes[:node], alone, *problem.nodes[node + 1 :]), problem.pairs))
            assert solver.taking(node, candidate, choice) == anew
            assert regrets[node][candidate] == problem.cost(anew) - problem.cost(choice)


def test_order_is_by_the_fewest_new_edges_then_the_lowest_number() -> None:
    """Against counting anew what is missing around each node."""
    r = random.Random(0)
    for _ in range(200):
        count = r.randint(1, 12)
        edges = tuple((i, j) for i in range(count) for j in range(i + 1, count) if r.random() < 0.4)
        near = {i: {j for e in edges for j in e if i in e and j != i} for i in range(count)}
        ordered = min_fill_order(count, edges)
        assert ordered is not None
        for node, around in zip(*ordered, strict=True):
            missing = {n: sum(b not in near[a] for a in near[n] for b in near[n] if a < b) for n in near}
            assert node == min(near, key=lambda n: (missing[n], n))
            assert around == near[node]
            for a in near.pop(node):
                near[a] = (near[a] | around) - {a, node}


def test_where_all_are_neighbours_of_all_no_tables_are_made() -> None:
    count = 30
    nodes = tuple([0, 1] for _ in range(count))
    pairs = {(i, j): ([0, 0], [0, 0]) for i in range(count) for j in range(i + 1, count)}
    problem = ChoiceProblem(nodes, pairs)
    assert plan(problem) is None
    answer = best(problem, range(count))
    assert (answer.cost, answer.bound) == (0, 0)
    few = ChoiceProblem(nodes[:12], {key: table for key, table in pairs.items() if max(key) < 12})
    planned = plan(few)
    assert planned is not None and planned.entries <= MOST_ENTRIES
