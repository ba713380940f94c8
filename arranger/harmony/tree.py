"""Problems without circles: a lower bound for those that have some, found in time that grows with the tables alone."""

from __future__ import annotations

from collections.abc import Sequence
from operator import add, sub

from arranger.harmony.choices import ChoiceProblem, Costs
from arranger.harmony.search import Choice


def spanning_tree(problem: ChoiceProblem) -> ChoiceProblem:
    """Return a problem without circles whose every choice costs no more than in this one, and most of them as much.

    The pairs whose cost depends most on both are kept, as many as make no circle (Kruskal, "On the shortest spanning
    subtree of a graph", Proceedings of the American Mathematical Society 7, 1956). Of the others there remains what
    each of the two nodes costs at least, by itself.
    """
    tree = list(range(len(problem.nodes)))  # for each node another one of its tree; itself for the tree's first
    if len(problem.pairs) < len(tree) and all(_joined(tree, i, j) for i, j in problem.pairs):
        return problem
    tree = list(range(len(tree)))
    nodes, kept = list(problem.nodes), {}
    spans = {key: max(map(max, rows)) - min(map(min, rows)) for key, rows in problem.pairs.items()}
    for i, j in sorted(spans, key=lambda key: (-spans[key], key)):
        rows = problem.pairs[i, j]
        if _joined(tree, i, j):
            kept[i, j] = rows
            continue
        at_least = [min(row) for row in rows]
        nodes[i] = list(map(add, nodes[i], at_least))
        nodes[j] = [
            cost + min(map(sub, c, at_least)) for cost, c in zip(nodes[j], zip(*rows, strict=True), strict=True)
        ]
    return ChoiceProblem(tuple(nodes), kept)


def _joined(tree: list[int], one: int, two: int) -> bool:
    """Join the trees of two nodes; return whether they were two. `tree`: as in `spanning_tree`."""
    firsts = []
    for node in (one, two):
        while tree[node] != node:
            tree[node] = tree[tree[node]]
            node = tree[node]
        firsts.append(node)
    tree[firsts[0]] = firsts[1]
    return firsts[0] != firsts[1]


class TreeSolver:
    """Solves a problem without circles again and again, each time with other costs of its nodes.

    Mutable: it keeps what each node left, and takes it again where nothing has changed that it came from. `made` counts
    the table entries that were made.
    """

    def __init__(self, problem: ChoiceProblem) -> None:
        self.made = 0
        self.problem = problem
        near: list[list[int]] = [[] for _ in problem.nodes]
        for i, j in problem.pairs:
            near[i].append(j)
            near[j].append(i)
        self.above: list[int | None] = [None] * len(near)
        self.order: list[int] = []  # each node before the one above it
        seen: set[int] = set()
        for root in range(len(near)):
            waiting = [] if root in seen else [root]
            while waiting:
                node = waiting.pop()
                seen.add(node)
                self.order.append(node)
                for other in near[node]:
                    if other not in seen:
                        self.above[other] = node
                        waiting.append(other)
        self.order.reverse()
        # For each candidate of the node above one, the costs of its own, and the other way round.
        self.rows: list[Sequence[Costs]] = [()] * len(near)
        self.columns: list[Sequence[Costs]] = [()] * len(near)
        for node, above in enumerate(self.above):
            if above is not None:
                table = problem.pairs[min(node, above), max(node, above)]
                turned = list(zip(*table, strict=True))
                self.rows[node], self.columns[node] = (turned, table) if node < above else (table, turned)
        self.totals: list[list[int]] = [[] for _ in near]  # of each candidate with all below it
        self.left: list[list[int]] = [[] for _ in near]  # the least of a node and all below it, by what is above it
        self.asked: list[Costs] = []  # the costs for which regrets were asked last, and these
        self.regretted: list[list[int]] = []

    def _raise(self, nodes: Sequence[Costs]) -> None:
        totals = list(map(list, nodes))
        for node in self.order:
            total, above = totals[node], self.above[node]
            if above is None:
                continue
            if total != self.totals[node]:
                self.left[node] = [min(map(add, total, row)) for row in self.rows[node]]
                self.made += len(total) * len(self.rows[node])
            totals[above] = list(map(add, totals[above], self.left[node]))
        self.totals = totals

    def solve(self, nodes: Sequence[Costs]) -> Choice:
        """Find a choice with the least cost for these costs of the nodes."""
        self._raise(nodes)
        choice = [0] * len(nodes)
        for node in reversed(self.order):
            total, above = self.totals[node], self.above[node]
            if above is not None:
                total = list(map(add, total, self.rows[node][choice[above]]))
            choice[node] = total.index(min(total))
        return tuple(choice)

    def regrets(self, nodes: Sequence[Costs]) -> list[list[int]]:
        """Return how much more than the least the least choice costs that takes a candidate: for each of each node."""
        if self.asked == list(nodes):
            return self.regretted
        self._raise(nodes)
        whole: list[list[int]] = [[] for _ in nodes]
        for node in reversed(self.order):
            total, above = self.totals[node], self.above[node]
            if above is not None:
                rest = list(map(sub, whole[above], self.left[node]))
                self.made += len(total) * len(rest)
                total = [
                    own + min(map(add, rest, column)) for own, column in zip(total, self.columns[node], strict=True)
                ]
            whole[node] = total
        self.asked = list(nodes)
        self.regretted = [[cost - least for cost in costs] for costs in whole for least in (min(costs),)]
        return self.regretted
