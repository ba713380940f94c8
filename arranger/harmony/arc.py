"""How full the keys play, when: the texture of every bar and visit of a song, who plays with them, where each is from.

Takes a Song; gives an `Arc`. Strongest first: what is written for a visit (a remark of the roadmap), what is written
for a section or the song, the dynamic; where no sung section has a dynamic, what the form of the song suggests. What
the four textures ask of the hands stands in `textures`. Common practice, no source, where none is named; that pianists
play more notes in a refrain than in a verse, and hardly higher, is measured in open data (`textures`).
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from arranger.harmony.form import VAMP_PASSES, Suggested, suggestions
from arranger.harmony.model import TextureSource, Visit
from arranger.harmony.taste import Taste
from arranger.harmony.textures import LEVELS, LIFT, TEXTURE_OF
from arranger.song.model import Section, Song, Sound, Step, Texture
from arranger.song.players import band_with, plays_bass
from arranger.units import ordinal


class BarPlan(NamedTuple):
    """What holds in one bar.

    Attributes:
        texture: how full it is; None without an arc.
        goal: the liked middle of the right hand (MIDI).
        bass_player: somebody plays the bass.
        split: the lowest key (MIDI) of the right hand's sound on a keyboard that is split; None where it is not.
        pad_hand: which hand holds the pad on such a keyboard, `left` or `right`; empty where none does.
    """

    texture: Texture | None
    goal: int
    bass_player: bool
    split: int | None = None
    pad_hand: str = ""

    @property
    def hands(self) -> tuple[Texture | None, bool, int | None, str]:
        """What must be the same for two chords to be played in the same hands."""
        return self.texture, self.bass_player, self.split, self.pad_hand


class SectionPlan(NamedTuple):
    """How one section is played, as it is drawn.

    Attributes:
        rows: for each row, what holds in each of its bars.
        words: the texture in words: `full`, `light to full`; empty where there is none.
        source: where the texture is from.
        climbs: it rises, and the top note of its bars with it.
        busier: struck one step busier than its texture asks for: a later verse that nobody marked.
        band: who plays with the keys in its first row.
        times: for a section that only stands for visits of another: which of that one's visits, from 1.
        of: the section whose visits it stands for; None for a section of the song.
    """

    rows: tuple[tuple[BarPlan, ...], ...]
    words: str
    source: TextureSource
    climbs: bool
    busier: bool
    band: tuple[str, ...]
    times: tuple[int, ...] = ()
    of: int | None = None


class Arc(NamedTuple):
    """The plan of a whole song.

    Attributes:
        song: the song with a section more, at the end, for all visits of one that are played in other hands.
        plans: for each section of `song`.
        visits: all passes of the roadmap in order, with the section that is played.
        ways: for each of them, how its bars are played; hands may be shared where these differ. None: keys are out.
        told: for each section of the song, the texture of each of its visits in words, where they differ.
    """

    song: Song
    plans: tuple[SectionPlan, ...]
    visits: tuple[Visit, ...]
    ways: tuple[SectionPlan | None, ...]
    told: tuple[tuple[str, ...], ...]


class _Visit(NamedTuple):
    """One pass of a step: `low` to `high` are the textures at its start and end."""

    low: Texture | None
    high: Texture | None
    source: TextureSource
    band: tuple[str, ...]
    silent: bool
    busier: bool = False

    @property
    def words(self) -> str:
        """The texture in words; empty where there is none."""
        if self.low is None or self.high is None:
            return ""
        return self.low if self.low == self.high else f"{self.low} to {self.high}"


def plan_arc(song: Song, taste: Taste) -> Arc:
    """Plan how full the keys play in every bar and visit; without `taste.arc` no texture is planned."""
    suggested = suggestions(song) if taste.arc and _nothing_is_said(song) else {}
    seen = [0] * len(song.sections)
    passes = []  # (step, time, which visit of its section, how it is played)
    for number, step in enumerate(song.roadmap):
        for time in range(VAMP_PASSES if step.until else step.times):
            place, seen[step.section] = seen[step.section], seen[step.section] + 1
            suggestion = suggested.get((step.section, place))
            passes.append((number, time, place, _visit(song, step, time, suggestion, taste)))
    by_section: list[list[_Visit]] = [[] for _ in song.sections]
    for number, _, _, visit in passes:
        by_section[song.roadmap[number].section].append(visit)
    planned: dict[tuple[int, _Visit], SectionPlan] = {}  # most visits of a section are played alike

    def plan_of(index: int, visit: _Visit) -> SectionPlan:
        if (index, visit) not in planned:
            planned[index, visit] = _plan(song, song.sections[index], visit, taste)
        return planned[index, visit]

    plans = []
    shown: list[dict[object, int]] = []  # for each section, the place in `plans` of each way in which it is played
    for index, section in enumerate(song.sections):
        heard = [visit for visit in by_section[index] if not visit.silent]
        drawn = heard[0] if heard else _visit_of_section(song, section, suggested.get((index, 0)), taste)
        plans.append(plan_of(index, drawn))
        shown.append({_hands_of(plans[-1]): index})
    played = []
    ways: list[SectionPlan | None] = []
    for number, time, place, visit in passes:
        index = song.roadmap[number].section
        if visit.silent:
            played.append(Visit(number, time, None))
            ways.append(None)
            continue
        plan = plan_of(index, visit)
        ways.append(plan)
        where = shown[index].setdefault(_hands_of(plan), len(plans))
        if where == len(plans):
            plans.append(plan._replace(of=index))
        if where >= len(song.sections):
            plans[where] = plans[where]._replace(times=(*plans[where].times, place + 1))
        played.append(Visit(number, time, where))
    own = [_visit_section(song.sections[plan.of], plan.of, plan.times) for plan in plans if plan.of is not None]
    sections = [_with_band(section, plan) for section, plan in zip((*song.sections, *own), plans, strict=True)]
    return Arc(
        song=replace(song, sections=tuple(sections)),
        plans=tuple(plans),
        visits=tuple(played),
        ways=tuple(ways),
        told=tuple(map(_told, by_section)),
    )


def _visit_section(section: Section, index: int, times: Sequence[int]) -> Section:
    """Return a section that stands for visits of another: its chords and words, named for when it comes."""
    name = f"{section.name}, {' and '.join(map(ordinal, times))} time"
    return replace(section, name=name, like=section.name, model=index if section.model is None else section.model)


def _with_band(section: Section, plan: SectionPlan) -> Section:
    """Return a section in which those play who play with the keys when it is drawn: a remark may say who."""
    if section.facts.band == plan.band:
        return section
    return replace(section, facts=section.facts._replace(band=plan.band))


def _told(visits: Sequence[_Visit]) -> tuple[str, ...]:
    words = tuple(visit.words for visit in visits)
    return words if len(set(words)) > 1 else ()


def _hands_of(plan: SectionPlan) -> object:
    """Return what visits must have in common to be played in the same hands.

    A wide texture is the full one struck oftener: on a second visit the hand that is known is better than a new one.
    """
    rows = tuple(
        tuple(("full" if bar.texture == "wide" else bar.texture, bar.bass_player) for bar in row) for row in plan.rows
    )
    return rows, plan.climbs


_BUILDS = re.compile(r"\b(?:build(?:s|ing)?|grow(?:s|ing)?|crescendo|cresc)\b", re.IGNORECASE)
_SOFTENS = re.compile(r"\b(?:down|break ?down|softer|quieter|softly|drop)\b", re.IGNORECASE)


def _visit(song: Song, step: Step, time: int, suggested: Suggested | None, taste: Taste) -> _Visit:
    section = song.sections[step.section]
    found = _visit_of_section(song, section, suggested, taste)
    if step.band_change is not None:
        band = band_with(step.band_change, found.band, song.band)
        found = found._replace(band=band, silent=step.band_change.keys_out)
    if not taste.arc or found.low is None or found.high is None:
        return found
    if step.textures:
        level = _most(step.textures[time], taste)
        return found._replace(low=level, high=level, source="remark", busier=False)
    remark = step.remark or ""
    if _BUILDS.search(remark):
        if step.times > 1:  # one texture more, from the middle of the passes on
            more = int(2 * time >= step.times - 1 and time > 0)
            return _raised(found, more, more, taste)
        return _raised(found, 0, 1, taste)
    if _SOFTENS.search(remark):
        return _raised(found, -1, -1, taste)
    return _never_bare(found)


def _raised(visit: _Visit, low: int, high: int, taste: Taste) -> _Visit:
    """Return a visit with other textures at its start and end: so many more, or fewer where below 0."""
    assert visit.low is not None and visit.high is not None
    found = visit._replace(low=_by(visit.low, low, taste), high=_by(visit.high, high, taste), source="remark")
    return _never_bare(found)


def _by(level: Texture, steps: int, taste: Taste) -> Texture:
    return _most(LEVELS[max(0, min(len(LEVELS) - 1, LEVELS.index(level) + steps))], taste)


def _never_bare(visit: _Visit) -> _Visit:
    """Return a visit with `light` in place of `bare` where the keys are alone: they are the whole harmony there."""
    if visit.band or visit.source == "written":
        return visit
    low, high = ("light" if level == "bare" else level for level in (visit.low, visit.high))
    return visit._replace(low=low, high=high)


def _most(level: Texture, taste: Taste) -> Texture:
    """Return a texture, or the player's fullest where it is fuller."""
    most = "light" if taste.easy else taste.fullest
    return min(level, most, key=LEVELS.index)


