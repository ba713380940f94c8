"""How full the keys play, when: where textures come from, and what they do to both hands."""

import itertools
from fractions import Fraction
from random import Random

import pytest

from arranger.harmony.arc import plan_arc
from arranger.harmony.arrange import work_out
from arranger.harmony.candidates import hands_cost
from arranger.harmony.form import refrain_of
from arranger.harmony.model import Arrangement, SectionPart
from arranger.harmony.taste import DEFAULT, Taste
from arranger.harmony.textures import LEVELS
from arranger.harmony.voicings import bare_hands, frames, hand_movement
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source
from tests.harmony import songs

QUIET = DEFAULT._replace(suspensions=Fraction(0), octaves="none")
HEAD = "song Test\nkey {key}\ntempo 72\nband {band}\n"


def song_of(text: str, *, key: str = "C", band: str = "bass, drums, guitar") -> Song:
    song, problems = read(Source("test", HEAD.format(key=key, band=band) + text))
    assert song is not None and not problems, problems
    return song


def arranged(text: str, taste: Taste = QUIET, **head: str) -> Arrangement:
    worked, problems = work_out(song_of(text, **head), taste)
    assert worked is not None, problems
    return worked.arrangement


def textures(text: str, taste: Taste = QUIET, **head: str) -> list[str]:
    """Return the textures of the drawn sections and, after a colon, of all visits where they differ."""
    parts = arranged(text, taste, **head).sections
    return [": ".join(filter(None, (part.texture, ", ".join(part.visits)))) for part in parts if part.of is None]


def section(name: str, rows: str = "| C | F | G | C |", *facts: str) -> str:
    return "\n".join((f"section {name}", *facts, rows, ""))


# --- least paths in frames ------------------------------------------------------------------------------------------

# Closed loops of frames between A3 and G5, by exhaustive search: the least movement, and the one path that has it.
LOOPS = [
    (
        "Bb Eb Gm F",
        14,
        ["Bb3 D4 F4 Bb4", "Bb3 Eb4 G4 Bb4", "Bb3 D4 G4 Bb4", "A3 C4 F4 A4"],
    ),
    (
        "G D Em C",
        14,
        ["G4 B4 D5 G5", "F#4 A4 D5 F#5", "G4 B4 E5 G5", "G4 C5 E5 G5"],
    ),
    (
        "A F#m D E",
        16,
        ["E4 A4 C#5 E5", "F#4 A4 C#5 F#5", "F#4 A4 D5 F#5", "E4 G#4 B4 E5"],
    ),
]


@pytest.mark.parametrize(("chords", "least", "path"), LOOPS)
def test_least_paths_in_frames(chords: str, least: int, path: list[str]) -> None:
    """Every way round the loop, tried out: the frames are all there, and the least way is the known one."""
    choices = [frames(songs.chord(chord), 57, 79) for chord in chords.split()]
    costs = {
        way: sum(hand_movement(a, b) for a, b in zip(way, (*way[1:], way[0]), strict=True))
        for way in itertools.product(*choices)
    }
    assert min(costs.values()) == least
    names = {key % 12: str(name) for chord in chords.split() for key, name in _named(chord)}
    best = [[_text(hand, names) for hand in way] for way, cost in costs.items() if cost == least]
    assert best == [path]


def _named(chord: str) -> list[tuple[int, object]]:
    return [(name.pitch_class, name) for name in songs.chord(chord).names]


def _text(hand: tuple[int, ...], names: dict[int, str]) -> str:
    return " ".join(f"{names[key % 12]}{key // 12 - 1}" for key in hand)


def test_the_search_takes_the_least_path_in_frames() -> None:
    rows = "roadmap A x4\nsection A\ntexture full\n| Bb | Eb | Gm | F |\n"
    chords = arranged(rows, key="Bb").sections[0].chords
    assert [" ".join(map(str, chord.right)) for chord in chords] == LOOPS[0][2]


def test_a_frame_over_the_third_does_not_double_it() -> None:
    over_third = frames(songs.chord("A/C#"), 57, 79)
    assert (57, 61, 64, 69) in over_third and (64, 69, 73, 76) in over_third
    assert all(hand[0] % 12 != 1 for hand in over_third)


# --- what hands hold ------------------------------------------------------------------------------------------------


def keys(part: SectionPart) -> list[int]:
    return [len(chord.right) for chord in part.chords if chord.chord]


