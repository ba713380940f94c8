"""The right hand's check values, and the exact search over whole songs against brute force."""

import random
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise, product

import pytest

from arranger.harmony.candidates import node_cost, scene_of
from arranger.harmony.model import Arrangement
from arranger.harmony.search import solve
from arranger.harmony.solve import solve_song
from arranger.harmony.sum_of_hands import build
from arranger.harmony.taste import Taste
from arranger.harmony.timeline import Timeline
from arranger.harmony.voicings import Candidate, Voicing, change_cost, hand_movement, moved, voicings
from arranger.song.model import Song, Step
from arranger.song.transpose import transposed
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from tests.harmony import songs
from tests.harmony.songs import arranged

PLAIN = songs.TODAY._replace(target=64, suspensions=Fraction(0), octaves="none")


def part(song: Song, taste: Taste = PLAIN) -> Arrangement:
    arrangement, problems = arranged(song, taste)
    assert arrangement is not None and not problems
    return arrangement


# I IV vi V I in B flat from D4-F4-Bb4: the path and its sum by exhaustive search (common practice, no source).
def test_bb_eb_gm_f_bb() -> None:
    found = part(songs.one("Bb", "Bb=D4F4Bb4 | Eb | Gm | F | Bb"))
    assert songs.hands(found) == ["D4-F4-Bb4", "Eb4-G4-Bb4", "D4-G4-Bb4", "C4-F4-A4", "D4-F4-Bb4"]
    assert found.movement.arranged == found.movement.minimum == 12
    choices = [voicings(songs.chord(c), PLAIN, 53, 79) for c in ("Eb", "Gm", "F", "Bb")]
    sums = []
    for path in product(*choices):
        whole = ((62, 65, 70), *path)
        sums.append(sum(hand_movement(a, b) for a, b in pairwise(whole)))
    assert min(sums) == 12 and sums.count(12) == 1


# Table B3, close-position paths by exhaustive search; the loops are those of Open Music Theory 1st ed., "Harmony in
# pop/rock music".
@pytest.mark.parametrize(
    ("bars", "semitones"),
    [
        ("C=C4E4G4 | G | Am | F | C", 12),
        ("C=C4E4G4 | Am | F | G | C", 12),
        ("Am=C4E4A4 | F | C | G | Am", 12),
        ("C=C4E4G4 | F | G | C", 12),
        ("Dm=D4F4A4 | G | C", 7),
        ("C=C4E4G4 | G | Am | Em | F | C | F | G | C", 30),
    ],
)
def test_stock_loops(bars: str, semitones: int) -> None:
    assert part(songs.one("C", bars)).movement.arranged == semitones


def test_the_paths_printed_in_the_table() -> None:
    loop = part(songs.one("C", "C=C4E4G4 | G | Am | F | C"))
    assert songs.hands(loop) == ["C4-E4-G4", "B3-D4-G4", "C4-E4-A4", "C4-F4-A4", "C4-E4-G4"]
    # The tie between IV and V goes against the bass that rises (keyboard style, Open Music Theory).
    tie = part(songs.one("C", "C=C4E4G4 | F | G | C"))
    assert songs.hands(tie)[2] == "B3-D4-G4"


# Common practice, no source: sevenths in three notes.
def test_sevenths() -> None:
    found = part(songs.one("C", "Dm7 | G7 | Cmaj7"))
    assert songs.hands(found) == ["C4-F4-A4", "B3-F4-G4", "B3-E4-G4"]
    assert found.movement.arranged == 4
    assert part(songs.one("C", "C | Am7 | F | G7 | C")).movement.arranged == 8


def test_a_third_in_the_bass_leaves_the_hand() -> None:
    found = part(songs.one("C", "C G/B | Am"))
    assert songs.hands(found) == ["C4-E4-G4", "D4-G4", "C4-E4-A4"]


@pytest.mark.parametrize(
    ("symbol", "shape", "key"),
    [
        ("Am7", "C over A", "C"),
        ("Fmaj7", "Am over F", "C"),
        ("Bm7b5", "Dm over B", "C"),
        ("C6", "Am over C", "C"),
        ("G9sus4", "F over G", "C"),
        ("A7", "C#dim over A", "D"),
        ("Cadd9", "D-E-G over C", "C"),
    ],
)
def test_shapes_that_a_triad_player_knows(symbol: str, shape: str, key: str) -> None:
    """The shape is among the candidates, and named so when it is held (common practice, no source)."""
    shapes = set()
    for voicing in voicings(songs.chord(symbol), PLAIN, 53, 79):
        pinned = "".join(str(_spelled(songs.chord(symbol), n)) for n in voicing)
        shapes.add(part(songs.one(key, f"{symbol}={pinned}")).sections[0].chords[0].shape)
    assert shape in shapes


def _spelled(chord: Chord, midi: int) -> str:
    name = {n.pitch_class: n for n in chord.names}[midi % 12]
    return f"{name}{(midi - name.alter) // 12 - 1}"


# Random roadmaps: repeats, endings, parts of sections, vamps, copies in other keys, cuts.
CHORDS = ("C", "F", "G", "Am", "Dm7", "G7", "C/E", "Fmaj7", "Em", "C5", "G7alt")  # hands of two, three and four notes


