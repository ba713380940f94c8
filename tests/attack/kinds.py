"""The kinds of inputs that come as texts: songs through each command, sheets, settings. Each is made by chance."""

from __future__ import annotations

import json
import os
import random
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from arranger.player import Player, read_player, written
from arranger.song.read import decode, read
from arranger.song.tidy import tidied
from arranger.text.source import Source
from tests import fuzz
from tests.attack.case import ERROR, Case, Entry
from tests.attack.run import ROOT, Ended
from tests.attack.songs import ODD, Typist, Wild, damaged

# What stands around every input, and must stay as it is.
KEPT: dict[str, Entry] = {
    "home": None,
    "mine/keep.song.txt": b"song Keep\nkey D\nsection A\n| D | G |\n",
    "mine/player.toml": b'[hand]\nspan = "ninth"\n',
    "mine/notes.pdf": b"%PDF-1.4\n% my own notes\n%%EOF\n",
    "mine/notes.txt": b"Call Nell.\n",
    "mine/folder": None,
}
LARGE = 0.0005  # of songs are large
FILE_NAMES = [
    "low tide", "a.b", ".hidden", "-x", "--key", "50 %", "{}", "%s", "quo'te", 'quo"te', "a\nb", "tab\there", "é",
    "песня",
    "\x1b[31mred", "\u202eside", os.fsdecode(b"low\xfftide"), "🎹", "a&b", "x" * 180, " lead", "trail ", "C:\\x",
    "NUL", "#",
]  # fmt: skip
PDF_OPTIONS = (
    ("--key", "E"), ("--key", "Bb"), ("--key", "F#m"), ("--easy",), ("--without", "suspensions"),
    ("--without", "octaves"),
    ("--suspensions", "1/3"), ("--octaves", "every"), ("--date", "29 November"), ("--paper", "letter"),
)  # fmt: skip
PART_OPTIONS = (*PDF_OPTIONS, ("--hands", "staff"), ("--hands", "staff"), ("--hands", "letters"))
STAGE_OPTIONS = (
    *PDF_OPTIONS, ("--distance", "2m"), ("--distance", "0.3m"), ("--pages", "1"), ("--pages", "2"), ("--words", "all"),
    ("--words", "none"), ("--dark",), ("--paper", "a5"), ("--paper", "tablet"), ("--paper", "a4-pair"),
    ("--margin", "6mm"),
)  # fmt: skip
STUDY_OPTIONS = (
    *PDF_OPTIONS, ("--minutes", "3"), ("--minutes", "60"), ("--pages", "2"), ("--pages", "2"),
    ("--skip-broken",),
)  # fmt: skip


@cache
def songs() -> tuple[bytes, ...]:
    """Return the songs that are damaged."""
    return tuple(text.encode() for text in fuzz.material())


@cache
def sheets() -> tuple[bytes, ...]:
    """Return the sheets that are damaged."""
    paths = sorted((ROOT / "tests/convert/sheets").glob("*.txt"))
    return tuple(path.read_bytes() for path in paths if not path.name.endswith(".song.txt"))


def song(chance: random.Random) -> bytes:
    """Return a song: right and wild, by the rules with slips, or a whole one that was damaged; seldom a large one."""
    roll = chance.random()
    if roll < LARGE:
        return Wild(chance).large().encode()
    if roll < 0.4:
        return Wild(chance, chance.choice([0.0, 0.0, 0.0, 0.1])).song().encode("utf-8", "surrogatepass")
    if roll < 0.55:
        return fuzz.Maker(chance, chance.choice((0.0, 0.02, 0.08))).song().encode()
    if roll < 0.8:
        return fuzz.Maker(chance, 0.08).damaged(chance.choice(songs()).decode())
    return damaged(chance, chance.choice(songs()), chance.choice(songs()))


def file_name(chance: random.Random) -> str:
    """Return the name of a song's file without its ending."""
    return chance.choice(FILE_NAMES) if chance.random() < 0.25 else "a"


