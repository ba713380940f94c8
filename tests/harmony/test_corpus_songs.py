"""Real songs with chord symbols, from music21's corpus: every chord gets two hands, and they hardly move.

Sources: music21 corpus leadSheet/fosterBrownHair (Foster d. 1864, public domain), leadSheet/berlinAlexandersRagtime
(1911, free in the USA) and nottingham-dataset/reelsa-c (traditional). Key signatures are not to be trusted there, so
the key is the one whose scale holds most of the chords' notes. Open lead sheets (OpenEWLD, 18,210 changes) need 3.18
semitones a change at least in the mean; blocks in root position 11.76.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import pytest

from arranger.harmony.taste import DEFAULT
from arranger.song.model import COMMON, Bar, Facts, Mark, Row, Section, Song, WrittenChord
from arranger.theory.chord import Chord
from arranger.theory.key import Key, all_keys
from arranger.theory.pitch import NoteName
from arranger.theory.qualities import QUALITIES
from tests.harmony import songs
from tests.harmony.songs import arranged

PLAIN = DEFAULT._replace(suspensions=Fraction(0), octaves="none")
BY_KIND = {q.musicxml: q for q in QUALITIES if q.musicxml}
PIECES = ("leadSheet/fosterBrownHair", "leadSheet/berlinAlexandersRagtime", "nottingham-dataset/reelsa-c.abc")


def note_name(pitch: object) -> NoteName:
    return NoteName.parse(str(pitch.name).replace("-", "b"))  # type: ignore[attr-defined]


def chords(piece: str) -> Iterator[Chord]:
    from music21 import corpus, harmony  # slow to import: here only

    score = corpus.parse(piece)
    for symbol in score.recurse().getElementsByClass(harmony.ChordSymbol):
        quality = BY_KIND.get(symbol.chordKind)
        if quality is None or symbol.root() is None:
            continue
        root, bass = note_name(symbol.root()), note_name(symbol.bass())
        yield Chord(root, quality, (), None if bass == root else bass)


def key_of(some: list[Chord]) -> Key:
    """The major key whose scale holds most of the chords' notes; of equal ones the one whose tonic ends the piece."""
    keys = [k for k in all_keys() if not k.minor and abs(k.signature) < 6]
    return max(keys, key=lambda k: (sum(k.holds(n) for c in some for n in c.names), k.tonic == some[-1].root))


def song_of(some: list[Chord]) -> Song:
    bars = [
        Bar(i + 1, COMMON, COMMON.length, (Mark("chord", Fraction(0), COMMON.length, WrittenChord(c, str(c))),))
        for i, c in enumerate(some)
    ]
    key = key_of(some)
    return songs.song([Section("A", Facts(key), (Row(tuple(bars)),))])


@pytest.mark.filterwarnings("ignore")  # music21's own
@pytest.mark.parametrize("piece", PIECES)
def test_real_songs(piece: str) -> None:
    some = list(chords(piece))
    assert len(some) >= 12
    song = song_of(some)
    found, problems = arranged(song, PLAIN)
    assert found is not None and not problems
    assert [c.chord for c in found.sections[0].chords] == some
    figures = found.movement
    assert figures.proven
    assert figures.minimum <= figures.arranged
    assert figures.arranged <= figures.root_position / 2
    assert figures.arranged / figures.changes < 4.5  # smoother than singers of chorales (5.84) on any of them
    for chord in found.sections[0].chords:
        assert chord.chord is not None
        heard = {p.name.pitch_class for p in chord.right + chord.left}
        assert heard <= chord.chord.pitch_classes | {chord.chord.bass_name.pitch_class}
        third = chord.chord.member_on(3)
        assert third is None or (chord.chord.root.pitch_class + third.semitones) % 12 in heard


@pytest.mark.filterwarnings("ignore")
def test_the_key_is_found_from_the_chords() -> None:
    """Foster's song is in F, whatever its key signature says."""
    assert str(key_of(list(chords("leadSheet/fosterBrownHair")))) == "F"
