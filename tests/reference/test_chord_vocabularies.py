"""The table of qualities against mir_eval 0.8 (labels after Harte et al., ISMIR 2005) and music21's CHORD_TYPES.

The traps of both libraries are met here and nowhere else:

- mir_eval gives the sets of 9, 11 and 13 chords only with `reduce_extended_chords`, and the ninth of `maj(9)` only as
  an extension (its QUALITIES hold the sevenths below them).
- music21 writes a flat as `-`, and has no figure for add9; that row is a triad with a degree added there.
"""

import warnings
from itertools import product

import pytest

from arranger.theory.chord import Chord
from arranger.theory.pitch import NoteName
from arranger.theory.qualities import BY_NAME, QUALITIES, Quality

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # both libraries warn while they are imported
    import mir_eval.chord
    import music21.harmony

C = NoteName("C")
ROOTS = [NoteName(letter, alter) for letter, alter in product("CDEFGAB", (-1, 0, 1))]

# The published vocabularies, row by row: our name, the set, mir_eval's label, music21's kind and degrees. Typed here
# once more on purpose: the table of the program is compared with it.
PUBLISHED = [
    ("", {0, 4, 7}, "maj", "major", "1,3,5"),
    ("m", {0, 3, 7}, "min", "minor", "1,-3,5"),
    ("aug", {0, 4, 8}, "aug", "augmented", "1,3,#5"),
    ("dim", {0, 3, 6}, "dim", "diminished", "1,-3,-5"),
    ("sus2", {0, 2, 7}, "sus2", "suspended-second", "1,2,5"),
    ("sus4", {0, 5, 7}, "sus4", "suspended-fourth", "1,4,5"),
    ("5", {0, 7}, "5", "power", "1,5"),
    ("7", {0, 4, 7, 10}, "7", "dominant-seventh", "1,3,5,-7"),
    ("maj7", {0, 4, 7, 11}, "maj7", "major-seventh", "1,3,5,7"),
    ("m7", {0, 3, 7, 10}, "min7", "minor-seventh", "1,-3,5,-7"),
    ("mMaj7", {0, 3, 7, 11}, "minmaj7", "minor-major-seventh", "1,-3,5,7"),
    ("m7b5", {0, 3, 6, 10}, "hdim7", "half-diminished-seventh", "1,-3,-5,-7"),
    ("dim7", {0, 3, 6, 9}, "dim7", "diminished-seventh", "1,-3,-5,--7"),
    ("7#5", {0, 4, 8, 10}, "aug7", "augmented-seventh", "1,3,#5,-7"),
    ("6", {0, 4, 7, 9}, "maj6", "major-sixth", "1,3,5,6"),
    ("m6", {0, 3, 7, 9}, "min6", "minor-sixth", "1,-3,5,6"),
    ("7sus4", {0, 5, 7, 10}, "sus4(b7)", "suspended-fourth-seventh", "1,4,5,-7"),
    ("9", {0, 4, 7, 10, 2}, "9", "dominant-ninth", "1,3,5,-7,9"),
    ("maj9", {0, 4, 7, 11, 2}, "maj9", "major-ninth", "1,3,5,7,9"),
    ("m9", {0, 3, 7, 10, 2}, "min9", "minor-ninth", "1,-3,5,-7,9"),
    ("11", {0, 4, 7, 10, 2, 5}, "11", "dominant-11th", "1,3,5,-7,9,11"),
    ("13", {0, 4, 7, 10, 2, 5, 9}, "13", "dominant-13th", "1,3,5,-7,9,11,13"),
    ("add9", {0, 4, 7, 2}, "maj(9)", None, None),
]

# Names of music21 and of MusicXML 4.0 differ for three kinds that both have.
MUSICXML_OF = {
    "dominant-seventh": "dominant",
    "minor-major-seventh": "major-minor",
    "half-diminished-seventh": "half-diminished",
    "suspended-fourth-seventh": "",  # MusicXML has no kind for it: suspended-fourth with a degree added
    None: "",  # nor for add9
}

# MusicXML 4.0, `kind-value`: all 33.
MUSICXML_KINDS = """
    major minor augmented diminished dominant major-seventh minor-seventh diminished-seventh augmented-seventh
    half-diminished major-minor major-sixth minor-sixth dominant-ninth major-ninth minor-ninth dominant-11th major-11th
    minor-11th dominant-13th major-13th minor-13th suspended-second suspended-fourth Neapolitan Italian French German
    pedal power Tristan other none
"""


def name_of(row):
    return row[0] or "major"


def music21_figure(root: NoteName, quality: Quality) -> str:
    return str(root).replace("b", "-") + quality.music21.removeprefix("C")


def mir_eval_set(label: str) -> set[int]:
    root, bits, _ = mir_eval.chord.encode(label, reduce_extended_chords=True)
    return {(int(root) + i) % 12 for i in range(12) if bits[i]}


