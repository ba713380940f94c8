"""Find the hands of a song, or find again what was found for the same music, where an edit has changed words alone.

The search reads little of a song's text: of the words that are sung only where there are any, whether they are few, and
where few stop; of cues, remarks and dynamics what the arc makes of them; of titles nothing. `bare` keeps what is read,
and what is found for that is kept for a while.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from functools import lru_cache

from arranger.harmony.arc import Arc, SectionPlan, plan_arc
from arranger.harmony.model import Visit
from arranger.harmony.singer import FEW_SYLLABLES, syllables
from arranger.harmony.solve import Solved, solve_song
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import unroll
from arranger.harmony.uses import count_uses
from arranger.song.model import BarWords, Facts, Piece, Row, Section, Song, SongText, Step, SungLine
from arranger.text.diagnostics import Diagnostic
from arranger.text.source import Source

KEPT = 4  # answers of a process, of some 150 KiB each at 80 chords: those of an edit and of what it is taken back to
_NO_SOURCE, _NO_TEXT = Source("", ""), SongText("")


def settled(song: Song, taste: Taste, *, figures: bool = True) -> tuple[Solved | None, tuple[Diagnostic, ...]]:
    """Return what `solve_song` returns for a song, found before where it was asked of the same music."""
    arc = plan_arc(song, taste)
    asked, (solved, problems) = _found(_Music(bare(song), arc.plans, arc.visits, song, arc), taste, figures)
    if asked is song:
        return solved, problems
    if solved is None or problems:  # which are told with their places in the song at hand
        return solve_song(song, taste, figures=figures, arc=arc)
    timeline = unroll(arc, solved.timeline.alone)  # so are all places in what is found
    scene = solved.scene._replace(uses=count_uses(arc.song, timeline, taste))
    return solved._replace(arc=arc, timeline=timeline, scene=scene), ()


@dataclass(frozen=True, slots=True)
class _Music:
    """What hands depend on, by which songs are compared, and the song in which it was found, with its whole arc."""

    bare: Song
    plans: tuple[SectionPlan, ...]
    visits: tuple[Visit, ...]
    song: Song = field(compare=False)
    arc: Arc = field(compare=False)


@lru_cache(maxsize=KEPT)
def _found(music: _Music, taste: Taste, figures: bool) -> tuple[Song, tuple[Solved | None, tuple[Diagnostic, ...]]]:
    return music.song, solve_song(music.song, taste, figures=figures, arc=music.arc)


def forget() -> None:
    """Drop what was found before: for measurements, and where the search itself is changed."""
    _found.cache_clear()


def bare(song: Song) -> Song:
    """Return a song without all that no hand depends on: where two songs are equal bare, so are their hands.

    Who plays in the band stays: hands make room for a bass, suspensions agree with a guitar.
    """
    return Song(
        source=_NO_SOURCE,
        title=_NO_TEXT,
        key=song.key,
        meter=song.meter,
        sections=tuple([_bare_section(section) for section in song.sections]),
        roadmap=tuple([_bare_step(step) for step in song.roadmap]),
        capo=song.capo,
        band=song.band,
    )


def _bare_section(section: Section) -> Section:
    return replace(
        section,
        name="",
        facts=_bare_facts(section.facts),
        rows=tuple([_bare_row(row) for row in section.rows]),
        own=(),
        pickup=None if section.pickup is None else _NO_TEXT,
        like=None if section.like is None else "",
        closing_cues=(),
    )


def _bare_facts(facts: Facts) -> Facts:
    """Return facts without what is played on, how, and whether lines lead from chord to chord."""
    return facts._replace(sound=None, play=None, octaves=True)


def _bare_row(row: Row) -> Row:
    """Return a row with its chords, its tune, and of its words how many there are."""
    words = tuple([SungLine(tuple([_bare_words(bar) for bar in line.bars])) for line in row.words])
    return Row(row.bars, words, tune=row.tune)


def _bare_words(words: BarWords) -> BarWords:
    """Return the words of a bar as counted syllables, each piece at its chord; more than few are all alike.

    The most of any verse are compared with few, in sum over a bar: one that has more is over it by itself, and then
    nobody asks where its words stop (`singer.rests_in`).
    """
    if not words.pieces:
        return words
    if sum(syllables(piece.text) for piece in words.pieces) > FEW_SYLLABLES:
        return BarWords(tuple([Piece(piece.text and _MANY, piece.chord) for piece in words.pieces]), words.joins)
    return BarWords(tuple([_bare_piece(piece) for piece in words.pieces]), words.joins)


_MANY = " ".join(["la"] * (FEW_SYLLABLES + 1))
_STOP = re.compile(r"[,;:.!?…،؛؟۔।、。，；：！？]")


def _bare_piece(piece: Piece) -> Piece:
    """Return a piece with so many syllables and stops, that has text where the piece has some."""
    return Piece(" ".join(map(_bare_word, piece.text.split())), piece.chord)


@lru_cache(maxsize=4096)
def _bare_word(word: str) -> str:
    """Return as many syllables as a word has, with the stops around it."""
    core = re.sub(r"^\W+|\W+$", "", word)
    count = syllables(core)
    if not core or not count or _STOP.search(core):
        return word
    before, _, after = word.partition(core)
    return f"{before}{' '.join(['la'] * count)}{after}"


def _bare_step(step: Step) -> Step:
    return replace(step, until=step.until and "_", remark=None, textures=(), band_change=None)