def _visit_of_section(song: Song, section: Section, suggested: Suggested | None, taste: Taste) -> _Visit:
    """Return how a section is played when no remark says otherwise."""
    facts = section.facts
    plain = _Visit(None, None, "none", facts.band, silent=False)
    if not taste.arc:
        return plain
    written = facts.texture
    if written is not None:
        low, high = _most(written.level, taste), _most(written.rises_to or written.level, taste)
        return plain._replace(low=low, high=high, source="written")
    if facts.dynamic is not None:
        start, end = _dynamics(song, section)
        low, high = _most(_by_dynamic(song, start), taste), _most(_by_dynamic(song, end), taste)
        return _never_bare(plain._replace(low=low, high=high, source="dynamic"))
    if suggested is not None:
        low, high = _most(suggested.low, taste), _most(suggested.high, taste)
        return _never_bare(plain._replace(low=low, high=high, source="suggested", busier=suggested.busier))
    return plain._replace(low="light", high="light", source="suggested")


_SWELL = {"cresc": 1, "cresc.": 1, "crescendo": 1, "dim": -1, "dim.": -1, "diminuendo": -1, "decresc": -1}
_STEADY = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")


def _dynamics(song: Song, section: Section) -> tuple[str, str]:
    """Return the dynamics at a section's start and end; a swell without levels goes from what was before it."""
    dynamic = section.facts.dynamic
    assert dynamic is not None
    start, _, end = dynamic.text.partition(" to ")
    way = next((w for word, w in _SWELL.items() if start.split(" ")[0].casefold() == word), 0)
    if dynamic.level is not None and not way:
        known = dynamic.level if dynamic.level in _STEADY else "f"
        return known, end if end in _STEADY else known
    before = _dynamic_before(song, section)
    place = max(0, min(len(_STEADY) - 1, _STEADY.index(before) + 2 * way))
    return before, _STEADY[place]


