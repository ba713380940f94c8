"""The best choice for a search problem within some limits, and how sure it is: proven, or with a lower bound.

Neighbours that overstep a limit by themselves are ruled out by what they cost together. For the rest a limit on how
many candidates of a kind may be chosen is taken out of the sum and given a price instead: each use of it costs so much
more, each use that is allowed is paid back. Whatever the prices, no choice within the limits costs less than the least
choice at those prices; the prices go up where a limit is overdrawn and down where it is not, by steps that the gap to
the best choice known sets (Polyak, "Minimization of unsmooth functionals", USSR Computational Mathematics and
Mathematical Physics 9, 1969). A price moves the less the more nodes take of its limit, for they all follow it; and
prices that would go to and fro are led on between (Camerini, Fratta and Maffioli, "On improving relaxation methods by
modified gradient techniques", Mathematical Programming Study 3, 1975): long songs need no more steps than short ones.
Known as Lagrangian relaxation: Fisher, "The Lagrangian relaxation method for solving integer programming problems",
Management Science 27 (1981).

Candidates are dropped that cannot be in a choice as good as the best one known: those with which the bound is above
its cost. That is done first by problems without circles (`tree`), which are quick and leave a sixth of a song's
candidates; where limits have to have a price for that, as in long songs, prices to begin with are found where each node
has but a few candidates. Then it is done by the exact search. Where the
bound does not meet the cost, what is left is searched in pieces that one limit joins (`pieces`); where there are none,
one node is decided both ways (branch and bound). Of all choices that cost the least, that one is found that is first in
order, node by node, whatever was dropped.
"""

import heapq
import itertools
from collections.abc import Sequence
from functools import cached_property
from math import gcd
from typing import NamedTuple

from arranger.harmony.branches import Branch
from arranger.harmony.choices import ChoiceProblem, plan
from arranger.harmony.limits import Limit, Mending, ruled_out_in_pairs
from arranger.harmony.optimum import Answer
from arranger.harmony.pieces import WorkSpentError, best_apart, joint
from arranger.harmony.search import BUCKET, NEVER, Choice, Solver
from arranger.harmony.tree import TreeSolver, spanning_tree

MOST_MADE = 30_000_000  # table entries made in all before it is left unproven: two seconds; songs need 100,000
HALVINGS = 4, 2  # of the steps before the prices are left as they are: at first, and where a node is decided
TREE_HALVINGS = 0, 2  # the same on trees: in short songs, where it is quicker to search on, and in long ones
NO_STEP = -1  # halvings where the prices are left as they were found elsewhere
CORE_HALVINGS = 1  # the same on trees of a few candidates, by which prices are found to begin with
LONG = 100  # nodes: songs have under 50
WEIGHT = 1 << 16  # of the way of a price of which one node takes: more than any song has nodes
PARTS = 64  # of one use: ways of prices are in whole parts
WORTH_A_LOOK = 4  # the gap is so many times less: what is dropped then is worth more than a better bound
STALLED = 2  # searches without a higher bound after which steps are halved
MANY_LEFT = 0.5  # of the candidates where no limit has a price: it pays to look for prices first
WORTH_NARROWING = 0.7  # of the candidates at most are left: stating the problem anew pays


def best_within(problem: ChoiceProblem, limits: Sequence[Limit], most_made: int = MOST_MADE) -> Answer:
    """Find the best choice within some limits: of those that cost the least the first in order, where it is proven.

    Args:
        problem: what to solve, with a plan. Every node has a candidate that takes nothing of any limit.
        limits: as many as there are; what candidates take is 0 or more.
        most_made: the search is left unproven after so many table entries.
    """
    return _Search(ruled_out_in_pairs(problem, limits), limits, most_made).run()


