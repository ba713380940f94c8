"""Makes arranger/song/tables.py: the parsers of the two grammars of the notation, as lark builds them.

    python -m tests.song.tables

Building them takes ten times as long as loading them, which the first song of each process would pay. A test holds
that the file is what this makes, and the program builds its parsers itself wherever the file is not of its own lark
and its own grammars.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from lark import Lark
from lark.grammar import Rule
from lark.lexer import TerminalDef

from arranger.song.grammar import STARTS, identity

FILE = Path(__file__).parents[2] / "arranger" / "song" / "tables.py"

HEAD = '''
"""The parsers of the two grammars, as lark builds them. Made by `python -m tests.song.tables`, not to be edited."""

# fmt: off
# ruff: noqa: E501
from typing import Any

# The name of a grammar -> what its parser was made of, lark's tables, and what they refer to by number.
TABLES: dict[str, tuple[tuple[str, int], dict[str, Any], dict[int, Any]]] = {
'''


def numbered(tables: dict[str, Any]) -> dict[str, Any]:
    """Number tokens and states in an order of their own: lark's is another each time, that of the places in memory."""
    names = sorted(tables["tokens"].values())
    token = {old: names.index(name) for old, name in tables["tokens"].items()}
    rows = {state: sorted((token[t], action) for t, action in row.items()) for state, row in tables["states"].items()}
    order = list(tables["start_states"].values())
    for state in order:  # grows while it is gone through
        targets = [target for _, (reduces, target) in rows[state] if not reduces]
        order += dict.fromkeys(target for target in targets if target not in order)
    order += [state for state in tables["end_states"].values() if state not in order]
    assert len(order) == len(rows)
    number = {state: place for place, state in enumerate(order)}
    return {
        "tokens": dict(enumerate(names)),
        "states": {
            number[state]: {t: (kind, target if kind else number[target]) for t, (kind, target) in rows[state]}
            for state in order
        },
        "start_states": {start: number[state] for start, state in tables["start_states"].items()},
        "end_states": {start: number[state] for start, state in sorted(tables["end_states"].items())},
    }


def text() -> str:
    """Make the file's text."""
    parts = [HEAD.lstrip()]
    for name, starts in STARTS.items():
        made_of, grammar = identity(name)
        data, memo = Lark(grammar, parser="lalr", start=list(starts)).memo_serialize([TerminalDef, Rule])
        data["parser"]["parser"] = numbered(data["parser"]["parser"])
        parts.append(f"    {name!r}: (\n        {made_of!r},\n        {data!r},\n        {memo!r},\n    ),\n")
    return "".join([*parts, "}\n"])


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8", newline="\n")
