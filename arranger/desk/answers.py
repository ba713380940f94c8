"""Answer the questions of the page: a text and what is chosen in, JSON or bytes out. Pure; `QUESTIONS` is the table.

What every question has is in `questions`; a song's has `key`, another key for today. Questions about a running order
are answered in `evening_answers`.
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
from arranger.desk.day_choices import BadQuestionError, filled_in, form, in_key, keys_for
from arranger.desk.places import TextPlaces, places
from arranger.desk.questions import (
    Answer,
    ChosenToday,
    chosen_in,
    fix_for,
    pairs_in,
    problem,
    problems_in,
    text_in,
    typed_in,
)
from arranger.files import SET_ENDING
from arranger.harmony.arrange import WorkedOut
from arranger.intake import Diagnostics, Wishes, to_song
from arranger.late import load
from arranger.layout.model import Document
from arranger.pipeline import to_pages, to_part, to_worked_out
from arranger.resources import sample_text
from arranger.song.model import Song
from arranger.staging import to_stage, to_stage_pages
from arranger.svg.picture_pages import faces, family, pages
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.source import Source

EPOCH = (1980, 1, 1, 0, 0, 0)  # of files in an archive: the earliest there is (APPNOTE 4.4.6)
SAMPLES = ("lanterns", "bread and salt", "night ferry", "rosalie", "slow boats", "tide clock")


class Asked(NamedTuple):
    """A question about a song, read: its source, the song, what is wished for, what is wrong so far."""

    source: Source
    where: TextPlaces
    song: Song | None
    wishes: Wishes
    problems: Diagnostics
    chosen: ChosenToday

    def told(self, more: Diagnostics = ()) -> list[dict[str, Any]]:
        """Return all that is wrong, for the page."""
        return problems_in((*self.problems, *more), self.source, self.where)


def answer(question: Mapping[str, Any]) -> Answer:
    """Answer a question.

    Raises:
        BadQuestionError: the page does not ask such a question.
    """
    ask = question.get("ask")
    if not isinstance(ask, str) or ask not in QUESTIONS:
        raise BadQuestionError(f"there is no question {ask!r}")
    return QUESTIONS[ask](question)


def _asked(question: Mapping[str, Any]) -> Asked:
    """Read the song and the choices of a question."""
    typed, chosen = typed_in(question, "song"), chosen_in(question)
    song, refused = None, typed.problems
    if not typed.refused:
        song, refused = to_song(typed.source)
    problems, wishes = (*chosen.problems, *refused), chosen.wishes
    if song is not None:
        wishes, more = in_key(wishes, song, text_in(question, "key"))
        problems = (*problems, *more)
    return Asked(typed.source, typed.where, song, wishes, problems, chosen)


def _worked(asked: Asked) -> tuple[WorkedOut | None, Diagnostics]:
    return (None, ()) if asked.song is None else to_worked_out(asked.song, asked.wishes)


# --- pages ------------------------------------------------------------------------------------------------------------


def _pages(question: Mapping[str, Any]) -> Answer:
    """Return the pages, what is wrong, the colours of the text, its bars, and the keys that may be chosen.

    `pages` is null where none can be made: the page then keeps those that it has.
    """
    asked = _asked(question)
    made = _made(asked)
    song, where, document = asked.song, asked.where, made.document
    return {
        "problems": asked.told(made.problems),
        "pages": None if document is None else list(pages(document, where.ends)),
        "families": [] if document is None else [family(face) for face in faces(document)],
        "said": made.said,
        "title": song.title.value if song else "",
        "key": str(song.key) if song else "",
        "keys": [str(key) for key in keys_for(song)] if song else [],
        "day": dict(asked.chosen.shown),
        "colours": [[*where.ends(span), colour] for span, colour in colours(asked.source)],
        "bars": [where.ends(bar.span) for s in song.sections if s.model is None for bar in s.bars] if song else [],
    }


class _Made(NamedTuple):
    """Pages of a song: as they are placed, what is wrong, and what else is said of them."""

    document: Document | None
    problems: Diagnostics
    said: str = ""


def _made(asked: Asked) -> _Made:
    """Set the pages that are asked for."""
    worked, problems = _worked(asked)
    if worked is None:
        return _Made(None, problems)
    if asked.chosen.copy == "study":
        found = _studied(asked, worked)
        return _Made(found.document, (*problems, *found.problems), found.said)
    lay_out = to_pages if asked.chosen.copy == "part" else to_stage_pages
    document, more = lay_out(worked.arrangement, asked.wishes)
    return _Made(document, (*problems, *more))


def _studied(asked: Asked, worked: WorkedOut) -> Any:
    """Make the studies of a song (`study_answers.MadeStudies`)."""
    study = load("arranger.desk.study_answers").study
    return study([(asked.source.name, worked.arrangement)], asked.chosen, asked.wishes)


# --- what is taken along ----------------------------------------------------------------------------------------------


def _print(question: Mapping[str, Any]) -> Answer:
    """Return the PDF, as the command makes it; what is wrong, where none can be made."""
    asked = _asked(question)
    worked, problems = _worked(asked)
    if worked is not None:
        made: Any
        if asked.chosen.copy == "study":
            made = _studied(asked, worked)
            more = made.problems
        else:
            made, more = (to_part if asked.chosen.copy == "part" else to_stage)(worked.arrangement, asked.wishes)
        if made is not None and made.pdf:
            return bytes(made.pdf)
        problems = (*problems, *more)
    return _none(asked, problems)


def _none(asked: Asked, problems: Diagnostics) -> Answer:
    return {"problems": asked.told(problems)}


def _midi(question: Mapping[str, Any]) -> Answer:
    """Return the performance, or of studies how they sound, as the commands make it."""
    if question.get("copy") != "study":
        return _beside(question, "midi")
    asked = _asked(question)
    worked, problems = _worked(asked)
    if worked is None:
        return _none(asked, problems)
    data, more = load("arranger.desk.study_answers").heard(_studied(asked, worked))
    return data if data is not None else _none(asked, (*problems, *more))


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
    text_in(question, "key")  # a song is written in its own key
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
        return {"what": one.what, "says": one.says, "fix": fix_for(one.fix, asked.where)}

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
    text, name = text_in(question, "text"), text_in(question, "name", "sheet")
    source, problems, _ = decode_sheet(name, text.encode())
    converted = None
    if source is not None:
        converted, problems = convert(source, title=text_in(question, "title", "Untitled"))
    return _converted(converted, problems, source or Source(name, ""), places(text))


def _score(question: Mapping[str, Any]) -> Answer:
    """Return the song that a score makes (`data`: its bytes in base64), as a typed sheet's."""
    name = text_in(question, "name", "score")
    try:
        data = base64.b64decode(text_in(question, "data"), validate=True)
    except (binascii.Error, ValueError):
        raise BadQuestionError("data is no base64") from None
    title = name.rpartition("/")[2].partition(".")[0] or "Untitled"
    converted, problems = load("arranger.convert.score_conversion").convert_score(data, title=title)
    return _converted(converted, problems, Source(name, ""), places(""))


