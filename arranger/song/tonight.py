"""Put the facts of one evening into a song: its key, tempo, roadmap, band, sound and texture, and the guitarist's capo.

Facts but key and capo are read as if they stood in the song in place of its own, by the reader of songs. What is wrong
with them is said at their place in the running order.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from arranger.song.model import Capo, Song
from arranger.song.read import read
from arranger.song.running_order import EveningFact
from arranger.song.song_line import SongLine
from arranger.song.song_lines import READERS
from arranger.song.transpose import transposed
from arranger.text.diagnostics import Diagnostic, error, has_errors
from arranger.text.problems import Problems, shown
from arranger.text.source import Source, Span
from arranger.theory.key import Key, another_key

_KEPT_APART = ("key", "capo")  # what is no line of the song's text: its rows stand in the key that is written


class _Put(NamedTuple):
    """Where a fact stands in the song's text of the evening: its first character and the one after its last."""

    fact: EveningFact
    start: int
    end: int


def song_tonight(song: Song, facts: Sequence[EveningFact]) -> tuple[Song | None, tuple[Diagnostic, ...]]:
    """Return a song as it is played this evening.

    Args:
        song: as read, without an error.
        facts: of the evening.

    Returns:
        The song, None where a fact is wrong or does not fit; and diagnostics at places of the running order.
    """
    problems: list[Diagnostic] = []
    key = _key(song, facts, problems)
    capo = _capo(facts, key or song.key, problems)
    played = song
    lines = [fact for fact in facts if fact.word not in _KEPT_APART]
    if lines:
        text, places = _with_facts(song.source.text, lines)
        changed, found = read(Source(song.source.name, text))
        problems += _moved_to_order(found, places)
        if changed is None:
            if not has_errors(problems):
                problems += _misfits(song, lines, found)
            return None, tuple(problems)
        played = changed
    if has_errors(problems):
        return None, tuple(problems)
    if key is not None and key != song.key:
        played = transposed(played, key)
    return (played if capo is None else replace(played, capo=capo)), tuple(problems)


def _key(song: Song, facts: Iterable[EveningFact], problems: list[Diagnostic]) -> Key | None:
    fact = next((one for one in facts if one.word == "key"), None)
    if fact is None:
        return None
    try:
        return another_key(fact.text, song.key)
    except ValueError as wrong:
        problems.append(error("unfit-fact", str(wrong), fact.span))
        return None


def _capo(facts: Iterable[EveningFact], key: Key, problems: list[Diagnostic]) -> Capo | None:
    """Return the guitarist's capo of the evening, which must sound in the key of the evening."""
    fact = next((one for one in facts if one.word == "capo"), None)
    if fact is None:
        return None
    told = Problems()
    read_capo = READERS["capo"]
    capo: Capo | None = read_capo(SongLine("capo", fact.text, fact.span), told)
    problems += told.all()
    if capo is None:
        return None
    sounding = (capo.shapes.tonic.pitch_class + capo.fret) % 12
    if sounding == key.tonic.pitch_class and capo.shapes.minor == key.minor:
        return capo
    sounds = Key(key.spelled(sounding), capo.shapes.minor)
    message = f"expected a capo for {key.words}, the key of the evening, found one that sounds in {sounds.words}"
    problems.append(error("unfit-fact", message, fact.span))
    return None


def _with_facts(text: str, facts: Sequence[EveningFact]) -> tuple[str, tuple[_Put, ...]]:
    """Return a song's text with facts in place of its own, and where each stands in it."""
    words = {fact.word for fact in facts}
    kept: list[str] = []
    lines = text.split("\n")
    place = 0
    for number, line in enumerate(lines):
        word = line.split(maxsplit=1)[0].casefold() if line.strip() else ""
        if word == "section":
            kept += lines[number:]
            break
        if word not in words:
            kept.append(line)
            place = len(kept)
    before = "".join(f"{line}\n" for line in kept[:place])
    puts, put = [], ""
    for fact in facts:
        start = len(before) + len(put) + len(fact.word) + 1
        puts.append(_Put(fact, start, start + len(fact.text)))
        put += f"{fact.word} {fact.text}\n"
    return before + put + "\n".join(kept[place:]), tuple(puts)


def _moved_to_order(found: Iterable[Diagnostic], places: Sequence[_Put]) -> list[Diagnostic]:
    """Return what is said of the facts themselves, at their places in the running order."""
    moved = []
    for one in found:
        put = next((put for put in places if one.span and put.start <= one.span.start <= put.end), None)
        if put is None or one.span is None:
            continue
        shift = put.fact.span.start - put.start
        span = Span(one.span.start + shift, min(one.span.end, put.end) + shift)
        fix = one.fix
        if fix is not None:
            fix = fix._replace(span=Span(fix.span.start + shift, fix.span.end + shift))
        moved.append(one._replace(span=span, fix=fix))
    return moved


def _misfits(song: Song, facts: Sequence[EveningFact], found: Iterable[Diagnostic]) -> list[Diagnostic]:
    """Return what goes wrong elsewhere in the song by a fact, at the first fact that alone makes it wrong."""
    for fact in facts:
        text, _ = _with_facts(song.source.text, (fact,))
        changed, alone = read(Source(song.source.name, text))
        if changed is None:
            return [_misfit(fact, one) for one in alone if one.severity == "error"][:1]
    return [_misfit(facts[0], one) for one in found if one.severity == "error"][:1]


def _misfit(fact: EveningFact, one: Diagnostic) -> Diagnostic:
    message = f"expected a fact that fits the song, found {shown(f'{fact.word} {fact.text}')}: {one.message}"
    return error("unfit-fact", message, fact.span, *one.hints)
