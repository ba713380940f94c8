"""Find the suspended fourths over V at the cadences of the four-part chorales in music21's corpus, and where they go.

    python -m tests.reference.cadences > tests/reference/cadences.txt

The chorales are those of Bach in Riemenschneider's numbering, public domain. A cadence: under a fermata the four
voices sound a major or minor triad in root position (perhaps without its third or fifth), and within three quarters
before it the bass is on the fifth of its key. A 4 over that bass: an upper voice has the tonic, another the second
degree (so that it is no six-four chord), none the third degree or the leading note. It is a suspension where the voice
had that pitch before the bass came to V, or just before at the same pitch (else it is a passing note, or the tonic come
early). A line of the result is one chorale: how many cadences, how many suspensions, how many of those go to the
leading note by step, how many reach it by way of another note, how many do not reach it before the chord of the
fermata. Reading all of them takes minutes, so the result is kept; a test makes part of it again.
"""

from __future__ import annotations

import sys
from collections import Counter
from typing import NamedTuple

from tests.reference.chorales import read, voices

WINDOW = 3.0  # quarters before the fermata in which the V is looked for
OUTCOMES = ("cadences", "suspensions", "by step", "by way of another", "left")
Voice = list[tuple[float, float, int, bool]]


class Four(NamedTuple):
    """A 4 over the V of a cadence: which voice, and the place among its notes."""

    voice: int
    note: int


def at(voice: Voice, time: float) -> int | None:
    """The place of the note that sounds at a time."""
    return next((i for i, (start, end, _, _) in enumerate(voice) if start <= time < end), None)


def tonic_under(parts: list[Voice], time: float) -> int | None:
    """The pitch class of the bass where the voices sound a triad in root position; None where they do not."""
    places = [at(voice, time) for voice in parts]
    if None in places:
        return None
    keys = [voice[place][2] for voice, place in zip(parts, places, strict=True) if place is not None]
    above = {(k - keys[3]) % 12 for k in keys}
    return keys[3] % 12 if above <= {0, 4, 7} or above <= {0, 3, 7} else None


def fours_before(parts: list[Voice], time: float, tonic: int) -> tuple[bool, list[Four]]:
    """Whether the bass is on V before a fermata's chord, and the suspended 4s over it."""
    five, found = False, []
    times = sorted({n[0] for voice in parts for n in voice if time - WINDOW <= n[0] < time})
    for now in times:
        places = [at(voice, now) for voice in parts]
        if None in places:
            continue
        keys = [voice[place][2] for voice, place in zip(parts, places, strict=True) if place is not None]
        if keys[3] % 12 != (tonic + 7) % 12:
            continue
        five = True
        degrees = [(k - tonic) % 12 for k in keys]
        if not {0, 2} <= set(degrees[:3]) or {3, 4, 10, 11} & set(degrees):
            continue
        for voice in range(3):
            place = places[voice]
            if degrees[voice] != 0 or place is None or not prepared(parts[voice], place, now):
                continue
            if Four(voice, place) not in found:
                found.append(Four(voice, place))
    return five, found


def prepared(voice: Voice, note: int, now: float) -> bool:
    """Whether a note sounded before a time, or the one before it had its pitch."""
    return voice[note][0] < now or (note > 0 and voice[note - 1][2] == voice[note][2])


def outcome(voice: Voice, note: int, time: float) -> str:
    """Where a 4 goes before the chord of the fermata."""
    pitch = voice[note][2]
    later = [midi for start, _, midi, _ in voice[note + 1 :] if start < time]
    later = later[next((i for i, midi in enumerate(later) if midi != pitch), len(later)) :]  # struck again: held on
    if later and 1 <= pitch - later[0] <= 2:
        return "by step"
    return "by way of another" if any(1 <= (pitch - midi) % 12 <= 2 for midi in later) else "left"


def count(score: object) -> Counter[str]:
    """Count the cadences of one chorale and their 4s by what becomes of them."""
    parts = [voices(p) for p in score.parts]  # type: ignore[attr-defined]
    found: Counter[str] = Counter()
    for time in sorted({start for start, _, _, held in parts[0] if held}):
        tonic = tonic_under(parts, time)
        if tonic is None:
            continue
        five, fours = fours_before(parts, time, tonic)
        found["cadences"] += five
        for voice, note in fours:
            found["suspensions"] += 1
            found[outcome(parts[voice], note, time)] += 1
    return found


def line(found: Counter[str]) -> str:
    return " ".join(str(found[name]) for name in OUTCOMES)


def main() -> None:
    sys.stdout.write(f"# {', '.join(OUTCOMES)}\n")
    for number in range(1, 372):
        score = read(number)
        if score is not None:
            sys.stdout.write(f"{number}: {line(count(score))}\n")


if __name__ == "__main__":
    main()