def _converted(converted: Converted | None, problems: Diagnostics, source: Source, where: TextPlaces) -> Answer:
    if converted is None:
        return {"song": None, "problems": [problem(one, source, where) for one in problems]}
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
    return {"sheet": looks_like_a_sheet(text_in(question, "text"))}


def _search(question: Mapping[str, Any]) -> Answer:
    """Return which of some songs and running orders (`songs`: name and text each) have some words (`words`)."""
    search, words = load("arranger.desk.song_search"), text_in(question, "words")
    pairs = pairs_in(question, "songs")
    orders = [pair for pair in pairs if pair[0].endswith(SET_ENDING)]
    found = search.searched((pair for pair in pairs if pair not in orders), words)
    return {"songs": found, "total": len(found), "orders": search.searched_orders(orders, words), "told": []}


def _archive(question: Mapping[str, Any]) -> Answer:
    """Return all songs (`songs`: name and text each) as one archive (zip), the same bytes each time."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in sorted(pairs_in(question, "songs")):
            archive.writestr(zipfile.ZipInfo(name, EPOCH), text.encode("utf-8", "replace"), zipfile.ZIP_DEFLATED)
    return made.getvalue()


def _samples(question: Mapping[str, Any]) -> Answer:
    """Return the samples that come with the program: title and text."""
    return {"samples": [{"title": name, "text": sample_text(f"{name}.song.txt")} for name in SAMPLES]}


def _settings(question: Mapping[str, Any]) -> Answer:
    """Return the settings as a form."""
    fields, problems = form(text_in(question, "settings"))
    return {"fields": [one._asdict() for one in fields], "problems": [_plain(one) for one in problems]}


def _filled(question: Mapping[str, Any]) -> Answer:
    """Return the text of the settings with the form's values (`values`); unchanged, with what is wrong, otherwise."""
    values = question.get("values")
    if not isinstance(values, Mapping):
        raise BadQuestionError("values is no object")
    text, problems = filled_in(text_in(question, "settings"), values)
    return {"settings": text, "problems": [_plain(one) for one in problems]}


def _plain(one: Diagnostic) -> dict[str, Any]:
    return {"severity": one.severity, "message": one.message, "hints": list(one.hints)}


def _order(question: Mapping[str, Any]) -> Answer:
    """Answer a question about a running order (`evening_answers`)."""
    found: Answer = load("arranger.desk.evening_answers").answer_of_evening(question)
    return found


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
    "named": _order,
    "order": _order,
    "evening": _order,
    "book": _order,
    "practise": _order,
    "settings": _settings,
    "filled": _filled,
}
