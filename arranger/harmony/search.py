"""The exact search: the least sum over all choices of one candidate for each unknown.

Nodes are eliminated one by one; each one leaves a table over the node's neighbours with the best that the node can do.
Then the choices are substituted back. This is exact whatever the order; the order decides the size of the tables only.
Described, for instance, as bucket elimination by Dechter, "Bucket elimination: a unifying framework for reasoning",
Artificial Intelligence 113 (1999).

Of several choices that cost the least, one is taken by that order alone: from the node that was eliminated last
to the first, each takes the first of its candidates that costs least with those chosen before it.
"""

import heapq
from collections.abc import Iterable, Sequence
from itertools import product
from operator import add, sub
from typing import NamedTuple

from arranger.harmony.choices import ChoiceProblem, Costs, Elimination, plan

Choice = tuple[int, ...]
BUCKET = 400  # entries that take as long as what one node takes beside its entries
NEVER = 1 << 60  # more than any choice costs


class _Table(NamedTuple):
    """A cost for each choice of the nodes in `scope`: flat, the last node's candidates run fastest."""

    scope: tuple[int, ...]
    values: Costs


class _Bucket(NamedTuple):
    """What is known of a node when it is eliminated.

    Attributes:
        node: which.
        neighbours: its neighbours then.
        alone: what its candidates cost by themselves.
        rows: the tables that hold it, as the last of their scope, with some of its neighbours.
    """

    node: int
    neighbours: tuple[int, ...]
    alone: Costs
    rows: tuple[_Table, ...]


def solve(problem: ChoiceProblem, planned: Elimination | None = None) -> Choice:
    """Find a choice with the least cost. Every node must have a candidate, and the problem a plan."""
    planned = planned or plan(problem)
    assert planned is not None
    if any(len(around) > 2 for around in planned.neighbours):
        return Solver(problem, planned).solve(problem.nodes)
    return _solve_between_two(problem, planned)


def _solve_between_two(problem: ChoiceProblem, planned: Elimination) -> Choice:
    """Do the same where a node that is eliminated has at most two neighbours, as in most songs: so it is quicker."""
    totals = list(problem.nodes)
    # For each node the costs of its candidates, for each candidate of a neighbour.
    beside: list[dict[int, Sequence[Costs]]] = [{} for _ in totals]
    for (i, j), rows in problem.pairs.items():
        beside[i][j], beside[j][i] = list(zip(*rows, strict=True)), rows
    for node, around in zip(planned.order, planned.neighbours, strict=True):
        own, rows_of = totals[node], beside[node]
        if len(around) == 1:
            (one,) = around
            totals[one] = list(map(add, totals[one], [min(map(add, own, row)) for row in rows_of[one]]))
        elif around:
            one, two = around
            others = rows_of[two]
            table: list[Costs] = []
            for row in rows_of[one]:
                here = list(map(add, own, row))
                table.append([min(map(add, here, other)) for other in others])
            if two in beside[one]:
                table = [list(map(add, new, old)) for new, old in zip(table, beside[two][one], strict=True)]
            beside[two][one], beside[one][two] = table, list(zip(*table, strict=True))
    choice = [0] * len(totals)
    for node, around in zip(reversed(planned.order), reversed(planned.neighbours), strict=True):
        total = totals[node]
        for other in around:
            total = list(map(add, total, beside[node][other][choice[other]]))
        choice[node] = total.index(min(total))
    return tuple(choice)


class _Known(NamedTuple):
    """What was known of a node when it was eliminated, the tables that had come to it, and the one that it left."""

    costs: Costs
    came: list[_Table]
    bucket: _Bucket
    left: _Table


