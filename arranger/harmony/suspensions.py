"""Suspensions: which printed chords may take a 2 or a 4, in which hands, and what each is worth among its neighbours.

Takes the timeline and the plain hands of each chord; gives offers, their hands and their merits. Which offers are taken
is found together with the hands (`solve`). Rules without a source are common practice, no source; the clashes with a
singer are measured (`taste.CLASHES`).
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from typing import Literal, NamedTuple

from arranger.harmony import singer
from arranger.harmony.candidates import Scene, window
from arranger.harmony.model import ChordId
from arranger.harmony.taste import CLASHES, Taste
from arranger.harmony.timeline import Printed, Timeline, seconds
from arranger.harmony.voicings import OCTAVE, Candidate, moved, third_in_bass
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
_IDIOMS = {("sus2", 4), ("sus2", 1), ("sus4", 5)}
MAJOR_THIRD = 4
_GUITAR = re.compile(r"\bguitars?\b", re.IGNORECASE)
_BASS = re.compile(r"\bbass\b", re.IGNORECASE)  # a bass guitar plays no thirds
MANNERS_PLAIN = {"hold", "stop"}


class Offer(NamedTuple):
    """A suspension that an unknown may take.

    Attributes:
        unknown: which.
        kind: `sus2` or `sus4`.
        resolve_after: how long it lasts in quarters; None where it does not resolve inside the chord.
        merit: what speaks for (below 0) and against it apart from the hands, for each time it is heard.
        for_all: the guitarist must take it too.
        third: semitones from the root to the third that it stands for.
        singer_rests: nobody sings under it, anywhere it is printed.
    """

    unknown: int
    kind: Kind
    resolve_after: Fraction | None
    merit: int
    for_all: bool
    third: int
    singer_rests: bool

    @property
    def step(self) -> int:
        """Semitones from the third to the suspended note."""
        return SUS[self.kind].semitones - self.third


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


def plain_only(song: Song, timeline: Timeline) -> frozenset[int]:
    """Return the unknowns that stay plain wherever they stand: what is forbidden in one place is forbidden in all."""
    plain: set[int] = set()
    for section_index, part in enumerate(timeline.printed):
        section = song.sections[section_index]
        first = next((p for p in part if p.kind == "chord"), None)
        for one in part:
            if one.unknown is None or one.written is None:
                continue
            written = one.written
            if (
                one is first
                or one.repeats
                or not section.facts.suspensions
                or written.pins
                or written.as_written
                or MANNERS_PLAIN & set(written.manner)
                or singer.enters_after_rest(section, one)
            ):
                plain.add(one.unknown)
    heard = timeline.heard
    for ends in heard[:1], heard[-1:]:
        plain |= {u for h in ends if (u := timeline.at(h.chord).unknown) is not None}
    for before, after in itertools.pairwise(heard):
        one, two = timeline.at(before.chord), timeline.at(after.chord)
        own_sus = one.chord.root == two.chord.root and one.chord.member_on(3) is None
        if two.unknown is not None and (own_sus or (one.unknown == two.unknown and not after.cut)):
            plain.add(two.unknown)  # follows its own sus in the chart; or goes on, where a second start would sound odd
        if one.unknown is not None and one.chord.root == two.chord.root and two.chord.member_on(3) is None:
            plain.add(one.unknown)  # comes before its own sus in the chart, which would be no event any more
    return frozenset(plain)


def offers(song: Song, timeline: Timeline, taste: Taste) -> tuple[Offer, ...]:
    """List all suspensions that may be suggested, in order of unknown and kind."""
    plain = plain_only(song, timeline)
    places: dict[int, list[ChordId]] = {}
    for section, part in enumerate(timeline.printed):
        for index, one in enumerate(part):
            if one.unknown is not None and one.unknown not in plain:
                places.setdefault(one.unknown, []).append((section, index))
    final = _cadences(timeline, song)
    pickups = singer.pickups_after(song)
    found: list[Offer] = []
    for unknown, where in sorted(places.items()):
        sites = [_site(song, timeline, place, pickups, taste) for place in where]
        for kind in ("sus2", "sus4"):
            found += _offers(song, unknown, sites, kind, unknown in final, taste)
    return tuple(found)


def _cadences(timeline: Timeline, song: Song) -> frozenset[int]:
    """Return the unknowns that are the V of a cadence: before the I that ends a row or section, or at such an end."""
    found: set[int] = set()
    for before, after in zip(timeline.heard, timeline.heard[1:], strict=False):
        one, two = timeline.at(before.chord), timeline.at(after.chord)
        key = song.sections[before.chord[0]].facts.key
        if degree_of(key, one) == 5 and two.chord.root == key.tonic and one.unknown is not None:
            found |= {one.unknown} if _ends_row(timeline, before.chord) or _ends_row(timeline, after.chord) else set()
    return frozenset(found)


def _ends_row(timeline: Timeline, where: ChordId) -> bool:
    part = timeline.printed[where[0]]
    return where[1] + 1 == len(part) or part[where[1] + 1].row != part[where[1]].row


class _Site(NamedTuple):
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


def _site(song: Song, timeline: Timeline, place: ChordId, pickups: frozenset[int], taste: Taste) -> _Site:
    section, printed = song.sections[place[0]], timeline.at(place)
    key = section.facts.key
    bar = section.rows[printed.row].bars[printed.bar_index]
    under = tuple(singer.stretches(section, printed))
    tune = all(singer.tune_notes(section, s.row, s.bar_index) is not None for s in under)
    kinds = kinds_for(key, printed, tune=tune) if printed.length >= 2 * bar.meter.felt_beat else ()
    if not kinds:
        return _Site(key, section, printed, bar, (), (), False, False, None, False)
    return _Site(
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
        ends_row=_ends_row(timeline, place),
    )


def _offers(
    song: Song, unknown: int, sites: Sequence[_Site], kind: Kind, must_resolve: bool, taste: Taste
) -> Iterator[Offer]:
    """Return the offers of a kind for an unknown, one that resolves and one that does not, as all its places allow."""
    first = sites[0]
    third = first.printed.chord.member_on(3)
    if third is None or not all(kind in site.kinds for site in sites):
        return
    sung = [site for site in sites if site.sung and not site.tune]
    clash = max((_clash(site.key, site.printed, kind, taste) for site in sung), default=0)
    merit = taste.sus_any
    merit += taste.sus_idiom if (kind, degree_of(first.key, first.printed)) in _IDIOMS else 0
    merit += taste.sus_phrase_end if first.ends_row else 0
    rests = not any(site.sung for site in sites)
    after = first.after if all(site.after is not None for site in sites) else None
    if third_in_bass(first.printed.chord):
        after = None  # an added note does not go on to a third that the bass plays already
    endings: list[Fraction | None] = [after] if after is not None else []
    if kind == "sus2" or not (must_resolve or (sung and third.semitones == MAJOR_THIRD)):
        endings.append(None)  # at V to I a 4 resolves; over a major chord, where somebody sings, it does so in time
    for ending in endings:
        if not _grinds(sites, kind, ending):
            guitar = any(_guitar_differs(song, site, kind, ending, taste) for site in sites)
            against = clash if ending is None else taste.sus_resolves + int(clash * taste.sus_short_clash)
            cost = merit + against + guitar * taste.sus_for_all
            yield Offer(unknown, kind, ending, cost, guitar, third.semitones, rests)


def _grinds(sites: Sequence[_Site], kind: Kind, after: Fraction | None) -> bool:
    """Return whether a tune holds a note a semitone from the suspended one while that sounds (None: to the end)."""
    for site in sites:
        pitch_class = SUS[kind].above(site.printed.chord.root).pitch_class
        passed = Fraction(0)
        for stretch in site.under:
            end = stretch.end if after is None else min(stretch.end, stretch.start + after - passed)
            if end > stretch.start and singer.semitone_sung(site.section, stretch._replace(end=end), pitch_class):
                return True
            passed += stretch.end - stretch.start
    return False


def _clash(key: Key, printed: Printed, kind: Kind, taste: Taste) -> int:
    degree, quality = degree_of(key, printed), printed.chord.quality.name
    dominant = "V7" if quality == "7" else "V"
    if quality == "m":
        name = "vi" if degree == 6 and not key.minor else "minor"
    elif key.minor:
        name = dominant if degree == 5 else "major"
    else:
        name = {1: "I", 4: "IV", 5: dominant}.get(degree or 0, "major")
    share = CLASHES[name].four if kind == "sus4" else CLASHES[name].two
    return taste.sus_clash * share // 1000


def _guitar_differs(song: Song, site: _Site, kind: Kind, after: Fraction | None, taste: Taste) -> bool:
    """Return whether a guitarist's major third would rub against the 4 for too long."""
    third = site.printed.chord.member_on(3)
    if kind != "sus4" or third is None or third.semitones != MAJOR_THIRD:
        return False
    if not any(_GUITAR.search(player) and not _BASS.search(player) for player in song.band):
        return False
    return after is None or after > taste.sus_guitar_beats * site.bar.meter.felt_beat


