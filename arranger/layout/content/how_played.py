"""How full a section is played and when it is struck, as pages say it; sections that stand for visits of another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from arranger.harmony.model import Arrangement, SectionPart
from arranger.harmony.patterns import HELD, pattern
from arranger.layout.content.model import MarginEntry, RhythmBar
from arranger.song.model import Dynamic
from arranger.song.players import ALONE
from arranger.text.source import Span
from arranger.units import ordinal

_LEVELS = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
_WORDS_THAT_SWELL = {"cresc": "opens", "dim": "closes"}
DYNAMIC, PLAY, DYNAMIC_AND_PLAY, SOUND = "dynamic", "play", "dynamic and play", "sound"  # kinds of entries
APART = " · "  # between facts in one entry
SUGGESTED = "suggested"  # the role of what is not in the song: printed light


def drawn_order(arrangement: Arrangement) -> tuple[int, ...]:
    """Return the sections as they are drawn: those that stand for visits of another right after it."""
    parts = arrangement.sections
    copies: dict[int, list[int]] = {}
    for index, part in enumerate(parts):
        if part.of is not None:
            copies.setdefault(part.of, []).append(index)
    own = (index for index, part in enumerate(parts) if part.of is None)
    return tuple(one for index in own for one in (index, *copies.get(index, ())))


def copies_of(arrangement: Arrangement, index: int) -> Mapping[int, int]:
    """Return the visits of a section that are drawn apart, from 1, each with the section that is drawn for it."""
    return {time: n for n, part in enumerate(arrangement.sections) if part.of == index for time in part.times}


def verses_under(arrangement: Arrangement, index: int) -> tuple[int, ...] | None:
    """Return which verses of a section's words, from 0, stand where it is drawn; None for all that are written.

    Visits that are drawn apart have the verses that are sung then, and these are not where the section is drawn first.
    Where all visits have the same words, or repeats inside the section count its verses, all stand at the first.
    """
    song, part = arrangement.song, arrangement.sections[index]
    own = index if part.of is None else part.of
    apart, section = copies_of(arrangement, own), song.sections[own]
    if not apart:
        return None
    count = max((len(row.words) for row in section.rows), default=0)
    drawn: dict[int, set[int]] = {own: set()}
    time = 0
    for step in song.roadmap:
        for number in range(step.times if step.section == own else 0):
            time += 1
            drawn.setdefault(apart.get(time, own), set()).add(min(number, count - 1))
    others = {verse for place, verses in drawn.items() if place != own for verse in verses}
    first = tuple(verse for verse in range(count) if verse in drawn[own] or verse not in others)
    repeated = any(bar.repeat_start or bar.repeat_times for bar in section.bars)
    if repeated or count < 2 or not first or first != tuple(range(len(first))):
        return None if part.of is None else ()
    return first if part.of is None else tuple(sorted(drawn.get(index, ())))


def ends_the_song(arrangement: Arrangement, index: int) -> bool:
    """Return whether the last bar of a section is the last of the song whenever it is the last of the section."""
    last, part = arrangement.song.roadmap[-1], arrangement.sections[index]
    own = index if part.of is None else part.of
    if last.section != own or last.to_bar is not None:
        return False
    visits = sum(step.times for step in arrangement.song.roadmap if step.section == own)
    return copies_of(arrangement, own).get(visits, own) == index


def playing(arrangement: Arrangement, index: int) -> list[MarginEntry]:
    """Return dynamic, texture and manner in one line: `mp · light · halves`; what is suggested in another, light.

    A dynamic that changes has a hairpin and a line of its own.
    """
    section, part = arrangement.song.sections[index], arrangement.sections[index]
    if section.tacet:
        return _in_lines(section.facts.dynamic, (), (), section.span)
    texture, play = [part.texture] if part.texture else [], [part.play] if part.play else []
    if part.texture_from != "suggested":
        return _in_lines(section.facts.dynamic, (*texture, *play), (), section.span)
    written = section.facts.play is not None
    return _in_lines(
        section.facts.dynamic, play if written else (), texture if written else (*texture, *play), section.span
    )


def _in_lines(
    dynamic: Dynamic | None, said: tuple[str, ...] | list[str], suggested: tuple[str, ...] | list[str], span: Span
) -> list[MarginEntry]:
    entries, kind = [], PLAY
    if dynamic is not None:
        start, _, end = dynamic.text.partition(" to ")
        if dynamic.text in _WORDS_THAT_SWELL:
            entries = [MarginEntry("", "fact", dynamic.span, _WORDS_THAT_SWELL[dynamic.text], "", kind=DYNAMIC)]
        elif start in _LEVELS and end in _LEVELS and start != end:
            hairpin = "opens" if _LEVELS.index(end) > _LEVELS.index(start) else "closes"
            entries = [MarginEntry(start, "fact", dynamic.span, hairpin, end, kind=DYNAMIC)]
        else:
            kind = DYNAMIC_AND_PLAY if said else DYNAMIC
            said = (dynamic.text, *said)
    entries += [MarginEntry(APART.join(said), "fact", span, kind=kind)] if said else []
    return entries + ([MarginEntry(APART.join(suggested), SUGGESTED, span, kind=SUGGESTED)] if suggested else [])


def one_by_one(entry: MarginEntry) -> tuple[MarginEntry, ...]:
    """Return the dynamic and the manner that stand in one entry; any other entry as it is."""
    if entry.kind != DYNAMIC_AND_PLAY:
        return (entry,)
    dynamic, _, play = entry.text.partition(APART)
    return replace(entry, text=dynamic, kind=DYNAMIC), replace(entry, text=play, kind=PLAY)


def in_pairs(entries: Sequence[MarginEntry]) -> tuple[MarginEntry, ...]:
    """Put a dynamic and the manner after it in one entry: the inverse of `one_by_one`."""
    found: list[MarginEntry] = []
    for entry in entries:
        last = found[-1] if found else None
        if entry.kind == PLAY and last is not None and last.kind == DYNAMIC and not last.hairpin:
            found[-1] = replace(last, text=f"{last.text}{APART}{entry.text}", kind=DYNAMIC_AND_PLAY)
        else:
            found.append(entry)
    return tuple(found)


def visits_words(arrangement: Arrangement, index: int) -> str:
    """Return the textures of visits that are unlike what is drawn, and which visits are drawn apart.

    Those that are drawn apart stand right after it, below or on the next page: `3rd: wide, eighths · 2nd time: next`.
    """
    part = arrangement.sections[index]
    own = index if part.of is None else part.of
    apart = copies_of(arrangement, own)
    unlike: dict[str, list[str]] = {}
    textures, plays = arrangement.sections[own].visits, arrangement.sections[own].visits_play
    for time in range(1, max(len(textures), len(plays)) + 1):
        both = (textures[time - 1 : time] or (part.texture,)) + (plays[time - 1 : time] or (part.play,))
        differs = [word for word, usual in zip(both, (part.texture, part.play), strict=True) if word not in ("", usual)]
        if apart.get(time, own) == index and differs:
            unlike.setdefault(", ".join(differs), []).append(ordinal(time))
    # Where steps of the roadmap are counted too (`comes 3 times, 3rd: played 2 times`), of how many is said.
    steps = [step.times for step in arrangement.song.roadmap if step.section == own]
    of = f" of {sum(steps)}" if len(steps) > 1 and max(steps) > 1 else ""
    words = [f"{', '.join(times)}{of}: {how}" for how, times in unlike.items()]
    if part.of is None and apart:
        words.append(f"{' and '.join(map(ordinal, sorted(apart)))}{of or ' time'}: next")
    return " · ".join(words)


def apart_onward(arrangement: Arrangement, index: int, following: tuple[int, ...]) -> tuple[str, ...]:
    """Return where the roadmap leads after the visits that a section stands for; nothing where that is drawn next."""
    song, part = arrangement.song, arrangement.sections[index]
    seen, leads = 0, []
    for step, after in pairwise((*song.roadmap, None)):
        if step is not None and step.section == part.of:
            seen += step.times
            if seen in part.times:
                leads.append(after.section if after else None)
    if len(set(leads)) != 1 or leads[0] in following:
        return ()
    return (f"→ {song.sections[leads[0]].name if leads[0] is not None else 'end'}",)


def apart_margin(arrangement: Arrangement, index: int, *, stage: bool) -> tuple[MarginEntry, ...]:
    """Return what is said of a section that stands for visits of another: name, how it is played, who plays."""
    section, part = arrangement.song.sections[index], arrangement.sections[index]
    assert part.of is not None
    entries = [] if stage else [MarginEntry(section.name, "section", section.span)]
    band = _band_words(part, arrangement.sections[part.of].band)
    entries += [MarginEntry(band, "change", section.span)] if band else []
    entries += playing(arrangement, index)
    bars = () if stage else rhythm(arrangement, index)
    entries += [MarginEntry("", "rhythm", section.span, rhythm=bars)] if bars else []
    words = visits_words(arrangement, index)
    entries += [MarginEntry(words, "fact", section.span)] if words else []
    return tuple(entries)


def players_words(arrangement: Arrangement, index: int) -> str:
    """Return who plays with the keys in a section where that is not as in the one before it, or in the whole band."""
    parts, song = arrangement.sections, arrangement.song
    if song.sections[index].tacet or not song.sections[index].rows:
        return ""
    return _band_words(parts[index], parts[index - 1].band if index else song.band)


def _band_words(part: SectionPart, before: Sequence[str]) -> str:
    """Return who plays with the keys where that is not as in another section."""
    missing = [player for player in before if player not in part.band]
    more = [player for player in part.band if player not in before]
    if not missing and not more:
        return ""
    if not part.band:
        return ALONE
    return ", ".join(
        (["without " + ", ".join(missing)] if missing else []) + (["with " + ", ".join(more)] if more else [])
    )


def rhythm(arrangement: Arrangement, index: int) -> tuple[RhythmBar, ...]:
    """Return the rhythm of a section's manner where it is another than that of the section drawn before it.

    One bar, of a section that changes its manner two; nothing for chords that are held, for the writer's own words, and
    without an arc.
    """
    order = drawn_order(arrangement)
    place = order.index(index)
    own = _rhythms(arrangement, index)
    return () if place and _rhythms(arrangement, order[place - 1])[-1:] == own else own


def _rhythms(arrangement: Arrangement, index: int) -> tuple[RhythmBar, ...]:
    section, part = arrangement.song.sections[index], arrangement.sections[index]
    if section.tacet or not part.texture:
        return ()
    pairs = [
        (how, bar.meter)
        for row, manners in zip(section.rows, part.bars, strict=True)
        for bar, how in zip(row.bars, manners, strict=True)
    ]
    found = [
        RhythmBar(pattern(how.manner, meter, bass_player=how.bass_player), meter)
        for how, meter in dict.fromkeys(pairs[:1] + pairs[-1:])
        if how.manner != HELD
    ]
    return tuple(found[:1] if found[1:] == found[:1] else found)
