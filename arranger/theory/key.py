"""Define the thirty keys, major and minor; spell notes in a key; move notes from key to key."""

import re
from functools import lru_cache
from typing import NamedTuple

from arranger.theory.interval import Interval, between
from arranger.theory.pitch import NoteName

_MAJOR_STEPS = tuple(Interval.parse(d) for d in ("1", "2", "3", "4", "5", "6", "7"))
_MINOR_STEPS = tuple(Interval.parse(d) for d in ("1", "2", "b3", "4", "5", "b6", "b7"))  # natural minor


@lru_cache(maxsize=64)  # there are thirty keys
def _scale(tonic: NoteName, minor: bool) -> tuple[NoteName, ...]:
    return tuple([i.above(tonic) for i in (_MINOR_STEPS if minor else _MAJOR_STEPS)])


_KEY = r"([A-G])(##|#|♯|bb|b|♭)?\s*(m|min|minor|maj|major|Major|Minor)?"


def tonic_and_mode(text: str) -> tuple[NoteName, bool | None]:
    """Read `D`, `Dm`, `D minor`, `B♭ major`: the tonic, and whether minor was said; None where no mode was.

    Raises:
        ValueError: it is no key.

    >>> tonic_and_mode("Bb minor")[1], tonic_and_mode("Bb")[1]
    (True, None)
    """
    match = re.fullmatch(_KEY, text.strip())
    if not match:
        raise ValueError(f"no key: {text!r}")
    minor = match[3].lower() in ("m", "min", "minor") if match[3] else None
    return NoteName.parse(match[1] + (match[2] or "")), minor


class Key(NamedTuple):
    """A key. Valid keys have a signature of 7 flats to 7 sharps (`Key.exists`)."""

    tonic: NoteName
    minor: bool = False

    @classmethod
    def parse(cls, text: str) -> "Key":
        """Read `D`, `Dm`, `D minor`, `B♭ major`.

        Raises:
            ValueError: it is no key, or one that would need double sharps or flats in its signature.
        """
        tonic, minor = tonic_and_mode(text)
        key = cls(tonic, minor or False)
        if not key.exists:
            raise ValueError(f"no key signature has {abs(key.signature)} {'sharps' if key.signature > 0 else 'flats'}")
        return key

    @property
    def signature(self) -> int:
        """Sharps (above 0) or flats (below 0) of the signature."""
        return self.tonic.fifths - (3 if self.minor else 0)

    @property
    def exists(self) -> bool:
        """Return whether it is one of the fifteen signatures."""
        return -7 <= self.signature <= 7

    @property
    def scale(self) -> tuple[NoteName, ...]:
        """The seven names of the major or natural minor scale from the tonic up."""
        return _scale(self.tonic, self.minor)

    @property
    def relative(self) -> "Key":
        """The minor key of a major one's signature, and the reverse."""
        return Key(self.scale[2], False) if self.minor else Key(self.scale[5], True)

    def degree(self, name: NoteName) -> Interval:
        """Return the interval of a name above the tonic."""
        return between(self.tonic, name)

    def holds(self, name: NoteName) -> bool:
        """Return whether the name is in the scale (natural minor in a minor key)."""
        return name in self.scale

    def spelled(self, pitch_class: int) -> NoteName:
        """Name a pitch class as music in this key does: as in the scale, else the altered degree nearest in fifths.

        In C: F#, Bb, Eb, C#, Ab; in A minor the same, with G# for Ab (the leading note).
        """
        # Names from a lowered sixth degree (5 fifths below the tonic of the signature's major key) to a raised fourth.
        low = self.signature - (3 if self.minor else 4)
        return next(n for n in map(NoteName.at_fifths, range(low, low + 12)) if n.pitch_class == pitch_class)

    def enharmonic(self) -> "Key | None":
        """Return the key of the same sound with the fewest signs in its signature, if it is another one that exists."""
        others = [Key(NoteName.at_fifths(self.tonic.fifths + shift), self.minor) for shift in (-12, 12)]
        near = [k for k in others if k.exists and abs(k.signature) < abs(self.signature)]
        return near[0] if near else None

    def __str__(self) -> str:
        return f"{self.tonic}{'m' if self.minor else ''}"

    @property
    def words(self) -> str:
        """The key in words: `Bb major`."""
        return f"{self.tonic} {self.mode}"

    @property
    def mode(self) -> str:
        """The mode in words: `major` or `minor`."""
        return "minor" if self.minor else "major"


