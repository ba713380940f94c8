"""Find the order in which the bars of a score are played: repeats, endings, and jumps by segno, coda and fine.

After a jump back, repeats that were played are not taken again, and of their endings the last is played, unless the
score says otherwise. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from arranger.convert.score_model import Jumps

MOST_PLAYED = 6000  # bars as they are heard


@dataclass(frozen=True, slots=True)
class Ending:
    """An ending: the times for which it is played, its first bar and its last."""

    numbers: tuple[int, ...]
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class RepeatedBars:
    """Bars that are repeated: from `first`, before the endings to `body_last`; `times` in all."""

    first: int
    body_last: int
    endings: tuple[Ending, ...]
    times: int

    @property
    def last(self) -> int:
        """The last bar, of the last ending where there are any."""
        return self.endings[-1].last if self.endings else self.body_last


@dataclass(frozen=True, slots=True)
class PlayedOrder:
    """The bars in the order in which they are played, the repeats among them, and what is to be said at which bar."""

    bars: tuple[int, ...]
    repeats: tuple[RepeatedBars, ...]
    checks: tuple[tuple[int, str], ...]


def repeats_in(jumps: Sequence[Jumps], verses: Callable[[int, int], int]) -> tuple[RepeatedBars, ...]:
    """Find the repeats in bars.

    Args:
        jumps: of each bar.
        verses: how many lines of words stand under bars, from the first to the last.
    """
    finder = _RepeatFinder(verses)
    for index, jump in enumerate(jumps):
        finder.take(index, jump)
    finder.end(len(jumps))
    return tuple(finder.found)


@dataclass(slots=True)
class _RepeatFinder:
    """Takes bar after bar. Mutable; lives in `repeats_in`."""

    verses: Callable[[int, int], int]
    found: list[RepeatedBars] = field(default_factory=list)
    _begin: int = 0
    _endings: list[Ending] = field(default_factory=list)
    _open: tuple[tuple[int, ...], int] | None = None

    def take(self, index: int, jump: Jumps) -> None:
        """Take the signs of a bar."""
        if self._open is not None and (jump.ending or jump.forward):
            self._close(index - 1)
        if self._endings and self._open is None and not jump.ending:
            self._finish()
        if jump.forward:
            self._begin = index
        if jump.ending:
            numbers = jump.ending
            if self._endings and min(numbers) <= max(self._endings[-1].numbers):
                numbers = (max(self._endings[-1].numbers) + 1,)
            self._open = numbers, index
        if jump.times:
            if self._open is not None:
                self._close(index)
            else:
                times = max(jump.times, 2, self.verses(self._begin, index))
                self.found.append(RepeatedBars(self._begin, index, (), min(times, 99)))
                self._begin = index + 1
        elif self._open is not None and (jump.ending_stops or jump.double):
            self._close(index)

    def end(self, count: int) -> None:
        """Close what is still open."""
        if self._open is not None:
            self._close(count - 1)
        if self._endings:
            self._finish()

    def _close(self, last: int) -> None:
        assert self._open is not None
        self._endings.append(Ending(self._open[0], self._open[1], last))
        self._open = None

    def _finish(self) -> None:
        endings, self._endings = tuple(self._endings), []
        body_last = endings[0].first - 1
        times = max(number for ending in endings for number in ending.numbers)
        times = times + 1 if len(endings) == 1 else times  # the second time goes on behind the only ending
        if body_last >= self._begin and times > 1:
            self.found.append(RepeatedBars(self._begin, body_last, endings, times))
        self._begin = endings[-1].last + 1


def played_order(jumps: Sequence[Jumps], repeats: tuple[RepeatedBars, ...]) -> PlayedOrder:
    """Return the order in which bars are played."""
    player = _Player(jumps, repeats)
    player.play()
    return PlayedOrder(tuple(player.played), repeats, tuple(player.checks))


class _Player:
    """Plays bar after bar. Mutable; lives in `played_order`."""

    def __init__(self, jumps: Sequence[Jumps], repeats: Sequence[RepeatedBars]) -> None:
        self.played: list[int] = []
        self.checks: list[tuple[int, str]] = []
        self._jumps = jumps
        self._repeat = {i: r for r in repeats for i in range(r.first, r.last + 1)}
        self._pass: dict[RepeatedBars, int] = {}
        self._over: set[RepeatedBars] = set()
        self._taken: set[int] = set()  # jumps back that were taken
        self._after = ""  # `fine`, `coda` or `any` after a jump back
        self._in_coda = False
        self._to_coda, self._coda = self._coda_places()

    def _coda_places(self) -> tuple[int | None, int | None]:
        """Return the bar from which the coda is reached, and its first bar."""
        signs = [i for i, jump in enumerate(self._jumps) if jump.coda_signs]
        targets = [i for i, jump in enumerate(self._jumps) if jump.coda]
        leaves = [i for i, jump in enumerate(self._jumps) if jump.to_coda]
        if not targets:
            later = [i for i in signs if not leaves or i > leaves[0]]
            targets = later[-1:]
        target = targets[-1] if targets else None
        if not leaves and target is not None:
            leaves = [i for i in signs if i < target]
        return (leaves[0] if leaves else None), target

    def play(self) -> None:
        """Play to the end."""
        at: int | None = 0
        while at is not None and at < len(self._jumps) and len(self.played) < MOST_PLAYED:
            repeat = self._repeat.get(at)
            if repeat is not None:
                if at == repeat.first and repeat not in self._over and repeat not in self._pass:
                    self._pass[repeat] = 1
                skipped = self._skipped_to(at, repeat)
                if skipped is not None:
                    at = skipped
                    continue
            self.played.append(at)
            at = self._next(at, repeat)
        if self._after == "coda" and not self._in_coda:
            back = min(self._taken)
            self.checks.append((back, "a jump to the coda, but nothing says where the coda is left for or begins"))

    def _skipped_to(self, at: int, repeat: RepeatedBars) -> int | None:
        """Return where it goes on, where an ending begins that is not for this time."""
        ending = next((one for one in repeat.endings if one.first == at), None)
        now = self._pass.get(repeat, repeat.times)
        if ending is None or now in ending.numbers:
            return None
        other = next((one for one in repeat.endings if now in one.numbers), None)
        if other is not None and other.first > at:
            return other.first
        self._over.add(repeat)
        return repeat.last + 1

    def _next(self, at: int, repeat: RepeatedBars | None) -> int | None:
        """Return the bar after a bar; None at the end."""
        jump = self._jumps[at]
        if self._after and not self._in_coda:
            if jump.fine and self._after != "coda":
                return None
            if at == self._to_coda and self._after != "fine" and self._coda is not None and self._ready(repeat):
                self._in_coda = True
                return self._coda
        if repeat is not None and self._goes_back(at, repeat):
            return repeat.first
        if jump.back_to and at not in self._taken:
            self._taken.add(at)
            return self._back(at, jump)
        return at + 1

    def _ready(self, repeat: RepeatedBars | None) -> bool:
        """Return whether the jump to the coda is due: the last time that a repeat is played."""
        return repeat is None or repeat in self._over or self._pass.get(repeat, repeat.times) >= repeat.times

    def _goes_back(self, at: int, repeat: RepeatedBars) -> bool:
        ends = [ending.last for ending in repeat.endings] or [repeat.body_last]
        if at not in ends or repeat in self._over:
            return False
        now = self._pass.get(repeat, repeat.times)
        if now >= repeat.times:
            self._over.add(repeat)
            self._pass[repeat] = repeat.times
            return False
        self._pass[repeat] = now + 1
        return True

    def _back(self, at: int, jump: Jumps) -> int | None:
        target = 0
        if jump.back_to == "segno":
            signs = [i for i, one in enumerate(self._jumps) if one.segno and i <= at]
            if not signs:
                self.checks.append((at, "a jump to the segno, but none stands before it: it is taken from the start"))
            target = signs[-1] if signs else 0
        has_fine = any(one.fine for one in self._jumps)
        until = jump.until or ("fine" if has_fine else "coda" if self._to_coda is not None else "end")
        if until == "fine" and not has_fine:
            self.checks.append((at, "a jump back to the fine, but no fine is written: it is played to the end"))
            until = "end"
        self._after = until
        self._in_coda = False
        for repeat in set(self._repeat.values()):
            if jump.with_repeats and repeat.last >= target:
                self._over.discard(repeat)
                self._pass.pop(repeat, None)
            elif repeat.first <= at:
                self._over.add(repeat)
                self._pass[repeat] = repeat.times
        return target
