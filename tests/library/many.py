"""A library of any size: the samples in other keys, with other words. Number n is always the same song."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from arranger.theory.key import Key, Transposition, tonic_and_mode
from arranger.theory.pitch import NoteName, Pitch

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
MAJOR = tuple(Key.parse(text) for text in ("C", "G", "D", "A", "E", "B", "F", "Bb", "Eb", "Ab", "Db", "Gb"))
MINOR = tuple(key.relative for key in MAJOR)
A_FOLDER = 100  # songs

_NOTE = re.compile(r"(?<![A-Za-z0-9#.])([A-G](?:##?|bb?)?)(\d?)")
_WORD = re.compile(r"(?<![\w*-])[a-z]{3,}(?![\w*])")


def song(number: int) -> tuple[str, str]:
    """Give the name, under the library's folder, and the text of a song."""
    path = SAMPLES[number % len(SAMPLES)]
    text = path.read_text(encoding="utf-8")
    home = Key.parse(re.search(r"(?m)^key +(\S+)", text)[1])
    keys = MINOR if home.minor else MAJOR
    whole = by = Transposition(home, keys[number // len(SAMPLES) % len(keys)])
    lines = []
    for line in text.splitlines():
        word, _, rest = line.partition(" ")
        if word == "section":
            by = whole
        elif word == "key":  # also of a section, to its end
            key = Key.parse(rest.strip())
            by = Transposition(key, whole.key(key))
        lines.append(_line(line, by, number))
    return f"{number // A_FOLDER:03}/{path.name.removesuffix('.song.txt')} {number}.song.txt", "\n".join([*lines, ""])


def _line(line: str, by: Transposition, number: int) -> str:
    word, _, rest = line.partition(" ")
    match word:
        case "song":
            return f"{line} {number}"
        case "key":
            return f"key {by.target}"
        case "capo":
            fret, shape = rest.strip().split(" in ")
            tonic, minor = tonic_and_mode(shape)
            return f"capo {fret} in {by.key(Key(tonic, bool(minor)))}"
        case "sing" | "pickup":
            return f"{word} {reworded(rest, number)}"
        case "hook" | "tune" | "octave":
            return f"{word} {_moved(rest, by)}"
    return _moved(line, by) if word.startswith("|") else line


def _moved(row: str, by: Transposition) -> str:
    def moved(match: re.Match[str]) -> str:
        name = by.name(NoteName.parse(match[1]))
        if not match[2] or row.startswith("|"):
            return f"{name}{match[2]}"
        return str(Pitch.at(Pitch.parse(match[0]).midi + by.semitones, name))

    return _NOTE.sub(moved, row)


def reworded(sung: str, number: int) -> str:
    """Put other words of the same length, from the same songs, in the place of those that are sung."""
    place = number

    def other(match: re.Match[str]) -> str:
        nonlocal place
        place += 7
        words = _words()[len(match[0])]
        return words[place % len(words)]

    return _WORD.sub(other, sung)


@cache
def _words() -> dict[int, list[str]]:
    """Give the words that are sung in the samples, by their length."""
    text = "\n".join(path.read_text(encoding="utf-8") for path in SAMPLES)
    sung = "\n".join(re.findall(r"(?m)^(?:sing|pickup) .*", text))
    words = sorted(set(_WORD.findall(sung)) - {"sing", "pickup"})
    return {length: [word for word in words if len(word) == length] for length in set(map(len, words))}


def write(folder: Path, count: int) -> Iterator[Path]:
    """Write the first songs into a folder; give their paths."""
    for number in range(count):
        name, text = song(number)
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
        yield path
