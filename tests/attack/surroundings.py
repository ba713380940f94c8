"""The kinds of inputs that are not texts of songs: fonts, logs, databases, environments, command lines."""

from __future__ import annotations

import contextlib
import io
import os
import random
import struct
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from arranger.cli import main
from arranger.library.ledger import FOLDER
from tests.attack.case import LINK, PIPE, STATUSES, Case, Entry
from tests.attack.kinds import KEPT, is_pdf
from tests.attack.run import FILE, ROOT, Ended, Setting
from tests.attack.songs import damaged, flipped

GREEK, GEORGIAN = 0x0370, 0x10A0  # where the blocks of these letters begin
SONG = (
    "song Low Tide\nkey {}\ntempo 72\n\nsection Verse\n| D | G | A | D |\nsing | {} and | shells and | ropes | rain |\n"
)
PLAIN = SONG.format("D", "sand").encode()


# Fonts.


@cache
def fonts() -> tuple[bytes, ...]:
    """Return fonts: one whose letters the program's own lack (Greek ones that are said to be Georgian), and another."""
    font = bytearray((ROOT / "fonts" / "part-greek.ttf").read_bytes())
    (table,) = (offset for tag, offset, _ in tables(font) if tag == b"cmap")
    count = struct.unpack_from(">H", font, table + 2)[0]
    for at in {table + struct.unpack_from(">L", font, table + 8 + 8 * number)[0] for number in range(count)}:
        if struct.unpack_from(">H", font, at)[0] != 4:
            continue
        size = struct.unpack_from(">H", font, at + 6)[0]  # twice the number of segments
        for place in range(0, size - 2, 2):
            for start, by in ((at + 14, 1), (at + 16 + size, 1), (at + 16 + 2 * size, -1)):  # ends, starts, deltas
                value = struct.unpack_from(">H", font, start + place)[0]
                struct.pack_into(">H", font, start + place, (value + by * (GEORGIAN - GREEK)) & 0xFFFF)
    return bytes(font), (ROOT / "fonts" / "part-music.ttf").read_bytes()


def tables(font: bytes | bytearray) -> Iterator[tuple[bytes, int, int]]:
    """Return the tables of a font: tag, offset, length."""
    for number in range(struct.unpack_from(">H", font, 4)[0]):
        tag, _, offset, length = struct.unpack_from(">4sLLL", font, 12 + 16 * number)
        yield tag, offset, length


