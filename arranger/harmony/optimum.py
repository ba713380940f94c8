"""The best choice for a search problem, and how sure it is: proven, or with a lower bound.

The search is exact where its tables are small enough; else a bound comes from the chain of what is heard.
"""

import itertools
from collections import Counter
from collections.abc import Sequence
from operator import add
from typing import NamedTuple

from arranger.harmony.choices import MOST_ENTRIES, ChoiceProblem, Costs, plan
from arranger.harmony.search import Choice, solve

MOST_ROUNDS = 50  # of improvement, node by node; songs need under ten


class Answer(NamedTuple):
    """A choice of one candidate for each node, its cost, and the cost that no choice within limits can go below."""

    choice: Choice
    cost: int
    bound: int

    @property
    def proven(self) -> bool:
        """Return whether no choice costs less."""
        return self.cost == self.bound


def best(problem: ChoiceProblem, heard: Sequence[int], most_entries: int = MOST_ENTRIES) -> Answer:
    """Find the best choice.

    Args:
        problem: what to solve; every node has a candidate.
        heard: the nodes in the order in which they are heard, for the bound (every heard one free of the others).
        most_entries: above so many table entries the exact search is not begun.
    """
    planned = plan(problem, most_entries)
    if planned is not None:
        choice = solve(problem, planned)
        cost = problem.cost(choice)
        return Answer(choice, cost, cost)
    bound, start = _chain(problem, heard)
    choice = _improved(problem, start)
    return Answer(choice, problem.cost(choice), bound)


def lower_bound(problem: ChoiceProblem, heard: Sequence[int]) -> int:
    """Return a cost that no choice goes below, found without the search (see `best`)."""
    return _chain(problem, heard)[0]


def _chain(problem: ChoiceProblem, heard: Sequence[int]) -> tuple[int, list[int]]:
    """Solve the chain of heard chords as if each could be chosen freely.

    Costs of a node or pair are shared out over the times that it is heard, rounded down; so a choice that is the same
    each time costs no less here than there, and the least of the chain is a lower bound. Gives also the choice that
    each node takes most often in the chain.
    """
    times = Counter(heard)
    steps = Counter((min(a, b), max(a, b)) for a, b in itertools.pairwise(heard))
    bound = sum(min(costs) for i, costs in enumerate(problem.nodes) if i not in times)
    bound += sum(min(map(min, table)) for key, table in problem.pairs.items() if key not in steps)
    shares = {i: [c // times[i] for c in problem.nodes[i]] for i in times}
    votes: dict[int, Counter[int]] = {i: Counter() for i in times}
    cost = shares[heard[0]] if heard else [0]
    came: list[list[int]] = []
    for one, two in itertools.pairwise(heard):
        row = []
        following = []
        for b, own in enumerate(shares[two]):
            reach = [
                c + _between(problem, one, a, two, b) // steps[min(one, two), max(one, two)] for a, c in enumerate(cost)
            ]
            best_from = reach.index(min(reach))
            row.append(best_from)
            following.append(reach[best_from] + own)
        came.append(row)
        cost = following
    place = cost.index(min(cost))
    for node, row in zip(reversed(heard[1:]), reversed(came), strict=True):
        votes[node][place] += 1
        place = row[place]
    if heard:
        votes[heard[0]][place] += 1
    start = [
        min(votes[i], key=lambda c, i=i: (-votes[i][c], c)) if i in votes else costs.index(min(costs))  # type: ignore[misc]
        for i, costs in enumerate(problem.nodes)
    ]
    return bound + min(cost), start


def _between(problem: ChoiceProblem, one: int, a: int, two: int, b: int) -> int:
    if one == two:
        return 0
    table = problem.pairs.get((min(one, two), max(one, two)))
    if table is None:
        return 0
    return table[a][b] if one < two else table[b][a]


def tables_by_node(problem: ChoiceProblem) -> list[list[tuple[int, Sequence[Costs]]]]:
    """Return for each node its neighbours, with the costs of its candidates for each candidate of theirs."""
    found: list[list[tuple[int, Sequence[Costs]]]] = [[] for _ in problem.nodes]
    for (i, j), table in problem.pairs.items():
        found[i].append((j, tuple(zip(*table, strict=True))))
        found[j].append((i, table))
    return found


def costs_beside(costs: Costs, tables: Sequence[tuple[int, Sequence[Costs]]], choice: Sequence[int]) -> list[int]:
    """Return what each candidate of a node costs where its neighbours are chosen."""
    totals = list(costs)
    for other, rows in tables:
        totals = list(map(add, totals, rows[choice[other]]))
    return totals


def _improved(problem: ChoiceProblem, start: list[int]) -> tuple[int, ...]:
    """Better a choice node by node until nothing changes."""
    choice = list(start)
    tables = tables_by_node(problem)
    for _ in range(MOST_ROUNDS):
        before = list(choice)
        for node, costs in enumerate(problem.nodes):
            totals = costs_beside(costs, tables[node], choice)
            choice[node] = totals.index(min(totals))
        if choice == before:
            break
    return tuple(choice)
