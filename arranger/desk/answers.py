"""Answer the questions of the page: a text and what is chosen in, JSON or bytes out. Pure; `QUESTIONS` is the table.

A question is an object: `ask` names it; `text` is the song as typed, `name` its file's; `day` what is chosen today,
`key` another key for today, `copy` what is made (`part` or `stage`). `settings` (the text of player.toml) and `fonts`
are put in by whoever keeps them, never by the page. Places in answers are those of the browser's text.
"""

from __future__ import annotations

import base64
import binascii
import io
import zipfile
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from arranger.convert.columns import decode_sheet
from arranger.convert.conversion import convert
from arranger.convert.model import Converted
from arranger.convert.recognise import looks_like_a_sheet
from arranger.desk.chord_choices import ChordOffer, chord_at, chord_told
from arranger.desk.colours import colours
from arranger.desk.day_choices import BadQuestionError, chosen, filled_in, form, in_key
from arranger.desk.places import TextPlaces, places
from arranger.harmony.arrange import WorkedOut
from arranger.intake import Diagnostics, Wishes, to_song
from arranger.late import load
from arranger.layout.model import Document
from arranger.pipeline import to_pages, to_part, to_worked_out
from arranger.resources import sample_text
from arranger.song.model import Song
from arranger.song.read import decode
from arranger.staging import to_stage, to_stage_pages
from arranger.svg.picture_pages import faces, family, pages
from arranger.text.diagnostics import Diagnostic, Fix, error, in_order
from arranger.text.source import Source
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

Answer = dict[str, Any] | bytes
EPOCH = (1980, 1, 1, 0, 0, 0)  # of files in an archive: the earliest there is (APPNOTE 4.4.6)
SAMPLES = ("lanterns", "bread and salt", "night ferry", "rosalie", "slow boats", "tide clock")
FIFTHS = range(-7, 11)  # of tonics on the line of fifths: from C flat (major) to A sharp (minor)


class Asked(NamedTuple):
    """A question about a song, read: its source, the song, what is wished for, what is wrong so far."""

    source: Source
    where: TextPlaces
    song: Song | None
    wishes: Wishes
    problems: Diagnostics
    copy: str
    shown: Mapping[str, str | bool]


def answer(question: Mapping[str, Any]) -> Answer:
    """Answer a question.

    Raises:
        BadQuestionError: the page does not ask such a question.
    """
    ask = question.get("ask")
    if not isinstance(ask, str) or ask not in QUESTIONS:
        raise BadQuestionError(f"there is no question {ask!r}")
    return QUESTIONS[ask](question)


def _text(question: Mapping[str, Any], name: str, default: str = "") -> str:
    value = question.get(name, default)
    if not isinstance(value, str):
        raise BadQuestionError(f"{name} is no text")
    return value.encode("utf-8", "replace").decode()  # half characters, which no file can hold


def _asked(question: Mapping[str, Any]) -> Asked:
    """Read the song and the choices of a question."""
    text, copy = _text(question, "text"), _text(question, "copy", "part")
    if copy not in ("part", "stage"):
        raise BadQuestionError("a copy is part or stage")
    day = question.get("day", {})
    if not isinstance(day, Mapping):
        raise BadQuestionError("day is no object")
    wishes, problems, shown = chosen(day, _text(question, "settings"), tuple(question.get("fonts", ())))
    source, refused = decode(_text(question, "name", "song"), text.encode())
    song = None
    if not refused:
        song, refused = to_song(source)
    problems = (*problems, *refused)
    if song is not None:
        wishes, more = in_key(wishes, song, _text(question, "key"))
        problems = (*problems, *more)
    return Asked(source, places(text), song, wishes, problems, copy, shown)


def _worked(asked: Asked) -> tuple[WorkedOut | None, Diagnostics]:
    return (None, ()) if asked.song is None else to_worked_out(asked.song, asked.wishes)


# --- pages ------------------------------------------------------------------------------------------------------------


def _pages(question: Mapping[str, Any]) -> Answer:
    """Return the pages, what is wrong, the colours of the text, its bars, and the keys that may be chosen.

    `pages` is null where none can be made: the page then keeps those that it has.
    """
    asked = _asked(question)
    worked, problems = _worked(asked)
    document: Document | None = None
    if worked is not None:
        lay_out = to_pages if asked.copy == "part" else to_stage_pages
        document, more = lay_out(worked.arrangement, asked.wishes)
        problems = (*problems, *more)
    song = asked.song
    where = asked.where
    return {
        "problems": [_problem(one, asked) for one in in_order((*asked.problems, *problems))],
        "pages": None if document is None else list(pages(document)),
        "families": [] if document is None else [family(face) for face in faces(document)],
        "title": song.title.value if song else "",
        "key": str(song.key) if song else "",
        "keys": [str(key) for key in _keys_for(song)] if song else [],
        "day": dict(asked.shown),
        "colours": [[*where.ends(span), colour] for span, colour in colours(asked.source)],
        "bars": [where.ends(bar.span) for s in song.sections if s.model is None for bar in s.bars] if song else [],
    }


