"""List the modules that are loaded only when first used, so that everything else starts sooner, and load them.

`LATE` is the whole table: each module, or room of modules, with the reason.
"""

from __future__ import annotations

import gc
from functools import cache
from importlib import import_module
from types import ModuleType

LATE = {
    "PIL.Image": "4 MiB and longer to load than most of the PDF library, which wants it for pictures; we have none",
    "arranger.binding": "who makes parts does not wait until all that makes a book is loaded",
    "arranger.commands": "a command line runs one of them, and most of `--help` needs none",
    "arranger.convert.score_conversion": "most of what the desk is given are songs and sheets",
    "arranger.desk.answers": "the server of the desk answers by a process of its own, which alone needs all the stages",
    "arranger.desk.day_choices": "as the answers do",
    "arranger.desk.evening_answers": "few of the pages that are asked for are those of an evening",
    "arranger.desk.listening": "pages are asked for at each key, how they sound now and then",
    "arranger.desk.opening": "a server and its libraries, an extra, for the desk alone",
    "arranger.desk.song_search": "songs are looked up so only where the browser keeps them",
    "arranger.desk.study_answers": "few pages are studies",
    "arranger.exchange.also": "most parts are printed, and nothing else is made of them",
    "arranger.commands.terminals": "few parts are watched",
    "arranger.exchange.editors": "of all that is told of a song, editors alone take it as JSON",
    "arranger.exchange.midi": "mido takes 40 ms, and only MIDI files need it",
    "arranger.exchange.musicxml": "its tables are for files of MusicXML alone",
    "arranger.exchange.notes_table": "only `show --notes` shows all notes",
    "arranger.habits.free_form": "how else a fact is typed is asked where one does not parse",
    "arranger.habits.how_full": "how else texture, band or drone is typed is asked where one does not parse",
    "arranger.habits.unknown_lines": "what a line is taken for is asked where no word of the notation begins it",
    "arranger.library.carried": "few libraries are made by other machines",
    "arranger.library.cluster": "as jobs that are carried, and its library, an extra, takes a second",
    "arranger.library.evenings": "running orders are read where it is asked when a song was played, and for an index",
    "arranger.library.reading": "songs are found without the reader of songs, unless one has changed",
    "arranger.pdf.fonts": "fonts of the player's own are looked at before a song is read, and few players have any",
    "arranger.pipeline": "a song with a mistake is told so and goes no further: no hands, no pages, no PDF",
    "arranger.practising": "who makes parts does not wait until all that makes studies is loaded",
    "arranger.song.mistakes": "what a mark or a chord is taken for is asked where one is wrong",
    "arranger.sounding.model": "what sounds is asked for staves and files of notes; most parts have neither",
    "arranger.sounding.strikes": "as the notes that it makes",
    "arranger.staging": "who makes parts does not wait until all that makes stage copies is loaded",
    "difflib": "what is near to a word is looked up where none has that spelling",
    "shtab": "an extra, for `completion` alone",
    "resource": "limits of a process, where the system has them: not on Windows",
    "tomllib": "many players have no settings",
    "watchfiles": "an extra, for `part --watch` alone",
    "uharfbuzz": "38 ms, and only text in scripts whose letters join needs it",
}


def load(module: str) -> ModuleType:
    """Return a module of the table, or of a room in it, loaded now if it was not before.

    Nothing is looked through for garbage while it is loaded: all of it stays. Where what was loaded before has been
    taken out of what is looked through (`gc.freeze`), this is too.

    Raises:
        KeyError: it is not in the table.
        ImportError: it is not installed.
    """
    if module not in LATE and module.rpartition(".")[0] not in LATE:
        raise KeyError(module)
    return _loaded(module)


@cache
def _loaded(module: str) -> ModuleType:
    collecting = gc.isenabled()
    gc.disable()
    try:
        loaded = import_module(module)
        if gc.get_freeze_count():
            gc.freeze()
        return loaded
    finally:
        if collecting:
            gc.enable()
