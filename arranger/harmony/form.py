"""Read the form of a song from its roadmap and its words: refrain, verses, bridge, and how full each visit wants to be.

Takes a Song; gives suggestions for a song that says nothing of loudness itself. Pianists play 1.44 times the notes in a
refrain and come back to fewer in the verse after it (POP909, see `textures`); the rest is common practice, no source.
"""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from arranger.harmony.repeats import played_bars
from arranger.song.model import Section, Song, Texture

VAMP_PASSES = 2  # a vamp is reckoned as heard twice: once to come in, once round; its true count is open


class Suggested(NamedTuple):
    """The textures at the start and the end of a visit; `busier`: struck one step busier than these ask for."""

    low: Texture
    high: Texture
    busier: bool = False


_REFRAIN = re.compile(r"^(?:chorus|refrain)\b", re.IGNORECASE)
_VERSE = re.compile(r"^(?:verse|strophe|stanza)\b", re.IGNORECASE)


def _words(section: Section) -> tuple[str, ...]:
    """Return the words of a section, row by row; nothing where nobody sings."""
    lines = (line for row in section.rows for line in row.words)
    texts = [" ".join(piece.text for bar in line.bars for piece in bar.pieces if piece.text) for line in lines]
    return tuple(text for text in texts if text)


def visits_in_order(song: Song) -> Iterator[tuple[int, int]]:
    """Yield the sections in the order in which they are heard, with which visit it is, from 0."""
    seen = [0] * len(song.sections)
    for step in song.roadmap:
        for _ in range(VAMP_PASSES if step.until else step.times):
            yield step.section, seen[step.section]
            seen[step.section] += 1


def refrain_of(song: Song) -> frozenset[int]:
    """Return the sections that are the refrain: they have words and come back with the same; empty where none do.

    A verse comes back with others. Where several texts come back, names settle which is the refrain, else the one that
    is heard most often. A song of which all that is sung comes back has none: it is a hymn of one strophe.
    """
    heard = [index for index, _ in visits_in_order(song)]
    texts: dict[tuple[str, ...], list[int]] = {}
    for index in heard:
        words = _words(song.sections[index])
        if words:
            texts.setdefault(words, []).append(index)
    back = {
        words: places
        for words, places in texts.items()
        if len(places) > 1 and not any(_has_verses(song.sections[i]) for i in places)
    }
    if not back or len(texts) == len(back) == 1:
        return frozenset()
    named = [w for w, places in back.items() if any(_REFRAIN.match(song.sections[i].name) for i in places)]
    plain = [w for w, places in back.items() if not any(_VERSE.match(song.sections[i].name) for i in places)]
    some = named or sorted(plain, key=lambda w: (-len(back[w]), heard.index(back[w][0])))[:1]
    return frozenset(i for words in some for i in back[words])


def suggestions(song: Song) -> dict[tuple[int, int], Suggested]:
    """Return the texture of each visit that the form of the song suggests."""
    order = list(visits_in_order(song))
    refrain = refrain_of(song)
    sung = [place for place, (index, _) in enumerate(order) if _words(song.sections[index])]
    refrains = [place for place in sung if order[place][0] in refrain]
    bridges = _bridges(song, order, sung, refrains)
    found: dict[tuple[int, int], Suggested] = {}
    before = _suggested("light")
    for place, visit in enumerate(order):
        if place in refrains:
            last = place == refrains[-1]
            after_bridge = any(b < place for b in bridges) and last
            before = _suggested("wide" if last and (len(refrains) > 2 or after_bridge) else "full")
        elif place in bridges:
            before = _suggested("light", "full")
        elif place in sung and not refrains:
            before = _suggested("full" if place == sung[-1] and len(sung) > 1 else "light")
        elif place in sung and place < refrains[-1]:
            before = _suggested("light", busier=place != sung[0])
        elif refrains and place > refrains[-1]:
            before = _suggested("full")
        elif before.high != before.low:
            before = _suggested(before.high)
        found[visit] = before
    return found


def _suggested(low: Texture, high: Texture | None = None, *, busier: bool = False) -> Suggested:
    return Suggested(low, high or low, busier)


def _bridges(song: Song, order: Sequence[tuple[int, int]], sung: Sequence[int], refrains: Sequence[int]) -> set[int]:
    """Return the places of the bridge: sung once, between two refrains, over chords that no other sung section has."""

    def chords(index: int) -> object:
        return tuple(
            (mark.chord.chord if mark.chord else mark.kind) for bar in song.sections[index].bars for mark in bar.marks
        )

    found = set()
    for place in sung:
        index = order[place][0]
        others = {order[p][0] for p in sung} - {index}
        alone = all(chords(index) != chords(other) for other in others)
        if alone and place not in refrains and len([r for r in refrains if r < place]) >= 2 and place < refrains[-1]:
            found.add(place)
    return found


def _has_verses(section: Section) -> bool:
    """Return whether a row has more lines of words than it is played in one visit: each visit sings others."""
    played = Counter(played_bars(section))
    return any(len(row.words) > played[index, 0] for index, row in enumerate(section.rows))
