"""The kinds of inputs that are running orders, as a book and as studies, and scores. Each is made by chance."""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from arranger.song.read import decode, read
from tests.attack.case import Case, Entry
from tests.attack.kinds import KEPT, STAGE_OPTIONS, STUDY_OPTIONS, is_pdf, options, song
from tests.attack.run import ROOT, Ended
from tests.attack.songs import ODD, damaged, flipped
from tests.attack.surroundings import SONG

FILES = ("a.song.txt", "b.song.txt", "low/c.song.txt")
BOOK_OPTIONS = (("--facing",), ("--paper", "letter"), ("--easy",), ("--without", "octaves"), ("--hands", "letters"))
FACTS = (
    "key E", "key Bb", "key H", "key Am", "tempo 96", "tempo free", "tempo 0", "tempo fast", "capo 2", "capo 2 in G",
    "capo 99", "roadmap Verse", "roadmap Verse x2", "roadmap Nothing", "band bass", "band all: guitar",
    "sound piano + pad", "sound", "texture bare", "texture loud", "then attacca", "then pad", "then talk 30 s",
    "then talk", "then stop", "then talk 9999999 s", "then chords Em A7", "then chords A7", "then chords D G A",
    "then dance", "break soup", "break", "date 29 November", "place the loft", "song a.song.txt",
    "song ../mine/keep.song.txt", "song none.song.txt", "song .", "song", "# later", "set Twice",
)  # fmt: skip


@cache
def order() -> bytes:
    """Return the running order that is damaged, with the songs that are there in the place of its own."""
    lines = (ROOT / "samples" / "harvest supper.set.txt").read_text(encoding="utf-8").splitlines()
    names = iter(FILES * len(lines))
    return "\n".join(f"song {next(names)}" if line.startswith("song ") else line for line in lines).encode()


@cache
def scores() -> tuple[tuple[str, bytes], ...]:
    """Return the scores that are damaged, with the endings of their names."""
    paths = sorted((ROOT / "tests/convert/scores").iterdir())
    return tuple((path.suffix, path.read_bytes()) for path in paths if path.suffix in (".musicxml", ".xml", ".mxl"))


def running_order(chance: random.Random) -> bytes:
    """Return a running order: facts in any order under songs that are there, or a whole one that was damaged."""
    if chance.random() < 0.3:
        return damaged(chance, order(), chance.choice((order(), *(data for _, data in scores()[:3]))))
    lines = ["set Supper"]
    for _ in range(chance.choice([1, 2, 2, 3, 6])):
        lines.append(f"song {chance.choice(FILES)}")
        lines += chance.sample(FACTS[:31], chance.choice([0, 0, 1, 2]))
    if chance.random() < 0.3:
        lines.insert(chance.randrange(len(lines) + 1), chance.choice((*FACTS, chance.choice(ODD))))
    return "\n".join([*lines, ""]).encode("utf-8", "surrogatepass")


def evening(chance: random.Random) -> Case:
    """A running order with its songs, as the book of an evening or as studies."""
    files: dict[str, Entry] = {**KEPT, "songs/x.set.txt": running_order(chance)}
    for name, key in zip(FILES, ("D", "F#m", "Eb"), strict=True):
        files[f"songs/{name}"] = SONG.format(key, "sand").encode()
    if chance.random() < 0.2:
        files["songs/b.song.txt"] = song(chance)
    command, choices = chance.choice([("evening", BOOK_OPTIONS), ("evening", BOOK_OPTIONS), ("study", STUDY_OPTIONS)])
    words: tuple[str, ...] = (command, "songs/x.set.txt", "-o", "out/")
    if command == "evening" and chance.random() < 0.3:
        words += ("--stage", *options(chance, tuple(one for one in STAGE_OPTIONS if one[0] not in ("--key", "--date"))))
    else:
        words += options(chance, choices)

    def after(root: Path, ended: Ended) -> Iterator[str]:
        found = list((root / "out").glob("*.pdf"))
        made_all = len(found) == (ended.status == 0)
        if not made_all and not (len(found) == 1 and "--skip-broken" in words):  # then the others are made
            yield f"status {ended.status} and {len(found)} PDFs"
        yield from (f"{path.name!r} is no whole PDF" for path in found if not is_pdf(path.read_bytes()))

    return Case(words, files, ("out", "out/*.pdf"), after=after)


def score(chance: random.Random) -> Case:
    """A score made a song, which must be one."""
    ending, data = chance.choice(scores())
    roll = chance.random()
    if ending == ".mxl" or roll < 0.3:
        data = flipped(chance, data, chance.choice([1, 4, 50]))
    elif roll < 0.9:
        data = damaged(chance, data, chance.choice(scores())[1])
    path = f"sheets/a{ending if chance.random() < 0.9 else chance.choice(['.xml', '.mxl', '.musicxml'])}"

    def after(root: Path, ended: Ended) -> Iterator[str]:
        made = sorted((root / "out").glob("*.song.txt")) if (root / "out").is_dir() else []
        if len(made) != (ended.status == 0):
            yield f"status {ended.status} and {len(made)} songs"
        for one in made:
            source, problems = decode("a", one.read_bytes())
            problems = problems or read(source)[1]
            yield from (f"the song is none: {p.code}: {p.message}" for p in problems if p.severity == "error")

    extra = options(chance, (("--key", "D"), ("--meter", "3/4")))
    return Case(("convert", path, "-o", "out/", *extra), {**KEPT, path: data}, ("out", "out/*.song.txt"), after=after)