@pytest.mark.parametrize(("texture", "allowed"), [("bare", {2}), ("light", {3}), ("full", {4}), ("wide", {4})])
def test_keys_of_each_texture(texture: str, allowed: set[int]) -> None:
    found = arranged(section("A", "| C | F/A | G7 | Am | C/E | Dm | G | C |", f"texture {texture}"))
    assert set(keys(found.sections[0])) == allowed


def test_no_holes_from_light_on() -> None:
    """Over a third in the bass the hand has three keys too; at `bare` it may have two."""
    found = arranged(section("A", "| C | G/B | Am |", "texture light"))
    assert songs.hands(found) == ["C4-E4-G4", "B3-D4-G4", "C4-E4-A4"]


def test_the_limits_of_the_player() -> None:
    full = section("A", "| C | F | G | C |", "texture wide")
    assert set(keys(arranged(full, QUIET._replace(most_keys=3)).sections[0])) == {3}
    assert textures(full, QUIET._replace(fullest="light")) == ["light"]
    assert set(keys(arranged(full, QUIET._replace(span=11)).sections[0])) == {3}


def test_four_keys_want_time() -> None:
    """Frames change every 0.8 s at most: at 200 quarters a minute two chords a bar have three keys each."""
    fast = song_of(section("A", "| C F | G C |", "texture full", "tempo 200"))
    worked, _ = work_out(fast, QUIET)
    assert worked is not None and set(keys(worked.arrangement.sections[0])) == {3}


def test_bare_keeps_the_third_unless_a_guitar_has_it() -> None:
    alone = bare_hands(songs.chord("C"), 60, 72, 12, without_third=False)
    assert alone and all(len(hand) == 2 and 4 in {key % 12 for key in hand} for hand in alone)
    assert (60, 67) in bare_hands(songs.chord("C"), 60, 72, 12, without_third=True)
    text = section("A", "| C | F | G | C |", "texture bare")
    for chord in arranged(text, band="bass, drums").sections[0].chords:
        third = chord.chord.member_on(3).above(chord.chord.root)  # type: ignore[union-attr]
        assert third in [pitch.name for pitch in chord.right]


# --- the left hand --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("texture", "band", "expected"),
    [
        ("bare", "bass", "C3"),
        ("full", "bass", "C3"),
        ("wide", "bass", "C3"),
        ("bare", "drums", "C3"),
        ("full", "drums", "C2 C3"),
        ("wide", "drums", "C2 C3"),
    ],
)
def test_the_left_hand_follows_texture_and_band(texture: str, band: str, expected: str) -> None:
    found = arranged(section("A", "| C | C | C | C |", f"texture {texture}"), band=band)
    assert " ".join(map(str, found.sections[0].chords[0].left)) == expected


def test_root_and_fifth_or_a_shell_where_it_is_light() -> None:
    found = arranged(section("A", "| G | Dm7 | Am | F |", "texture light"), band="drums", key="C")
    lefts = {str(chord.chord): [str(pitch) for pitch in chord.left] for chord in found.sections[0].chords}
    assert lefts["G"] == ["G2", "D3"]
    assert lefts["Dm7"] in (["D3", "C4"], ["D2", "A2"])


# --- where textures come from ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("level", "texture"),
    [("pp", "bare"), ("p", "light"), ("mp", "light"), ("f", "full"), ("ff", "wide"), ("fff", "wide")],
)
def test_by_the_dynamic(level: str, texture: str) -> None:
    assert textures(section("A", "| C | F | G | C |", f"dynamic {level}")) == [texture]


def test_mf_is_full_where_it_is_the_loudest() -> None:
    verse, chorus = section("V", "| C | F |", "dynamic {}"), section("R", "| F | C |", "dynamic mf")
    assert textures(verse.format("p") + chorus) == ["light", "full"]
    assert textures(verse.format("f") + chorus) == ["full", "light"]
    assert textures(verse.format("mf") + chorus) == ["light", "light"]


def test_keys_alone_are_never_bare_unless_it_is_written() -> None:
    assert textures(section("A", "| C | F |", "dynamic pp", "band keys alone")) == ["light"]
    assert textures(section("A", "| C | F |", "texture bare", "band keys alone")) == ["bare"]


