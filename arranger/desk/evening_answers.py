"""Answer the questions about a running order: its songs' texts come with the question, so that it stays pure.

`QUESTIONS` is the table. `songs` of a question are the files that the order names, each with its text; or with null and
why there is none. The pages of an evening are asked for song by song, so that no question takes long: what has been
worked out is remembered, packed, for the next one, and for the book. The answer is the same as from nothing.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from arranger.binding import to_book, to_order_pages, to_song_pages
from arranger.desk.colours import colours
from arranger.desk.day_choices import BadQuestionError, keys_for
from arranger.desk.places import TextPlaces
from arranger.desk.questions import Answer, ChosenToday, chosen_in, problem, text_in, typed_in, whole_in
from arranger.desk.study_answers import MadeStudies, heard, study
from arranger.evening.model import EveningSong
from arranger.evening.song_ends import evening_song
from arranger.gathering import EveningSongs, FetchedSong, worked_out_tonight
from arranger.harmony.model import Arrangement
from arranger.intake import Diagnostics, Wishes, to_song
from arranger.layout.model import Document
from arranger.song.model import Song
from arranger.song.running_order import MOST_SONGS, ORDER_WORDS, read_order
from arranger.svg.picture_pages import faces, family, nowhere, pages
from arranger.text.diagnostics import Diagnostic, error, in_order
from arranger.text.source import Source

REMEMBERED = 100  # songs of evenings, packed: some 40 KiB each
MOST_PAGES = 1000  # of a song, in a question


class _Evening(NamedTuple):
    """A question about a running order, read, with its songs; `told` gathers what there is to say of songs."""

    songs: EveningSongs
    where: TextPlaces
    chosen: ChosenToday
    facing: bool
    told: list[tuple[Diagnostic, Source]]

    @property
    def stage(self) -> bool:
        """Whether stage copies are made."""
        return self.chosen.copy == "stage"

    def problems(self) -> list[dict[str, Any]]:
        """Return all that is wrong, for the page; what is wrong with a song stands at the line that names it."""
        own = (*self.chosen.problems, *self.songs.problems)
        found = [problem(one, self.songs.source, self.where) for one in in_order(own)]
        lines = {one.file: one for one in reversed(self.songs.order.songs)}
        for one, source in self.told:
            line = f", line {source.line_column(one.span.start)[0]}" if one.span is not None else ""
            named = lines.get(source.name)
            at = error(one.code, f"{source.name}{line}: {one.message}", named.span if named else None, *one.hints)
            found.append(problem(at, self.songs.source, self.where) | {"severity": one.severity, "song": source.name})
        return found


def _evening(question: Mapping[str, Any]) -> _Evening:
    """Read a running order and its songs."""
    typed, chosen = typed_in(question, "evening"), chosen_in(question)
    texts = _songs_in(question)
    facing = question.get("facing", False)
    if not isinstance(facing, bool):
        raise BadQuestionError("facing is neither true nor false")
    told: list[tuple[Diagnostic, Source]] = []

    def fetch(file: str) -> FetchedSong:
        text, why, hint = texts.get(file, (None, "", ""))
        if text is None:
            return FetchedSong(file, None, why or f"there is no file {file}", hint)
        return FetchedSong(file, text.encode("utf-8", "replace"))

    def report(problems: Sequence[Diagnostic], source: Source) -> None:
        told.extend((one, source) for one in in_order(problems))

    songs = EveningSongs(typed.source, chosen.wishes, fetch, report, _read_again, _worked_out_again)
    if typed.refused:
        songs.problems += typed.problems
    else:
        songs.read()
    return _Evening(songs, typed.where, chosen, facing, told)


def _songs_in(question: Mapping[str, Any]) -> dict[str, tuple[str | None, str, str]]:
    """Return the songs of a question: by its file the text of each, else None, why, and a hint."""
    given = question.get("songs", [])
    if not isinstance(given, list):
        raise BadQuestionError("songs is no list")
    found: dict[str, tuple[str | None, str, str]] = {}
    for one in given:
        whole = isinstance(one, list) and len(one) == 4
        if not whole or not all(isinstance(part, str) or (part is None and at == 1) for at, part in enumerate(one)):
            raise BadQuestionError("songs are files with a text, or null, why and a hint")
        found[one[0]] = one[1], one[2], one[3]
    return found


@lru_cache(REMEMBERED)
def _read_again(source: Source) -> tuple[Song | None, Diagnostics]:
    return to_song(source)


@lru_cache(REMEMBERED)
def _packed_again(song: bytes, wishes: Wishes) -> tuple[bytes | None, Diagnostics]:
    arrangement, problems = worked_out_tonight(song, wishes)
    packed = None if arrangement is None else pickle.dumps(arrangement, pickle.HIGHEST_PROTOCOL)
    return packed, problems


def _worked_out_again(song: bytes, wishes: Wishes) -> tuple[Arrangement | None, Diagnostics]:
    packed, problems = _packed_again(song, wishes)
    arrangement: Arrangement | None = None if packed is None else pickle.loads(packed)  # what this process packed
    return arrangement, problems


@lru_cache(REMEMBERED)
def _facts_again(song: bytes, wishes: Wishes, number: int) -> EveningSong | None:
    arrangement, _ = _worked_out_again(song, wishes)
    return None if arrangement is None else evening_song(arrangement, number + 1)


# --- the questions ----------------------------------------------------------------------------------------------------


def _named(question: Mapping[str, Any]) -> Answer:
    """Return the files that a running order names, each once, and how many songs it has."""
    typed = typed_in(question, "evening")
    songs = () if typed.refused else read_order(typed.source)[0].songs
    files = dict.fromkeys(song.file for song in songs if song.file and "\0" not in song.file)
    return {"files": list(files), "count": len(songs)}


def _order(question: Mapping[str, Any]) -> Answer:
    """Return what is wrong with a running order and its songs, its colours, and the facts of its songs by file.

    `whole`: its pages can be asked for.
    """
    evening = _evening(question)
    order = evening.songs.order
    facts = {}
    for file, song in evening.songs.known.items():
        if song is not None:
            keys = [str(key) for key in keys_for(song)]
            facts[file] = {"title": song.title.value, "key": str(song.key), "keys": keys}
    source = evening.songs.source
    return {
        "problems": evening.problems(),
        "title": order.title.value,
        "count": len(order.songs),
        "facts": facts,
        "whole": not evening.songs.broken,
        "day": dict(evening.chosen.shown),
        "colours": [[*evening.where.ends(span), colour] for span, colour in colours(source, ORDER_WORDS)],
    }


def _pages(question: Mapping[str, Any]) -> Answer:
    """Return the pages of one song of an evening (`number`, from 0) as its book has them; null where none can be made.

    Without a number, those of its order; `counts` are the pages of its songs, and `blanks` the songs before which a
    blank page stands.
    """
    evening = _evening(question)
    if evening.songs.broken:
        return {"pages": None, "problems": evening.problems()}
    if question.get("number") is None:
        return _order_pages(evening, question)
    songs, wishes = evening.songs, evening.songs.wishes
    number = whole_in(question, "number", 0, range(len(songs.songs)))
    here = songs.work_out(number)
    document = None
    if here is not None:
        document, problems = to_song_pages(songs.order, number, here, _facts_of(evening), wishes, stage=evening.stage)
        songs.tell(number, problems)
    return {"problems": evening.problems(), **_drawn(document)}


def _order_pages(evening: _Evening, question: Mapping[str, Any]) -> Answer:
    songs, counts = evening.songs, question.get("counts", [])
    if not isinstance(counts, list) or not all(isinstance(one, int) and 0 <= one <= MOST_PAGES for one in counts):
        raise BadQuestionError("counts are no numbers of pages")
    facts_of = _facts_of(evening)
    facts = [one for one in map(facts_of, range(len(songs.songs))) if one is not None]
    if len(facts) < len(songs.songs) or len(counts) > MOST_SONGS:
        return {"pages": None, "problems": evening.problems()}
    made, problems = to_order_pages(
        songs.order, facts, counts, songs.wishes, stage=evening.stage, facing=evening.facing
    )
    songs.tell(-1, problems)
    (blank,) = pages(made.blank)
    return {"problems": evening.problems(), **_drawn(made.document), "blank": blank, "blanks": list(made.blanks)}


def _facts_of(evening: _Evening) -> Callable[[int], EveningSong | None]:
    return lambda number: _facts_again(evening.songs.songs[number], evening.songs.wishes, number)


def _drawn(document: Document | None) -> dict[str, Any]:
    """Return pages as pictures; places in them would be those of several texts, and are left out."""
    if document is None:
        return {"pages": None, "families": []}
    return {"pages": list(pages(document, nowhere)), "families": [family(face) for face in faces(document)]}


def _book(question: Mapping[str, Any]) -> Answer:
    """Return the PDF of an evening, or of what is practised for it, as the commands make them."""
    evening = _evening(question)
    songs = evening.songs
    if not songs.broken:
        if evening.chosen.copy == "study":
            made = _studies(evening)
            if made.pdf and not songs.broken:
                return made.pdf
        else:
            stage, facing = evening.stage, evening.facing
            book = to_book(songs.order, songs.work_out, songs.tell, songs.wishes, stage=stage, facing=facing)
            if book is not None and not songs.broken:
                return book.pdf
    return {"problems": evening.problems()}


def _practise(question: Mapping[str, Any]) -> Answer:
    """Return the pages of what is practised for an evening; with `as` `midi`, how it sounds."""
    evening = _evening(question)
    if evening.songs.broken:
        return {"pages": None, "problems": evening.problems()}
    made = _studies(evening)
    if text_in(question, "as") != "midi":
        return {"problems": evening.problems(), **_drawn(made.document), "said": made.said}
    data, problems = heard(made)
    evening.songs.problems += (one for one in problems if one not in evening.songs.problems)
    return data if data is not None else {"problems": evening.problems()}


def _studies(evening: _Evening) -> MadeStudies:
    """Make the studies of all songs of an evening, each once; what is wrong is gathered with the rest."""
    songs = evening.songs
    arranged = []
    for number in dict.fromkeys(map(songs.songs.index, songs.songs)):
        arrangement = songs.work_out(number)
        if arrangement is not None:
            arranged.append((songs.song(number).source.name, arrangement))
    if songs.broken or not arranged:
        return MadeStudies(None, ())
    made = study(arranged, evening.chosen, songs.wishes, songs.order.title.value)
    songs.problems += made.problems
    return made


QUESTIONS: dict[str, Callable[[Mapping[str, Any]], Answer]] = {
    "named": _named,
    "order": _order,
    "evening": _pages,
    "book": _book,
    "practise": _practise,
}


def answer_of_evening(question: Mapping[str, Any]) -> Answer:
    """Answer a question of the table."""
    return QUESTIONS[str(question["ask"])](question)
