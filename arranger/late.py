"""List the modules that are loaded only when first used, so that everything else starts sooner, and load them.

`LATE` is the whole table: each module, or room of modules, with the reason.
"""

from __future__ import annotations

from importlib import import_module
from types import ModuleType

LATE = {
    "arranger.commands": "a command line runs one of them, and most of `--help` needs none",
    "arranger.library.reading": "songs are found without the reader of songs, unless one has changed",
    "arranger.staging": "who makes parts does not wait until all that makes stage copies is loaded",
    "uharfbuzz": "38 ms, and only text in scripts whose letters join needs it",
}


def load(module: str) -> ModuleType:
    """Return a module of the table, or of a room in it, loaded now if it was not before.

    Raises:
        KeyError: it is not in the table.
        ImportError: it is not installed.
    """
    if module not in LATE and module.rpartition(".")[0] not in LATE:
        raise KeyError(module)
    return import_module(module)
