"""Read what every question has, and write what is wrong for the page: places are those of the browser's text.

A question is an object: `ask` names it; `text` is the song or the running order as typed, `name` its file's; `day` what
is chosen today, `copy` what is made. `settings` (the text of player.toml), `fonts`, and the songs that a running order
names (`songs`) are put in by whoever keeps them, never by the page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from arranger.desk.day_choices import BadQuestionError, chosen
from arranger.desk.places import TextPlaces, places
from arranger.intake import Diagnostics, Wishes
from arranger.song.read import decode
from arranger.text.diagnostics import Diagnostic, Fix, in_order
from arranger.text.source import Source

Answer = dict[str, Any] | bytes
MINUTES = range(3, 61)  # of a study, as `arranger study` takes them
SHEETS = range(1, 3)  # pages of a study


class TypedText(NamedTuple):
    """A text as it was typed: read, where places in it are, what is wrong with it so far."""

    source: Source
    where: TextPlaces
    problems: Diagnostics
    refused: bool  # it is no text that can be read


class ChosenToday(NamedTuple):
    """What is wished for today: the copy that is made, and for how long and on how many pages is practised."""

    wishes: Wishes
    problems: Diagnostics
    shown: Mapping[str, str | bool]
    copy: str
    minutes: int
    sheets: int


def text_in(question: Mapping[str, Any], name: str, default: str = "") -> str:
    """Return a text of a question."""
    value = question.get(name, default)
    if not isinstance(value, str):
        raise BadQuestionError(f"{name} is no text")
    return value.encode("utf-8", "replace").decode()  # half characters, which no file can hold


def whole_in(question: Mapping[str, Any], name: str, default: int, allowed: range) -> int:
    """Return a whole number of a question."""
    value = question.get(name, default)
    if not isinstance(value, int) or isinstance(value, bool) or value not in allowed:
        raise BadQuestionError(f"{name} is no number from {allowed.start} to {allowed.stop - 1}")
    return value


def pairs_in(question: Mapping[str, Any], name: str) -> list[tuple[str, str]]:
    """Return a list of a question with the name and the text of each song."""
    songs = question.get(name)
    if not isinstance(songs, list):
        raise BadQuestionError(f"{name} is no list")
    found = []
    for pair in songs:
        if not isinstance(pair, list) or len(pair) != 2 or not all(isinstance(part, str) for part in pair):
            raise BadQuestionError(f"{name} are pairs of name and text")
        found.append((pair[0], pair[1]))
    return found


def typed_in(question: Mapping[str, Any], default: str) -> TypedText:
    """Return the text of a question, read."""
    text = text_in(question, "text")
    source, refused = decode(text_in(question, "name", default), text.encode())
    return TypedText(source, places(text), refused, bool(refused))


def chosen_in(question: Mapping[str, Any]) -> ChosenToday:
    """Return what a question wishes."""
    copy = text_in(question, "copy", "part")
    if copy not in ("part", "stage", "study"):
        raise BadQuestionError("a copy is part, stage or study")
    day = question.get("day", {})
    if not isinstance(day, Mapping):
        raise BadQuestionError("day is no object")
    wishes, problems, shown = chosen(day, text_in(question, "settings"), tuple(question.get("fonts", ())))
    minutes, sheets = whole_in(question, "minutes", 15, MINUTES), whole_in(question, "sheets", 1, SHEETS)
    return ChosenToday(wishes, problems, shown, copy, minutes, sheets)


def problem(one: Diagnostic, source: Source, where: TextPlaces) -> dict[str, Any]:
    """Return a diagnostic for the page."""
    start, end = (None, None) if one.span is None else where.ends(one.span)
    return {
        "severity": one.severity,
        "code": one.code,
        "message": one.message,
        "hints": list(one.hints),
        "line": None if one.span is None else source.line_column(one.span.start)[0],
        "from": start,
        "to": end,
        "fix": fix_for(one.fix, where),
    }


def problems_in(problems: Iterable[Diagnostic], source: Source, where: TextPlaces) -> list[dict[str, Any]]:
    """Return diagnostics for the page, in the order of their places."""
    return [problem(one, source, where) for one in in_order(problems)]


def fix_for(fix: Fix | None, where: TextPlaces) -> dict[str, Any] | None:
    """Return what a button of the page writes."""
    if fix is None:
        return None
    start, end = where.ends(fix.span)
    return {"from": start, "to": end, "text": fix.text}
