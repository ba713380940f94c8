"""Makes the grammar for editors, grammar/song.tmLanguage.json, of the terminals of the two grammars of the notation.

    python -m tests.song.textmate

A test holds that the file is what this makes: a word or a spelling that the notation gains cannot be forgotten there.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from lark import Lark

from arranger.song.cells import MANNERS
from arranger.song.drones import DRONE_WORDS
from arranger.song.grammar import parser
from arranger.song.players import ALL, ALONE
from arranger.song.song_lines import NOTE_ROWS, SHARED_WORDS, SONG_WORDS, WORDS
from arranger.song.texture_words import TEXTURES

FILE = Path(__file__).parents[2] / "grammar" / "song.tmLanguage.json"

SONG, CHORD = parser("song.lark"), parser("chord.lark")


def terminal(lark: Lark, name: str) -> str:
    """Give a terminal of a grammar as a regular expression."""
    return lark.get_terminal(name).pattern.to_regexp()


def one_of(*patterns: str) -> str:
    return f"(?:{'|'.join(patterns)})"


def chord() -> str:
    """Make the pattern of a chord mark: what chord.lark allows, its order of words told loosely."""
    kinds = ("MINOR_MAJOR", "AUG_MAJOR", "MAJOR", "DELTA", "MINOR", "HALF_DIM", "DIM", "AUG")
    items = ("ALTERED", "NUMBER", "TAIL", "ALTER", "SUS", "ADD", "NO")
    kind = one_of(*(terminal(CHORD, name) for name in kinds))
    item = one_of(*(terminal(CHORD, name) for name in items))
    inner = rf"\((?:{one_of(kind, item)}[, ]*)+\)"
    body = f"{terminal(CHORD, 'ROOT')}{kind}?(?:{item}|{inner})*(?:{terminal(CHORD, 'BASS')})?"
    # The printed signs are taken for the plain ones before a chord is parsed; an editor sees them as they are.
    body = body.replace("##?|bb?", "[#♯]{1,2}|[b♭]{1,2}").replace("Δ", "[Δ∆△]").replace("°", "[°º]")
    push, pins = terminal(SONG, "PUSH"), terminal(SONG, "PINS")
    return rf"(?<![^\s|:.])(?:{push})?(?:{body}|\({body}\))(?:{pins})?(?=[\s|]|:\||$)"


def barline() -> str:
    """Make the pattern of a barline with all that may stand right after it."""
    times, plain, ending = (terminal(SONG, name) for name in ("TIMES", "PLAIN_BAR", "ENDING"))
    return rf"{terminal(SONG, 'BARLINE')}(?:[ \t]*{times}(?:[ \t]*{plain})?)?(?:[ \t]*{ending})?"


def words(found: tuple[str, ...]) -> str:
    return one_of(*sorted(found, key=lambda word: (-len(word), word)))


def scope(name: str) -> str:
    return f"{name}.song"


def rule(name: str, match: str, **more: Any) -> dict[str, Any]:
    return {"name": scope(name), "match": match, **more}


def line(found: tuple[str, ...], *inside: str) -> dict[str, Any]:
    """Make the rule of lines that begin with one of some words; what follows the word has the given rules."""
    return {
        "begin": rf"(?i)^\s*({words(found)})(?=[\s|]|$)",
        "end": "$",
        "beginCaptures": {"1": {"name": scope("keyword.other")}},
        "patterns": [{"include": f"#{name}"} for name in inside],
    }


def grammar() -> dict[str, Any]:
    """Make the whole grammar."""
    facts = tuple(
        word
        for word in (*SONG_WORDS, *SHARED_WORDS, "tacet", "pickup", "drone", "cue")
        if word not in ("song", "roadmap")
    )
    note = rf"(?<![\w#]){terminal(SONG, 'NOTE')}[0-9]?(?![\w#])"
    return {
        "name": "Song",
        "scopeName": "text.song",
        "fileTypes": ["song.txt"],
        "patterns": [
            {"include": f"#{name}"}
            for name in ("remark", "row", "sing", "notes", "section", "title", "roadmap", "like", "fact")
        ],
        "repository": {
            "remark": rule("comment.line.number-sign", r"^\s*#.*$"),
            "row": {
                "begin": r"^\s*(?=:?\|)",
                "end": "$",
                "patterns": [{"include": f"#{name}"} for name in ("barline", "meter", "chord", "manner", "sign")],
            },
            "sing": line(("sing",), "escape", "bar", "mark", "sung"),
            "notes": line(NOTE_ROWS, "bar", "note", "rest", "slash"),
            "section": {
                "match": r"(?i)^\s*(section)\s+(.*)$",
                "captures": {"1": {"name": scope("keyword.control")}, "2": {"name": scope("entity.name.section")}},
            },
            "title": {
                "match": r"(?i)^\s*(song)\s+(.*)$",
                "captures": {"1": {"name": scope("keyword.other")}, "2": {"name": scope("markup.heading")}},
            },
            "roadmap": line(("roadmap",), "parenthesis", "times", "bars", "until", "comma"),
            "like": {
                "match": r"(?i)^\s*(like)\s+(.*?)(?:\s+(without\s+words))?\s*$",
                "captures": {
                    "1": {"name": scope("keyword.other")},
                    "2": {"name": scope("entity.name.section")},
                    "3": {"name": scope("constant.language")},
                },
            },
            "fact": line(facts, "value"),
            "barline": rule("keyword.operator.bar", barline()),
            "bar": rule("keyword.operator.bar", terminal(SONG, "BAR")),
            "meter": rule("constant.numeric.meter", r"(?i:\bshort\s+)?(?<![\w#])[0-9]+/[0-9]+(?=\s)"),
            "chord": rule("constant.other.chord", chord()),
            "manner": rule("storage.modifier.manner", rf"(?<=\s)(?i:{words(MANNERS)})(?=[\s|]|$)"),
            "sign": rule("support.constant.sign", r"(?<=[\s|:.])(?i:/|%|rest|n\.c\.?|nc)(?=[\s|:]|$)"),
            "escape": rule("constant.character.escape", r"\\[|*\-_\\]"),
            "mark": rule("keyword.operator.chord-place", rf"\*|_|{terminal(SONG, 'JOIN_ALONE')}"),
            "sung": rule("string.unquoted.sung", terminal(SONG, "WORDS").replace("[^|*", "[^|*_")),
            "note": rule("constant.other.note", note),
            "rest": rule("support.constant.sign", r"(?i)\brest\b"),
            "slash": rule("support.constant.sign", r"(?<=\s)/(?=\s)"),
            "parenthesis": rule("comment.block.remark", terminal(SONG, "REMARK")),
            "times": rule("constant.numeric.times", r"[xX×]\s*[0-9]+(?=\s*(?:,|\(|$))"),
            "bars": rule("constant.numeric.bars", r"(?i)\bbars?\s+[0-9]+(?:\s*-\s*[0-9]+)?"),
            "until": rule("keyword.control.until", r"(?i)\suntil\s"),
            "comma": rule("punctuation.separator", ","),
            "value": {
                "patterns": [
                    rule("constant.numeric", r"(?<![\w/])[0-9]+(?:/[0-9]+)?(?![\w/])"),
                    rule("constant.language", rf"(?<![\w-])(?:{value_words()})(?![\w-])"),
                ]
            },
        },
    }


def value_words() -> str:
    """Gather the words of facts that have but these values."""
    terminals = (terminal(SONG, name) for name in ("LEVEL", "CHANGE", "FEEL", "SWITCH", "FREE", "UNIT", "GRADUAL"))
    return "|".join((*terminals, f"(?i:{'|'.join((*TEXTURES, *DRONE_WORDS, ALONE, ALL))})"))


def text() -> str:
    """Give the file's text."""
    return json.dumps(grammar(), ensure_ascii=False, indent=2) + "\n"


def first_words(made: dict[str, Any]) -> set[str]:
    """List the words that begin a line in the grammar for editors."""
    starts = [rule.get("begin") or rule.get("match", "") for rule in made["repository"].values()]
    found = set()
    for start in starts:
        head = re.match(r"\(\?i\)\^\\s\*\((?:\?:)?\(?(?:\?:)?([a-z|]+)\)", start)
        found |= set(head[1].split("|")) if head else set()
    return found & WORDS


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8", newline="\n")
