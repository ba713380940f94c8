"""Every sample goes all the way: text, song, arrangement, pages, PDF; and together they use what the format has."""

import hashlib
import io
import os
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pypdf
import pypdfium2
import pytest

from arranger.harmony.model import Arrangement
from arranger.layout.options import PartOptions, StageOptions
from arranger.pipeline import Wishes, to_arrangement, to_part, to_song
from arranger.song.model import Song
from arranger.song.read import decode
from arranger.staging import to_stage
from arranger.theory.key import Key
from arranger.units import PAPERS

ROOT = Path(__file__).parents[1]
SAMPLES = sorted((ROOT / "samples").glob("*.song.txt"))


@cache
def song_of(path: Path) -> Song:
    source, problems = decode(path.name, path.read_bytes())
    song, more = to_song(source)
    assert (problems, more) == ((), ()), "samples are clean"
    assert song
    return song


@cache
def arrangement_of(path: Path, key: Key | None = None) -> Arrangement:
    arrangement, problems = to_arrangement(song_of(path), Wishes(key=key))
    assert arrangement
    assert problems == () or key
    return arrangement


def name(path: Path) -> str:
    return path.name.removesuffix(".song.txt")


def test_there_are_samples():
    assert len(SAMPLES) >= 5


@pytest.mark.parametrize("path", SAMPLES, ids=name)
@pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS)
def test_it_becomes_a_part(path, paper):
    part, problems = to_part(arrangement_of(path), Wishes(pages=PartOptions(paper)))
    assert problems == ()
    assert part.pdf.startswith(b"%PDF-")
    assert 1 <= part.pages <= 4


@pytest.mark.parametrize("path", SAMPLES, ids=name)
def test_hands_are_within_their_limits_and_proven(path):
    arrangement = arrangement_of(path)
    hand = arrangement.hand
    for part in (chord for section in arrangement.sections for chord in section.chords if chord.kind == "chord"):
        right = [pitch.midi for pitch in part.right]
        assert right == sorted(right)
        assert hand.low <= right[0] and right[-1] <= hand.high
        assert right[-1] - right[0] <= hand.span
        assert max(pitch.midi for pitch in part.left) < right[0]
    movement = arrangement.movement
    assert movement.proven
    assert movement.minimum <= movement.arranged < movement.root_position


@pytest.mark.parametrize("path", SAMPLES, ids=name)
def test_another_key_sounds_the_same_higher_or_lower(path):
    song = song_of(path)
    key = Key(song.key.scale[1 if song.key.minor else 4], song.key.minor)
    here, there = arrangement_of(path), arrangement_of(path, key)
    assert there.key == key
    for section, moved in zip(here.sections, there.sections, strict=True):
        for chord, other in zip(section.chords, moved.chords, strict=True):
            if chord.chord and other.chord:
                up = (other.chord.root.pitch_class - chord.chord.root.pitch_class) % 12
                assert up == (key.tonic.pitch_class - song.key.tonic.pitch_class) % 12
                assert {(p + up) % 12 for p in chord.chord.pitch_classes} == other.chord.pitch_classes


def test_samples_show_what_the_format_has():
    """Flats, sharps, minor; 4/4, 3/4, 6/8; endings, slash chords, sevenths, pickups, accents, cues, `like`."""
    songs = [song_of(path) for path in SAMPLES]
    sections = [section for song in songs for section in song.sections]
    bars = [bar for section in sections for bar in section.bars]
    chords = [mark.chord for bar in bars for mark in bar.marks if mark.chord]
    assert {song.key.minor for song in songs} == {False, True}
    assert min(s.key.signature for s in songs) < 0 < max(s.key.signature for s in songs)
    assert {str(bar.meter) for bar in bars} >= {"4/4", "3/4", "6/8", "2/4"}
    assert {bar.ending for bar in bars} >= {(1,), (2,)}
    assert any(bar.repeats_last for bar in bars) and any(bar.short for bar in bars)
    assert any(chord.chord.bass for chord in chords)
    assert {chord.chord.quality.name for chord in chords} >= {"7", "maj7", "m7", "m7b5", "7sus4", "6/9"}
    assert any(chord.push for chord in chords)
    assert {manner for chord in chords for manner in chord.manner} >= {"hold", "stop", "accent"}
    assert any(section.pickup for section in sections) and any(section.tacet for section in sections)
    assert any(row.cues for section in sections for row in section.rows)
    assert any(section.like and section.facts.key != sections_model_key(songs, section) for section in sections)
    assert any(step.until for song in songs for step in song.roadmap)
    assert any(not song.source.text.isascii() for song in songs)
    rows = [row for section in sections for row in section.rows]
    assert any(song.capo for song in songs)
    assert any(row.hook for row in rows) and any(row.tune for row in rows)
    assert any(step.from_bar for song in songs for step in song.roadmap)


def test_one_sample_has_three_pages():
    parts = [to_part(arrangement_of(path), Wishes(pages=PartOptions(hands="staff")))[0] for path in SAMPLES]
    assert 3 in {part.pages for part in parts}


def sections_model_key(songs, section):
    song = next(s for s in songs if section in s.sections)
    return song.sections[section.model].facts.key


@pytest.mark.slow
def test_the_same_bytes_in_other_processes_under_other_hash_seeds():
    code = """
import hashlib, sys
from pathlib import Path
from arranger.pipeline import Wishes, to_arrangement, to_part, to_song
from arranger.song.read import decode
for name in sys.argv[1:]:
    song, _ = to_song(decode(Path(name).name, Path(name).read_bytes())[0])
    part, _ = to_part(to_arrangement(song, Wishes())[0], Wishes())
    print(hashlib.sha256(part.pdf).hexdigest())
"""

    def hashes(seed: str, paths: list[Path]) -> dict[Path, str]:
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)}
        words = [sys.executable, "-c", code, *map(str, paths)]
        done = subprocess.run(words, capture_output=True, text=True, check=True, env=environment)
        return dict(zip(paths, done.stdout.split(), strict=True))

    here = {}
    for path in SAMPLES:
        part, _ = to_part(arrangement_of(path), Wishes())
        here[path] = hashlib.sha256(part.pdf).hexdigest()
    assert hashes("1", SAMPLES) == here
    assert hashes("2", SAMPLES[::-1]) == here


SPLIT = """\
song Split
key G
tempo 60

section Verse
| G D      | Em C D /    | C G    | Em   |
sing | a lit*tle | lan*tern * home | dé*jà | to- |
sing | be*fore   | won*der*ful     | a*way | so  |
"""


@pytest.mark.parametrize("path", [None, *SAMPLES], ids=lambda path: name(path) if path else "split")
def test_words_that_are_split_over_chords_are_found_whole(path):
    """Two other programs read each of them as one word, on the part and on a copy to play from."""
    text = path.read_text(encoding="utf-8") if path else SPLIT
    rows = re.findall(r"(?m)^sing .*", text)
    split = {word.replace("*", "") for row in rows for word in re.findall(r"\w+(?:\*\w+)+", row)}
    if not split:
        return
    song = song_of(path) if path else to_song(decode("split", text.encode())[0])[0]
    arrangement = arrangement_of(path) if path else to_arrangement(song, Wishes())[0]
    part, _ = to_part(arrangement, Wishes())
    stage, _ = to_stage(arrangement, Wishes(stage=StageOptions(words="all")))
    for pdf in (part.pdf, stage.pdf):
        read = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)
        seen = "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))
        for word in split:
            assert word in read
            assert word in seen
