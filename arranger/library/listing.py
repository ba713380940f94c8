"""The index of a library as data: CSV for spreadsheets, JSON for programs. Takes entries in order; gives bytes."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence

from arranger.library.catalogue import Entry, to_data

HEADS = ("title", "key", "tempo", "meter", "first words", "song", "part", "errors")
BYTE_ORDER_MARK = "\ufeff"  # without it the commonest spreadsheet takes UTF-8 for something else
# What a spreadsheet takes for the beginning of a formula, which might do anything (OWASP, CSV injection).
FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


def to_csv(entries: Sequence[Entry]) -> bytes:
    """Return a table of RFC 4180 in UTF-8.

    A text that a spreadsheet would run has an apostrophe before it. A meter is `6/8 time`: `6/8` alone would become a
    day in August.
    """
    text = io.StringIO(newline="")
    table = csv.writer(text)  # its own habits are those of RFC 4180
    table.writerow(HEADS)
    for entry in entries:
        meter = f"{entry.meter} time"
        facts = (entry.title, entry.key, entry.tempo, meter, entry.first_words, entry.file, entry.output)
        table.writerow((*map(_harmless, facts), entry.errors))
    return (BYTE_ORDER_MARK + text.getvalue()).encode("utf-8")


def _harmless(text: str) -> str:
    return f"'{text}" if text.startswith(FORMULA) else text


def to_json(entries: Sequence[Entry]) -> bytes:
    """Return the entries as JSON (RFC 8259), to the letter."""
    return (json.dumps({"songs": [to_data(entry) for entry in entries]}, ensure_ascii=False, indent=1) + "\n").encode()
