"""Define a chord: a root, a row of the table of qualities, what is changed in it, and a bass."""

from functools import lru_cache
from typing import Literal, NamedTuple

from arranger.theory.interval import Interval
from arranger.theory.key import Transposition
from arranger.theory.pitch import NoteName
from arranger.theory.qualities import Quality

ChangeKind = Literal["add", "alter", "no"]


class Change(NamedTuple):
    """A change to a quality: `add` a degree, `alter` (put this form in the degree's place or beside it), `no` degree.

    An altered fifth takes the place of the plain one; altered ninths, elevenths and thirteenths take the place of the
    plain form of their degree where it is present and are added where it is not. `b9 #9` stand together.
    """

    kind: ChangeKind
    interval: Interval

    def __str__(self) -> str:
        return str(self.interval) if self.kind == "alter" else f"{self.kind}{self.interval}"


@lru_cache(maxsize=1024)
def _members(quality: Quality, changes: tuple[Change, ...]) -> tuple[Interval, ...]:
    altered = [c.interval for c in changes if c.kind == "alter"]
    degrees = {i.degree for i in altered} | {c.interval.degree for c in changes if c.kind == "no"}
    kept = [i for i in quality.degrees if i.degree not in degrees]
    added = [c.interval for c in changes if c.kind == "add" and c.interval not in kept]
    return tuple(sorted({*kept, *altered, *added}))


@lru_cache(maxsize=1024)
def _names(root: NoteName, members: tuple[Interval, ...]) -> tuple[NoteName, ...]:
    return tuple([i.above(root) for i in members])


class Chord(NamedTuple):
    """A chord as named. `bass` is None where no bass is written (the root is meant)."""

    root: NoteName
    quality: Quality
    changes: tuple[Change, ...] = ()
    bass: NoteName | None = None

    @property
    def members(self) -> tuple[Interval, ...]:
        """The intervals above the root, root first, rising; the bass does not count unless it is a member."""
        return _members(self.quality, self.changes)

    @property
    def names(self) -> tuple[NoteName, ...]:
        """The spelled members, in the order of `members`."""
        return _names(self.root, self.members)

    @property
    def pitch_classes(self) -> frozenset[int]:
        """The members' pitch classes; the bass does not count unless it is a member."""
        root = self.root.pitch_class
        return frozenset([(root + i.semitones) % 12 for i in self.members])

    @property
    def bass_name(self) -> NoteName:
        """The lowest note: the written bass, else the root."""
        return self.bass or self.root

    def member_on(self, degree: int) -> Interval | None:
        """Return the member on a degree (3 for the third, whatever its size)."""
        return next((i for i in self.members if i.degree == degree), None)

    def interval_of(self, name: NoteName) -> Interval | None:
        """Return the member that sounds as a name, whatever its spelling."""
        distance = (name.pitch_class - self.root.pitch_class) % 12
        return next((i for i in self.members if i.pitch_class == distance), None)

    @property
    def suffix(self) -> str:
        """What is printed after the root, without the bass: `m7`, `7(b9)`, `(no3)`."""
        changes = " ".join(map(str, self.changes))
        return f"{self.quality.name}({changes})" if changes else self.quality.name

    def __str__(self) -> str:
        return f"{self.root}{self.suffix}{f'/{self.bass}' if self.bass else ''}"

    def moved(self, transposition: Transposition) -> "Chord":
        """Transpose the root and the bass; a name that would need a double accidental is simplified.

        A bass that is a member keeps the member's spelling above the new root.
        """
        root = transposition.name(self.root)
        if self.bass is None:
            return self._replace(root=root)
        member = self.interval_of(self.bass)
        bass = transposition.name(self.bass)
        if member is not None and member.above(self.root) == self.bass and abs(member.above(root).alter) <= 1:
            bass = member.above(root)
        return self._replace(root=root, bass=bass)