def another_key(text: str, home: Key) -> Key:
    """Read the key that somebody asks for, for music in another one: a letter alone takes the mode of `home`.

    Raises:
        ValueError: it is no key, one that needs more than seven signs, or of the other mode. The message says what
            would be right.

    >>> str(another_key("F#", Key.parse("Bm")))
    'F#m'
    """
    try:
        tonic, minor = tonic_and_mode(text)
    except ValueError:
        raise ValueError(f"expected a key such as D, Bb or F#m, found `{text}`{_meant(text)}") from None
    if minor is not None and minor is not home.minor:
        raise ValueError(
            f"expected a {home.mode} key, since the music is in {home.words}, found `{text}`; "
            f"`{tonic}` alone takes the mode of the music"
        )
    key = Key(tonic, home.minor)
    if key.exists:
        return key
    signs = f"{abs(key.signature)} {'sharps' if key.signature > 0 else 'flats'}"
    twin = key.enharmonic()
    found = f"expected a key of seven signs at most, found {key.words}, which would need {signs}"
    raise ValueError(f"{found}; the same sound is `{twin}`" if twin else found)


def _meant(text: str) -> str:
    """Return a remark on what may be meant by a text that is no key, or nothing."""
    text = text.strip()
    if text[:1] in ("H", "h"):
        return "; the German H is `B`, and B is `Bb`"
    capital = text[:1].upper() + text[1:]
    return f"; is `{capital}` meant?" if capital != text and re.fullmatch(_KEY, capital) else ""


def all_keys() -> tuple[Key, ...]:
    """Return the fifteen major keys, flats first, then their relative minors in the same order."""
    majors = tuple(Key(NoteName.at_fifths(n)) for n in range(-7, 8))
    return majors + tuple(k.relative for k in majors)


MOST_SIGNS = 7  # of a signature; such a key is easier read as its twin with five


class Transposition(NamedTuple):
    """From one key to another of the same mode. Names move along the line of fifths, so degrees stay degrees.

    `semitones` is the nearest move: -5 to 6, up at a tritone.
    """

    home: Key
    target: Key

    @property
    def fifths(self) -> int:
        """Places moved on the line of fifths."""
        return self.target.tonic.fifths - self.home.tonic.fifths

    @property
    def semitones(self) -> int:
        """Semitones of the nearest move, -5 to 6."""
        return (self.target.tonic.pitch_class - self.home.tonic.pitch_class + 5) % 12 - 5

    def name(self, name: NoteName) -> NoteName:
        """Move a name. What would need a double accidental and had none gets its simplest enharmonic name."""
        moved = NoteName.at_fifths(name.fifths + self.fifths)
        return moved if abs(moved.alter) <= max(1, abs(name.alter)) else moved.simplest()

    def key(self, key: Key) -> Key:
        """Move a key; one that would have no signature, or one of seven signs, becomes its enharmonic twin.

        The home key itself becomes the target, as it was asked for.
        """
        if key == self.home:
            return self.target
        place = key.tonic.fifths + self.fifths
        moved = Key(NoteName.at_fifths(place), key.minor)
        while not moved.exists:  # twelve places on the line of fifths are the same key of the keyboard
            place += -12 if moved.signature > 0 else 12
            moved = Key(NoteName.at_fifths(place), key.minor)
        if abs(moved.signature) == MOST_SIGNS:
            return moved.enharmonic() or moved
        return moved