class Solver:
    """Solves a problem again and again, each time with other costs of its nodes.

    Mutable: it keeps what each node left when it was eliminated, and takes it again where nothing has changed that it
    came from. `made` counts the table entries that were made.
    """

    def __init__(self, problem: ChoiceProblem, planned: Elimination) -> None:
        self.plan = planned
        self.made = 0
        self.sizes = [len(costs) for costs in problem.nodes]
        self.place = {node: i for i, node in enumerate(self.plan.order)}
        self.tables: list[list[_Table]] = [[] for _ in self.sizes]
        for (i, j), table in problem.pairs.items():
            first = min(i, j, key=self.place.__getitem__)
            flat = _Table((i, j), [value for row in table for value in row])
            self.tables[first].append(_last(flat, first, self.sizes))
        self.known: dict[int, _Known] = {}
        self.givers: list[list[int]] = [[] for _ in self.sizes]  # the nodes whose tables a node takes in
        self.taker: dict[int, int] = {}  # the node that takes a node's table in: the first of its scope
        self.below: list[list[int]] = [[] for _ in self.sizes]  # where in the order nodes have it as a neighbour
        for number, (giver, around) in enumerate(zip(planned.order, planned.neighbours, strict=True)):
            for node in around:
                self.below[node].append(number)
            if around:
                self.taker[giver] = min(around, key=self.place.__getitem__)
                self.givers[self.taker[giver]].append(giver)

    def solve(self, nodes: Sequence[Costs]) -> Choice:
        """Find a choice with the least cost for these costs of the nodes, as `solve` does."""
        return _substitute(self._buckets(nodes), self.sizes)

    def _buckets(self, nodes: Sequence[Costs]) -> list[_Bucket]:
        buckets = []
        for number, node in enumerate(self.plan.order):
            came = [self.known[giver].left for giver in self.givers[node]]
            known = self.known.get(node)
            if known is None or known.costs != nodes[node] or not _same(known.came, came):
                self.made += self.plan.each[number] + BUCKET
                known = self.known[node] = self._eliminated(number, nodes[node], came)
            buckets.append(known.bucket)
        return buckets

    def _eliminated(self, number: int, costs: Costs, came: list[_Table]) -> _Known:
        node = self.plan.order[number]
        scope = tuple(sorted(self.plan.neighbours[number]))
        alone, rows = costs, list(self.tables[node])
        for table in came:
            if len(table.scope) == 1:
                alone = list(map(add, alone, table.values))
            else:
                rows.append(_last(table, node, self.sizes))
        bucket = _Bucket(node, scope, alone, tuple(rows))
        return _Known(costs, came, bucket, _Table(scope, _best(bucket, self.sizes) if scope else ()))

    def regrets(self, nodes: Sequence[Costs]) -> list[list[int]]:
        """Return how much more than the least the least choice costs that takes a candidate: for each of each node.

        What the rest of the problem costs at best is handed back down, from the node that was eliminated last.
        """
        found: list[list[int]] = [[] for _ in self.sizes]
        rest: dict[int, _Table] = {}  # for each node what the rest costs, for each choice of its neighbours
        for bucket in reversed(self._buckets(nodes)):
            node, size = bucket.node, self.sizes[bucket.node]
            together = self._together(bucket, rest.pop(node, None))
            self.made += len(together)
            totals = [min(together[place::size]) for place in range(size)]
            least_of_all = min(totals)
            found[node] = [total - least_of_all for total in totals]
            scope = (*bucket.neighbours, node)
            for giver in self.givers[node]:
                left = self.known[giver].left
                if left.scope == (node,):
                    rest[giver] = _Table(left.scope, list(map(sub, totals, left.values)))
                    continue
                least = [NEVER] * len(left.values)
                for place, value in zip(_starts(left, scope, self.sizes), together, strict=True):
                    least[place] = min(least[place], value)
                rest[giver] = _Table(left.scope, list(map(sub, least, left.values)))
        return found

    def _together(self, bucket: _Bucket, rest: _Table | None) -> list[int]:
        """Return what each choice of a node and its neighbours costs, with what the rest costs at best."""
        size = self.sizes[bucket.node]
        starts = _starts(rest or _Table((), ()), bucket.neighbours, self.sizes)
        totals = [own + rest.values[start] if rest else own for start in starts for own in bucket.alone]
        for table in bucket.rows:
            values: Iterable[int] = table.values
            if table.scope[:-1] != bucket.neighbours:
                begin = _starts(table, bucket.neighbours, self.sizes)
                values = (value for s in begin for value in table.values[s : s + size])
            totals = list(map(add, totals, values))
        return totals

    def taking(self, node: int, candidate: int, choice: Choice) -> Choice:
        """Find what `solve` would, the last time, had a node had this candidate alone; `choice` is what it found.

        What lies behind a neighbour, or farther off, is often chosen the same way all the same: nothing changes there.
        """
        changed = {}
        costs: Costs = [cost if i == candidate else NEVER for i, cost in enumerate(self.known[node].costs)]
        here, came = node, self.known[node].came
        while True:
            known = self._eliminated(self.place[here], costs, came)
            changed[here], old = known.bucket, self.known[here].left
            if not old.scope or len(set(map(sub, known.left.values, old.values))) == 1:
                break
            giver, here = here, self.taker[here]
            costs = self.known[here].costs
            came = [known.left if one == giver else self.known[one].left for one in self.givers[here]]
        new = list(choice)
        waiting = [-self.place[i] for i in changed]
        heapq.heapify(waiting)
        seen = set(waiting)
        while waiting:
            here = self.plan.order[-heapq.heappop(waiting)]
            new[here] = _first_best(changed.get(here) or self.known[here].bucket, new, self.sizes)
            for number in self.below[here] if new[here] != choice[here] else ():
                if -number not in seen:
                    seen.add(-number)
                    heapq.heappush(waiting, -number)
        return tuple(new)


