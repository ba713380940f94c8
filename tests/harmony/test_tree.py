"""Problems without circles: the tree of a problem is a lower bound, and its solver does what the exact search does."""

import random
from itertools import product

import pytest

from arranger.harmony.choices import plan
from arranger.harmony.search import Solver
from arranger.harmony.tree import TreeSolver, spanning_tree
from tests.harmony.test_search import brute, random_problem


@pytest.mark.parametrize("seed", range(100))
def test_a_choice_costs_no_more_on_the_tree(seed: int) -> None:
    problem = random_problem(random.Random(seed))
    tree = spanning_tree(problem)
    for choice in product(*(range(len(costs)) for costs in problem.nodes)):
        assert tree.cost(choice) <= problem.cost(choice)
    if len(tree.pairs) == len(problem.pairs):
        assert tree == problem


@pytest.mark.parametrize("seed", range(100))
def test_on_a_tree_it_is_exact(seed: int) -> None:
    """Solved twice with other costs: what is kept from the first time does not show."""
    r = random.Random(seed)
    tree = spanning_tree(random_problem(r, most_nodes=7))
    planned = plan(tree)
    assert planned is not None
    quick, solver = TreeSolver(tree), Solver(tree, planned)
    for _ in range(2):
        assert tree.cost(quick.solve(tree.nodes)) == brute(tree)
        assert quick.regrets(tree.nodes) == solver.regrets(tree.nodes)
        nodes = tuple([cost + r.choice((0, 5)) for cost in costs] for costs in tree.nodes)
        tree = type(tree)(nodes, tree.pairs)
