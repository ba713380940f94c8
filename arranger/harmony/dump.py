"""Write an Arrangement as data: what `show --json` prints, and the golden text. Names are part of the interface.

Times are strings that hold fractions of the meter's unit, counted from 1 in a bar; `at` counts quarters from the start.
"""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

from arranger.harmony.measures import Figures, figures
from arranger.harmony.model import (
    Arrangement,
    ChordPart,
    Heard,
    LeadIn,
    OctaveLine,
    SectionPart,
    SoundChange,
    Suspension,
)
from arranger.song.model import Meter, Section, Song
from arranger.theory.pitch import Pitch

VERSION = 1


def to_json(arrangement: Arrangement) -> dict[str, Any]:
    """Return the whole arrangement as plain values."""
    song = arrangement.song
    movement = arrangement.movement
    hand = arrangement.hand
    each, whole = figures(arrangement)
    return {
        "version": VERSION,
        "title": song.title.value,
        "key": str(arrangement.key),
        "transpose": arrangement.transpose,
        "capo": song.capo.fret if song.capo else None,
        "shapes_key": str(song.capo.shapes) if song.capo else None,
        "tempo": _tempo(song),
        "meter": str(arrangement.meter),
        "hand": {"low": hand.low, "high": hand.high, "span": hand.span, "notes": hand.notes},
        "sections": [
            _section(song, section, part) | {"figures": _figures(own)}
            for section, part, own in zip(song.sections, arrangement.sections, each, strict=True)
        ],
        "roadmap": [
            {
                "section": step.section,
                "name": song.sections[step.section].name,
                "times": step.times,
                "until": step.until,
                "from_bar": step.from_bar,
                "to_bar": step.to_bar,
                "remark": step.remark,
            }
            for step in song.roadmap
        ],
        "heard": [_heard(arrangement, heard) for heard in arrangement.heard],
        "movement": {
            "arranged": movement.arranged,
            "minimum": movement.minimum,
            "root_position": movement.root_position,
            "changes": movement.changes,
            "objective": movement.objective,
            "proven": movement.proven,
        },
        "figures": _figures(whole),
    }


def _figures(own: Figures) -> dict[str, float] | None:
    """Return the figures as heard, to two decimals; None where nothing is."""
    if not own.notes:
        return None
    return {
        "notes_a_bar": round(float(own.notes_a_bar), 2),
        "attacks_a_bar": round(float(own.attacks_a_bar), 2),
        "notes_an_attack": round(float(own.notes_an_attack), 2),
        "right_hand_keys": round(float(own.right_hand), 2),
        "mean_pitch": round(float(own.mean_pitch), 2),
    }


def dump(arrangement: Arrangement) -> str:
    """Return the JSON text, the same for the same arrangement."""
    return json.dumps(to_json(arrangement), ensure_ascii=False, indent=1) + "\n"


def _tempo(song: Song) -> dict[str, Any] | None:
    if song.tempo is None:
        return None
    return {"bpm": song.tempo.bpm, "unit": str(song.tempo.unit), "text": song.tempo.text}


def _section(song: Song, section: Section, part: SectionPart) -> dict[str, Any]:
    facts = section.facts
    return {
        "name": section.name,
        "like": section.like,
        "without_words": section.without_words,
        "tacet": section.tacet,
        "key": str(facts.key),
        "meter": str(facts.meter),
        "feel": facts.feel,
        "tempo": facts.tempo.text if facts.tempo else None,
        "sound": facts.sound.text if facts.sound else None,
        "dynamic": facts.dynamic.text if facts.dynamic else None,
        "play": part.play,
        "texture": part.texture or None,
        "texture_from": part.texture_from,
        "textures_of_visits": list(part.visits),
        "play_of_visits": list(part.visits_play),
        "visits": list(part.times),
        "of": part.of,
        "band": list(part.band),
        "sound_change": _sound_change(song, part.sound_change) if part.sound_change else None,
        "pad": [
            {"note": str(note.pitch), "bar": note.bar, "beat": _beat(note.start, _meter(section, note.bar))}
            for note in part.pad
        ],
        "bars": [
            {"bar": bar.number, "meter": str(bar.meter), "length": str(bar.length / bar.meter.beat)}
            for bar in section.bars
        ],
        "chords": [_chord(song, section, chord) for chord in part.chords],
        "octaves": [_octaves(section, line) for line in part.octaves],
        "lead_in": _lead_in(section, part.lead_in) if part.lead_in else None,
    }


def _meter(section: Section, bar: int | None) -> Meter:
    """Return the meter of a written bar by its number."""
    return next((b.meter for b in section.bars if b.number == bar), section.facts.meter)


