"""Where a suspension could stand: what a chord may take by its quality and degree, and what is known of its place.

Takes a song with its timeline; gives sites. Rules without a source are common practice, no source.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from typing import Literal, NamedTuple

from arranger.harmony import singer
from arranger.harmony.landing import ends_line, is_minor_dominant, keeps_third, line_left
from arranger.harmony.model import ChordId
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Printed, Timeline, repeated_in, seconds
from arranger.harmony.voicings import OCTAVE, third_in_bass
from arranger.song.model import Bar, Section, Song
from arranger.theory.chord import Chord
from arranger.theory.interval import Interval
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

Kind = Literal["sus2", "sus4"]
KINDS: tuple[Kind, ...] = ("sus2", "sus4")
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
    bass only a 2, and only on a triad (an added note, for the third sounds below it); over other basses nothing. A
    third that is chromatic in the key stays. Where the `tune` over it is known, a minor key offers all that its scale
    has.
    """
    return _kinds(key, printed.chord, tune)


@lru_cache(maxsize=1024)
def _kinds(key: Key, chord: Chord, tune: bool) -> tuple[Kind, ...]:
    degree = _degree(key, chord.root)
    quality = chord.quality.name
    if degree is None or chord.changes or quality not in ("", "m", "7") or keeps_third(chord, key):
        return ()
    if third_in_bass(chord):
        return tuple(k for k in _kinds(key, chord._replace(bass=None), tune) if k == "sus2")
    if chord.bass_name.pitch_class != chord.root.pitch_class:
        return ()
    if key.minor and not (tune and quality == "m"):
        if is_minor_dominant(chord, key):
            return ("sus4",)  # the major dominant takes 4 only
        minor_expected = degree in (1, 4, 5)
        if (quality == "m") != minor_expected:
            return ()
    table = (SCALE_MINOR_DEGREES if tune else MINOR_DEGREES) if key.minor else MAJOR_DEGREES
    allowed = tuple(k for k in KINDS if degree in table[k] and _degree(key, SUS[k].above(chord.root)) is not None)
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


class Site(NamedTuple):
    """One place where an unknown is printed, or sounds again (`%`), with all that a suspension has to know of it.

    Attributes:
        key, section, printed, bar: where it stands.
        kinds: what its quality and degree allow.
        under: the parts of bars that it takes, from where it is struck (before the bar, where it is pushed).
        lead: how much of that, in quarters, is before its written beat.
        tune: the tune is known over all of it.
        pickup: words of a section that follows are sung in the section's last bar.
        after: how long a suspension that resolves lasts; None where there is no time.
        ends_line: the last chord of its line.
    """

    key: Key
    section: Section
    printed: Printed
    bar: Bar
    kinds: tuple[Kind, ...]
    under: tuple[singer.BarStretch, ...] = ()
    lead: Fraction = Fraction(0)
    tune: bool = False
    pickup: bool = False
    after: Fraction | None = None
    ends_line: bool = False

    @property
    def line_left(self) -> Fraction:
        """Quarters from its written beat to the end of its row."""
        return line_left(self.section, self.printed.row, self.printed.bar_index, self.printed.start)

    def until(self, after: Fraction | None) -> Iterator[singer.BarStretch]:
        """Yield the parts of bars in which a suspended note sounds that resolves after so long (None: never)."""
        under = [stretch for stretch in self.under if stretch.start < stretch.end]
        if after is None:
            yield from under
            return
        left = self.lead + after
        for stretch in under:
            length = stretch.end - stretch.start
            if left <= length:
                yield stretch._replace(end=stretch.start + left)
                return
            yield stretch
            left -= length

    def since(self, after: Fraction) -> Iterator[singer.BarStretch]:
        """Yield the parts of bars from the resolution after so long to the end of the chord."""
        passed = self.lead + after
        for stretch in self.under:
            skip = min(passed, stretch.end - stretch.start)
            passed -= skip
            if stretch.start + skip < stretch.end:
                yield stretch._replace(start=stretch.start + skip)

    def rests(self, after: Fraction | None) -> bool:
        """Return whether nobody sings while the suspended note sounds."""
        return all(singer.nobody_sings(self.section, s, pickup=self.pickup) for s in self.until(after))

    def tune_sounds(self, stretches: Iterable[singer.BarStretch], pitch_classes: Iterable[int]) -> Fraction:
        """Return how long the tune sounds notes of some pitch classes in parts of bars, in quarters."""
        if all(row.tune is None for row in self.section.rows):
            return Fraction(0)
        wanted = frozenset(p % OCTAVE for p in pitch_classes)
        return sum((singer.sounding_time(self.section, s, wanted) for s in stretches), Fraction(0))


def sites_at(song: Song, timeline: Timeline, place: ChordId, pickups: frozenset[int], taste: Taste) -> Iterator[Site]:
    """Yield what a suspension has to know of a printed chord: where it stands, then for each `%` that repeats it."""
    section, printed = song.sections[place[0]], timeline.at(place)
    yield _site(section, timeline, place, printed, place[0] in pickups, taste)
    here = printed.row, printed.bar_index
    for row, bar_index in repeated_in(section, *here):
        again = replace(printed, row=row, bar_index=bar_index)
        yield _site(section, timeline, place, again, place[0] in pickups, taste)


def _site(section: Section, timeline: Timeline, place: ChordId, printed: Printed, pickup: bool, taste: Taste) -> Site:
    key = section.facts.key
    bar = section.rows[printed.row].bars[printed.bar_index]
    may = kinds_for(key, printed, tune=True)  # all that it may without
    if not may or printed.length < 2 * bar.meter.felt_beat:
        return Site(key, section, printed, bar, ())
    under, lead = _pushed(section, tuple(singer.stretches(section, printed)), printed)
    tune = all(singer.tune_notes(section, s.row, s.bar_index) is not None for s in under)
    kinds = kinds_for(key, printed, tune=tune)
    if not kinds:
        return Site(key, section, printed, bar, ())
    return Site(
        key=key,
        section=section,
        printed=printed,
        bar=bar,
        kinds=kinds,
        under=under,
        lead=lead,
        tune=tune,
        pickup=pickup,
        after=resolution_after(printed, bar, section, taste),
        ends_line=ends_line(section, timeline, place),
    )


def _pushed(
    section: Section, under: tuple[singer.BarStretch, ...], printed: Printed
) -> tuple[tuple[singer.BarStretch, ...], Fraction]:
    """Return the parts of bars with what a push adds before them, and how much that is."""
    push = printed.written.push if printed.written else Fraction(0)
    if not push or not under:
        return under, Fraction(0)
    first = under[0]
    if first.start >= push:
        return (first._replace(start=first.start - push), *under[1:]), push
    before = singer.bar_before(section, first.row, first.bar_index)
    if before is None:
        return (first._replace(start=Fraction(0)), *under[1:]), first.start
    length = section.rows[before[0]].bars[before[1]].length
    lead = singer.BarStretch(*before, max(Fraction(0), length - (push - first.start)), length)
    return (lead, first._replace(start=Fraction(0)), *under[1:]), first.start + lead.end - lead.start