def register_cost(voicing: Voicing, target: int, taste: Taste) -> int:
    """Return what one voicing costs as heard once, by how far its middle is from the target (MIDI)."""
    return taste.register * abs(voicing[0] + voicing[-1] - 2 * target) // 2


def random_song(r: random.Random) -> Song:
    rows = []
    for _ in range(r.randint(1, 2)):
        bars = [r.choice(CHORDS) for _ in range(r.randint(1, 3))]
        if r.random() < 0.3:
            bars[r.randrange(len(bars))] = "%" if len(bars) > 1 and r.random() < 0.5 else "rest"
        if bars[0] == "%":
            bars[0] = "C"
        text = " | ".join(bars)
        if r.random() < 0.4:
            text = f": {text} :"
        elif r.random() < 0.3:
            text = f": {text} | 1. {r.choice(CHORDS)} : | 2. {r.choice(CHORDS)}"
        rows.append(text)
    if all(t in (":", "rest", "|") for t in " ".join(rows).split()):
        rows = ["C | F"]
    first = songs.section("A", "C", rows, level=r.choice([None, "p", "f"]))
    sections = [first]
    if r.random() < 0.5:
        key = r.choice(["C", "D", "Eb", "A"])
        sections.append(songs.copy_of(first, 0, key, r.choice([None, "p", "ff"])))
    steps = [Step(r.randrange(len(sections)), times=r.randint(1, 2)) for _ in range(r.randint(1, 3))]
    if r.random() < 0.3:
        steps.append(Step(0, until="cue"))
    if r.random() < 0.3:
        last = len(first.bars)
        begin = r.randint(1, last)
        steps.append(Step(0, from_bar=begin, to_bar=r.randint(begin, last)))
    return songs.song(sections, steps)


def whole_cost(song: Song, hands: Sequence[Candidate], taste: Taste) -> int:
    """Add up the objective by walking through the song as heard: no table of the search is used."""
    timeline = songs.unrolled(song, taste)
    scene, _ = scene_of(song, timeline, taste)
    total, last = 0, None
    for heard in timeline.heard:
        one = timeline.at(heard.chord)
        assert one.unknown is not None
        hand = hands[one.unknown]
        unknown = scene.uses.unknowns[one.unknown]
        dynamic = song.sections[heard.chord[0]].facts.dynamic
        target = taste.target_for(dynamic.level if dynamic else None)
        total += register_cost(moved(hand.first, one.shift), target, taste)
        alone = node_cost(hand, one.unknown, scene) - sum(
            n * register_cost(hand.first, t, taste) for t, n in unknown.targets
        )
        total += alone // unknown.times
        if last is not None and not heard.cut:
            before, shift = last
            bass = scene.basses[one.unknown] + one.shift - scene.basses[before] - shift
            total += change_cost(moved(hands[before].last, shift), moved(hand.first, one.shift), bass, taste)
        last = (one.unknown, one.shift)
    return total


@pytest.mark.parametrize("seed", range(300))
def test_no_choice_of_hands_costs_less(seed: int) -> None:
    r = random.Random(seed)
    song = random_song(r)
    timeline = songs.unrolled(song, PLAIN)
    scene, plain = scene_of(song, timeline, PLAIN)
    # Few candidates each, so that all choices can be tried.
    few = [some[: max(1, 4 - timeline.unknowns // 3)] for some in plain]
    if any(not some for some in few):
        return
    problem = build(few, scene)
    found = solve(problem)
    least = min(problem.cost(choice) for choice in product(*(range(len(some)) for some in few)))
    assert problem.cost(found) == least
    if _all_heard(timeline):
        assert whole_cost(song, [some[c] for some, c in zip(few, found, strict=True)], PLAIN) == least


def _all_heard(timeline: Timeline) -> bool:
    heard = {timeline.at(h.chord).unknown for h in timeline.heard}
    return heard == {p.unknown for part in timeline.printed for p in part if p.kind == "chord"}


@pytest.mark.parametrize("semitones", range(-4, 6))
def test_what_is_shifted_together_stays_together(semitones: int) -> None:
    """Key, window, target and the left hand's range shifted shift every voicing; low-interval terms off."""
    bars = ("C | Am7 | F | G7", "Dm7 | G | C/E | F")
    home = PLAIN._replace(muddy=0)
    away = home._replace(
        low=home.low + semitones,
        high=home.high + semitones,
        target=64 + semitones,
        left_low=home.left_low + semitones,
        left_high=home.left_high + semitones,
        left_target=home.left_target + semitones,
        left_octave_low=home.left_octave_low + semitones,
    )
    song = songs.one("C", *bars)
    keys = {-4: "Ab", -3: "A", -2: "Bb", -1: "B", 0: "C", 1: "Db", 2: "D", 3: "Eb", 4: "E", 5: "F"}
    one, _ = solve_song(song, home)
    two, _ = solve_song(transposed(song, Key.parse(keys[semitones])), away)
    assert one is not None and two is not None
    assert [moved(h.first, semitones) for h in one.hands] == [h.first for h in two.hands]
    assert [moved(left, semitones) for left in one.scene.lefts] == list(two.scene.lefts)
