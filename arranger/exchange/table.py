"""Write an Arrangement as a table of text, in lines, for reading in a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from arranger.harmony.measures import Figures, figures
from arranger.harmony.model import Arrangement, ChordPart, LeadIn, Movement, OctaveLine, SectionPart
from arranger.harmony.why import counted
from arranger.song.model import Section
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch
from arranger.units import ordinal

C_MAJOR = Key(NoteName("C"))  # keys of the keyboard, apart from any song, are named as in C

TITLES = ("bar", "beat", "chord", "right hand", "keys", "way", "left hand", "")
NUMBERS = {0, 1, 4, 5}  # columns that are set to the right
GAP = "  "


class _Line(NamedTuple):
    """A line of the table: where it belongs, and its cells."""

    place: tuple[int, Fraction]
    cells: tuple[str, ...]


def table(arrangement: Arrangement) -> list[str]:
    """Return the lines: a heading, a table for each section as written, and figures in words.

    `keys` counts the keys that go down anew, `way` the semitones that the hand moves from the chord heard before it the
    first time; both are empty where the hand is free, and `-` where nothing changes.
    """
    sections = list(zip(arrangement.song.sections, arrangement.sections, strict=True))
    rows = [sorted(_rows(arrangement, part, section), key=lambda r: r.place) for section, part in sections]
    widths = _widths([TITLES, *(line.cells for lines in rows for line in lines)])
    text = list(_heading(arrangement))
    each, whole = figures(arrangement)
    for (section, part), lines, own in zip(sections, rows, each, strict=True):
        text += ["", _section_heading(section, part)]
        if lines:
            text += [_set(TITLES, widths), *(_set(line.cells, widths) for line in lines)]
        text += [f"{GAP}{_figures(own)}"] if own.notes else []
    told = [f"As heard: {_figures(whole)}."] if whole.notes else []
    return [*text, "", *told, *_movement(arrangement.movement)]


def _figures(own: Figures) -> str:
    """Return how much is played, in words; the mean pitch as the nearest key."""
    pitch = round(own.mean_pitch)
    return (
        f"{_rounded(own.notes_a_bar)} notes a bar, {_rounded(own.attacks_a_bar)} attacks a bar, "
        f"{_rounded(own.notes_an_attack)} notes an attack; right hand {_rounded(own.right_hand)} keys; "
        f"mean pitch {Pitch.at(pitch, C_MAJOR.spelled(pitch % 12))}"
    )


def _rounded(number: Fraction) -> str:
    return f"{float(number):.1f}".removesuffix(".0")


def _heading(arrangement: Arrangement) -> Iterator[str]:
    song = arrangement.song
    facts = [arrangement.key.words]
    if song.written_key and song.written_key != song.key:
        facts[0] += f" (written in {song.written_key.words})"
    if arrangement.transpose:
        facts[0] = f"played in {facts[0]}, transpose {arrangement.transpose:+}"
    if song.tempo:
        facts.append(song.tempo.text)
    yield f"{song.title.value} · {' · '.join([*facts, str(arrangement.meter)])}"
    hand = arrangement.hand
    low, high = (str(Pitch.at(key, C_MAJOR.spelled(key % 12))) for key in (hand.low, hand.high))
    yield f"right hand from {low} to {high}, {hand.notes} notes, {hand.span} semitones at most"


def _section_heading(section: Section, part: SectionPart) -> str:
    facts = section.facts
    words = [section.name]
    if section.like:
        words.append(f"like {section.like}{' without words' if section.without_words else ''}")
    if facts.sound:
        words.append(facts.sound.text)
    if facts.dynamic:
        words.append(facts.dynamic.text)
    words += [part.texture] if part.texture else []
    words.append("tacet" if section.tacet else part.play)
    words += [f"{ordinal(time)}: {texture}" for time, texture in enumerate(part.visits, 1) if texture != part.texture]
    return " · ".join(words)


def _rows(arrangement: Arrangement, part: SectionPart, section: Section) -> Iterator[_Line]:
    def place(row: int, bar_index: int, start: Fraction) -> tuple[int, Fraction]:
        return sum(len(r.bars) for r in section.rows[:row]) + bar_index, start

    for chord in part.chords:
        meter = section.rows[chord.row].bars[chord.bar_index].meter
        cells = (str(chord.bar), _beat(chord.start / meter.beat), *_chord_cells(chord))
        yield _Line(place(chord.row, chord.bar_index, chord.start), cells)
    for fill in part.octaves:
        first = fill.notes[0]
        meter = section.rows[first.row].bars[first.bar_index].meter
        cells = (str(first.bar), _beat(first.start / meter.beat), "", *_fill_cells(arrangement, fill))
        yield _Line(place(first.row, first.bar_index, first.start), cells)

    if part.lead_in is not None:
        lead_in = part.lead_in
        meter = section.rows[lead_in.row].bars[lead_in.bar_index].meter
        cells = (str(lead_in.bar), _beat(lead_in.start / meter.beat), *_lead_in_cells(arrangement, lead_in))
        yield _Line(place(lead_in.row, lead_in.bar_index, lead_in.start), cells)


def _lead_in_cells(arrangement: Arrangement, lead_in: LeadIn) -> tuple[str, ...]:
    song, over = arrangement.song, lead_in.over[0]
    own = arrangement.sections[over].of
    visits = sum(step.times for step in song.roadmap if step.section == (over if own is None else own))
    following = song.sections[lead_in.to]
    words = f"suggested: leads into {following.facts.key.words}, {following.name}"
    if len(lead_in.times) < visits:
        words += f", the {' and '.join(map(ordinal, lead_in.times))} time"
    symbol = f"({lead_in.symbol})"
    if lead_in.for_all:
        return f"all: {symbol}", "", "", "", "", f"{words}; once it is in the song, for the others hold the old chord"
    return symbol, notes_text(lead_in.right), "", "", notes_text(lead_in.left), words


def _chord_cells(chord: ChordPart) -> tuple[str, ...]:
    if chord.kind != "chord":
        return ("N.C." if chord.kind == "none" else "rest", "", "", "", "", "")
    keys, way = str(chord.moved), str(chord.movement)
    if chord.came_from is None:
        keys = way = ""
    elif chord.repeats:
        keys = way = "-"
    return (_symbol(chord), notes_text(chord.right), keys, way, notes_text(chord.left), _remarks(chord))


def _symbol(chord: ChordPart) -> str:
    """Return the song's own chord, with what is suggested added to it: `Gsus4 G`, `Em(sus4)`."""
    if chord.chord is None:
        return ""
    text = f"{chord.chord}{chord.suggested}"
    if chord.suspension and chord.suspension.resolves_to is not None:
        text = f"{text} {chord.chord}"
    return f"({text})" if chord.written and chord.written.optional else text