def _dynamic_before(song: Song, section: Section) -> str:
    """Return the last level before a section as the roadmap has it; mf where none is told."""
    level = "mf"
    for step in song.roadmap:
        here = song.sections[step.section]
        if here is section:
            return level
        dynamic = here.facts.dynamic
        if dynamic is not None:
            last = dynamic.text.rpartition(" ")[2]
            level = last if last in _STEADY else dynamic.level if dynamic.level in _STEADY else level
    return level


def _by_dynamic(song: Song, level: str) -> Texture:
    """Return the texture of a dynamic: mf is full where it is the loudest of a song that is softer elsewhere."""
    if level == "mf":
        levels = [s for section in song.sections if section.facts.dynamic for s in _dynamics(song, section)]
        places = [_STEADY.index(one) for one in levels]
        if places and max(places) == _STEADY.index("mf") and min(places) < _STEADY.index("mf"):
            return "full"
    return TEXTURE_OF[level]


def _nothing_is_said(song: Song) -> bool:
    """Return whether no sung section has a dynamic."""
    return not any(s.facts.dynamic and any(row.words for row in s.rows) for s in song.sections)


def _plan(song: Song, section: Section, visit: _Visit, taste: Taste) -> SectionPlan:
    """Return what holds in each bar of a section when it is played so."""
    sizes = [len(row.bars) for row in section.rows]
    dynamic = section.facts.dynamic
    goals: tuple[int, int]
    if visit.low is not None and dynamic is not None:
        goals = tuple(taste.target_for(level) for level in _dynamics(song, section))  # type: ignore[assignment]
    else:
        goals = (taste.target_for(dynamic.level if dynamic else None),) * 2
    climbs = (
        visit.low is not None
        and visit.high is not None
        and (LEVELS.index(visit.high) > LEVELS.index(visit.low) or goals[1] > goals[0])
    )
    band, rows, passed, total = visit.band, [], 0, sum(sizes)
    bass_player = taste.easy or plays_bass(band)
    split, pad_hand = split_of(section.facts.sound, taste.split)
    for number, row in enumerate(section.rows):
        if row.band_change is not None:
            band = band_with(row.band_change, band, song.band)
            bass_player = taste.easy or plays_bass(band)
        bars = []
        for bar in range(len(row.bars)):
            # A texture rises from row to row, in a section of one row from bar to bar; the liked place bar by bar.
            place = (number, len(sizes)) if len(sizes) > 1 else (bar, len(row.bars))
            texture = _between(visit.low, visit.high, *place)
            goal = goals[0]
            if goals[1] != goal:
                goal += round((goals[1] - goal) * _share(passed, total))
            lift = LIFT[texture] if texture and taste.target is None else 0
            bars.append(BarPlan(texture, goal + lift, bass_player, split, pad_hand))
            passed += 1
        rows.append(tuple(bars))
    words, source = visit.words, visit.source
    if section.tacet:
        words, source = "", "none"
    return SectionPlan(tuple(rows), words, source, climbs, visit.busier, visit.band)


