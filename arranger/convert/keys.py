"""The key of a converted song, and its capo. Takes what the sheet says and its chords; gives the key that sounds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from arranger.convert.model import DraftRow, DraftSection, Facts, Note
from arranger.song.cells import ChordWord, read_mark
from arranger.song.model import Capo
from arranger.song.transpose import respelled
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.keyfinding import key_of_chords
from arranger.theory.pitch import NoteName

_LAST_RESORT = Key(NoteName("C"))  # of a sheet whose chords name no key (none but N.C.)
_PASSING = ("dim", "dim7")  # named by where they lead, whatever the key


def keys_of(facts: Facts, chords: Sequence[tuple[Chord, Fraction]]) -> tuple[Key, Capo | None, tuple[Note, ...]]:
    """Settle the key that sounds, and the capo with the key of its shapes."""
    guess = key_of_chords(chords) or _LAST_RESORT
    stated = _in_mode(facts.key, guess) if facts.key is not None else None
    if not facts.capo:
        if stated is not None:
            return stated, None, ()
        note = Note(
            "assumed",
            0,
            f"the key is {guess.words}: found from the chords (Krumhansl and Schmuckler's method), a guess",
        )
        return guess, None, (note,)
    shapes = guess
    notes: list[Note] = []
    if facts.shapes is not None:
        shapes = _in_mode(facts.shapes, guess)
    elif stated is not None:
        down = _moved(stated, -facts.capo)
        # The key may be that of the shapes or the one that sounds: the chords tell which.
        sounding_meant = down.tonic.pitch_class == guess.tonic.pitch_class and down.minor == guess.minor
        shapes = down if sounding_meant else stated
        which = "the key that sounds" if sounding_meant else "the key of the guitarist's shapes"
        notes.append(Note("check", facts.key_line, f"`{stated}` is taken for {which}"))
    else:
        said = f"the shapes are in {guess.words}: found from the chords (Krumhansl and Schmuckler's method), a guess"
        notes.append(Note("assumed", 0, said))
    key = _moved(shapes, facts.capo)
    return key, Capo(facts.capo, shapes), tuple(notes)


def _in_mode(stated: Key, guess: Key) -> Key:
    """Take a key that was named by its letter for minor where the chords are minor."""
    if not stated.minor and guess.minor and stated.tonic.pitch_class == guess.tonic.pitch_class:
        minor = Key(stated.tonic, True)
        return minor if minor.exists else minor.enharmonic() or stated
    return stated


def _moved(key: Key, semitones: int) -> Key:
    """Move a key; of two names the one with fewer signs."""
    pitch = (key.tonic.pitch_class + semitones) % 12
    names = [NoteName.at_fifths(place) for place in range(-8, 12)]
    keys = [Key(n, key.minor) for n in names if n.pitch_class == pitch]
    return min((k for k in keys if k.exists), key=lambda k: (abs(k.signature), -k.signature))


def spelled_sections(sections: Sequence[DraftSection], key: Key, capo: Capo | None) -> tuple[DraftSection, ...]:
    """Spell the chords of all sections, each in its key. A section's key stays where the song can state it."""
    found = []
    keys = {section.name: section.key or key for section in sections}
    for section in sections:
        own = section.key
        if own is not None and capo is not None:
            note = Note("check", section.line, f"the key changes to {own.words} here; the capo's shapes are kept")
            section = replace(section, key=None, notes=(*section.notes, note))
        elif own is not None and section.like and keys[section.like].minor is not own.minor:
            note = Note(
                "check", section.line, f"the key is {own.words} here, but the chords are those of {section.like}"
            )
            section = replace(section, key=None, notes=(*section.notes, note))
        elif own == key:
            section = replace(section, key=None if not section.like or keys[section.like] == key else own)
        written = section.key or (capo.shapes if capo is not None else key)
        found.append(respelled_section(section, written))
    return tuple(found)


def respelled_section(section: DraftSection, key: Key) -> DraftSection:
    """Spell the chords of a section as its key has them: A# in F is Bb."""
    return replace(section, rows=tuple(_respelled_row(row, key) for row in section.rows))


def _respelled_row(row: DraftRow, key: Key) -> DraftRow:
    bars = tuple(replace(bar, marks=tuple(_respelled(mark, key) for mark in bar.marks)) for bar in row.bars)
    changed = [
        f"{old} is {new}"
        for bar, other in zip(row.bars, bars, strict=True)
        for old, new in zip(bar.marks, other.marks, strict=True)
        if old != new
    ]
    if not changed:
        return row
    note = Note("check", row.line, f"spelled as {key.words} has it: {', '.join(dict.fromkeys(changed))}")
    return replace(row, bars=bars, notes=(*row.notes, note))


def _respelled(mark: str, key: Key) -> str:
    word = read_mark(mark)
    if not isinstance(word, ChordWord):
        return mark
    chord = word.chord
    root = _better(chord.root, key) if chord.quality.name not in _PASSING else chord.root
    bass = chord.bass
    if bass is not None and (bass not in chord.names or root != chord.root):
        bass = _better(bass, key)
    if root == chord.root and bass == chord.bass:
        return mark
    new = respelled(word.written, root, bass)
    return f"({new})" if word.optional else new


def _better(name: NoteName, key: Key) -> NoteName:
    """Return the scale's own name of a note that is typed with the other kind of sign."""
    scale = {n.pitch_class: n for n in key.scale}
    better = scale.get(name.pitch_class)
    other_sign = name.alter != 0 and name.alter * key.signature <= 0
    return better if better is not None and other_sign else name