def font_damaged(chance: random.Random) -> bytes:
    """Return a font that is broken somewhere."""
    whole = fonts()[chance.random() < 0.1]
    font = bytearray(whole)
    found = list(tables(font))
    match chance.randrange(8):
        case 0:
            return bytes(font[: chance.randrange(len(font))])
        case 1:  # the directory
            at = 12 + 16 * chance.randrange(len(found)) + chance.choice([0, 8, 12])
            struct.pack_into(
                ">L", font, at, chance.choice([0, 1, len(font), 0xFFFFFFFF, 0x7FFFFFFF, chance.randrange(1 << 16)])
            )
        case 2 | 3:  # numbers in the heads of tables
            for _ in range(chance.choice([1, 1, 3, 8])):
                _, offset, length = chance.choice(found)
                at = offset + 2 * chance.randrange(max(1, min(length, 64) // 2))
                struct.pack_into(
                    ">H", font, at, chance.choice([0, 1, 0xFFFF, 0x7FFF, 0x8000, chance.randrange(1 << 16)])
                )
        case 4:  # a glyph that is made of others, and of itself
            offset = next(offset for tag, offset, _ in found if tag == b"glyf")
            for at in range(offset, offset + 4000, 4 if chance.random() < 0.5 else 40):
                struct.pack_into(">h", font, at, -1)
                struct.pack_into(">HH", font, at + 10, 0x20 if chance.random() < 0.9 else 0, chance.randrange(40))
        case _:  # bytes of one table
            _, offset, length = chance.choice(found)
            table = flipped(chance, bytes(font[offset : offset + length]), chance.choice([1, 4, 50, 2000]))
            font[offset : offset + length] = table
    return bytes(font)


def font(chance: random.Random) -> Case:
    """A font of the player's that is broken, or no font at all."""
    name = "fonts/x.ttf"
    other: Entry = chance.choice([b"", b"\0\1\0\0", PLAIN, b"OTTO" + fonts()[0][4:], None, (LINK, "x.ttf"), (PIPE, "")])
    others = [(LINK, "/dev/zero"), (LINK, "/dev/null"), (LINK, "/proc/self/mem")]
    entry: Entry = font_damaged(chance)
    if chance.random() < 0.05:
        entry = chance.choice([other, other, *others])
    letters = "ζδ" if chance.random() < 0.05 else "".join(chr(GEORGIAN + ord(c) - GREEK) for c in "αβγδεζηθω")
    song = SONG.format("D", letters if chance.random() < 0.9 else "sand").encode()
    files: dict[str, Entry] = {**KEPT, "songs/a.song.txt": song, name: entry}
    words: tuple[str, ...] = ("part", "songs/a.song.txt", "-o", "out/")
    words = chance.choice(
        [words, words, ("stage", *words[1:]), ("check", "songs/a.song.txt"), ("library", "songs", "--jobs", "1")]
    )
    if chance.random() < 0.8:
        words += ("--font", name)
    else:
        files["mine/fonts.toml"] = b'[page]\nfonts = ["../fonts/x.ttf"]\n'
        words += ("--player", "mine/fonts.toml")

    def after(root: Path, _: Ended) -> Iterator[str]:
        yield from (f"{p.name} is no whole PDF" for p in root.glob("*/**/a*.pdf") if not is_pdf(p.read_bytes()))

    return Case(words, files, ("out", "out/*.pdf", "songs/parts", "songs/parts/*"), after=after)


# Libraries.


@cache
def library() -> dict[str, bytes]:
    """Return the files of a small library that is made."""
    with tempfile.TemporaryDirectory() as folder:
        songs = Path(folder, "songs")
        songs.mkdir()
        for number, key in enumerate(("D", "G", "Em")):
            (songs / f"s{number}.song.txt").write_text(SONG.format(key, "αβγ"), encoding="utf-8")
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            main(["library", str(songs), "--jobs", "1"])
        paths = [path for path in sorted(songs.rglob("*")) if path.is_file() and path.name != "lock"]
        return {f"songs/{path.relative_to(songs)}": path.read_bytes() for path in paths}


def log(chance: random.Random) -> Case:
    """A library whose log was damaged: all PDFs are there at the end, and nothing else has changed."""
    files: dict[str, Entry] = {**KEPT, **library()}
    kept = [name for name in library() if f"/{FOLDER}/" in name]
    name = chance.choice(kept)
    data = library()[name]
    outside = chance.choice(
        ["../../mine/notes.pdf", "../../mine/keep.song.txt", "/etc/hostname", "../s0.song.txt", "."]
    )
    match chance.randrange(8):
        case 0:
            files[name] = flipped(chance, data, chance.choice([1, 3, 30]))
        case 1:
            files[name] = data[: chance.randrange(len(data))]
        case 2:  # another path in the place of a PDF's
            pdf = chance.choice([b"s0.pdf", b"s1.pdf", b"index.pdf"])
            files[name] = data.replace(b'"' + pdf + b'"', b'"' + outside.encode() + b'"')
        case 3:
            others: list[Entry] = [b"", b"\0" * 5000, b"[]\n", b"{}\n" * 9, b"[" * 100_000, b"\xff\xfe", None]
            files[name] = chance.choice([*others, (LINK, "../../../mine/notes.txt"), (LINK, "nowhere")])
        case 4:
            del files[name]
        case 5:
            damage = chance.choice(
                [(b"Low Tide", b"L\\u001b[2JT"), (b"Low Tide", b"\\ud800"), (b'"D', b'"H'), (b":1", b":-1")]
            )
            files[name] = data.replace(*damage)
        case 6:
            extra = f"songs/parts/{FOLDER}/{chance.choice(['unfinished', 'lock', 'made.jsonl.new', 'x'])}"
            files[extra] = chance.choice([b"x", None, (LINK, "../../../mine/notes.txt")])
        case _:
            files[name] = damaged(chance, data, data)
    odd = any(not isinstance(entry, bytes) for name, entry in files.items() if name not in KEPT)
    prune = chance.random() < 0.3
    if chance.random() < 0.3:
        del files["songs/s0.song.txt"]
    own = chance.random() < 0.2
    if own:
        files["songs/parts/s1.pdf"] = b"%PDF-1.4\n% written in by hand\n%%EOF\n"

    def after(root: Path, ended: Ended) -> Iterator[str]:
        if own:
            if (root / "songs/parts/s1.pdf").read_bytes() != files["songs/parts/s1.pdf"]:
                yield "a PDF that is the player's own was written over"
            return
        if ended.status:
            yield from () if odd and ended.status == 2 else (f"status {ended.status}: {ended.err[:300]!r}",)
            return
        for pdf in ("s1.pdf", "s2.pdf"):
            if (root / "songs/parts" / pdf).read_bytes() != library()[f"songs/parts/{pdf}"]:
                yield f"{pdf} has other bytes"

    made = tuple(name for name in files if name.startswith("songs/parts/") and not (own and name.endswith("s1.pdf")))
    words = ("library", "songs", "--jobs", "1", *(("--prune",) if prune else ()))
    return Case(words, files, ("songs/parts/*",), made, after=after)


def database(chance: random.Random) -> Case:
    """A database of `find` that was damaged between two runs."""
    files: dict[str, Entry] = {**KEPT, **{name: data for name, data in library().items() if name.endswith(".song.txt")}}
    questions = (
        ("lo",),
        ("tide",),
        ("sh",),
        ("rain",),
        ("--key", "D"),
        ("x",),
        (chance.choice(['"', "a*", "NEAR(", "é", "'"]),),
    )
    words = ("find", *chance.choice(questions), "--in", "songs", *(("--json",) if chance.random() < 0.3 else ()))
    seed = chance.random()

    def spoil(root: Path) -> None:
        again = random.Random(seed)
        for path in sorted((root / "home").rglob("*.sqlite")):
            data = path.read_bytes()
            match again.randrange(7):
                case 0:
                    path.write_bytes(data[: again.randrange(len(data))])
                case 1:
                    path.write_bytes(flipped(again, data, again.choice([1, 10, 300])))
                case 2:
                    page = 4096 * again.randrange(len(data) // 4096)
                    path.write_bytes(data[:page] + bytes(4096) + data[page + 4096 :])
                case 3:
                    pages = [data[at : at + 4096] for at in range(0, len(data), 4096)]
                    rest = pages[1:]
                    again.shuffle(rest)
                    path.write_bytes(b"".join([pages[0], *rest]))
                case 4:
                    path.write_bytes(again.choice([b"", b"SQLite format 3\0", PLAIN, b"\0" * 9000]))
                case 5:
                    path.unlink()
                    path.mkdir()
                case _:
                    Path(f"{path}-journal").write_bytes(flipped(again, data[:2000], 20))

    return Case(words, files, ("home/.cache*",), ("home/.cache*",), earlier=words, spoil=spoil)


# Environments and command lines.

ENVIRONMENTS: tuple[tuple[str, str | None], ...] = (
    ("HOME", None), ("HOME", ""), ("HOME", "nowhere"), ("HOME", "mine/notes.txt"), ("HOME", "nowhere\udcff"),
    ("XDG_CONFIG_HOME", "/dev/null"), ("XDG_CACHE_HOME", "/dev/null"), ("XDG_CACHE_HOME", "mine/notes.txt"),
    ("LC_ALL", "C"), ("LC_ALL", "xx_YY.nothing"), ("LANG", "tr_TR.UTF-8"), ("TZ", "nowhere/at-all"), ("TERM", "dumb"),
    ("SOURCE_DATE_EPOCH", "0"), ("SOURCE_DATE_EPOCH", "x"), ("SOURCE_DATE_EPOCH", "9" * 30), ("RL_documentLang", "xx"),
    ("RL_pdfMultiLine", "1"), ("RL_invariant", "0"), ("RL_pageCompression", "0"), ("RL_verbose", "1"),
    ("RL_ttfAsciiReadable", "1"), ("RL_useA85", "1"), ("RL_defaultPageSize", "A0"), ("RL_CACHE_FONTS", "x"),
    ("PYTHONUTF8", "0"), ("PYTHONIOENCODING", "ascii"), ("PYTHONIOENCODING", "latin-1"), ("PYTHONHASHSEED", "1"),
    ("PYTHONOPTIMIZE", "2"), ("PYTHONWARNINGS", "error"), ("PYTHONDEVMODE", "1"), ("COLUMNS", "1"), ("COLUMNS", "x"),
    ("TMPDIR", "nowhere"), ("NO_COLOR", "1"), ("PATH", ""), ("ARRANGER_TRACEBACK", None),
)  # fmt: skip


@cache
def plain_pdf(command: str) -> bytes:
    """Return the PDF that a command makes of the plain song."""
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()):
        Path(folder, "a.song.txt").write_bytes(PLAIN)
        main([command, f"{folder}/a.song.txt", "-o", f"{folder}/a.pdf"])
        return Path(folder, "a.pdf").read_bytes()


def environment(chance: random.Random, whole: bool = False) -> Case:
    """Odd surroundings: variables, no home, closed or full outputs, another encoding, hardly any room on the disk."""
    streams = ("pipe", "pipe", "pipe", "closed", "gone", "full")
    variables = dict(chance.sample(ENVIRONMENTS, chance.choice([1, 2, 6])))
    if whole and not variables.get(
        "HOME", "home"
    ):  # nobody is there to keep it from the user's own, or the disk's root
        del variables["HOME"]
    setting = Setting(
        env=tuple(variables.items()),
        out=chance.choice(streams),
        err=chance.choice(("pipe", "pipe", "pipe", *streams)),
        encoding=chance.choice(["utf-8", "utf-8", "ascii", "latin-1", "cp1252"]),
        umask=chance.choice([0o022, 0o022, 0, 0o077, 0o777]),
        room=chance.choice([0, 1, 4096]) if chance.random() < 0.15 else FILE,
        homeless=chance.random() < 0.2,
        whole=whole,
    )
    files: dict[str, Entry] = {**KEPT, "songs/a.song.txt": PLAIN}
    if whole:  # code that must not run
        code = b"open('home/ran', 'w').close()\n"
        names = (".reportlab_settings", "reportlab_settings.py", ".reportlab_mods", "local_reportlab_settings.py")
        files |= {f"home/{chance.choice(names)}": code, "sitecustomize.txt": b""}
    words = chance.choice([
        ("part", "songs/a.song.txt", "-o", "out/"), ("stage", "songs/a.song.txt", "-o", "out/"),
        ("show", "songs/a.song.txt"),
        ("show", "songs/a.song.txt", "--json"), ("check", "mine/notes.txt"), ("tidy", "songs/a.song.txt"), ("player",),
        ("find", "sand", "--in", "songs"), ("library", "songs", "--jobs", "1"), ("check", "--explain", "wrong-count"),
        ("part", "--help"), ("--version",), ("convert", "mine/notes.txt", "-o", "out/"),
        ("check", "songs/a.song.txt", "--json"),
        ("player", "--write"), (), ("nonsense",),
    ])  # fmt: skip

    def after(root: Path, ended: Ended) -> Iterator[str]:
        made = root / "out" / {"part": "a.pdf", "stage": "a.stage.pdf"}.get(words[0] if words else "", "")
        if made.is_file():
            if setting.umask == 0o777 and os.geteuid():
                return
            if made.read_bytes() != plain_pdf(words[0]):
                yield "the PDF has other bytes than elsewhere"
        elif words[:1] in (("part",), ("stage",)) and "--help" not in words and not ended.status:
            yield "status 0 and no PDF"

    anywhere = (
        "out",
        "out/*",
        "songs/parts",
        "songs/parts/*",
        "home/.cache*",
        "home/.config*",
        "nowhere*",
        "keys-arranger*",
    )
    closed = {141} if "gone" in (setting.out, setting.err) else set()
    statuses = frozenset(STATUSES | closed | ({120} if {"full", "gone"} & {setting.out, setting.err} else set()))
    return Case(words, files, anywhere, ("songs/a.song.txt",), setting, statuses=statuses, after=after)


def process(chance: random.Random) -> Case:
    """The same, as a process that begins from nothing."""
    return environment(chance, whole=True)


OPTIONS = {
    "part": "-o --key --paper --hands --font --date --without --suspensions --octaves --easy --player",
    "stage": "-o --distance --pages --words --dark --paper --screen --margin --date --key --player",
    "study": "-o --force --also --minutes --pages --skip-broken --key --player --paper --date",
    "library": "--out --stage --jobs --prune --paper --hands --date --without --player --key",
    "find": "--key --tempo --meter --in --all --json",
    "convert": "-o --key --meter --bars --force --part",
    "check": "--fix --json --player --font --explain",
    "tidy": "--help -o",
    "show": "--json --why --hardest --fills --key --without --suspensions",
    "player": "--player --write",
}
FLAGS = {
    "--easy",
    "--dark",
    "--stage",
    "--prune",
    "--all",
    "--json",
    "--force",
    "--part",
    "--fix",
    "--write",
    "--help",
    "--skip-broken",
}
PLACES = (
    "mine/keep.song.txt", "mine/player.toml", "mine/notes.pdf", "mine/notes.txt", "mine/folder", "mine", "songs",
    "songs/a.song.txt",
    "out/", "out/a.pdf", "nowhere/a.pdf", "", " ", ".", "..", "/", "loop", "loop/x", "gone", "link.pdf",
    "out/new/deep/",
    "songs/", "mine/notes.pdf/", "/dev/null", "/dev/full", "-", "x" * 300, "a\0b", "\x1b[2J", "~", "out\ud800/", "é/",
    "sheet.txt",
)  # fmt: skip
WORDS = (
    "", " ", "--", "-", "=", "--key=--", "0", "-1", "1", "2", "99999999999999999999", "1/0", "0/0", "1/3", "E", "h",
    "Bb", "F##m",
    "a4", "tablet", "all", "none", "٣", "1e9", "nan", "inf", "0.7", "0,8m", "90cm", "12mm", "x" * 5000, "\x1b[31m",
    "\u202e", "\ud800",
    "é", "\0", "%s", "{}", "suspensions", "octaves,suspensions", "suspensions,", "phrase", "every", "60-80", "80-60",
    "-", "–", "6/8",
    "Verse:1", "Verse:", ":", "1:1", "wrong-count", "../x", "²", "½", "\n", '"', "*", "C" * 300, "one-a-chord",
    "letters", "staff",
)  # fmt: skip


def command_line(chance: random.Random) -> Case:
    """A command line of any words: whatever they name, the player's files stay as they are."""
    command = chance.choice(sorted(OPTIONS))
    inputs = ("songs/a.song.txt",) * 4 + PLACES if command != "convert" else ("sheet.txt",) * 4 + PLACES
    inputs = ("songs",) * 4 + PLACES if command in ("library", "find") else inputs
    words = [chance.choice(inputs) for _ in range(chance.choice([0, 1, 1, 1, 1, 2, 3]))]
    if command == "library" and "/" in words:
        words = ["songs"]
    known = OPTIONS[command].split()
    for option in chance.sample(known, min(chance.randrange(4), len(known))):
        words.append(option)
        if option not in FLAGS:
            places = option in ("-o", "--out", "--in", "--player", "--font")
            value = chance.choice(PLACES if places and chance.random() < 0.9 else WORDS)
            value = "pipe" if option in ("-o", "--out") and chance.random() < 0.05 else value
            words += [value] if chance.random() < 0.8 else []
            if chance.random() < 0.2:
                words[-1] = f"{option}={value}"
    if chance.random() < 0.05:
        words.insert(chance.randrange(len(words) + 1), chance.choice(WORDS))
    if chance.random() < 0.02:
        words.insert(0, chance.choice(WORDS))
    words = [_inside(word) for word in words]
    files: dict[str, Entry] = {
        **KEPT, "songs/a.song.txt": PLAIN, "sheet.txt": b"Verse:\nD    G\nsand and\n", "loop": (LINK, "loop"),
        "gone": (LINK, "nowhere/x"),
        "pipe": (PIPE, ""), "link.pdf": (LINK, "mine/notes.pdf"),
    }  # fmt: skip
    fixed = ("songs/a.song.txt", "mine/keep.song.txt") if "--fix" in words or command == "tidy" else ()
    line = tuple(_plain(word) for word in (command, *words))
    return Case(line, files, ("*",), fixed)


def _inside(word: str) -> str:
    """Keep a command line away from what is not of the attack: `/`, `..`."""
    return {"/": "/nowhere", "..": "mine/..", "../x": "mine/../x", "~": "mine"}.get(word, word)


def _plain(word: str) -> str:
    """Return a word as a system can hand it to a program: without zero bytes, bytes that are no UTF-8 as halves."""
    return word.replace("\0", "").replace("\ud800", "\udcff")