DEFAULT_SPLIT = 60  # C4: a low sound is played below it, a high one from it up


def split_of(sound: Sound | None, players_split: int | None) -> tuple[int | None, str]:
    """Return where the keyboard is split (MIDI, the lowest key above), and which hand holds a pad there.

    By the song (`pad / piano split C4`); a layer with a pad where the player's own keyboard is split is held below it.
    """
    if sound is None:
        return None, ""
    pads = ["pad" in part.lower() for part in sound.parts]
    if sound.kind == "split":
        at = sound.split_at.midi if sound.split_at else players_split or DEFAULT_SPLIT
        return at, "left" if pads[0] else "right" if any(pads) else ""
    if sound.kind == "layer" and players_split is not None and any(pads):
        return players_split, "left"
    return None, ""


def _share(place: int, of: int) -> Fraction:
    return Fraction(place, of - 1) if of > 1 else Fraction(0)


def _between(low: Texture | None, high: Texture | None, place: int, of: int) -> Texture | None:
    if low is None or high is None:
        return None
    if low == high:
        return low
    first, last = LEVELS.index(low), LEVELS.index(high)
    steps = int(abs(last - first) * _share(place, of) + Fraction(1, 2))  # a half is rounded away from where it begins
    return LEVELS[first + steps if last > first else first - steps]