def _sound_change(song: Song, change: SoundChange) -> dict[str, Any]:
    section = song.sections[change.over[0]]
    return {
        "sound": change.sound,
        "over": list(change.over),
        "bar": change.bar,
        "beat": _beat(change.start, _meter(section, change.bar)),
        "seconds": str(change.seconds),
        "enough": change.enough,
    }


def _beat(start: Fraction, meter: Meter) -> str:
    return str(start / meter.beat + 1)


def _notes(pitches: tuple[Pitch, ...]) -> list[str]:
    return [str(p) for p in pitches]


def _midi(pitches: tuple[Pitch, ...]) -> list[int]:
    return [p.midi for p in pitches]


def _chord(song: Song, section: Section, part: ChordPart) -> dict[str, Any]:
    meter = section.rows[part.row].bars[part.bar_index].meter
    line, column = song.source.line_column(part.span.start)
    written = part.written
    return {
        "kind": part.kind,
        "bar": part.bar,
        "beat": _beat(part.start, meter),
        "beats": str(part.length / meter.beat),
        "push": str(written.push / meter.beat) if written else "0",
        "written": written.written if written else None,
        "symbol": str(part.chord) if part.chord else None,
        "optional": bool(written and written.optional),
        "pinned": bool(written and written.pins),
        "suggest": section.facts.suspensions and not (written and (written.as_written or written.pins)),
        "line": line,
        "column": column,
        "right": _notes(part.right),
        "right_midi": _midi(part.right),
        "plain": _notes(part.plain),
        "plain_midi": _midi(part.plain),
        "shape": part.shape,
        "fingers": list(part.fingers),
        "left": _notes(part.left),
        "left_midi": _midi(part.left),
        "inversion": part.inversion,
        "from": list(part.came_from) if part.came_from else None,
        "movement": part.movement,
        "moved": part.moved,
        "common": part.common,
        "suspension": _suspension(section, part.suspension) if part.suspension else None,
    }


def _suspension(section: Section, suspension: Suspension) -> dict[str, Any]:
    meter = _meter(section, suspension.bar)
    return {
        "kind": suspension.kind,
        "note": str(suspension.note),
        "prepared": suspension.prepared,
        "end": suspension.end,
        "resolves_to": str(suspension.resolves_to) if suspension.resolves_to else None,
        "bar": suspension.bar,
        "beat": _beat(suspension.start, meter) if suspension.start is not None else None,
        "for_all": suspension.for_all,
        "of_drone": suspension.of_drone,
        "reason": suspension.reason,
    }


def _octaves(section: Section, line: OctaveLine) -> dict[str, Any]:
    meters = [section.rows[note.row].bars[note.bar_index].meter for note in line.notes]
    return {
        "to": list(line.to),
        "figure": line.figure,
        "doubled": line.doubled,
        "written": line.written,
        "last_time": line.last_time,
        "notes": [
            {
                "note": str(note.pitch),
                "midi": note.pitch.midi,
                "bar": note.bar,
                "beat": _beat(note.start, meter),
                "beats": str(note.length / meter.beat),
            }
            for note, meter in zip(line.notes, meters, strict=True)
        ],
    }


def _lead_in(section: Section, lead_in: LeadIn) -> dict[str, Any]:
    meter = section.rows[lead_in.row].bars[lead_in.bar_index].meter
    return {
        "symbol": lead_in.symbol,
        "to": lead_in.to,
        "over": list(lead_in.over),
        "bar": lead_in.bar,
        "beat": _beat(lead_in.start, meter),
        "beats": str(lead_in.length / meter.beat),
        "resolves": _beat(lead_in.resolves, meter) if lead_in.resolves is not None else None,
        "for_all": lead_in.for_all,
        "visits": list(lead_in.times),
        "right": _notes(lead_in.right),
        "right_midi": _midi(lead_in.right),
        "plain": _notes(lead_in.plain),
        "plain_midi": _midi(lead_in.plain),
        "left": _notes(lead_in.left),
        "left_midi": _midi(lead_in.left),
    }


def _heard(arrangement: Arrangement, heard: Heard) -> dict[str, Any]:
    part = arrangement.chord(heard.chord)
    meter = arrangement.song.sections[heard.chord[0]].rows[part.row].bars[part.bar_index].meter
    return {
        "step": heard.step,
        "section": heard.chord[0],
        "chord": heard.chord[1],
        "at": str(heard.at),
        "beats": str(heard.length / meter.beat),
        "cut": heard.cut,
    }
