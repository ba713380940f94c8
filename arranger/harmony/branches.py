"""Parts of all choices for a problem under limits: those of some candidates, with what is known of them."""

from collections.abc import Iterator, Mapping, Sequence
from operator import add
from typing import NamedTuple

from arranger.harmony.choices import ChoiceProblem, Costs
from arranger.harmony.limits import Limit
from arranger.harmony.search import NEVER, Choice

CORE = 1  # of a node's candidates that take the same of all limits, so many are in the core


class Branch(NamedTuple):
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

    def of(self, kept: Sequence[Sequence[int]]) -> "Branch":
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

    def core(self, regrets: Sequence[Costs]) -> "Branch":
        """Return as small a part that has good choices: of candidates that take the same those with the least regret.

        It has all nodes and limits, so that its prices are prices of this one.
        """
        takes: list[list[tuple[int, ...]]] = [[] for _ in self.nodes]
        for limit in self.limits:
            for node, uses in limit.uses.items():
                takes[node].append(uses)
        kept = []
        for some, taken in zip(regrets, takes, strict=True):
            alike: dict[tuple[int, ...], list[int]] = {}
            for c in sorted(range(len(some)), key=some.__getitem__):
                alike.setdefault(tuple([uses[c] for uses in taken]), []).append(c)
            kept.append(sorted(c for same in alike.values() for c in same[:CORE]))
        nodes = [[costs[c] for c in some] for costs, some in zip(self.problem.nodes, kept, strict=True)]
        pairs: dict[tuple[int, int], tuple[Costs, ...]] = {
            (i, j): tuple([[table[a][b] for b in kept[j]] for a in kept[i]])
            for (i, j), table in self.problem.pairs.items()
        }
        return self._replace(
            problem=ChoiceProblem(tuple(nodes), pairs),
            limits=tuple(
                [
                    Limit({n: tuple([uses[c] for c in kept[n]]) for n, uses in one.uses.items()}, one.most)
                    for one in self.limits
                ]
            ),
            numbers=tuple([tuple([own[c] for c in some]) for own, some in zip(self.numbers, kept, strict=True)]),
        )

    def halves(self) -> "Iterator[Branch]":
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

    def by_place(self) -> "Iterator[Branch]":
        """Yield two halves: the first node takes its first candidate, or another one."""
        yield self._with(0, [0])
        yield self._with(0, range(1, len(self.numbers[0])))

    def _with(self, node: int, some: Sequence[int]) -> "Branch":
        kept: list[Sequence[int]] = [range(len(own)) for own in self.numbers]
        kept[node] = some
        return self.of(kept)

    def whole(self, choice: Choice) -> Choice:
        """Return a choice as one of the whole."""
        found = list(self.first)
        for node, own, c in zip(self.nodes, self.numbers, choice, strict=True):
            found[node] = own[c]
        return tuple(found)

    def priced(self, prices: Sequence[int]) -> list[Costs]:
        """Return the costs of the nodes at some prices."""
        nodes: list[Costs] = list(self.problem.nodes)
        for limit, price in zip(self.limits, prices, strict=True):
            for node, uses in limit.uses.items() if price else ():
                nodes[node] = [cost + price * use for cost, use in zip(nodes[node], uses, strict=True)]
        return nodes

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
