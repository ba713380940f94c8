"""The best choice for a search problem within some limits, and how sure it is: proven, or with a lower bound.

A limit on how many candidates of a kind may be chosen is taken out of the sum and given a price instead: each
use of it costs so much more, each use that is allowed is paid back. Whatever the prices, no choice within the limits
costs less than the least choice at those prices; the prices go up where a limit is overdrawn and down where it is not,
by steps that the gap to the best choice known sets (Polyak, "Minimization of unsmooth functionals", USSR Computational
Mathematics and Mathematical Physics 9, 1969). What can be part of nothing better than that choice is dropped; where the
bound does not meet it, one node is decided both ways (branch and bound). Known as Lagrangian relaxation: Fisher, "The
Lagrangian relaxation method for solving integer programming problems", Management Science 27 (1981).
"""

from __future__ import annotations

import heapq
import itertools
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import gcd

from arranger.harmony.choices import ChoiceProblem, Costs, plan
from arranger.harmony.optimum import Answer, costs_beside, tables_by_node
from arranger.harmony.search import BUCKET, NEVER, Choice, Solver

MOST_MADE = 30_000_000  # table entries made in all before it is left unproven: three seconds; songs need 200,000
HALVINGS = 4, 2  # of the steps before the prices are left as they are: at first, and where a node is decided
STALLED = 3  # searches without a higher bound after which steps are halved
WORTH_NARROWING = 0.7  # of the candidates at most are left: stating the problem anew pays


@dataclass(frozen=True, slots=True)
class Limit:
    """At most so much of something: `uses` says, for some nodes, how much each of their candidates takes of it."""

    uses: Mapping[int, tuple[int, ...]]
    most: int

    def used(self, choice: Sequence[int]) -> int:
        """Return how much a choice takes of it."""
        return sum(uses[choice[node]] for node, uses in self.uses.items())


def best_within(problem: ChoiceProblem, limits: Sequence[Limit], most_made: int = MOST_MADE) -> Answer:
    """Find the best choice within some limits.

    Args:
        problem: what to solve, with a plan. Every node has a candidate that takes nothing of any limit.
        limits: as many as there are; what candidates take is 0 or more.
        most_made: the search is left unproven after so many table entries.
    """
    return _Search(problem, limits, most_made).run()


@dataclass(frozen=True, slots=True)
class _Part:
    """A part of all choices, those of some candidates, and what is known of it: nothing in it costs less than `value`.

    Attributes:
        problem, limits: with these candidates alone.
        numbers: for each node, the candidates by their numbers in the whole.
        prices: of the limits, that made the value so high.
        undecided: a limit and a node that takes more or less of it, in about as many of the searches; None before them.
    """

    problem: ChoiceProblem
    limits: tuple[Limit, ...]
    numbers: tuple[tuple[int, ...], ...]
    prices: tuple[int, ...]
    value: int = -NEVER
    undecided: tuple[int, int] | None = None

    def of(self, kept: Sequence[Sequence[int]]) -> _Part:
        """Return the part of this one that has some of its candidates, by their numbers in it."""
        problem = self.problem
        nodes = tuple([costs[c] for c in some] for costs, some in zip(problem.nodes, kept, strict=True))
        pairs: dict[tuple[int, int], tuple[Costs, ...]] = {
            (i, j): tuple([table[a][b] for b in kept[j]] for a in kept[i]) for (i, j), table in problem.pairs.items()
        }
        limits = (
            replace(limit, uses={n: tuple(uses[c] for c in kept[n]) for n, uses in limit.uses.items()})
            for limit in self.limits
        )
        numbers = tuple(tuple(own[c] for c in some) for own, some in zip(self.numbers, kept, strict=True))
        return replace(self, problem=ChoiceProblem(nodes, pairs), limits=tuple(limits), numbers=numbers)

    def halves(self) -> Iterator[_Part]:
        """Decide one node both ways: it takes as little of a limit as it can, or more."""
        assert self.undecided is not None
        number, node = self.undecided
        uses = self.limits[number].uses[node]
        kept = [range(len(costs)) for costs in self.problem.nodes]
        for more in (False, True):
            some = [c for c, use in enumerate(uses) if (use > min(uses)) == more]
            yield self.of([*kept[:node], some, *kept[node + 1 :]])

    def takes(self, choice: Choice, number: int, node: int) -> bool:
        """Return whether a node takes more of a limit than it must."""
        uses = self.limits[number].uses[node]
        return uses[choice[node]] > min(uses)

    @property
    def open(self) -> list[tuple[int, int]]:
        """List what is open: the limits, and the nodes of which some candidates take more than others."""
        return [
            (n, node) for n, limit in enumerate(self.limits) for node, uses in limit.uses.items() if len({*uses}) > 1
        ]

    @property
    def is_empty(self) -> bool:
        """Return whether no choice of it is within the limits, whatever else."""
        return any(sum(map(min, limit.uses.values())) > limit.most for limit in self.limits)