def options(chance: random.Random, choices: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    """Return some of the options of a command."""
    some = chance.sample(choices, min(chance.choice([0, 0, 0, 1, 1, 2, 4]), len(choices)))
    return tuple(word for words in {words[0]: words for words in some}.values() for word in words)


def of_a_song(ended: Ended) -> Iterator[str]:
    """Say where status and messages do not agree."""
    if (ended.status == 1) != bool(ERROR.search(ended.err)):
        yield f"status {ended.status} and {'an' if ended.status != 1 else 'no'} error told: {ended.err[:200]!r}"


def is_pdf(data: bytes) -> bool:
    """Return whether bytes begin and end as a PDF does."""
    return data.startswith(b"%PDF-") and data.rstrip().endswith(b"%%EOF")


def part(chance: random.Random) -> Case:
    """A song and its part, beside it or in a folder."""
    return _made(chance, "part", ".pdf", PART_OPTIONS)


def stage(chance: random.Random) -> Case:
    """A song and a copy to play from."""
    return _made(chance, "stage", ".stage.pdf", STAGE_OPTIONS)


def study(chance: random.Random) -> Case:
    """A song and studies from it."""
    return _made(chance, "study", ".study.pdf", STUDY_OPTIONS)


def _made(chance: random.Random, command: str, ending: str, choices: tuple[tuple[str, ...], ...]) -> Case:
    path = f"songs/{file_name(chance)}.song.txt"
    folder = chance.choice(["", "out/"])

    def after(root: Path, ended: Ended) -> Iterator[str]:
        yield from of_a_song(ended) if ended.status != 2 else ()
        found = list((root / (folder or "songs")).glob("*.pdf"))
        if len(found) != (ended.status == 0):
            yield f"status {ended.status} and {len(found)} PDFs"
        yield from (f"{p.name!r} is no whole PDF" for p in found if not is_pdf(p.read_bytes()))

    where = ("-o", folder) if folder else ()
    words = (command, path, *where, *options(chance, choices))
    makes = ("out", "out/*.pdf") if folder else ("songs/*.pdf",)
    return Case(words, {**KEPT, path: song(chance)}, makes, after=after)


def tidy(chance: random.Random) -> Case:
    """A song laid out anew: the same song in the same words, and nothing left to lay out."""
    path = f"songs/{file_name(chance)}.song.txt"
    data = song(chance)

    def after(root: Path, ended: Ended) -> Iterator[str]:
        yield from of_a_song(ended)
        now = (root / path).read_bytes()
        if ended.status:
            if now != data:
                yield "a song with errors was changed"
            return
        source, was = decode("a", now)[0], decode("a", data)[0]
        if read(source)[0] != read(was)[0]:
            yield "it is another song now"
        if tidied(source) != source.text:
            yield "it is not tidy yet"
        if _letters(source.text) != _letters(was.text):
            yield "words or remarks are not to the letter"

    return Case(("tidy", path), {**KEPT, path: data}, changes=(path,), after=after)


def _letters(text: str) -> list[str]:
    """Return the words and remarks of a song without their blanks and barlines."""
    lines = [line.split(None, 1) for line in text.split("\n") if line.strip()]
    found = [(words[0].casefold(), words[1] if len(words) > 1 else "") for words in lines]
    return [
        "".join(rest.replace("|", "").split())
        for word, rest in found
        if word in ("sing", "pickup", "song", "words", "rights", "music") or word.startswith("#")
    ]


def fix(chance: random.Random) -> Case:
    """A song whose mistakes are mended; what it was is kept."""
    path = f"songs/{file_name(chance)}.song.txt"
    data = song(chance)

    def after(root: Path, ended: Ended) -> Iterator[str]:
        if "--json" in words:
            json.loads(ended.out)
        else:
            yield from of_a_song(ended)
        kept = root / f"{path}.before"
        if kept.exists() != ((root / path).read_bytes() != data):
            yield "a song was changed and not kept" if not kept.exists() else "a copy was kept of what has not changed"
        elif kept.exists() and kept.read_bytes() != data:
            yield "what was kept is not the file as it was"

    words = ("check", path, "--fix", *(("--json",) if chance.random() < 0.2 else ()))
    return Case(words, {**KEPT, path: data}, ("songs/*.before",), (path,), after=after)


def show(chance: random.Random) -> Case:
    """A song shown as a table, as JSON, with reasons, fills, the hardest changes."""
    path = f"songs/{file_name(chance)}.song.txt"
    views: tuple[tuple[str, ...], ...] = (
        (), (), ("--json",), ("--json",), ("--why",), ("--why", "1"), ("--why", "Verse 1:2"), ("--hardest", "5"),
        ("--fills",),
        ("--fills", "2"), ("--why", chance.choice(ODD)),
    )  # fmt: skip
    view = tuple(word.replace("\0", "0").encode("utf-8", "replace").decode() for word in chance.choice(views))
    choices = PDF_OPTIONS[:-2]

    def after(root: Path, ended: Ended) -> Iterator[str]:
        if ended.status != 2:
            yield from of_a_song(ended)
        if (ended.status == 0) != bool(ended.out) and view[:1] in ((), ("--json",)):
            yield f"status {ended.status} and {len(ended.out)} characters of output"
        if view == ("--json",) and not ended.status:
            json.loads(ended.out)

    return Case(("show", path, *view, *options(chance, choices)), {**KEPT, path: song(chance)}, after=after)


def sheet(chance: random.Random) -> Case:
    """A typed sheet made a song, which must be one."""
    name = file_name(chance)
    path = f"sheets/{name}{chance.choice(['.txt', '.txt', '', '.text'])}"
    roll = chance.random()
    if roll < 0.4:
        data = Typist(chance, chance.choice([0.0, 0.1])).sheet().encode("utf-8", "surrogatepass")
    elif roll < 0.9:
        data = damaged(chance, chance.choice(sheets()), chance.choice(sheets()))
    else:
        data = damaged(chance, chance.choice(sheets()), chance.choice(songs()))
    there = chance.random() < 0.05
    extra = options(chance, (("--key", "D"), ("--meter", "3/4"), ("--bars", "two-a-chord")))
    extra += ("--part",) if chance.random() < 0.1 else ()
    files: dict[str, Entry] = {**KEPT, path: data}
    if there:
        files["out/a.song.txt"] = b"song Mine\nkey D\nsection A\n| D |\n"

    def after(root: Path, ended: Ended) -> Iterator[str]:
        made = sorted((root / "out").glob("*.song.txt")) if (root / "out").is_dir() else []
        if not there and len(made) != (ended.status == 0) and "--part" not in extra:
            yield f"status {ended.status} and {len(made)} songs"
        for one in () if there else made:
            source, problems = decode("a", one.read_bytes())
            problems = problems or read(source)[1]
            yield from (f"the song is none: {p.code}: {p.message}" for p in problems if p.severity == "error")

    makes = ("out", "out/*.song.txt", "out/*.pdf")
    return Case(("convert", path, "-o", "out/", *extra), files, makes, after=after)


# Settings.

VALUES = (
    '"octave"', '"a4"', '"F3"', '"C9"', '"C4"', '"1/6"', '"70 cm"', "3", "4", "0", "-1", "true", "false", "0.5",
    "1e400", "nan",
    "-inf", "1e-99999999", '"1e-99999999"', "9" * 5000, '"' + "9" * 5000 + '"', '["octave"]', "[]", "[[]]", "{}",
    "{a = 1}",
    "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", '""', '"\\u0000"', '"\\u001b[2J"', "'''\n\n'''", '"~nouser/x"',
    '"' + "x" * 300 + '"', '["a", 1]', '["a", "b", "c", "d"]', "[" * 3000, "{a=" * 1500, '"\\u202e"', '"é"', "0x10",
    "0o7",
    '["../mine/notes.txt"]', '["mine"]', '"/0"', '"1/0"', '"0.7 m"', '"7 m"', "'a\"b'", '"a\\\\b"', '"٣"', '"３"',
    '"c4"', "1_000",
)  # fmt: skip
SETTINGS = {
    "hand": ("lowest", "highest", "span", "notes", "register", "thumb"),
    "part": ("suspensions", "octaves"),
    "keyboard": ("transpose", "split", "patches", "patches.piano", '"patches"."a\\"b"', "patches.'\\'"),
    "page": ("paper", "distance", "fonts"),
    "stage": ("paper", "words", "dark"),
    "keyboard.patches": ("piano", '"piano + pad"', '"\\u001b[31m"', "'a\"b'", '""', '"ſ"', '"İ"', "a.b"),
    "other": ("x",),
    "[page]": ("paper",),
}


def toml(chance: random.Random) -> bytes:
    """Return settings: of all values in all places, or a file of settings that was damaged."""
    if chance.random() < 0.4:
        return damaged(chance, written(Player()).encode(), chance.choice(songs()))
    lines = []
    for table in chance.sample(sorted(SETTINGS), chance.randint(1, 4)):
        lines += [f"[{table}]"] if chance.random() < 0.95 else []
        for key in chance.sample(SETTINGS[table], min(len(SETTINGS[table]), chance.randint(1, 3))):
            lines.append(f"{key} = {chance.choice(VALUES)}")
    return "\n".join([*lines, ""]).encode()


def settings(chance: random.Random) -> Case:
    """A player's settings, shown, begun, or used for a song."""
    where, named = chance.choice([("mine/other.toml", True), ("home/.config/keys-arranger/player.toml", False)])
    words = chance.choice([
        ("player",), ("player",), ("player",), ("check", "mine/keep.song.txt"),
        ("part", "mine/keep.song.txt", "-o", "out/"),
        ("stage", "mine/keep.song.txt", "-o", "out/"), ("show", "mine/keep.song.txt"), ("player", "--write"),
    ])  # fmt: skip
    words += ("--player", where) if named else ()
    data = toml(chance)
    makes = ["out", "out/*.pdf"]
    if named and "--write" in words:
        makes += ["home/.config", "home/.config/keys-arranger", "home/.config/keys-arranger/player.toml"]

    def after(root: Path, ended: Ended) -> Iterator[str]:
        if words[0] != "player" or ended.status or "--write" in words:
            return
        tomllib.loads(ended.out)
        was, now = (read_player(Source.of("a", text))[0] for text in (decode("a", data)[0].text, ended.out))
        if was != now:
            yield "the settings that it prints read back as others"

    return Case(words, {**KEPT, where: data}, tuple(makes), after=after)
