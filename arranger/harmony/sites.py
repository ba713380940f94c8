"""Where a suspension could stand: what a chord may take by its quality and degree, and what is known of its place.

Takes a song with its timeline; gives sites. Rules without a source are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from typing import Literal, NamedTuple

from arranger.harmony import singer
from arranger.harmony.model import ChordId
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Printed, Timeline, seconds
from arranger.harmony.voicings import third_in_bass
from arranger.song.model import Bar, Section, Song
from arranger.theory.interval import Interval
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

Kind = Literal["sus2", "sus4"]
SUS = {"sus2": Interval(2, 2), "sus4": Interval(4, 5)}

# Degrees (1 to 7) on which scale notes alone give a suspension (table "sus chords using scale notes only", from the
# scale; the exceptions are also in print, see tests/reference). In minor: i, iv, v take 4; III, VI, VII take 2.
MAJOR_DEGREES = {"sus2": (1, 2, 4, 5, 6), "sus4": (1, 2, 3, 5, 6)}
MINOR_DEGREES = {"sus2": (3, 6, 7), "sus4": (1, 4, 5)}
SCALE_MINOR_DEGREES = {"sus2": (1, 3, 4, 6, 7), "sus4": (1, 3, 4, 5, 7)}  # all that natural minor has
IDIOMS = {("sus2", 4), ("sus2", 1), ("sus4", 5)}
MAJOR_THIRD = 4


def degree_of(key: Key, printed: Printed) -> int | None:
    """Return the degree (1 to 7) of a chord's root in the key's scale; None where the root is not in it."""
    return _degree(key, printed.chord.root)


@lru_cache(maxsize=1024)
def _degree(key: Key, root: NoteName) -> int | None:
    scale = key.scale
    return scale.index(root) + 1 if root in scale else None


def kinds_for(key: Key, printed: Printed, *, tune: bool = False) -> tuple[Kind, ...]:
    """Return what a chord may take by its quality and degree.

    Major, minor and dominant-seventh chords with a perfect fifth; on a dominant seventh only 4. Over a third in the
    bass only a 2, and only on a triad (an added note, for the third sounds below it); over other basses nothing. Where
    the `tune` over it is known, a minor key offers all that its scale has.
    """
    chord = printed.chord
    degree = degree_of(key, printed)
    quality = chord.quality.name
    if degree is None or chord.changes or quality not in ("", "m", "7"):
        return ()
    if third_in_bass(chord):
        assert printed.written is not None
        rooted = replace(printed, written=replace(printed.written, chord=replace(chord, bass=None)))
        return tuple(k for k in kinds_for(key, rooted, tune=tune) if k == "sus2")
    if chord.bass_name.pitch_class != chord.root.pitch_class:
        return ()
    kinds: tuple[Kind, ...] = ("sus2", "sus4")
    if key.minor and not (tune and quality == "m"):
        if degree == 5 and quality in ("", "7"):
            return ("sus4",)  # the major dominant takes 4 only
        minor_expected = degree in (1, 4, 5)
        if (quality == "m") != minor_expected:
            return ()
    table = (SCALE_MINOR_DEGREES if tune else MINOR_DEGREES) if key.minor else MAJOR_DEGREES
    allowed = tuple(k for k in kinds if degree in table[k] and _degree(key, SUS[k].above(chord.root)) is not None)
    return tuple(k for k in allowed if k == "sus4") if quality == "7" else allowed


def resolution_after(printed: Printed, bar: Bar, section: Section, taste: Taste) -> Fraction | None:
    """Return how long a suspension lasts before it resolves inside its chord, in quarters; None where there is no time.

    On beat 3 of four beats or of 3/4, on 2 of two, on count 4 of 6/8, in bar 2 of two bars; at least two felt beats and
    a second and a half in all.
    """
    length, felt = printed.length, bar.meter.felt_beat
    if length < 2 * felt or seconds(length, section.facts) < taste.sus_seconds:
        return None
    beats = length / felt
    if beats.denominator != 1:
        return None
    if beats == 3:
        return 2 * felt
    return felt * (int(beats) // 2)


def ends_row(timeline: Timeline, where: ChordId) -> bool:
    """Return whether a chord is the last of its row."""
    part = timeline.printed[where[0]]
    return where[1] + 1 == len(part) or part[where[1] + 1].row != part[where[1]].row


class Site(NamedTuple):
    """One place where an unknown is printed, with all that a suspension has to know of it.

    Attributes:
        key, section, printed, bar: where it stands.
        kinds: what its quality and degree allow.
        under: the parts of bars that it takes; `sung` those in which the singer does not rest.
        tune: the tune is written over all of it.
        after: how long a suspension that resolves lasts; None where there is no time.
        ends_row: the last chord of its row.
    """

    key: Key
    section: Section
    printed: Printed
    bar: Bar
    kinds: tuple[Kind, ...]
    under: tuple[singer.BarStretch, ...]
    sung: bool
    tune: bool
    after: Fraction | None
    ends_row: bool


def site_at(song: Song, timeline: Timeline, place: ChordId, pickups: frozenset[int], taste: Taste) -> Site:
    """Return what a suspension has to know of the place of a printed chord."""
    section, printed = song.sections[place[0]], timeline.at(place)
    key = section.facts.key
    bar = section.rows[printed.row].bars[printed.bar_index]
    under = tuple(singer.stretches(section, printed))
    tune = all(singer.tune_notes(section, s.row, s.bar_index) is not None for s in under)
    kinds = kinds_for(key, printed, tune=tune) if printed.length >= 2 * bar.meter.felt_beat else ()
    if not kinds:
        return Site(key, section, printed, bar, (), (), False, False, None, False)
    return Site(
        key=key,
        section=section,
        printed=printed,
        bar=bar,
        kinds=kinds,
        under=under,
        sung=not all(singer.rests_in(section, s) for s in under)
        or (place[0] in pickups and any(singer.in_last_bar(section, s) for s in under)),
        tune=tune,
        after=resolution_after(printed, bar, section, taste),
        ends_row=ends_row(timeline, place),
    )