class _Search:
    """One search. Mutable: it keeps the best choice found so far and counts its work; lives in `best_within`."""

    def __init__(self, problem: ChoiceProblem, limits: Sequence[Limit], most_made: int) -> None:
        self.problem, self.limits, self.left = problem, tuple(limits), most_made
        self.step = _cost_step(problem)
        self.choice: Choice = ()
        self.cost = NEVER  # of the best choice known

    def run(self) -> Answer:
        """Search best first, until nothing that is left could be better."""
        numbers = tuple(tuple(range(len(costs))) for costs in self.problem.nodes)
        whole = _Part(self.problem, self.limits, numbers, (0,) * len(self.limits))
        waiting: list[tuple[int, int, _Part]] = []
        number = itertools.count(0, -1)  # of equal bounds the newest first: it is decided farthest
        parts: Iterable[_Part] = [whole]
        halvings = HALVINGS[0]
        while True:
            for part in parts:
                lifted = self._lifted(part, halvings)
                if not self._is_decided(lifted.value):
                    heapq.heappush(waiting, (lifted.value, next(number), lifted))
            if not waiting or self._is_decided(waiting[0][0]) or self.left <= 0:
                break
            parts, halvings = heapq.heappop(waiting)[2].halves(), HALVINGS[1]
        left = [value for value, *_ in waiting if not self._is_decided(value)]
        return Answer(self.choice, self.cost, min(left, default=self.cost))

    def _is_decided(self, value: int) -> bool:
        """Return whether a bound shows that nothing better than the best choice is to be found under it."""
        return value > self.cost - self.step

    def _lifted(self, part: _Part, halvings: int) -> _Part:
        """Lift the bound of a part by the prices; drop what is part of nothing better than the best choice known."""
        if part.is_empty:
            return replace(part, value=NEVER)
        planned = plan(part.problem, NEVER)
        assert planned is not None
        solver = Solver(part.problem, planned)
        is_open = part.open
        best = found = self._least(solver, part, part.prices if is_open else [0] * len(part.limits))
        if not self.choice:
            self._thinned(found.choice)
        tally: Counter[tuple[int, int]] = Counter()
        count = halved = stalled = 0
        while True:
            count += 1
            tally.update(one for one in is_open if part.takes(found.choice, *one))
            ways = [
                use - limit.most if use > limit.most or price else 0
                for use, limit, price in zip(found.used, part.limits, found.prices, strict=True)
            ]
            length = sum(way * way for way in ways)
            if not length or halved > halvings or self._is_decided(best.value) or self.left <= 0:
                break
            gap = self.cost - found.value
            prices = [max(0, p + gap * way // (length << halved)) for p, way in zip(found.prices, ways, strict=True)]
            found = self._least(solver, part, prices)
            stalled += 1
            if found.value > best.value:
                best, stalled = found, 0
            elif stalled == STALLED:
                halved, stalled, found = halved + 1, 0, best
        undecided = min(is_open, key=lambda one: (abs(2 * tally[one] - count), one), default=None)
        value = max(best.value, part.value)
        lifted = replace(part, prices=tuple(best.prices), value=value, undecided=undecided)
        return lifted if self._is_decided(value) else self._narrowed(lifted, solver, best.value)

    def _narrowed(self, part: _Part, solver: Solver, value: int) -> _Part:
        """Return a part without the candidates that can be part of nothing better than the best choice known.

        The bound is still that of the whole part. Each node keeps one candidate, for where nothing is better.
        """
        regrets = solver.regrets(_priced(part, part.prices))
        self.left -= 3 * solver.plan.entries  # about what handing down takes
        room = self.cost - self.step - value
        kept = [[i for i, regret in enumerate(some) if regret <= room] or [some.index(0)] for some in regrets]
        if sum(map(len, kept)) > WORTH_NARROWING * sum(map(len, regrets)):
            return part
        smaller = part.of(kept)
        return smaller if part.undecided in smaller.open else self._lifted(smaller, HALVINGS[1])

    def _least(self, solver: Solver, part: _Part, prices: Sequence[int]) -> _Found:
        """Search at some prices; keeps what is within the limits, if it is the best so far."""
        made = solver.made
        choice = solver.solve(_priced(part, prices))
        self.left -= solver.made - made + BUCKET // 4 * len(choice)
        cost = part.problem.cost(choice)
        used = [limit.used(choice) for limit in part.limits]
        self._keep(tuple(own[c] for own, c in zip(part.numbers, choice, strict=True)), cost, used)
        value = cost + sum(p * (u - limit.most) for p, u, limit in zip(prices, used, self.limits, strict=True))
        return _Found(value, prices, choice, used)

    def _keep(self, choice: Choice, cost: int, used: Sequence[int]) -> None:
        """Keep a choice that is within the limits and better than the best so far; of equals the first in order."""
        fits = all(use <= limit.most for use, limit in zip(used, self.limits, strict=True))
        if fits and (cost, choice) < (self.cost, self.choice):
            self.choice, self.cost = choice, cost

    def _thinned(self, choice: Choice) -> None:
        """Make a choice keep within the limits: users of what is overdrawn give way, those that cost least first."""
        chosen, tables = list(choice), tables_by_node(self.problem)
        idle = [set(range(len(costs))) for costs in self.problem.nodes]  # candidates that use no limit
        for limit in self.limits:
            for node, uses in limit.uses.items():
                idle[node] -= {i for i, use in enumerate(uses) if use}
        while over := [limit for limit in self.limits if limit.used(chosen) > limit.most]:
            users = {node for limit in over for node, uses in limit.uses.items() if uses[chosen[node]]}
            losses = []
            for node in users:
                totals = costs_beside(self.problem.nodes[node], tables[node], chosen)
                losses += [(totals[i] - totals[chosen[node]], node, i) for i in idle[node]]
            _, node, chosen[node] = min(losses)
        self._keep(tuple(chosen), self.problem.cost(chosen), [limit.used(chosen) for limit in self.limits])


@dataclass(frozen=True, slots=True)
class _Found:
    """The least choice at some prices, how much it takes of each limit, and what no choice in its part goes below."""

    value: int
    prices: Sequence[int]
    choice: Choice
    used: Sequence[int]


def _priced(part: _Part, prices: Sequence[int]) -> list[Costs]:
    """Return the costs of a part's nodes at some prices."""
    nodes: list[Costs] = list(part.problem.nodes)
    for limit, price in zip(part.limits, prices, strict=True):
        for node, uses in limit.uses.items() if price else ():
            nodes[node] = [cost + price * use for cost, use in zip(nodes[node], uses, strict=True)]
    return nodes


def _cost_step(problem: ChoiceProblem) -> int:
    """Return by how much at least the costs of two choices differ, if they do: the largest that divides all.

    >>> _cost_step(ChoiceProblem(([3, 8], [0, 15]), {(0, 1): ([0, 5], [10, 30])}))
    5
    """
    apart = {cost - costs[0] for costs in problem.nodes for cost in costs}
    apart |= {cost - table[0][0] for table in problem.pairs.values() for row in table for cost in row}
    return gcd(*apart) or 1
