"""The best choice for a search problem within some limits, and how sure it is: proven, or with a lower bound.

A limit on how many candidates of a kind may be chosen is taken out of the sum and given a price instead: each
use of it costs so much more, each use that is allowed is paid back. Whatever the prices, no choice within the limits
costs less than the least choice at those prices; the prices go up where a limit is overdrawn and down where it is not,
by steps that the gap to the best choice known sets (Polyak, "Minimization of unsmooth functionals", USSR Computational
Mathematics and Mathematical Physics 9, 1969). Known as Lagrangian relaxation: Fisher, "The Lagrangian relaxation method
for solving integer programming problems", Management Science 27 (1981).

Candidates are dropped that cannot be in a choice as good as the best one known: those with which the bound is above its
cost. That is done first by problems without circles (`tree`), which are quick and leave a sixth of a song's candidates;
then by the exact search. Where the bound does not meet the cost, one node is decided both ways (branch and bound). Of
all choices that cost the least, that one is found that is first in order, node by node, whatever was dropped.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import gcd
from operator import add
from typing import NamedTuple

from arranger.harmony.choices import ChoiceProblem, Costs, plan
from arranger.harmony.limits import Limit, Mending
from arranger.harmony.optimum import Answer
from arranger.harmony.search import BUCKET, NEVER, Choice, Solver
from arranger.harmony.tree import TreeSolver, spanning_tree

MOST_MADE = 30_000_000  # table entries made in all before it is left unproven: two seconds; songs need 100,000
HALVINGS = 4, 2  # of the steps before the prices are left as they are: at first, and where a node is decided
TREE_HALVINGS = 0, 2  # the same on trees: in short songs, where it is quicker to search on, and in long ones
LONG = 100  # nodes: songs have under 50
STALLED = 2  # searches without a higher bound after which steps are halved
WORTH_NARROWING = 0.7  # of the candidates at most are left: stating the problem anew pays


def best_within(problem: ChoiceProblem, limits: Sequence[Limit], most_made: int = MOST_MADE) -> Answer:
    """Find the best choice within some limits: of those that cost the least the first in order, where it is proven.

    Args:
        problem: what to solve, with a plan. Every node has a candidate that takes nothing of any limit.
        limits: as many as there are; what candidates take is 0 or more.
        most_made: the search is left unproven after so many table entries.
    """
    return _Search(problem, limits, most_made).run()


class _Part(NamedTuple):
    """A part of all choices, those of some candidates, and what is known of it: nothing in it costs less than `value`.

    Nodes that are left one candidate are settled: what they cost is counted with their neighbours.

    Attributes:
        problem: the nodes that are not settled, with these candidates alone.
        settled: what every choice costs beside.
        limits: what the settled nodes leave of them; without those that no choice oversteps.
        first: the choice of the whole that takes the first candidate of every node.
        nodes: the nodes by their numbers in the whole; `numbers` likewise, for each node, the candidates.
        prices: of the limits, that made the value so high.
        tried: the choices of the whole that were least at some prices.
    """

    problem: ChoiceProblem
    settled: int
    limits: tuple[Limit, ...]
    first: Choice
    nodes: tuple[int, ...]
    numbers: tuple[tuple[int, ...], ...]
    prices: tuple[int, ...]
    value: int = -NEVER
    tried: tuple[Choice, ...] = ()

    def of(self, kept: Sequence[Sequence[int]]) -> _Part:
        """Return the part of this one that has some of its candidates, by their numbers in it."""
        left = [node for node, some in enumerate(kept) if len(some) > 1]
        place = {node: i for i, node in enumerate(left)}
        problem, settled = _settled(self.problem, kept, place)
        limits, prices = [], []
        for limit, price in zip(self.limits, self.prices, strict=True):
            uses = {place[n]: tuple(some[c] for c in kept[n]) for n, some in limit.uses.items() if n in place}
            most = limit.most - sum(some[kept[n][0]] for n, some in limit.uses.items() if n not in place)
            if sum(map(max, uses.values())) > most:
                limits.append(Limit(uses, most))
                prices.append(price)
        first = list(self.first)
        for node, own, some in zip(self.nodes, self.numbers, kept, strict=True):
            first[node] = own[some[0]]
        return self._replace(
            problem=problem,
            settled=self.settled + settled,
            limits=tuple(limits),
            first=tuple(first),
            nodes=tuple(self.nodes[node] for node in left),
            numbers=tuple(tuple(self.numbers[node][c] for c in kept[node]) for node in left),
            prices=tuple(prices),
        )

    def halves(self) -> Iterator[_Part]:
        """Yield two halves: a node takes more of a limit than it must, or no more than it must.

        The node is one that took more in about as many of the choices that were tried as it did not.
        """
        found = []
        for number, limit in enumerate(self.limits):
            for node, uses in limit.uses.items():
                least = min(uses)
                users = {own for own, use in zip(self.numbers[node], uses, strict=True) if use > least}
                if users:
                    more = sum(choice[self.nodes[node]] in users for choice in self.tried)
                    found.append((abs(2 * more - len(self.tried)), number, node))
        _, number, node = min(found)
        uses = self.limits[number].uses[node]
        for more in (False, True):
            yield self._with(node, [c for c, use in enumerate(uses) if (use > min(uses)) == more])

    def by_place(self) -> Iterator[_Part]:
        """Yield two halves: the first node takes its first candidate, or another one."""
        yield self._with(0, [0])
        yield self._with(0, range(1, len(self.numbers[0])))

    def _with(self, node: int, some: Sequence[int]) -> _Part:
        kept: list[Sequence[int]] = [range(len(own)) for own in self.numbers]
        kept[node] = some
        return self.of(kept)

    def whole(self, choice: Choice) -> Choice:
        """Return a choice as one of the whole."""
        found = list(self.first)
        for node, own, c in zip(self.nodes, self.numbers, choice, strict=True):
            found[node] = own[c]
        return tuple(found)

    @property
    def is_empty(self) -> bool:
        """Return whether no choice of it is within the limits, whatever else."""
        return any(sum(map(min, limit.uses.values())) > limit.most for limit in self.limits)


def _settled(
    problem: ChoiceProblem, kept: Sequence[Sequence[int]], place: Mapping[int, int]
) -> tuple[ChoiceProblem, int]:
    """Return a problem with some of its candidates, and what the nodes cost that are left one.

    Args:
        problem: the problem.
        kept: for each node, which candidates.
        place: the others' numbers in what is returned.
    """
    nodes: list[Costs] = [[problem.nodes[n][c] for c in kept[n]] for n in place]
    settled = sum(
        costs[some[0]] for n, (costs, some) in enumerate(zip(problem.nodes, kept, strict=True)) if n not in place
    )
    pairs: dict[tuple[int, int], tuple[Costs, ...]] = {}
    for (i, j), table in problem.pairs.items():
        rows = [[table[a][b] for b in kept[j]] for a in kept[i]]
        if i in place and j in place:
            pairs[place[i], place[j]] = tuple(rows)
        elif i in place:
            nodes[place[i]] = [own + row[0] for own, row in zip(nodes[place[i]], rows, strict=True)]
        elif j in place:
            nodes[place[j]] = list(map(add, nodes[place[j]], rows[0]))
        else:
            settled += rows[0][0]
    return ChoiceProblem(tuple(nodes), pairs), settled


class _Search:
    """One search. Mutable: it keeps the best choice found so far and counts its work; lives in `best_within`."""

    def __init__(self, problem: ChoiceProblem, limits: Sequence[Limit], most_made: int) -> None:
        self.problem, self.limits, self.left = problem, tuple(limits), most_made
        self.mending = Mending(problem, self.limits)
        self.step = _cost_step(problem)
        self.choice: Choice = ()
        self.cost = NEVER  # of the best choice known

    def run(self) -> Answer:
        """Search best first, until nothing that is left could be better."""
        numbers = tuple(tuple(range(len(costs))) for costs in self.problem.nodes)
        first = (0,) * len(numbers)
        whole = _Part(self.problem, 0, self.limits, first, tuple(range(len(numbers))), numbers, (0,) * len(self.limits))
        waiting: list[tuple[int, int, _Part]] = []
        number = itertools.count(0, -1)  # of equal bounds the newest first: it is decided farthest
        parts: Iterable[_Part] = [self._narrowed_by_trees(whole)]
        halvings = HALVINGS[0]
        while True:
            lifted = [self._lifted(part, halvings) for part in parts]
            for part in reversed(lifted):
                if not self._is_decided(part):
                    heapq.heappush(waiting, (part.value, next(number), part))
            while waiting and self._is_decided(waiting[0][2]):
                heapq.heappop(waiting)
            if not waiting or self.left <= 0:
                break
            part = heapq.heappop(waiting)[2]
            parts, halvings = part.by_place() if self._may_equal(part.value) else part.halves(), HALVINGS[1]
        left = [value for value, *_ in waiting if not self._may_equal(value)]
        return Answer(self.choice, self.cost, min(left, default=self.cost))

    def _may_equal(self, value: int) -> bool:
        """Return whether under a bound there is nothing better than the best choice, though it may be as good."""
        return value > self.cost - self.step

    def _is_decided(self, part: _Part) -> bool:
        """Return whether nothing in a part is better than the best choice, nor as good and before it in order."""
        return part.value > self.cost or (self._may_equal(part.value) and part.first >= self.choice)

    def _narrowed_by_trees(self, part: _Part) -> _Part:
        """Drop what is in nothing as good as the best choice known, by problems without circles: they are quick."""
        while True:
            tree = spanning_tree(part.problem)
            solver = TreeSolver(tree)
            lifted, least = self._ascended(part._replace(problem=tree), solver, TREE_HALVINGS[len(part.nodes) > LONG])
            kept, share = self._good_enough(lifted, solver, least)
            part = lifted._replace(problem=part.problem).of(kept)
            if share > WORTH_NARROWING or not part.nodes or self._is_decided(part) or self.left <= 0:
                return part

    def _lifted(self, part: _Part, halvings: int) -> _Part:
        """Lift the bound of a part by the prices; drop what is in nothing as good as the best choice known."""
        share = 0.0
        while share <= WORTH_NARROWING and not self._is_decided(part) and self.left > 0:
            if part.is_empty:
                return part._replace(value=NEVER)
            if not part.nodes:
                self._keep(part.first)
                return part._replace(value=NEVER)
            planned = plan(part.problem, NEVER)
            assert planned is not None
            solver = Solver(part.problem, planned)
            part, least = self._ascended(part, solver, halvings)
            if self._is_decided(part):
                break
            kept, share = self._good_enough(part, solver, least)
            part = part.of(kept)
            if self._may_equal(part.value) and part.nodes:
                break
        return part

    def _ascended(self, part: _Part, solver: Solver | TreeSolver, halvings: int) -> tuple[_Part, int]:
        """Return a part with prices that lift its bound, as far as it is worth it, and the bound that they make."""
        best = found = self._least(solver, part, part.prices)
        tried = []
        halved = stalled = 0
        while True:
            tried.append(part.whole(found.choice))
            ways = [
                use - limit.most if use > limit.most or price else 0
                for use, limit, price in zip(found.used, part.limits, found.prices, strict=True)
            ]
            length = sum(way * way for way in ways)
            if not length or halved > halvings or self._may_equal(best.value) or self.left <= 0:
                break
            gap = self.cost - found.value
            prices = [max(0, p + gap * way // (length << halved)) for p, way in zip(found.prices, ways, strict=True)]
            found = self._least(solver, part, prices)
            stalled += 1
            if found.value > best.value:
                best, stalled = found, 0
            elif stalled == STALLED:
                halved, stalled, found = halved + 1, 0, best
        if not self._may_equal(best.value):
            mended = self.mending.mended(part.whole(best.choice), part.nodes)
            self._keep(mended)
            self._keep(self.mending.merged(self.choice, mended))
            self._pay(self.mending)
        # The costs of all choices are whole steps apart: so is the least that a bound leaves.
        value = self.cost - (self.cost - max(best.value, part.value)) // self.step * self.step
        return part._replace(prices=tuple(best.prices), value=value, tried=tuple(tried)), best.value

    def _good_enough(self, part: _Part, solver: Solver | TreeSolver, least: int) -> tuple[list[list[int]], float]:
        """Return the candidates of each node that may be in something as good as the best choice; their share of all.

        `least` is the bound at the part's prices, over which the regrets are; that of the part may be another one's.
        Each node keeps one candidate at least, also where nothing is as good.
        """
        regrets = solver.regrets(_priced(part, part.prices))
        self._pay(solver)
        room = max(0, self.cost - least)
        kept = [[i for i, regret in enumerate(some) if regret <= room] for some in regrets]
        return kept, sum(map(len, kept)) / max(1, sum(map(len, regrets)))

    def _least(self, solver: Solver | TreeSolver, part: _Part, prices: Sequence[int]) -> _Found:
        """Search at some prices; keeps what is within the limits, if it is the best so far."""
        choice = solver.solve(_priced(part, prices))
        self.left -= BUCKET // 4 * len(choice)
        self._pay(solver)
        if self.cost == NEVER:
            self._keep(self.mending.mended(part.whole(choice), part.nodes))
        used = [limit.used(choice) for limit in part.limits]
        if all(use <= limit.most for use, limit in zip(used, part.limits, strict=True)):
            self._keep(part.whole(choice))
        value = part.settled + part.problem.cost(choice)
        value += sum(p * (u - limit.most) for p, u, limit in zip(prices, used, part.limits, strict=True))
        return _Found(value, prices, choice, used)

    def _pay(self, worker: Solver | TreeSolver | Mending) -> None:
        """Count the table entries that were made."""
        self.left -= worker.made
        worker.made = 0

    def _keep(self, choice: Choice) -> None:
        """Keep a choice within the limits, if it is better than the best so far; of equals the first in order."""
        cost = self.problem.cost(choice)
        if (cost, choice) < (self.cost, self.choice):
            self.choice, self.cost = choice, cost


class _Found(NamedTuple):
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
    apart: set[int] = set()
    for rows in (*((costs,) for costs in problem.nodes), *problem.pairs.values()):
        apart |= {cost - rows[0][0] for cost in set().union(*rows)}
    return gcd(*apart) or 1