def _remarks(chord: ChordPart) -> str:
    words = [chord.shape] if chord.shape and chord.right == chord.plain else []
    if chord.suspension:
        words.append(f"{'drone' if chord.suspension.of_drone else 'suggested'}: {chord.suspension.reason}")
    if chord.written and chord.written.push:
        words.append("early")
    if chord.written:
        words += chord.written.manner
    return "; ".join(words)


def _fill_cells(arrangement: Arrangement, fill: OctaveLine) -> tuple[str, ...]:
    goal = arrangement.chord(fill.to).chord
    doubled = ("octaves" if fill.doubled else "single notes") + (", the last time" if fill.last_time else "")
    leads = f"{fill.figure}, leads to {goal}" if goal else fill.figure
    return (notes_text(tuple(note.pitch for note in fill.notes)), "", "", "", f"{doubled}: {leads}")


def notes_text(pitches: Sequence[Pitch]) -> str:
    """Return notes as they are typed: `C4 E4 G4`."""
    return " ".join(map(str, pitches))


def _beat(beats: Fraction) -> str:
    """Return a beat counted from 1, in halves and thirds as musicians say them: `2`, `2 1/2`."""
    whole, rest = divmod(beats + 1, 1)
    return f"{whole} {rest}" if rest else str(whole)


def _widths(rows: list[tuple[str, ...]]) -> list[int]:
    return [max(map(len, column)) for column in zip(*rows, strict=True)]


def _set(cells: tuple[str, ...], widths: list[int]) -> str:
    padded = [
        cell.rjust(width) if number in NUMBERS else cell.ljust(width)
        for number, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    return (GAP + GAP.join(padded)).rstrip()


def _movement(movement: Movement) -> Iterator[str]:
    """Yield the figures in words."""
    changes = f"{counted(movement.changes, 'change')} of chord"
    yield f"The right hand moves {movement.arranged} semitones over {changes} as heard, repeats counted."
    if movement.minimum is not None:
        more = _more(movement)
        yield f"The least possible for these chords in this window is {movement.minimum}{more}."
    if movement.root_position is not None:
        yield f"With every chord in root position it would be {movement.root_position}."
    if movement.proven:
        yield "No other choice of hands is better by the measures in use: proven."
        return
    gap = ceil(Fraction(movement.whole - movement.bound, 100)) / 10
    if gap:
        yield f"Not proven: other hands or suspensions may be better, by what weighs {gap:.1f} semitones at most."
    else:
        yield "No other right hand is better over this left hand; that no other left hand is, is not proven."


def _more(movement: Movement) -> str:
    figure, least = movement.arranged, movement.minimum
    if least is None or figure <= least or least <= 0:
        return ""
    lines = " and inner lines in one finger" if movement.lines else ""
    return f" (this is {100 * (figure - least) / least:.1f} % more, to keep the hand in place{lines})"
