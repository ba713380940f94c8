"""Limits on how many candidates of a kind may be chosen, and choices near another one that keep within them."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from operator import add
from typing import NamedTuple

from arranger.harmony.choices import RULED_OUT, ChoiceProblem
from arranger.harmony.optimum import costs_beside, tables_by_node
from arranger.harmony.search import Choice

MOST_ROUNDS = 50  # of improvement, node by node; songs need under ten


class Limit(NamedTuple):
    """At most so much of something: `uses` says, for some nodes, how much each of their candidates takes of it."""

    uses: Mapping[int, tuple[int, ...]]
    most: int

    def used(self, choice: Sequence[int]) -> int:
        """Return how much a choice takes of it."""
        return sum([uses[choice[node]] for node, uses in self.uses.items()])


def ruled_out_in_pairs(problem: ChoiceProblem, limits: Sequence[Limit]) -> ChoiceProblem:
    """Return a problem in which neighbours that overstep a limit by themselves are ruled out by the cost of their pair.

    Every choice within the limits costs the same in it. A bound is the higher for it: what is ruled out needs no price.
    """
    takes: list[dict[int, tuple[int, ...]]] = [{} for _ in problem.nodes]
    for number, limit in enumerate(limits):
        for node, uses in limit.uses.items():
            takes[node][number] = uses
    pairs = dict(problem.pairs)
    for key in pairs:
        one, two = (takes[node] for node in key)
        for uses, others, most in {(uses, two[n], limits[n].most) for n, uses in one.items() if n in two}:
            over = {use: [RULED_OUT * (use + other > most) for other in others] for use in set(uses)}
            over = {use: more for use, more in over.items() if any(more)}
            if over:
                pairs[key] = tuple(
                    [
                        list(map(add, row, over[use])) if use in over else row
                        for row, use in zip(pairs[key], uses, strict=True)
                    ]
                )
    return problem._replace(pairs=pairs)


class Mending:
    """Makes choices keep within limits, and better. Every node must have a candidate that takes nothing of any limit.

    Mutable: `made` counts the costs that were added up.
    """

    def __init__(self, problem: ChoiceProblem, limits: Sequence[Limit]) -> None:
        self.made = 0
        self.problem, self.limits = problem, limits
        self.tables = tables_by_node(problem)
        self.takes: list[list[tuple[int, tuple[int, ...]]]] = [[] for _ in problem.nodes]  # limits that a node takes of
        for number, limit in enumerate(limits):
            for node, uses in limit.uses.items():
                self.takes[node].append((number, uses))
        self.idle = [
            [c for c in range(len(costs)) if not any(uses[c] for _, uses in takes)]
            for costs, takes in zip(problem.nodes, self.takes, strict=True)
        ]

    def mended(self, choice: Sequence[int], nodes: Sequence[int]) -> Choice:
        """Return a choice within the limits, near this one; some nodes take better candidates than they have there."""
        chosen = list(choice)
        room = [limit.most - limit.used(chosen) for limit in self.limits]
        self._thin(chosen, room, {})
        self._better(chosen, room, nodes)
        self._exchange(chosen, room, nodes)
        return tuple(chosen)

    def _costs(self, node: int, chosen: Sequence[int]) -> list[int]:
        """Return what each candidate of a node costs where all others are chosen."""
        costs = self.problem.nodes[node]
        self.made += len(costs) * (len(self.tables[node]) + 1)
        return costs_beside(costs, self.tables[node], chosen)

    def _fits(self, node: int, candidate: int, chosen: Sequence[int], room: Sequence[int]) -> bool:
        """Return whether a node may take a candidate."""
        return all(room[number] >= uses[candidate] - uses[chosen[node]] for number, uses in self.takes[node])

    def _change(self, node: int, candidate: int, chosen: list[int], room: list[int]) -> int:
        """Let a node take another candidate; return what that costs more."""
        costs = self._costs(node, chosen)
        for number, uses in self.takes[node]:
            room[number] += uses[chosen[node]] - uses[candidate]
        more = costs[candidate] - costs[chosen[node]]
        chosen[node] = candidate
        return more

    def _near(self, node: int) -> list[int]:
        """Return a node with its neighbours."""
        return [node, *(other for other, _ in self.tables[node])]

    def _thin(
        self, chosen: list[int], room: list[int], losses: dict[int, tuple[int, int, int]], but: int | None = None
    ) -> tuple[int, list[int]]:
        """Let users of what is overdrawn give way, but one (it alone has overdrawn it), those that cost least first.

        `losses`: of some users, what that costs, who, and what they take then; those of others are added.

        Returns:
            What that costs more, and who gave way.
        """
        more, gone = 0, []
        mine = range(len(room)) if but is None else [number for number, _ in self.takes[but]]
        over, users = [number for number in mine if room[number] < 0], None
        while over:
            if users is None:
                users = {
                    n for number in over for n, uses in self.limits[number].uses.items() if uses[chosen[n]] and n != but
                }
            for node in users - losses.keys():
                costs = self._costs(node, chosen)
                losses[node] = min((costs[c] - costs[chosen[node]], node, c) for c in self.idle[node])
            _, node, candidate = min(losses[node] for node in users)
            more += self._change(node, candidate, chosen, room)
            gone.append(node)
            users.remove(node)
            for other in self._near(node):
                losses.pop(other, None)
            if any(room[number] >= 0 for number in over):
                over, users = [number for number in over if room[number] < 0], None
        return more, gone

    def _better(self, chosen: list[int], room: list[int], where: Iterable[int]) -> int:
        """Take better candidates within the limits, node by node, until there are none; return the cost."""
        more = 0
        for _ in range(MOST_ROUNDS):
            changed = set()
            for node in where:
                costs = self._costs(node, chosen)
                least = costs[chosen[node]]
                if min(costs) == least:
                    continue
                for _, candidate in sorted((cost, c) for c, cost in enumerate(costs) if cost < least):
                    if self._fits(node, candidate, chosen, room):
                        more += self._change(node, candidate, chosen, room)
                        changed.update(self._near(node))
                        break
            where = sorted(changed)
            if not where:
                break
        return more

    def _exchange(self, chosen: list[int], room: list[int], nodes: Sequence[int]) -> None:
        """Take candidates for which others have to give way, where it is better in all."""
        losses: dict[int, tuple[int, int, int]] = {}  # as things stand: in long songs hundreds may give way
        for node in nodes:
            costs = self._costs(node, chosen)
            candidate = costs.index(min(costs))
            if candidate == chosen[node] or self._fits(node, candidate, chosen, room):
                continue
            if any(uses[candidate] > self.limits[number].most for number, uses in self.takes[node]):
                continue
            new, left = list(chosen), list(room)
            more = self._change(node, candidate, new, left)
            near = self._near(node)
            beside = {n: loss for n, loss in losses.items() if n not in near}
            lost, gone = self._thin(new, left, beside, node)
            more += lost
            if more < 0:
                more += self._better(new, left, sorted({n for one in (node, *gone) for n in self._near(one)}))
                chosen[:], room[:] = new, left
                losses.clear()
                continue
            changed = {n for one in (node, *gone) for n in self._near(one)}
            losses |= {n: loss for n, loss in beside.items() if n not in changed}

    def merged(self, choice: Sequence[int], other: Sequence[int]) -> Choice:
        """Return a choice with all that another one has better: both within the limits, compared place by place.

        Where they differ, nodes belong together that are neighbours, or take of a limit that has no room for all.
        """
        chosen = list(choice)
        room = [limit.most - limit.used(chosen) for limit in self.limits]
        differing = {node for node, (a, b) in enumerate(zip(chosen, other, strict=True)) if a != b}
        together = {node: [near for near, _ in self.tables[node] if near in differing] for node in differing}
        for limit, left in zip(self.limits, room, strict=True):
            users = [n for n, uses in limit.uses.items() if n in differing and uses[chosen[n]] != uses[other[n]]]
            if sum(max(0, limit.uses[n][other[n]] - limit.uses[n][chosen[n]]) for n in users) > left:
                for one, two in pairwise(users):
                    together[one].append(two)
                    together[two].append(one)
        while differing:
            place, waiting = set(), {min(differing)}
            while waiting:
                place |= waiting
                waiting = {near for node in waiting for near in together[node]} - place
            differing -= place
            new, left_over = list(chosen), list(room)
            more = sum(self._change(node, other[node], new, left_over) for node in sorted(place))
            if more < 0 and min(left_over, default=0) >= 0:
                chosen, room = new, left_over
        return tuple(chosen)
