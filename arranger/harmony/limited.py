"""The exact search under limits: the least sum of which so many candidates of a kind at most may be part.

A limit is taken out of the sum and given a price instead: each use of it costs so much more, each use that is allowed
is paid back. Whatever the prices, no choice within the limits costs less than the least choice at those prices; the
prices that lift this bound highest are found limit by limit. Where the bound does not meet the best choice known, one
node is decided both ways (branch and bound). Known as Lagrangian relaxation: Fisher, "The Lagrangian relaxation method
for solving integer programming problems", Management Science 27 (1981).
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from arranger.harmony.search import Costs, Plan, Problem, Solver

MOST_SEARCHES = 400  # searches of the whole problem before it is left unproven; songs need under 30 nearly always
FIRST_PRICE = 1500  # where a price starts that nothing is known of: a semitone and a half, in thousandths
MOST_STEPS = 8  # along one price; it is piecewise linear with few pieces

Choice = tuple[int, ...]
Bans = Mapping[int, frozenset[int]]  # for some nodes: candidates that may not be taken


@dataclass(frozen=True, slots=True)
class Limit:
    """At most so much of something: `uses` says, for some nodes, how much each of their candidates takes of it."""

    uses: Mapping[int, tuple[int, ...]]
    most: int

    def used(self, choice: Choice) -> int:
        """Give how much a choice takes of it."""
        return sum(uses[choice[node]] for node, uses in self.uses.items())


@dataclass(frozen=True, slots=True)
class Within:
    """The best choice found within the limits, its cost, and the cost that no choice within them goes below."""

    choice: Choice
    cost: int
    bound: int

    @property
    def proven(self) -> bool:
        """Tell whether no choice within the limits costs less."""
        return self.cost == self.bound


def best_within(
    problem: Problem, limits: Sequence[Limit], planned: Plan | None = None, most_searches: int = MOST_SEARCHES
) -> Within:
    """Find the best choice within some limits.

    Args:
        problem: what to solve. Every node has a candidate that takes nothing of any limit.
        limits: as many as there are; what candidates take is 0 or more.
        planned: the plan for `problem`, if it is known.
        most_searches: the search is left unproven after so many.
    """
    return _Search(problem, limits, planned, most_searches).run()


@dataclass(frozen=True, slots=True)
class _Bound:
    """What is known under some bans: at these prices `choice` is the least, and nothing costs less than `value`.

    `against` is the least choice at a price nearby, on the other side of a limit: where they differ is undecided.
    """

    value: int
    prices: tuple[int, ...]
    choice: Choice
    against: Choice


class _Search:
    """One search. Mutable: it keeps the best choice found so far and counts its searches; lives in `best_within`."""

    def __init__(self, problem: Problem, limits: Sequence[Limit], planned: Plan | None, most_searches: int) -> None:
        self.problem, self.limits, self.left = problem, limits, most_searches
        self.solver = Solver(problem, planned)
        self.banned = 1 + sum(max(map(abs, costs), default=0) for costs in problem.nodes)
        self.banned += sum(max(max(map(abs, row)) for row in table) for table in problem.pairs.values())
        self.choice: Choice | None = None
        self.cost = 0

    def run(self) -> Within:
        """Search best first, until nothing that is left could be better."""
        number = itertools.count(0, -1)  # of equal bounds the newest first: it is decided farthest
        free = self._least({}, (0,) * len(self.limits))
        root = free if self._settled(free.value) else self._bound({}, self._guessed(free.choice))
        root = max(root, free, key=lambda b: b.value)
        waiting: list[tuple[int, int, Bans, _Bound]] = [(root.value, next(number), {}, root)]
        while waiting and not self._settled(waiting[0][0]) and self.left > 0:
            value, _, bans, known = heapq.heappop(waiting)
            for more in self._both_ways(bans, known):
                found = self._bound(more, known.prices)
                if not self._settled(found.value):
                    heapq.heappush(waiting, (max(value, found.value), next(number), more, found))
        if self.choice is None:
            self._least(self._nothing_used(), (0,) * len(self.limits))
        assert self.choice is not None
        bound = min((value for value, *_ in waiting), default=self.cost)
        return Within(self.choice, self.cost, min(bound, self.cost))

    def _guessed(self, choice: Choice) -> tuple[int, ...]:
        """Guess prices that thin out a choice to what the limits allow, by what it costs each node to use less.

        Of those that use a limit the cheapest to change go first; the price lies between the last of them and the next.
        """
        losses = {node: self._losses(node, choice) for node in {n for limit in self.limits for n in limit.uses}}
        prices = []
        gone: set[int] = set()
        for limit in self.limits:
            users = [n for n, uses in limit.uses.items() if uses[choice[n]] and n not in gone]
            price, over = 0, sum(limit.uses[n][choice[n]] for n in users) - limit.most
            rated = []
            for node in users:
                uses = limit.uses[node]
                loss = min(extra for extra, use in zip(losses[node], uses, strict=True) if not use)
                rated.append((loss // uses[choice[node]], node))
            rated.sort()
            for place, (rate, node) in enumerate(rated):
                if over <= 0:
                    break
                over -= limit.uses[node][choice[node]]
                gone.add(node)
                price = (rate + rated[place + 1][0]) // 2 if place + 1 < len(rated) else rate + 1
            prices.append(max(0, price))
        return tuple(prices)

    def _losses(self, node: int, choice: Choice) -> list[int]:
        """Give what each candidate of a node costs more than the chosen one, all else staying as it is."""
        totals = list(self.problem.nodes[node])
        for (i, j), table in self.problem.pairs.items():
            if i == node:
                totals = [t + row[choice[j]] for t, row in zip(totals, table, strict=True)]
            elif j == node:
                totals = [t + c for t, c in zip(totals, table[choice[i]], strict=True)]
        return [t - totals[choice[node]] for t in totals]

    def _settled(self, value: int) -> bool:
        """Tell whether a bound shows that nothing better than the best choice is to be found under it."""
        return self.choice is not None and value >= self.cost

    def _least(self, bans: Bans, prices: Sequence[int]) -> _Bound:
        """Search at some prices; keeps what is within the limits, if it is the best so far."""
        self.left -= 1
        nodes: list[Costs] = list(self.problem.nodes)
        for limit, price in zip(self.limits, prices, strict=True):
            for node, uses in limit.uses.items() if price else ():
                nodes[node] = [cost + price * use for cost, use in zip(nodes[node], uses, strict=True)]
        for node, candidates in bans.items():
            nodes[node] = [cost + self.banned * (i in candidates) for i, cost in enumerate(nodes[node])]
        choice = self.solver.solve(nodes)
        cost = self.problem.cost(choice)
        used = [limit.used(choice) for limit in self.limits]
        fits = all(use <= limit.most for use, limit in zip(used, self.limits, strict=True))
        if fits and (self.choice is None or (cost, choice) < (self.cost, self.choice)):
            self.choice, self.cost = choice, cost
        value = cost + sum(p * (u - limit.most) for p, u, limit in zip(prices, used, self.limits, strict=True))
        value += self.banned * sum(choice[node] in candidates for node, candidates in bans.items())
        return _Bound(value, tuple(prices), choice, choice)

    def _bound(self, bans: Bans, prices: tuple[int, ...]) -> _Bound:
        """Lift the bound by the prices, limit by limit: the one that is overdrawn most first."""
        found = self._least(bans, prices)
        while not self._settled(found.value) and self.left > 0:
            over = [limit.used(found.choice) - limit.most for limit in self.limits]
            wrong = [i for i, much in enumerate(over) if much > 0] or [
                i for i, much in enumerate(over) if much < 0 and found.prices[i]
            ]
            if not wrong:
                break
            better = self._along(bans, found, max(wrong, key=lambda i: (over[i], -i)))
            if better.value <= found.value:
                return replace(found, against=better.against)
            found = better
        return found

    def _along(self, bans: Bans, start: _Bound, index: int) -> _Bound:
        """Lift the bound along one price: the least of some straight lines, one for each choice that was found."""
        limit, best, tried = self.limits[index], start, [start]
        lines: list[tuple[int, int]] = []  # how much over the limit, value at a price of 0

        def keep(found: _Bound) -> None:
            over = limit.used(found.choice) - limit.most
            lines.append((over, found.value - over * found.prices[index]))

        keep(start)
        for _ in range(MOST_STEPS):
            price = _top(lines, best.prices[index])
            if price == best.prices[index] or self.left <= 0:
                break
            prices = (*start.prices[:index], price, *start.prices[index + 1 :])
            found = self._least(bans, prices)
            keep(found)
            tried.append(found)
            hoped = min(at_zero + over * price for over, at_zero in lines[:-1])
            best = max(best, found, key=lambda b: b.value)
            if self._settled(best.value) or (found.value >= hoped and any(over <= 0 for over, _ in lines)):
                break
        side = limit.used(best.choice) <= limit.most
        others = [b for b in tried if (limit.used(b.choice) <= limit.most) != side]
        return replace(best, against=max(others, key=lambda b: b.value).choice) if others else best

    def _both_ways(self, bans: Bans, known: _Bound) -> list[Bans]:
        """Decide one node both ways: it uses a limit, or it does not. What is undecided and overdrawn comes first."""
        one, two = known.choice, known.against
        best: tuple[tuple[bool, bool, bool], list[Bans]] | None = None
        for limit in self.limits:
            over = limit.used(one) > limit.most
            for node, uses in limit.uses.items():
                old = bans.get(node, frozenset())
                users = frozenset(i for i, use in enumerate(uses) if use and i not in old)
                others = frozenset(i for i, use in enumerate(uses) if not use and i not in old)
                rank = (bool(uses[one[node]]) != bool(uses[two[node]]), over, bool(uses[one[node]]))
                if users and others and (best is None or rank > best[0]):
                    best = rank, [{**bans, node: old | users}, {**bans, node: old | others}]
        return best[1] if best else []

    def _nothing_used(self) -> Bans:
        """Ban all that uses any limit."""
        bans: dict[int, frozenset[int]] = {}
        for limit in self.limits:
            for node, uses in limit.uses.items():
                bans[node] = bans.get(node, frozenset()) | {i for i, use in enumerate(uses) if use}
        return bans


def _top(lines: Sequence[tuple[int, int]], now: int) -> int:
    """Give the price (0 or more) at which the least of the lines is highest."""
    falling = [line for line in lines if line[0] <= 0]
    if not falling:
        return 2 * now + FIRST_PRICE
    rising = [line for line in lines if line[0] > 0]
    meets = [max(0, round((b[1] - a[1]) / (a[0] - b[0]))) for a in rising for b in falling]
    return max((0, *meets), key=lambda price: (min(at_zero + over * price for over, at_zero in lines), -price))
