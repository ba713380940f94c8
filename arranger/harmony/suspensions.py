"""Suspensions: which printed chords may take a 2 or a 4, in which hands, and what each is worth among its neighbours.

Takes the timeline and the plain hands of each chord; gives offers, their hands and their merits. Which offers are taken
is found together with the hands (`solve`). Rules without a source are common practice, no source; the clashes with a
singer are measured (`taste.CLASHES`).
"""

import itertools
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from arranger.harmony import singer
from arranger.harmony.candidates import Scene, window
from arranger.harmony.landing import Landing, is_minor_dominant, landing_of
from arranger.harmony.model import ChordId
from arranger.harmony.sites import IDIOMS, KINDS, MAJOR_THIRD, SUS, Kind, Site, degree_of, sites_at
from arranger.harmony.taste import CLASHES, Taste
from arranger.harmony.timeline import Printed, Timeline
from arranger.harmony.voicings import OCTAVE, Candidate, moved, third_in_bass
from arranger.song.model import Song
from arranger.song.players import plays_guitar
from arranger.theory.interval import Interval
from arranger.theory.key import Key

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
        if one.chord.root == two.chord.root:
            # The song stays on the chord (D, D/A, D), where a second start would sound odd; or has its own sus here.
            own_sus = one.chord.member_on(3) is None or two.chord.member_on(3) is None
            plain |= {u for u in (one.unknown, two.unknown) if u is not None and (own_sus or not after.cut)}
    return frozenset(plain)


def offers(song: Song, timeline: Timeline, taste: Taste) -> tuple[Offer, ...]:
    """List all suspensions that may be suggested, in order of unknown and kind."""
    plain = plain_only(song, timeline)
    places: dict[int, list[ChordId]] = {}
    for section, part in enumerate(timeline.printed):
        for index, one in enumerate(part):
            if one.unknown is not None and one.unknown not in plain:
                places.setdefault(one.unknown, []).append((section, index))
    landing = landing_of(song, timeline)
    pickups = singer.pickups_after(song, timeline.order)
    found: list[Offer] = []
    for unknown, where in sorted(places.items()):
        sites = [site for place in where for site in sites_at(song, timeline, place, pickups, taste)]
        kinds = [kind for kind in KINDS if all(kind in site.kinds for site in sites)]
        resting = [site.rests(None) for site in sites] if kinds else []
        for kind in kinds:
            found += _offers(unknown, sites, resting, kind, landing, taste)
    return tuple(found)


def _offers(
    unknown: int, sites: Sequence[Site], resting: Sequence[bool], kind: Kind, landing: Landing, taste: Taste
) -> Iterator[Offer]:
    """Return the offers of a kind for an unknown, one that resolves and one that does not, as all its places allow.

    `resting`: for each of its places, whether the singer rests as long as the chord sounds.
    """
    first = sites[0]
    third = first.printed.chord.member_on(3)
    if third is None:
        return
    if kind == "sus2" and unknown in landing.dominants | landing.line_ends:
        return  # the V of a cadence takes 4 only: a 2 there has no way down to the leading note
    base = taste.sus_any
    base += taste.sus_idiom if (kind, degree_of(first.key, first.printed)) in IDIOMS else 0
    base += taste.sus_phrase_end if first.ends_line else 0
    for ending in _endings(unknown, sites, kind, landing):
        blind = [
            site
            for site, rests in zip(sites, resting, strict=True)
            if not site.tune and not (rests if ending is None else site.rests(ending))
        ]
        if (blind and _hides_the_third_sung(kind, third)) or any(_against_tune(s, kind, ending) for s in sites):
            continue
        clash = max((_clash(site.key, site.printed, kind, taste) for site in blind), default=0)
        guitar = any(_guitar_differs(site, kind, ending, taste) for site in sites)
        cost = base + guitar * taste.sus_for_all
        if ending is None:
            cost += clash
        else:
            cost += taste.sus_resolves + int(clash * taste.sus_short_clash)
            cost += taste.sus_third_sung if all(_third_sung(site, ending) for site in sites) else 0
        yield Offer(unknown, kind, ending, cost, guitar, third.semitones, all(resting))