def _keys_for(song: Song) -> list[Key]:
    """Return the keys that a song may be played in, upward from its own, each with as few signs as can be."""
    every = [Key(NoteName.at_fifths(fifths), song.key.minor) for fifths in FIFTHS]
    found = {song.key.tonic.pitch_class: song.key}
    for key in sorted((key for key in every if key.exists), key=lambda key: (abs(key.signature), -key.signature)):
        found.setdefault(key.tonic.pitch_class, key)
    home = song.key.tonic.pitch_class
    return [found[(home + step) % 12] for step in range(12)]


def _problem(one: Diagnostic, asked: Asked) -> dict[str, Any]:
    start, end = (None, None) if one.span is None else asked.where.ends(one.span)
    return {
        "severity": one.severity,
        "code": one.code,
        "message": one.message,
        "hints": list(one.hints),
        "line": None if one.span is None else asked.source.line_column(one.span.start)[0],
        "from": start,
        "to": end,
        "fix": _fix(one.fix, asked),
    }


def _fix(fix: Fix | None, asked: Asked) -> dict[str, Any] | None:
    if fix is None:
        return None
    start, end = asked.where.ends(fix.span)
    return {"from": start, "to": end, "text": fix.text}


# --- what is taken along ----------------------------------------------------------------------------------------------


def _print(question: Mapping[str, Any]) -> Answer:
    """Return the PDF, as the command makes it; what is wrong, where none can be made."""
    asked = _asked(question)
    worked, problems = _worked(asked)
    if worked is not None:
        made: Any
        made, more = (to_part if asked.copy == "part" else to_stage)(worked.arrangement, asked.wishes)
        if made is not None:
            return bytes(made.pdf)
        problems = (*problems, *more)
    return _none(asked, problems)


def _none(asked: Asked, problems: Diagnostics) -> Answer:
    return {"problems": [_problem(one, asked) for one in in_order((*asked.problems, *problems))]}


def _midi(question: Mapping[str, Any]) -> Answer:
    return _beside(question, "midi")


def _musicxml(question: Mapping[str, Any]) -> Answer:
    return _beside(question, "musicxml")


def _beside(question: Mapping[str, Any], kind: str) -> Answer:
    """Return what stands beside a PDF, as the command makes it; what is wrong, where it cannot be made."""
    asked = _asked(question)
    worked, problems = _worked(asked)
    if worked is None:
        return _none(asked, problems)
    try:
        (made,) = load("arranger.exchange.also").made_beside(worked.arrangement, (kind,))
    except ValueError as fault:  # it sounds for hours
        return _none(asked, (error("too-long", str(fault)),))
    data: bytes = made.data
    return data


def _listen(question: Mapping[str, Any]) -> Answer:
    """Return the song as it sounds (`listening`); what is wrong, where it cannot be played."""
    asked = _asked(question)
    worked, problems = _worked(asked)
    if worked is None:
        return _none(asked, problems)
    heard: dict[str, Any] = load("arranger.desk.listening").to_listen(worked.arrangement, asked.where)
    return heard


# --- a chord ----------------------------------------------------------------------------------------------------------


def _why(question: Mapping[str, Any]) -> Answer:
    """Return what there is to say about the chord at a place (`at`), in the song's own key; null where none is."""
    at = question.get("at")
    if not isinstance(at, int) or isinstance(at, bool):
        raise BadQuestionError("at is no place")
    _text(question, "key")  # a song is written in its own key
    asked = _asked({**question, "key": ""})
    worked, problems = _worked(asked)
    if worked is None:
        return _none(asked, problems)
    where = chord_at(worked, asked.where.meant(max(0, at)))
    if where is None:
        return {"chord": None}
    told = chord_told(worked, where, asked.wishes.taste)
    start, end = asked.where.ends(worked.arrangement.chord(where).span)

    def offered(one: ChordOffer) -> dict[str, Any]:
        return {"what": one.what, "says": one.says, "fix": _fix(one.fix, asked)}

    return {
        "chord": told.chord,
        "from": start,
        "to": end,
        "lines": list(told.lines),
        "hands": list(map(offered, told.hands)),
        "octaves": list(map(offered, told.octaves)),
    }


# --- typed sheets, settings -------------------------------------------------------------------------------------------