def _same(ones: Sequence[_Table], others: Sequence[_Table]) -> bool:
    """Return whether two lists hold the very same tables."""
    return len(ones) == len(others) and all(a is b for a, b in zip(ones, others, strict=True))


def _last(table: _Table, node: int, sizes: list[int]) -> _Table:
    """Turn a table so that a node is the last of its scope."""
    if table.scope[-1] == node:
        return table
    if len(table.scope) == 2:
        wide = sizes[table.scope[1]]
        turned = [value for column in range(wide) for value in table.values[column::wide]]
        return _Table((table.scope[1], node), turned)
    scope = (*(n for n in table.scope if n != node), node)
    steps = dict(zip(table.scope, _strides(table.scope, sizes), strict=True))
    ranges = [range(0, steps[n] * sizes[n], steps[n]) for n in scope]
    return _Table(scope, [table.values[sum(offsets)] for offsets in product(*ranges)])


def _strides(scope: tuple[int, ...], sizes: list[int]) -> list[int]:
    strides = [1] * len(scope)
    for i in range(len(scope) - 2, -1, -1):
        strides[i] = strides[i + 1] * sizes[scope[i + 1]]
    return strides


def _starts(table: _Table, scope: tuple[int, ...], sizes: list[int]) -> list[int]:
    """Return, for each choice of `scope` in order, where the row of the table begins."""
    steps = dict(zip(table.scope, _strides(table.scope, sizes), strict=True))
    starts = [0]
    for node in scope:
        step = steps.get(node, 0)
        offsets = range(0, step * sizes[node], step) if step else (0,) * sizes[node]
        starts = [start + offset for start in starts for offset in offsets]
    return starts


def _best(bucket: _Bucket, sizes: list[int]) -> list[int]:
    """Return, for each choice of the neighbours, the least that the node can cost."""
    size = sizes[bucket.node]
    alone, rows = bucket.alone, bucket.rows
    if len(rows) == len(bucket.neighbours) <= 2 and all(len(table.scope) == 2 for table in rows):
        return _between_two(rows, bucket.neighbours, alone)
    # Rows of the node's candidates by where they begin, cut once; the first table's with the node's own cost.
    starts = [_starts(table, bucket.neighbours, sizes) for table in rows]
    cuts = [{s: table.values[s : s + size] for s in set(begin)} for table, begin in zip(rows, starts, strict=True)]
    own = {s: list(map(add, alone, row)) for s, row in cuts[0].items()}
    values = []
    for first, *others in zip(*starts, strict=True):
        total: Iterable[int] = own[first]
        for cut, place in zip(cuts[1:], others, strict=True):
            total = map(add, total, cut[place])
        values.append(min(total))
    return values


def _between_two(rows: Sequence[_Table], neighbours: tuple[int, ...], alone: Costs) -> list[int]:
    """Return the same for the usual case, a node with one neighbour or two, and one table for each."""
    first, *rest = sorted(rows, key=lambda table: neighbours.index(table.scope[0]))
    size = len(alone)
    own = [first.values[s : s + size] for s in range(0, len(first.values), size)]
    if not rest:
        return [min(map(add, alone, row)) for row in own]
    (second,) = rest
    other = [second.values[s : s + size] for s in range(0, len(second.values), size)]
    if len(own) * len(other) < MANY_ROWS:
        own = [list(map(add, alone, row)) for row in own]
        return [min(map(add, one, two)) for one in own for two in other]
    # Many rows: equal ones, as of suspensions that come to the same hand, are worked out once.
    found = {}
    twos = list(dict.fromkeys(map(tuple, other)))
    place = {row: i for i, row in enumerate(twos)}
    places = [place[tuple(row)] for row in other]
    for row in dict.fromkeys(map(tuple, own)):
        one = list(map(add, alone, row))
        least = [min(map(add, one, two)) for two in twos]
        found[row] = [least[i] for i in places]
    return [value for row in own for value in found[tuple(row)]]


MANY_ROWS = 200  # pairs of rows from which on looking for equal ones pays


def _substitute(buckets: list[_Bucket], sizes: list[int]) -> Choice:
    choice = [0] * len(sizes)
    for bucket in reversed(buckets):
        choice[bucket.node] = _first_best(bucket, choice, sizes)
    return tuple(choice)


def _first_best(bucket: _Bucket, choice: Sequence[int], sizes: list[int]) -> int:
    """Return the first candidate of a node that costs least where its neighbours are chosen."""
    size = sizes[bucket.node]
    total = bucket.alone
    for table in bucket.rows:
        steps = _strides(table.scope, sizes)
        start = sum(step * choice[n] for n, step in zip(table.scope[:-1], steps, strict=False))
        total = list(map(add, total, table.values[start : start + size]))
    return total.index(min(total))