def _endings(unknown: int, sites: Sequence[Site], kind: Kind, landing: Landing) -> Iterator[Fraction | None]:
    """Yield how long a suspension may last: until it resolves inside its chord, or (None) with its chord.

    One that stays open is for a bar at most, never a 4 on I or on V in minor, and never at a cadence: the V is heard
    with its leading note, and the I that a line comes to with its third by its second half.
    """
    first = sites[0]
    after = first.after if all(site.after is not None for site in sites) else None
    if third_in_bass(first.printed.chord):
        after = None  # an added note does not go on to a third that the bass plays already
    if after is not None:
        in_time = unknown not in landing.tonics or all(2 * after <= site.printed.length for site in sites)
        in_line = unknown not in landing.line_ends or all(after < site.line_left for site in sites)
        if in_time and in_line:
            yield after
    if landing.hymn or unknown in landing.tonics | landing.dominants | landing.line_ends:
        return
    if any(site.printed.length > site.bar.meter.length for site in sites):
        return
    for site in sites:
        if is_minor_dominant(site.printed.chord, site.key):
            return
        if kind == "sus4" and degree_of(site.key, site.printed) == 1:
            return
    yield None


def _hides_the_third_sung(kind: Kind, third: Interval) -> bool:
    """Return whether a singer whose tune is not known often sings a semitone from the suspended note.

    So it is with a 4 over a major or dominant chord and with a 2 over a minor chord (`taste.CLASHES`): they are a
    semitone from the third.
    """
    return abs(SUS[kind].semitones - third.semitones) == 1


def _against_tune(site: Site, kind: Kind, after: Fraction | None) -> bool:
    """Return whether the tune sounds the third, or for a felt beat in all a note a semitone from the suspended one."""
    if all(row.tune is None for row in site.section.rows):
        return False
    root = site.printed.chord.root
    third = site.printed.chord.member_on(3)
    assert third is not None
    if site.tune_sounds(site.until(after), [third.above(root).pitch_class]):
        return True
    note = SUS[kind].above(root).pitch_class
    return site.tune_sounds(site.until(after), (note - 1, note + 1)) >= site.bar.meter.felt_beat


def _third_sung(site: Site, after: Fraction) -> bool:
    """Return whether the tune sounds the third at the resolution or later: it asks for what the 4 or 2 comes to."""
    third = site.printed.chord.member_on(3)
    assert third is not None
    return site.tune_sounds(site.since(after), [third.above(site.printed.chord.root).pitch_class]) > 0


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


def _guitar_differs(site: Site, kind: Kind, after: Fraction | None, taste: Taste) -> bool:
    """Return whether a guitarist's major third would rub against the 4 for too long."""
    third = site.printed.chord.member_on(3)
    if kind != "sus4" or third is None or third.semitones != MAJOR_THIRD:
        return False
    if not plays_guitar(site.section.facts.band):
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
    """Return the candidates of a chord with its suspension: each plain voicing with the third moved by the step.

    Of one that has the third twice, in the frame of an octave, none is made: what is suspended is not doubled.
    """
    unknown = scene.uses.unknowns[offer.unknown]
    third = (unknown.printed.chord.root.pitch_class + offer.third) % OCTAVE
    low, high = window(unknown, scene.taste)
    low = max(low, scene.lefts[offer.unknown][-1] + scene.taste.clear_of_left)
    found, step = set(), offer.step
    for candidate in plain:
        notes = candidate.last
        thirds = [n for n in notes if n % OCTAVE == third]
        if len(thirds) != 1:
            continue
        sus = tuple(sorted({n + step if n == thirds[0] else n for n in notes}))
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
    key: int | None = None,
) -> Standing:
    """Return how a suspension stands among the hands before and after it; `key`: where it is not the lowest."""
    key = suspended_key(candidate, offer, scene) if key is None else key
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