def _convert(question: Mapping[str, Any]) -> Answer:
    """Return the song that a typed sheet makes, with the places to check; or what was found instead."""
    text, name = _text(question, "text"), _text(question, "name", "sheet")
    source, problems, _ = decode_sheet(name, text.encode())
    converted = None
    if source is not None:
        converted, problems = convert(source, title=_text(question, "title", "Untitled"))
    return _converted(converted, problems, source or Source(name, ""), places(text))


def _score(question: Mapping[str, Any]) -> Answer:
    """Return the song that a score makes (`data`: its bytes in base64), as a typed sheet's."""
    name = _text(question, "name", "score")
    try:
        data = base64.b64decode(_text(question, "data"), validate=True)
    except (binascii.Error, ValueError):
        raise BadQuestionError("data is no base64") from None
    title = name.rpartition("/")[2].partition(".")[0] or "Untitled"
    converted, problems = load("arranger.convert.score_conversion").convert_score(data, title=title)
    return _converted(converted, problems, Source(name, ""), places(""))


def _converted(converted: Converted | None, problems: Diagnostics, source: Source, where: TextPlaces) -> Answer:
    if converted is None:
        asked = Asked(source, where, None, Wishes(), problems, "part", {})
        return {"song": None, "problems": [_problem(one, asked) for one in problems]}
    return {"song": converted.text, **_checks(converted.text), "told": _told(converted.notes)}


def _checks(song: str) -> dict[str, Any]:
    """Return where a converted song asks to be checked."""
    source = Source.of("song", song)
    where = places(song)
    found = []
    for line in range(1, source.line_count + 1):
        span = source.line_span(line)
        if source[span].lstrip().startswith("# check"):
            found.append({"from": where.shown(span.start), "to": where.shown(span.end), "text": source[span].strip()})
    return {"checks": found}


def _told(notes: Any) -> list[str]:
    return [f"line {note.line}: {note.text}" if note.line else note.text for note in notes if note.kind != "check"]


def _sheet(question: Mapping[str, Any]) -> Answer:
    """Return whether a text looks like a typed sheet, to be converted."""
    return {"sheet": looks_like_a_sheet(_text(question, "text"))}


def _search(question: Mapping[str, Any]) -> Answer:
    """Return which of some songs (`songs`: name and text each) have some words (`words`)."""
    found = load("arranger.desk.song_search").searched(_pairs(question), _text(question, "words"))
    return {"songs": found, "total": len(found), "told": []}


def _pairs(question: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the names and texts of a question."""
    songs = question.get("songs")
    if not isinstance(songs, list):
        raise BadQuestionError("songs is no list")
    found = []
    for pair in songs:
        if not isinstance(pair, list) or len(pair) != 2 or not all(isinstance(part, str) for part in pair):
            raise BadQuestionError("songs are pairs of name and text")
        found.append((pair[0], pair[1]))
    return found


def _archive(question: Mapping[str, Any]) -> Answer:
    """Return all songs (`songs`: name and text each) as one archive (zip), the same bytes each time."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in sorted(_pairs(question)):
            archive.writestr(zipfile.ZipInfo(name, EPOCH), text.encode("utf-8", "replace"), zipfile.ZIP_DEFLATED)
    return made.getvalue()


def _samples(question: Mapping[str, Any]) -> Answer:
    """Return the samples that come with the program: title and text."""
    return {"samples": [{"title": name, "text": sample_text(f"{name}.song.txt")} for name in SAMPLES]}


def _settings(question: Mapping[str, Any]) -> Answer:
    """Return the settings as a form."""
    fields, problems = form(_text(question, "settings"))
    return {"fields": [one._asdict() for one in fields], "problems": [_plain(one) for one in problems]}


def _filled(question: Mapping[str, Any]) -> Answer:
    """Return the text of the settings with the form's values (`values`); unchanged, with what is wrong, otherwise."""
    values = question.get("values")
    if not isinstance(values, Mapping):
        raise BadQuestionError("values is no object")
    text, problems = filled_in(_text(question, "settings"), values)
    return {"settings": text, "problems": [_plain(one) for one in problems]}


def _plain(one: Diagnostic) -> dict[str, Any]:
    return {"severity": one.severity, "message": one.message, "hints": list(one.hints)}


QUESTIONS: dict[str, Callable[[Mapping[str, Any]], Answer]] = {
    "pages": _pages,
    "print": _print,
    "midi": _midi,
    "musicxml": _musicxml,
    "listen": _listen,
    "why": _why,
    "convert": _convert,
    "score": _score,
    "sheet": _sheet,
    "samples": _samples,
    "search": _search,
    "archive": _archive,
    "settings": _settings,
    "filled": _filled,
}