class Neighbours(NamedTuple):
    """The heard changes into and out of one unknown: (other unknown, its shift against this one, how often)."""

    into: tuple[tuple[int, int, int], ...]
    out: tuple[tuple[int, int, int], ...]
    free: bool  # heard after a cut somewhere: nothing can prepare it there


class Standing(NamedTuple):
    """How a suspension stands among its neighbours, in every place where it is heard."""

    prepared: bool
    held_over: bool


def neighbours(timeline: Timeline, scene: Scene) -> tuple[Neighbours, ...]:
    """Collect each unknown's heard neighbours."""
    count = len(scene.uses.unknowns)
    into: list[list[tuple[int, int, int]]] = [[] for _ in range(count)]
    out: list[list[tuple[int, int, int]]] = [[] for _ in range(count)]
    for (one, two, shift), times in scene.uses.changes:
        out[one].append((two, shift, times))
        into[two].append((one, -shift, times))
    free = {timeline.at(h.chord).unknown for h in timeline.heard if h.cut}
    return tuple(Neighbours(tuple(into[i]), tuple(out[i]), i in free) for i in range(count))


def suspended(plain: Sequence[Candidate], offer: Offer, scene: Scene) -> tuple[Candidate, ...]:
    """Return the candidates of a chord with its suspension: each plain voicing with the third moved by the step."""
    unknown = scene.uses.unknowns[offer.unknown]
    third = (unknown.printed.chord.root.pitch_class + offer.third) % OCTAVE
    low, high = window(unknown, scene.taste)
    low = max(low, scene.lefts[offer.unknown][-1] + scene.taste.clear_of_left)
    found = set()
    for candidate in plain:
        notes = candidate.last
        if not any(n % OCTAVE == third for n in notes):
            continue
        sus = tuple(sorted({n + offer.step if n % OCTAVE == third else n for n in notes}))
        if len(sus) == len(notes) and sus[0] >= low and sus[-1] <= high and sus[-1] - sus[0] <= scene.taste.span:
            found.add(Candidate(sus, notes if offer.resolve_after is not None else sus))
    return tuple(sorted(found))