class _Search:
    """One search. Mutable: it keeps the best choice found so far and counts its work; lives in `best_within`."""

    def __init__(
        self,
        problem: ChoiceProblem,
        limits: Sequence[Limit],
        most_made: int,
        most_cost: int | None = None,
        known: Choice = (),
    ) -> None:
        """Begin with a choice that is known, or with the cost that one may have at most."""
        self.problem, self.limits, self.left = problem, tuple(limits), most_made
        self.choice: Choice = known
        self.mended: Choice = ()  # the choice that was mended last
        self.cost = NEVER  # of the best choice known; else the least that is too much
        first = (0,) * len(problem.nodes)
        if most_cost is not None:
            self.cost = most_cost if known else most_cost + 1 + (problem.cost(first) - most_cost - 1) % self.step
        numbers = tuple(tuple(range(len(costs))) for costs in problem.nodes)
        nodes = tuple(range(len(numbers)))
        self.whole = Branch(problem, 0, self.limits, first, nodes, numbers, (0,) * len(limits))

    @cached_property
    def mending(self) -> Mending:
        """What makes choices keep within the limits; often none is needed."""
        return Mending(self.problem, self.limits)

    @cached_property
    def step(self) -> int:
        """By how much at least the costs of two choices differ, if they do; often nobody asks."""
        return _cost_step(self.problem)

    def run(self) -> Answer:
        """Narrow the whole; search what is left by pieces, or best first until nothing that is left could be better."""
        part = self._lifted(self._narrowed_by_trees(self.whole), HALVINGS[0])
        if self._is_decided(part) or self._searched_apart(part):
            return Answer(self.choice, self.cost, self.cost)
        waiting = [(part.value, 1, part)]
        number = itertools.count(0, -1)  # of equal bounds the newest first: it is decided farthest
        while waiting and self.left > 0:
            part = heapq.heappop(waiting)[2]
            halves = part.by_place() if self._may_equal(part.value) else part.halves()
            for half in reversed([self._lifted(half, HALVINGS[1]) for half in halves]):
                if not self._is_decided(half):
                    heapq.heappush(waiting, (half.value, next(number), half))
            while waiting and self._is_decided(waiting[0][2]):
                heapq.heappop(waiting)
        left = [value for value, *_ in waiting if not self._may_equal(value)]
        return Answer(self.choice, self.cost, min(left, default=self.cost))

    def _searched_apart(self, part: Branch) -> bool:
        """Search a part by pieces; return whether that was possible, and there was work enough for it."""
        if not self.choice or self.left <= 0:
            return False
        joined = joint(part.problem, part.limits)
        if joined is None:
            return False
        price = 0 if joined.limit is None else part.prices[joined.limit]
        known = tuple(
            own.index(self.choice[node]) for node, own in zip(part.nodes, part.numbers, strict=True)
        )  # it is there: what is dropped is in nothing as good
        try:
            found = best_apart(part.problem, part.limits, price, joined, known, self._found_in_piece)
        except WorkSpentError:
            return False
        self._keep(part.whole(found))
        return True

    def _found_in_piece(
        self, problem: ChoiceProblem, limits: Sequence[Limit], most: int, known: Choice
    ) -> tuple[int, Choice] | None:
        """Search a piece, as `pieces.Finder` says."""
        search = _Search(problem, limits, self.left, most, known)
        answer = search.run()
        self.left = search.left
        if not answer.proven:
            raise WorkSpentError
        return (answer.cost, answer.choice) if answer.choice else None

    def _may_equal(self, value: int) -> bool:
        """Return whether under a bound there is nothing better than the best choice, though it may be as good."""
        return value >= self.cost or value > self.cost - self.step

    def _is_decided(self, part: Branch) -> bool:
        """Return whether nothing in a part is better than the best choice, nor as good and before it in order."""
        return part.value > self.cost or (self._may_equal(part.value) and part.first >= self.choice)

    def _narrowed_by_trees(self, part: Branch) -> Branch:
        """Drop what is in nothing as good as the best choice known, by problems without circles: they are quick."""
        tree = spanning_tree(part.problem)
        solver = TreeSolver(tree)
        over_tree = part._replace(problem=tree)
        lifted = self._ascended(over_tree, solver, NO_STEP)
        kept, share = self._good_enough(lifted, solver)
        if share > MANY_LEFT and any(limit.used(lifted.part.tried[0]) > limit.most for limit in self.limits):
            core = over_tree.core(solver.regrets(tree.nodes))
            prices = self._ascended(core, TreeSolver(core.problem), CORE_HALVINGS, to_the_end=True).part.prices
            lifted = self._ascended(over_tree._replace(prices=prices), solver, NO_STEP)
            kept, share = self._good_enough(lifted, solver)
        part = lifted.part._replace(problem=part.problem).of(kept)
        ended = False
        while (not ended or share <= WORTH_NARROWING) and part.nodes and not self._is_decided(part) and self.left > 0:
            tree = spanning_tree(part.problem)
            solver = TreeSolver(tree)
            lifted = self._ascended(part._replace(problem=tree), solver, TREE_HALVINGS[len(part.nodes) > LONG])
            part, share = self._narrowed(part, lifted, solver)
            ended = lifted.ended
        return part

    def _lifted(self, part: Branch, halvings: int) -> Branch:
        """Lift the bound of a part by the prices; drop what is in nothing as good as the best choice known."""
        share, ended = 0.0, False
        while (not ended or share <= WORTH_NARROWING) and not self._is_decided(part) and self.left > 0:
            if part.is_empty:
                return part._replace(value=NEVER)
            if not part.nodes:
                self._keep(part.first)
                return part._replace(value=NEVER)
            solver = _solver(part.problem)
            lifted = self._ascended(part, solver, halvings)
            part, ended = lifted.part, lifted.ended
            if self._is_decided(part):
                break
            part, share = self._narrowed(part, lifted, solver)
            if self._may_equal(part.value) and part.nodes:
                break
        return part._replace(value=NEVER) if part.is_empty else part

    def _narrowed(self, part: Branch, lifted: "_Ascended", solver: Solver | TreeSolver) -> tuple[Branch, float]:
        """Drop of a part what is in nothing as good as the best choice known; return the share that is left too.

        `lifted` is the part with prices, or a problem without circles in its place; `solver` solves that.
        """
        kept, share = self._good_enough(lifted, solver)
        return lifted.part._replace(problem=part.problem).of(kept), share

    def _ascended(
        self, part: Branch, solver: Solver | TreeSolver, halvings: int, *, to_the_end: bool = False
    ) -> "_Ascended":
        """Return a part with prices that lift its bound, as far as it is worth it.

        `to_the_end`: also where the gap is so much less that candidates could be dropped.
        """
        best = found = self._least(solver, part, part.prices)
        gap_before = self.cost - best.value
        weights = [WEIGHT // max(1, len(limit.uses)) for limit in part.limits]
        tried = []
        way: list[int] = []  # of each price, by which it changed last
        halved = stalled = 0
        while True:
            tried.append(part.whole(found.choice))
            over = [
                PARTS * (use - limit.most) if use > limit.most or price else 0
                for use, limit, price in zip(found.used, part.limits, found.prices, strict=True)
            ]
            ended = not any(over) or halved > halvings or self._may_equal(best.value) or self.left <= 0
            if ended or (WORTH_A_LOOK * (self.cost - best.value) < gap_before and not to_the_end):
                break
            way = _led_on(over, way, weights)
            length = max(1, _product(way, way, weights)) << halved
            gap = PARTS * (self.cost - found.value)
            prices = [
                max(0, price + gap * one * weight // length)
                for price, one, weight in zip(found.prices, way, weights, strict=True)
            ]
            found = self._least(solver, part, prices)
            stalled += 1
            if found.value > best.value:
                best, stalled = found, 0
            elif stalled == STALLED:
                halved, stalled, found, way = halved + 1, 0, best, []
        if (halvings != NO_STEP or not any(over)) and not self._may_equal(best.value):
            self._mend(part, best.choice)
        # The costs of all choices are whole steps apart: so is the least that a bound leaves.
        gap = self.cost - max(best.value, part.value)
        value = self.cost - (gap and gap // self.step * self.step)
        part = part._replace(prices=tuple(best.prices), value=value, tried=tuple(tried))
        return _Ascended(part, best.value, ended)

    def _good_enough(self, lifted: "_Ascended", solver: Solver | TreeSolver) -> tuple[list[list[int]], float]:
        """Return the candidates of each node that may be in something as good as the best choice; their share of all.

        Each node keeps one candidate at least, also where nothing is as good.
        """
        regrets = solver.regrets(lifted.part.priced(lifted.part.prices))
        self._pay(solver)
        room = max(0, self.cost - lifted.least)
        kept = [[i for i, regret in enumerate(some) if regret <= room] for some in regrets]
        return kept, sum(map(len, kept)) / max(1, sum(map(len, regrets)))

    def _least(self, solver: Solver | TreeSolver, part: Branch, prices: Sequence[int]) -> "_Found":
        """Search at some prices; keeps what is within the limits, if it is the best so far."""
        choice = solver.solve(part.priced(prices))
        self.left -= BUCKET // 4 * len(choice)
        self._pay(solver)
        used = [limit.used(choice) for limit in part.limits]
        if all(use <= limit.most for use, limit in zip(used, part.limits, strict=True)):
            self._keep(part.whole(choice))
        elif self.cost == NEVER:
            self._mend(part, choice)
        value = part.settled + part.problem.cost(choice)
        value += sum([p * (u - limit.most) for p, u, limit in zip(prices, used, part.limits, strict=True) if p])
        return _Found(value, prices, choice, used)

    def _mend(self, part: Branch, choice: Choice) -> None:
        """Keep what is within the limits near a choice of a part, with all that is better in the best one known."""
        whole = part.whole(choice)
        if whole == self.mended or not all(self.mending.idle):
            return
        self.mended = whole
        mended = self.mending.mended(whole, part.nodes)
        if self.choice:
            mended = min(
                mended, self.mending.merged(self.choice, mended), key=lambda one: (self.problem.cost(one), one)
            )
        self._keep(mended)
        self._pay(self.mending)

    def _pay(self, worker: Solver | TreeSolver | Mending) -> None:
        """Count the table entries that were made."""
        self.left -= worker.made
        worker.made = 0

    def _keep(self, choice: Choice) -> None:
        """Keep a choice within the limits, if it is better than the best so far; of equals the first in order."""
        cost = self.problem.cost(choice)
        if (cost, choice) < (self.cost, self.choice):
            self.choice, self.cost = choice, cost


def _led_on(over: list[int], last: list[int], weights: list[int]) -> list[int]:
    """Return the way that prices go: by what is overdrawn, with some of their last way where that leads back."""
    against = _product(over, last, weights) if last else 0
    if against >= 0:
        return over
    length = _product(last, last, weights)
    return [one - 3 * against * before // (2 * length) for one, before in zip(over, last, strict=True)]


def _product(ones: list[int], others: list[int], weights: list[int]) -> int:
    return sum([one * other * weight for one, other, weight in zip(ones, others, weights, strict=True)])


def _solver(problem: ChoiceProblem) -> Solver | TreeSolver:
    """Return what solves a problem exactly: without circles it is quicker."""
    if len(spanning_tree(problem).pairs) == len(problem.pairs):
        return TreeSolver(problem)
    planned = plan(problem, NEVER)
    assert planned is not None
    return Solver(problem, planned)


class _Ascended(NamedTuple):
    """A part with the prices found for it, and the bound that they make, which may be lower than one known before.

    `ended`: it is not worth it to look for better prices, unless candidates are dropped.
    """

    part: Branch
    least: int
    ended: bool


class _Found(NamedTuple):
    """The least choice at some prices, how much it takes of each limit, and what no choice in its part goes below."""

    value: int
    prices: Sequence[int]
    choice: Choice
    used: Sequence[int]


def _cost_step(problem: ChoiceProblem) -> int:
    """Return by how much at least the costs of two choices differ, if they do: the largest that divides all.

    >>> _cost_step(ChoiceProblem(([3, 8], [0, 15]), {(0, 1): ([0, 5], [10, 30])}))
    5
    """
    apart: set[int] = set()
    for rows in (*((costs,) for costs in problem.nodes), *problem.pairs.values()):
        one_by_one = {id(row): row for row in rows}.values()  # many are the very same
        apart |= {cost - rows[0][0] for cost in set().union(*one_by_one)}
    return gcd(*apart) or 1