def test_written_beats_the_dynamic_and_a_remark_beats_both() -> None:
    bridge = section("B", "| C | F | G | C |", "dynamic p", "texture full")
    assert textures(bridge) == ["full"]
    assert textures("roadmap B x3 (light, full, wide)\n" + bridge) == ["light: light, full, wide"]
    assert textures("roadmap B x2 (wide), B\n" + bridge) == ["wide: wide, wide, full"]


@pytest.mark.parametrize(
    ("remark", "expected"),
    [("build", "light: light, full"), ("softer", "bare"), ("once more", "light")],
)
def test_remarks_count(remark: str, expected: str) -> None:
    assert textures(f"roadmap B x2 ({remark})\n" + section("B", "| C | F |", "dynamic p")) == [expected]


def test_a_texture_rises_over_the_rows() -> None:
    found = arranged("section A\ntexture bare to full\n| C | F |\n| G | C |\n| F | C |\n")
    sizes = [[len(c.right) for c in found.sections[0].chords if c.row == row] for row in range(3)]
    assert sizes[1:] == [[3, 3], [4, 4]] and max(sizes[0]) <= 2
    assert found.sections[0].texture == "bare to full"


@pytest.mark.parametrize("facts", [("dynamic p to f",), ("dynamic cresc",), ("texture light to full",)])
def test_a_rise_climbs_in_the_top_note(facts: tuple[str, ...]) -> None:
    chords = arranged(section("A", "| C | D | Eb | F |", *facts)).sections[0].chords
    tops = [chord.right[-1].midi for chord in chords]
    assert tops == sorted(tops) and tops[-1] > tops[0]
    assert tops[-1] - tops[0] <= DEFAULT.climb_most


# --- suggested by the form ------------------------------------------------------------------------------------------

FORM = (
    "roadmap V, R, W, R, B, R, E\n"
    "section V\n| C | F |\nsing | one | two |\n"
    "section R\n| F | G |\nsing | la | la |\n"
    "section W\n| C | F |\nsing | three | four |\n"
    "section B\n| Am | Em |\nsing | five | six |\n"
    "section E\n| C |\n"
)


def test_the_form_suggests() -> None:
    found = textures(FORM)
    assert found == ["light", "full: full, full, wide", "light", "light to full", "full"]
    assert {part.texture_from for part in arranged(FORM).sections} == {"suggested"}
    verses = [arranged(FORM).sections[i].play for i in (0, 2)]
    assert verses == ["halves", "quarters"]  # a later verse is struck one step busier


def test_wide_and_full_visits_share_their_hands() -> None:
    assert all(part.of is None for part in arranged(FORM).sections)


def test_nothing_is_suggested_where_the_song_says_how_loud() -> None:
    assert textures(FORM.replace("section V\n", "section V\ndynamic f\n"))[:2] == ["full", "light"]


def test_an_intro_s_dynamic_does_not_switch_suggestions_off() -> None:
    assert textures(FORM.replace("roadmap V", "roadmap I, V") + "section I\ndynamic p\n| C |\n")[1].startswith("full")


def test_a_hymn_ends_full() -> None:
    hymn = "roadmap A x3\nsection A\n| C | F |\nsing | a | b |\nsing | c | d |\nsing | e | f |\n"
    assert refrain_of(song_of(hymn)) == frozenset()
    assert textures(hymn) == ["light: light, light, full"]


def test_names_settle_only_ties() -> None:
    text = "roadmap P, R, P, R\nsection P\n| C |\nsing | same |\nsection {}\n| F |\nsing | too |\n"
    assert refrain_of(song_of(text.format("Chorus").replace(", R", ", Chorus"))) == {1}
    assert refrain_of(song_of(text.format("R"))) == {0}


# --- visits and who plays -------------------------------------------------------------------------------------------


def test_visits_at_another_texture_have_hands_of_their_own() -> None:
    found = arranged("roadmap B x3 (light, full, wide)\n" + section("B", "| C | F | G | C |"))
    own = found.sections[1]
    assert (own.of, own.times) == (0, (2, 3))
    assert found.song.sections[1].name == "B, 2nd and 3rd time"
    assert set(keys(found.sections[0])) == {3} and set(keys(own)) == {4}
    assert [heard.chord[0] for heard in found.heard] == [0] * 4 + [1] * 8


def test_keys_out_silences_a_visit() -> None:
    found = arranged("roadmap B, B (keys out), B\n" + section("B", "| C | F | G | C |", "dynamic f"))
    assert len(found.heard) == 8 and found.heard[4].cut


