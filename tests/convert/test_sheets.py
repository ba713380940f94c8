"""Typed sheets of many styles, each with the song that is wanted of it. See the close calls below.

`sheets/NAME.txt` is a sheet as people type them: its bytes count (encoding, line ends, blanks). `sheets/NAME.song.txt`
is the song that a musician would make of it, most of them written without the converter, some read beside what it
wrote; what is compared stands in `tests.convert.sheet_song`. A sheet does not say how long chords last: one chord is
one bar unless there are barlines or beats.

Close calls, where a musician might also have decided otherwise:

- A line's words before its first chord go to the bar before (the section's first ones to `pickup`), not to a bar of
  their own: a pickup is sung over the chord that still sounds (`pickups`, `capo-shapes`).
- A chord in the middle of a word begins a new bar there (`lan- | terns`), as one chord is one bar; a writer might have
  heard two chords in one bar (`german-h`, `long-chord-names`).
- `by NAME` under a title is taken for words and music; `Artist: NAME` says who played it, and is no author
  (`square-brackets`, `web-page-blanks`).
- Without headings, stanzas are Verse 1, Verse 2, one that comes again word for word the Chorus, chords alone at the
  head the Intro; the key is A minor rather than C, since the song begins and ends on Am (`no-headings`).
- Verses without chords take the model's, divided at the same count of words (`verses-without-chords`).
- A chorus typed out again a tone higher has its own chords under its own `key`; `like` would say the same
  (`key-change`).
- An instrumental with the intro's chords is `like Intro` (`chords-after-headings`).
- `Chorus x2` where the sheet has the chorus twice, and `Chorus, Chorus`, are the same here (`no-chord`).
- In a sheet of German words in F with `Gm`, B is B flat though its H comes last (`german-b-is-flat`).
- Chords in parentheses may be the typist's habit or chords to leave out: both are played (`chords-in-parentheses`).
- `play it not too hard      (drums in)`: a remark, since a wide gap parts it from the words (`comments`).
- A whole sheet with ` - ` between syllables has words, not syllables: `Lan - tern` is `Lantern` (`syllables-apart`).
- Chords behind their words name no syllables: they are shared out, which each row tells (`camp-fire-chords-behind`).
- `G (C D) Em`: two chords in one pair of parentheses share a bar; a chord alone in them may be left out
  (`two-chords-in-parentheses`).
- Stanzas without a name beside a chorus that has one are verses (`chorus-in-parentheses`, `ukulele-club`).
- `D.C. al Fine` is written out section by section, with what its sections have: repeats in them are played again, which
  the song says at its head (`da-capo-al-fine`, `to-the-coda`).
- Chords listed once over a song whose verses are words alone are shared out, line by line (`chords-listed-first`).
- A last chorus with the chords of the one before, all of them a tone higher, is in another key
  (`last-chorus-typed-higher`).
- Lines without chords under lines with some go on with the last chord where the next verse has a heading of its own;
  else they are the next verse (`lines-without-chords`, `stacked-verses`).
- Greetings over a title are remarks; a farewell under the last verse could be words, and is in no sheet
  (`mail-with-greeting`).
"""

from __future__ import annotations

import difflib
import re
from functools import cache
from pathlib import Path

import pytest

from arranger.convert.columns import decode_sheet
from arranger.convert.conversion import convert
from arranger.convert.model import Converted
from arranger.pipeline import all_problems, to_song
from arranger.song.read import decode
from arranger.text.diagnostics import has_errors, render
from arranger.text.source import Source
from tests.convert.sheet_song import lines_of

FOLDER = Path(__file__).parent / "sheets"
SHEETS = sorted(p for p in FOLDER.glob("*.txt") if not p.name.endswith(".song.txt"))
FEWEST = 200  # styles that are promised; files that are not found would be tested by nothing

each_sheet = pytest.mark.parametrize("sheet", SHEETS, ids=lambda p: p.stem)


@cache
def made_of(sheet: Path) -> Converted:
    """Convert a sheet as the command does, with no title known."""
    source, problems, _ = decode_sheet(sheet.name, sheet.read_bytes())
    assert source is not None, problems
    made, problems = convert(source)
    assert made is not None, "\n".join(render(p, source) for p in problems)
    return made


def read_lines(source: Source) -> list[str]:
    """Give what counts of a song's text."""
    song, problems = to_song(source)
    assert song is not None, "\n".join(render(p, source) for p in problems)
    return lines_of(song)


def wanted_of(sheet: Path) -> Source:
    """Read the song that is wanted of a sheet."""
    path = sheet.with_suffix(".song.txt")
    source, problems = decode(path.name, path.read_bytes())
    assert not problems
    return source


def test_there_are_as_many_styles_as_is_said():
    assert len(SHEETS) >= FEWEST
    songs = {p.name.removesuffix(".song.txt") for p in FOLDER.glob("*.song.txt")}
    assert songs == {p.stem for p in SHEETS}, "every sheet has its song, and every song its sheet"