def suspended_key(candidate: Candidate, offer: Offer, scene: Scene) -> int:
    """Return the suspended note (MIDI) in a hand."""
    root = scene.uses.unknowns[offer.unknown].printed.chord.root.pitch_class
    pitch_class = (root + offer.third + offer.step) % OCTAVE
    return next(n for n in candidate.first if n % OCTAVE == pitch_class)


def standing(
    offer: Offer,
    candidate: Candidate,
    hands: Mapping[int, Candidate] | Sequence[Candidate],
    near: Neighbours,
    scene: Scene,
) -> Standing:
    """Return how a suspension stands among the hands before and after it."""
    key = suspended_key(candidate, offer, scene)
    before = all(key in moved(hands[other].last, shift) for other, shift, _ in near.into)
    after = all(key in moved(hands[other].first, shift) for other, shift, _ in near.out)
    return Standing(bool(near.into) and before and not near.free, bool(near.out) and after)


def merit(offer: Offer, stands: Standing, scene: Scene) -> int:
    """Return what a suspension is worth over all the times that it is heard (below 0: it speaks for itself)."""
    taste = scene.taste
    each = offer.merit + (taste.sus_prepared if stands.prepared else taste.sus_colour)
    if offer.resolve_after is None:
        each += taste.sus_held_over if stands.held_over else taste.sus_left
    return each * scene.uses.unknowns[offer.unknown].times