def test_a_band_that_leaves_changes_the_left_hand() -> None:
    text = "roadmap B, B (bass out)\n" + section("B", "| C | F | G | C |", "texture full")
    found = arranged(text)
    assert {len(chord.left) for chord in found.sections[0].chords} == {1}
    assert {len(chord.left) for chord in found.sections[1].chords} == {2}


def test_a_cue_changes_the_band_from_its_row_on() -> None:
    text = "section B\ntexture full\n| C | F |\ncue bass out\n| G | C |\n"
    lefts = [len(chord.left) for chord in arranged(text).sections[0].chords]
    assert lefts == [1, 1, 2, 2]


def test_copies_share_hands_only_at_the_same_texture() -> None:
    text = "section A\ntexture {}\n| C | F | G | C |\nsection B\nlike A\ntexture {}\n"
    same, other = arranged(text.format("full", "full")), arranged(text.format("light", "full"))
    assert [c.right for c in same.sections[0].chords] == [c.right for c in same.sections[1].chords]
    assert [keys(part) for part in other.sections] == [[3] * 4, [4] * 4]


def test_without_the_arc_no_texture_is_planned() -> None:
    arc = plan_arc(song_of(FORM), QUIET._replace(arc=False))
    assert {bar.texture for plan in arc.plans for row in plan.rows for bar in row} == {None}
    assert not any(arc.told)


# --- the search ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("texture", [*LEVELS, "bare to wide", "light to full", "full to bare"])
def test_no_other_choice_costs_less(texture: str) -> None:
    """The hands found are held against every choice of candidates there is, for small songs in each texture."""
    song = song_of(section("A", "| C | F/A | G |", f"texture {texture}"), band="drums")
    worked, _ = work_out(song, QUIET)
    assert worked is not None
    solved = worked.solved
    scene, every = solved.scene, range(len(solved.choices))
    costs = [
        hands_cost(some, scene, every, scene.uses.changes, scene.climbs) for some in itertools.product(*solved.choices)
    ]
    assert solved.objective == min(costs) and len(costs) > 8
    assert worked.arrangement.movement.proven


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_long_songs_with_an_arc_are_proven(seed: int) -> None:
    """Twenty sections of twenty chords, quiet, loud and rising by turns, words under all of them."""
    chance = Random(seed)
    names = ("C", "F", "G", "Am", "Dm", "Em", "C/E", "G/B", "Dm7", "G7", "F/A", "Fmaj7")
    levels = ("p", "f", "mp", "ff", "mf", "p to f")
    sung = f"sing {'| la la la ' * 4}|\n"
    text = ""
    for number in range(20):
        rows = "".join(f"{''.join(f'| {chance.choice(names)} ' for _ in range(4))}|\n{sung}" for _ in range(5))
        text += f"section S{number}\ndynamic {levels[number % 6]}\n{rows}"
    found = arranged(text, DEFAULT)
    assert sum(len(part.chords) for part in found.sections) == 400
    assert found.movement.proven


def test_what_is_suspended_is_not_doubled() -> None:
    """Common practice: a note that wants to move on sounds once. Frames are asked for all through, and suspensions."""
    eager = DEFAULT._replace(suspensions=Fraction(1), suspensions_open_bars=0, octaves="none")
    rows = "| C | F | G | C |\n| Am | D | G | G |\n| F | C/E | Dm | G |\n"
    chords = arranged(f"section A\ntexture full\n{rows}", eager).sections[0].chords
    suspended = [chord for chord in chords if chord.suspension is not None]
    assert len(suspended) > 2
    for chord in suspended:
        assert sum(pitch.name == chord.suspension.note.name for pitch in chord.right) == 1  # type: ignore[union-attr]


def test_suspensions_follow_who_plays() -> None:
    """A 4 that lasts is told a guitarist, and where the guitar is out there is nobody to tell."""
    eager = DEFAULT._replace(suspensions=Fraction(1), suspensions_open_bars=0, octaves="none", sus_guitar_beats=1)
    rows = "| C | G | C | F | G | C |"
    told = section("A", rows, "texture light") + section("B", rows, "texture light", "band bass, drums")
    with_guitar, without = arranged(told, eager).sections
    assert any(chord.suspension and chord.suspension.for_all for chord in with_guitar.chords)
    assert any(chord.suspension for chord in without.chords)
    assert not any(chord.suspension and chord.suspension.for_all for chord in without.chords)