@pytest.mark.parametrize("row", PUBLISHED, ids=name_of)
def test_row_of_the_published_table(row):
    name, expected, label, music21_kind, _ = row
    quality = BY_NAME[name]
    assert Chord(C, quality).pitch_classes == expected
    assert quality.mir_eval == label
    assert quality.musicxml == MUSICXML_OF.get(music21_kind, music21_kind)


def test_the_table_begins_with_the_published_rows_in_order():
    assert [q.name for q in QUALITIES[: len(PUBLISHED)]] == [row[0] for row in PUBLISHED]


@pytest.mark.parametrize("row", [r for r in PUBLISHED if r[3]], ids=name_of)
def test_degrees_are_those_music21_lists(row):
    name, _, _, kind, degrees = row
    assert music21.harmony.CHORD_TYPES[kind][0] == degrees
    ours = ",".join(str(i).replace("b", "-") for i in BY_NAME[name].degrees)
    assert ours == degrees


def test_the_seventh_sets_of_mir_eval_for_every_label_it_lists():
    """The trap: its plain table gives a 9, 11 or 13 chord the set of the seventh below it."""
    by_label = {q.mir_eval: q for q in QUALITIES if q.mir_eval}
    for label, bits in mir_eval.chord.QUALITIES.items():
        if label not in by_label:
            continue  # its own devices: an empty label, single notes
        ours = {i.pitch_class for i in by_label[label].degrees if i.degree < 9}
        assert ours == {i for i, bit in enumerate(bits) if bit}, label


@pytest.mark.parametrize("quality", [q for q in QUALITIES if q.mir_eval], ids=lambda q: q.mir_eval)
def test_mir_eval_on_every_root(quality):
    # `aug7` is in mir_eval's grammar, not in its table: said with a degree list there.
    label = {"aug7": "aug(b7)"}.get(quality.mir_eval, quality.mir_eval)
    for root in ROOTS:
        assert Chord(root, quality).pitch_classes == mir_eval_set(f"{root}:{label}"), f"{root}:{label}"


@pytest.mark.parametrize(
    "quality", [q for q in QUALITIES if q.mir_eval and len(q.degrees) > 2], ids=lambda q: q.mir_eval
)
def test_mir_eval_on_every_member_in_the_bass(quality):
    label = {"aug7": "aug(b7)"}.get(quality.mir_eval, quality.mir_eval)
    for member in quality.degrees[1:]:
        bass = member.above(C)
        chord = Chord(C, quality, bass=bass)
        _, _, above = mir_eval.chord.encode(f"C:{label}/{member}", reduce_extended_chords=True)
        assert chord.bass_name.pitch_class == above
        assert chord.interval_of(bass) == member


def test_worked_labels_of_mir_eval():
    """The worked examples of the published encoding: `G:7/3`, `D:min/b3`."""
    for label, root, members, above in (("G:7/3", 7, {0, 4, 7, 10}, 4), ("D:min/b3", 2, {0, 3, 7}, 3)):
        encoded, bits, bass = mir_eval.chord.encode(label)
        assert (encoded, {i for i in range(12) if bits[i]}, bass) == (root, members, above)
    g7 = Chord(NoteName("G"), BY_NAME["7"], bass=NoteName("B"))
    assert [i.semitones for i in g7.members] == [0, 4, 7, 10]
    assert (g7.bass_name.pitch_class - g7.root.pitch_class) % 12 == 4


@pytest.mark.parametrize("quality", [q for q in QUALITIES if q.music21], ids=lambda q: q.name or "major")
def test_music21_reads_our_figure_as_the_same_spelled_notes(quality):
    for root in ROOTS:
        symbol = music21.harmony.ChordSymbol(music21_figure(root, quality))
        theirs = {p.name.replace("-", "b") for p in symbol.pitches}
        assert theirs == {str(n) for n in Chord(root, quality).names}, symbol.figure


def test_a_bass_outside_the_chord_counts_for_music21_and_not_for_members():
    """The trap: music21 puts a slash bass into the set. The members of a chord here are those above its root."""
    symbol = music21.harmony.ChordSymbol("C/D")
    chord = Chord(C, BY_NAME[""], bass=NoteName("D"))
    assert {p.pitchClass for p in symbol.pitches} == chord.pitch_classes | {chord.bass_name.pitch_class} == {0, 2, 4, 7}
    assert symbol.bass().name == str(chord.bass_name)


def test_every_kind_named_is_one_of_musicxml_and_used_once():
    kinds = [q.musicxml for q in QUALITIES if q.musicxml]
    published = MUSICXML_KINDS.split()
    assert len(published) == 33
    assert set(kinds) <= set(published)
    assert len(kinds) == len(set(kinds))


def test_sus4_is_sus2_a_fourth_above():
    """Csus4 and Fsus2 are the same three pitch classes, on every root."""
    for root in ROOTS:
        sus4 = Chord(root, BY_NAME["sus4"])
        assert sus4.pitch_classes == Chord(sus4.names[1], BY_NAME["sus2"]).pitch_classes