SONG = """song Low Tide
key D
tempo 72
roadmap Verse, Chorus, Verse

section Verse
pickup the
| D | G / / A |
sing | sand and | lan*terns |

section Chorus
| Bm7 | N.C. |
"""


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("Low Tide", "High Tide"), ("key D", "key Dm"), ("tempo 72", "tempo 76"), ("tempo 72", "meter 2/2"),
        ("Chorus, Verse\n", "Chorus\n"), ("section Chorus\n", "section Chorus\nkey E\n"), ("pickup the\n", ""),
        ("G / / A", "G / A /"), ("G / / A", "G A"), ("lan*terns", "lanterns"), ("lan*terns", "lan * terns"),
        ("sand and | lan", "sand | and lan"), ("Bm7", "Bm"), ("Bm7", "Bm7/A"), ("| N.C.", "| D"),
        ("N.C. |", "N.C. | %"),
        ("| Bm7 | N.C. |", "|: Bm7 | N.C. :|"), ("| Bm7 | N.C. |", "| Bm7 |\n| N.C. |"),
        ("tempo 72", "tempo 72\nwords Nell"), ("key D", "key D\ncapo 2 in C"),
    ],
)  # fmt: skip
def test_what_counts_is_seen(before, after):
    changed = SONG.replace(before, after, 1)
    if "capo" in after:
        changed = changed.replace("| D | G / / A |", "| C | F / / G |").replace("Bm7", "Am7")
    assert read_lines(Source.of("", changed)) != read_lines(Source.of("", SONG))


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("tempo 72", "# check the tempo\ntempo 72"), ("| Bm7", "cue softly\n| Bm7"), ("Bm7", "(Bmi7)"),
        ("Low Tide", "LOW TIDE"), ("roadmap Verse,", "roadmap Verse (softly),"),
    ],
)  # fmt: skip
def test_what_does_not_count_is_not(before, after):
    assert read_lines(Source.of("", SONG.replace(before, after, 1))) == read_lines(Source.of("", SONG))


@each_sheet
def test_the_song_is_as_wanted(sheet):
    made = made_of(sheet)
    wanted = read_lines(wanted_of(sheet))
    found = read_lines(Source.of("converted", made.text))
    difference = "\n".join(difflib.unified_diff(wanted, found, "wanted", "found", lineterm="", n=1))
    assert wanted == found, f"\n{difference}\n\n{made.text}"


@each_sheet
def test_nothing_is_wrong_with_either_song(sheet):
    """Not a warning in the wanted song, not an error in the made one."""
    assert all_problems(wanted_of(sheet)) == ()
    source = Source.of("converted.song.txt", made_of(sheet).text)
    problems = all_problems(source)
    assert not has_errors(problems), "\n".join(render(p, source) for p in problems)


@each_sheet
def test_converting_again_gives_the_same(sheet):
    first = made_of(sheet)
    made_of.cache_clear()
    assert made_of(sheet) == first


# What facts are said with on sheets; the song says the same in its own words (`key E`, `tempo 76`, `roadmap`).
UNDERSTOOD = frozenset(
    {
        "about", "again", "bpm", "capo", "composed", "fret", "major", "minor", "none", "repeat", "time", "title",
        "twice", "written", "order", "quarter", "dur", "moll", "musik", "takt", "text", "tonart", "weise", "worte",
        "musique", "paroles", "play", "form", "half", "step", "tone", "lam", "mim", "sib", "sim",
        "majeur", "tonalité", "sol", "muziek", "tekst", "toonsoort", "fis", "letra", "música", "flat", "sharp",
        "cejilla", "traste", "veces", "tono", "mayor", "rpt", "och", "tonacja", "shapes", "toneart", "iii", "then",
        "раза", "tonalità", "san", "säv", "sävellaji", "τόνοσ", "bis", "dasar", "kembali", "nada", "dann", "keiner",
        "wdh", "capotraste", "casa", "composição", "müzik", "söz", "ton", "shuffle",
    }
)  # fmt: skip
WORD = re.compile(r"[^\W\d_]+")


def letters(text: str) -> str:
    """Give the letters alone: words are parted at chords and barlines."""
    return "".join(WORD.findall(text.casefold()))


@each_sheet
def test_no_word_is_lost(sheet):
    """Every word of the sheet that is no chord stands in the song: as words, name, fact or remark.

    The song has a section's words once where the sheet has them again, so words are looked for, not counted. Chords
    are compared in the other test; words of one or two letters are left to it too, as they would be found anywhere.
    """
    source, _, _ = decode_sheet(sheet.name, sheet.read_bytes())
    assert source is not None
    made = letters(made_of(sheet).text)
    words = {word for word in WORD.findall(source.text.casefold()) if len(word) > 2} - UNDERSTOOD
    assert len(words) > 12, "a sheet has words"
    assert sorted(word for word in words if word not in made) == []


def test_no_word_is_excused_that_no_sheet_has():
    texts = [decode_sheet(p.name, p.read_bytes())[0] for p in SHEETS]
    assert {word for text in texts if text for word in WORD.findall(text.text.casefold())} >= UNDERSTOOD
