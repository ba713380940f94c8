"""Lines that the hand keeps: drones, inner lines, and what leads into another key."""

import itertools
import random
from collections.abc import Iterator
from fractions import Fraction

import pytest

from arranger.exchange import reasons
from arranger.exchange.table import table
from arranger.harmony import solve, why
from arranger.harmony.arrange import WorkedOut, work_out
from arranger.harmony.candidates import hands_cost
from arranger.harmony.drone_hands import under_drone
from arranger.harmony.dump import to_json
from arranger.harmony.inner_lines import chromatic_runs, inner_lines
from arranger.harmony.model import ChordPart, LeadIn
from arranger.harmony.taste import DEFAULT, Taste
from arranger.harmony.voicings import Candidate
from arranger.song.model import Song
from arranger.song.read import read
from arranger.text.source import Source
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName
from tests.harmony import songs

QUIET = DEFAULT._replace(suspensions=Fraction(0), octaves="none")
HEAD = "song Test\nkey {key}\ntempo 72\nband {band}\n"


def song_of(text: str, *, key: str = "D", band: str = "bass, drums, guitar") -> Song:
    song, problems = read(Source("test", HEAD.format(key=key, band=band) + text))
    assert song is not None and not problems, problems
    return song


def worked_out(text: str, taste: Taste = QUIET, today: Key | None = None, **head: str) -> WorkedOut:
    worked, problems = work_out(song_of(text, **head), taste, today)
    assert worked is not None, problems
    return worked


def chords(worked: WorkedOut, section: int = 0) -> tuple[ChordPart, ...]:
    return worked.arrangement.sections[section].chords


def right(worked: WorkedOut, section: int = 0) -> list[str]:
    return [" ".join(map(str, chord.right)) for chord in chords(worked, section)]


def reasons_of(worked: WorkedOut) -> str:
    return "\n".join(reasons.why(worked, reasons.places(worked.arrangement, "")))


# --- what chords do to a drone --------------------------------------------------------------------------------------

BOTH = (NoteName("D"), NoteName("A"))


@pytest.mark.parametrize(
    ("chord", "held", "four", "given"),
    [
        ("D", "D A", "", ""),
        ("G", "D A", "", ""),
        ("Em7", "D A", "", ""),
        ("A", "D A", "D", ""),
        ("A7", "D A", "D", ""),
        ("Asus4", "D A", "", ""),
        ("Am", "D A", "", ""),  # V with a minor third: the 4 lies a whole tone from it
        ("A/C#", "A", "", "D>C#"),  # the bass plays the third
        ("F#m", "A", "", "D>C#"),
        ("Bb", "D", "", "A>Bb"),
        ("E", "D", "", "A>G#"),  # not the key's V: a 4 in place of its third is not asked for
        ("D#m", "", "", "D>D# A>A#"),
    ],
)
def test_what_a_chord_does_to_a_drone(chord: str, held: str, four: str, given: str) -> None:
    found = under_drone(songs.chord(chord), BOTH, Key.parse("D"))
    assert " ".join(map(str, found.held)) == held
    assert str(found.four or "") == four
    assert " ".join(f"{one.note}>{one.to}" for one in found.given) == given


def test_a_third_that_is_needed_is_not_taken_away() -> None:
    found = under_drone(songs.chord("A"), BOTH, Key.parse("D"), "the tune sounds C#")
    assert (found.four, [str(note) for note in found.held]) == (None, ["A"])
    assert [(str(one.note), str(one.to), one.reason) for one in found.given] == [("D", "C#", "the tune sounds C#")]


# --- the hands ------------------------------------------------------------------------------------------------------

DRONE = "section A\ntexture {texture}\ndrone {notes}\n| D | G | A | Bm |\n| G | D | Em7 | D |\n"


def test_the_third_lies_between_or_under_the_drone() -> None:
    hands = right(worked_out(DRONE.format(texture="light", notes="D A")))
    assert hands[:3] == ["F#4 A4 D5", "A4 B4 D5", "E4 A4 D5"]


@pytest.mark.parametrize(("texture", "keys"), [("bare", 2), ("light", 3), ("full", 4), ("wide", 4)])
@pytest.mark.parametrize("notes", ["D A", "tonic", "fifth", "A", "both"])
def test_the_drone_stays_on_one_key_each_and_textures_hold(texture: str, keys: int, notes: str) -> None:
    worked = worked_out(DRONE.format(texture=texture, notes=notes))
    drone = worked.arrangement.song.sections[0].facts.drone
    assert drone is not None
    for note in drone.notes:
        common = set.intersection(*({p.midi for p in chord.right if p.name == note} for chord in chords(worked)))
        assert len(common) >= 1
    assert {len(chord.right) for chord in chords(worked)} == {keys}
    held = [max(p.midi for p in chord.right) for chord in chords(worked)]
    if notes in ("D A", "both"):
        assert len(set(held)) == 1  # nothing lies over it
    if texture in ("light", "full"):
        for chord in chords(worked):
            third = chord.chord.member_on(3).above(chord.chord.root)  # type: ignore[union-attr]
            as_four = chord.suspension is not None and chord.suspension.of_drone
            assert (third in [p.name for p in chord.right]) != as_four


def test_on_v_the_tonic_is_its_four_for_all() -> None:
    with_guitar = chords(worked_out(DRONE.format(texture="light", notes="D A")))[2]
    assert with_guitar.suspension is not None
    assert (with_guitar.suspension.kind, str(with_guitar.suspension.note)) == ("sus4", "D5")
    assert with_guitar.suspension.of_drone and with_guitar.suspension.for_all and with_guitar.suspension.prepared
    assert with_guitar.suspension.end == "held over" and with_guitar.suspension.resolves_to is None
    assert with_guitar.suggested == "sus4"
    assert "C#5" in " ".join(map(str, with_guitar.plain))
    without = chords(worked_out(DRONE.format(texture="light", notes="D A"), band="bass, drums"))[2]
    assert without.suspension is not None and not without.suspension.for_all


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        ("| D | A |\n| G | D |\n", "the drone's D gives way to C#: the line ends on A"),
        ("| D | A= | D | G |\n", "the drone's D gives way to C#: A is written to stay as it is"),
        ("| D | A | D | G |\ntune | D5 | A4 C#5 | D5 | B4 |\n", "the drone's D gives way to C#: the tune sounds C#"),
        ("| D | A/C# | D | G |\n", "the drone's D gives way to C#: C# lies in the bass"),
        ("| D | F#m | D | G |\n", "the drone's D gives way to C#: the fifth of F#m"),
        ("| D | F#m=F#4AC# | D | G |\n", "the drone's D gives way: the hand is pinned"),
    ],
)
def test_it_is_told_where_a_note_gives_way(rows: str, reason: str) -> None:
    worked = worked_out(f"section A\ntexture light\ndrone D A\n{rows}")
    assert reason in reasons_of(worked)
    assert not any(chord.suspension for chord in chords(worked))
    assert "D5" not in right(worked)[1] and "C#" in right(worked)[1]


def test_it_is_told_where_the_drone_is_the_four() -> None:
    text = reasons_of(worked_out(DRONE.format(texture="light", notes="D A")))
    assert "the drone's D stays as the 4 of A, in place of its third" in text
    assert "the drone leaves no key for B, the third" in reasons_of(
        worked_out(DRONE.format(texture="bare", notes="D A"))
    )


def test_a_small_hand_lets_the_drone_go_before_it_is_left_with_two_keys() -> None:
    """Over A a hand of nine semitones has no room for B on top and two keys more under it."""
    worked = worked_out("section A\ntexture light\ndrone B\n| G | A | Em |\n", QUIET._replace(span=9), key="G")
    assert "gives way: no hand within the limits keeps it where it lies" in reasons_of(worked)
    hands = [chord.right for chord in chords(worked)]
    assert not any(pitch.name == NoteName("B") for pitch in hands[1])


def test_a_copy_in_another_key_and_another_key_for_today_take_the_drone_along() -> None:
    text = DRONE.format(texture="light", notes="D A") + "section B\nlike A\nkey E\n"
    for today, top in ((None, "D5 E5"), (Key.parse("C"), "C5 D5")):
        worked = worked_out(text, today=today)
        tops = [{str(chord.right[-1]) for chord in chords(worked, section)} for section in (0, 1)]
        assert [{one} for one in top.split()] == tops
    assert "the drone's E stays as the 4 of B" in "\n".join(reasons.why(worked_out(text), [(1, 2)]))


def test_a_copy_without_the_drone_has_hands_of_its_own() -> None:
    worked = worked_out(DRONE.format(texture="light", notes="D A") + "section B\nlike A\ndrone off\n")
    assert not any(chord.suspension for chord in chords(worked, 1))
    assert any("C#" in hand for hand in right(worked, 1)) and not any("C#" in hand for hand in right(worked, 0))


def test_no_suggestion_fights_the_drone() -> None:
    """Nothing lies a semitone from it, nothing sounds it twice, and it never moves to resolve."""
    often = DEFAULT._replace(suspensions=Fraction(1), suspensions_open_bars=0, sus_any=-9000)
    for notes in ("D A", "tonic", "fifth", "B"):
        worked = worked_out(DRONE.format(texture="light", notes=notes), often, band="bass")
        drone = worked.arrangement.song.sections[0].facts.drone
        assert drone is not None
        classes = {note.pitch_class for note in drone.notes}
        suggested = [c for c in chords(worked) if c.suspension and not c.suspension.of_drone]
        assert suggested or notes == "D A"
        for chord in suggested:
            assert chord.suspension is not None
            number = chord.suspension.note.midi % 12
            assert all((number - one) % 12 not in (0, 1, 11) for one in classes)
            assert all(any(p.midi % 12 == one for p in hand) for one in classes for hand in (chord.right, chord.plain))


def test_no_fill_is_suggested_over_a_drone() -> None:
    taste = DEFAULT._replace(octaves="every")
    assert worked_out(DRONE.format(texture="light", notes="off"), taste).arrangement.sections[0].octaves
    assert not worked_out(DRONE.format(texture="light", notes="D A"), taste).arrangement.sections[0].octaves


# --- the search with drones -----------------------------------------------------------------------------------------


def held_somewhere(worked: WorkedOut, hands: tuple[Candidate, ...]) -> bool:
    """Return whether some key for each note of a drone is down in all hands of the chords that bear it."""
    for group in worked.solved.scene.drones:
        for note in group.notes:
            bearing = [u for u, c in zip(group.unknowns, group.chords, strict=True) if note in _classes(c.held)]
            keys = [{k for k in hands[u].first if k % 12 == note} & {*hands[u].last} for u in bearing]
            if keys and not set.intersection(*keys):
                return False
    return True


def _classes(names: tuple[NoteName, ...]) -> set[int]:
    return {name.pitch_class for name in names}


def every_choice(worked: WorkedOut) -> Iterator[tuple[tuple[Candidate, ...], int]]:
    scene = worked.solved.scene
    for some in itertools.product(*worked.solved.choices):
        if held_somewhere(worked, some):
            yield some, hands_cost(some, scene, range(len(some)), scene.uses.changes, scene.climbs)


@pytest.mark.parametrize("texture", ["bare", "light", "full", "light to full"])
@pytest.mark.parametrize(
    ("notes", "rows"),
    [
        ("tonic", "| D | G | A |"),
        ("fifth", "| D | F#m | Em7 | A |"),
        ("E", "| D | Bm | G | D |"),
        ("both", "| D | C#dim | G |"),
    ],
)
def test_no_other_choice_that_holds_the_drone_costs_less(texture: str, notes: str, rows: str) -> None:
    """Every choice of the candidates there are is tried out; the drone may stay on any key that all hands share."""
    worked = worked_out(f"section A\ntexture {texture}\ndrone {notes}\n{rows}\n")
    costs = [cost for _, cost in every_choice(worked)]
    assert worked.solved.objective == min(costs)
    assert held_somewhere(worked, worked.solved.hands)
    assert worked.arrangement.movement.proven


@pytest.mark.parametrize("seed", range(24))
def test_drones_over_chords_by_chance(seed: int) -> None:
    """Any chords of a key, a drone on any of its notes: the hands are the least, keep the drone, and leave no holes."""
    chance = random.Random(seed)
    key = Key.parse(chance.choice(["C", "D", "E", "F", "G", "A", "Bb", "Eb", "Am", "Em", "Dm", "Gm"]))
    scale = [str(name) for name in key.scale]
    row = " | ".join(chance.choice(scale) + chance.choice(["", "", "m", "m", "7", "m7", "sus4"]) for _ in range(4))
    drone = chance.choice(["tonic", "fifth", "both", chance.choice(scale)])
    texture = chance.choice(["light", "full", "light to full"])
    worked = worked_out(f"section A\ntexture {texture}\ndrone {drone}\n| {row} |\n", key=str(key))
    assert worked.solved.objective == min(cost for _, cost in every_choice(worked))
    assert held_somewhere(worked, worked.solved.hands)
    assert all(len(chord.right) >= 3 for chord in chords(worked))


TWO_PLACES = "section A\ntexture light\ndrone tonic\n| G | C | D | Em |\n| B | G |\n"


def test_there_is_a_choice_of_keys() -> None:
    """So that the tests above try out more than one place of the drone."""
    worked = worked_out(TWO_PLACES, key="G")
    (group,) = worked.solved.scene.drones
    assert len(group.registers) > 1 and len(list(every_choice(worked))) > len(group.registers)


def test_in_a_song_too_large_for_the_search_the_drone_stays_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solve, "MOST_SEARCHED", 0)
    monkeypatch.setattr(solve, "MOST_ENTRIES", 0)
    for taste in (QUIET, DEFAULT._replace(octaves="none")):
        worked = worked_out(TWO_PLACES, taste, key="G")
        assert len(worked.solved.scene.drones[0].registers) > 1
        assert held_somewhere(worked, worked.solved.hands)
        assert worked.solved.bound <= worked.solved.whole


def test_other_hands_are_told_what_they_cost_with_the_drone_held() -> None:
    """Another hand is another place of the drone here: all hands move with it, and that is what it costs."""
    worked = worked_out(TWO_PLACES, key="G")
    for reason in why.reasons(worked, [(0, index) for index in range(6)]):
        unknown = worked.solved.timeline.at(reason.where).unknown
        assert reason.others and unknown is not None
        for other in reason.others:
            keys = tuple(pitch.midi for pitch in other.right)
            costs = [cost for hands, cost in every_choice(worked) if hands[unknown].first == keys]
            assert other.thousandths == min(costs) - worked.solved.objective > 0


# --- inner lines ----------------------------------------------------------------------------------------------------


def runs(text: str) -> list[tuple[int, tuple[int, ...]]]:
    some = [songs.chord(one) for one in text.split()]
    found = chromatic_runs([one.pitch_classes for one in some], [one.bass_name.pitch_class for one in some])
    return [(run.start, run.notes) for run in found]


@pytest.mark.parametrize(
    ("chords", "expected"),
    [
        ("Cm CmMaj7 Cm7 Cm6 Ab", [(0, (0, 11, 10, 9, 8))]),
        ("C Caug C6 C7", [(0, (7, 8, 9, 10))]),
        ("F Cm CmMaj7 Cm7 F7 Fm", [(0, (0,)), (1, (0, 11, 10, 9, 8))][1:]),  # it need not be one chord that changes
        ("Cm CmMaj7 Cm7", []),  # two steps may be chance
        ("C Am F G Em Am Dm G", []),
        ("Am Am/G# Am/G Am/F#", []),  # the bass has it: no chord's own note
        ("G5 F#5 F5 E5", [(0, (2, 1, 0, 11))]),  # the roots are the left hand's, the fifths are not
    ],
)
def test_lines_are_found_from_the_chords_own_notes(chords: str, expected: list[tuple[int, tuple[int, ...]]]) -> None:
    assert runs(chords) == expected


@pytest.mark.parametrize(
    ("rows", "key", "names"),
    [
        ("| Cm | CmMaj7 | Cm7 | Cm6 |\n| Ab | Ab | Cm | Cm |", "Cm", "C B Bb A Ab G"),
        ("| C | Caug | C6 | C7 |\n| F | F | C | C |", "C", "G G# A Bb"),
        ("| Dm | DmMaj7 | Dm7 | Dm6 |\n| Bb | A | Dm | Dm |", "Dm", "D C# C B Bb A"),
    ],
)
@pytest.mark.parametrize("texture", ["bare", "light", "full"])
def test_a_line_stays_in_one_finger(rows: str, key: str, names: str, texture: str) -> None:
    worked = worked_out(f"section A\ntexture {texture}\n{rows}\n", key=key)
    line = names.split()
    hands = [chord.right for chord in chords(worked) if not chord.repeats]
    sounding = [[p for p in hand if str(p.name) == name] for hand, name in zip(hands, line, strict=False)]
    assert len(sounding) == len(line)
    ways = [
        way
        for way in itertools.product(*sounding)
        if {b.midi - a.midi for a, b in itertools.pairwise(way)} in ({-1}, {1})
    ]
    places = [[hand.index(p) for hand, p in zip(hands, way, strict=False)] for way in ways]
    from_top = [[hand.index(p) - len(hand) for hand, p in zip(hands, way, strict=False)] for way in ways]
    assert any(len(set(one)) == 1 for one in places + from_top)
    assert f"the inner line {'-'.join(line)} stays in one finger" in reasons_of(worked)


def test_without_its_price_the_line_breaks() -> None:
    """So that the test above tests something."""
    text = "section A\ntexture light\n| Cm | CmMaj7 | Cm7 | Cm6 |\n| Ab | Ab | Cm | Cm |\n"
    free = worked_out(text, QUIET._replace(line_step=0), key="Cm")
    assert "does not stay in one finger" in reasons_of(free)
    kept = worked_out(text, key="Cm")
    assert "does not stay in one finger" not in reasons_of(kept)
    assert kept.arrangement.movement.arranged > free.arrangement.movement.arranged


def test_a_hand_that_breaks_a_line_is_told_so() -> None:
    assert why.in_words(why.CostTerms(2, 0, 0, 0, 5000)) == (
        "over the song 2 semitones more to move; an inner line leaves its finger"
    )
    assert why.in_words(why.CostTerms(0, 0, 0, 120, -5000)) == "an inner line stays in its finger"


@pytest.mark.parametrize("rows", ["| Cm | CmMaj7 | Cm7 | Cm6 |", "| C | Caug | C6 | C7 |"])
def test_no_other_choice_costs_less_with_a_line(rows: str) -> None:
    worked = worked_out(f"section A\ntexture light\n{rows}\n", key="C")
    assert worked.solved.scene.lines
    assert worked.solved.objective == min(cost for _, cost in every_choice(worked))
    assert worked.arrangement.movement.proven
    one = why.terms(
        worked.solved.hands, worked.solved.scene, range(len(worked.solved.hands)), worked.solved.scene.uses.changes
    )
    total = 1000 * one.movement + 500 * one.moved + 250 * one.register // 8 + one.small + one.lines
    assert total == worked.solved.objective


def test_no_suspension_takes_a_note_of_a_line_away() -> None:
    """A line through thirds: E, Eb, D, Db, between F and C. No 2 and no 4 takes the place of one."""
    often = DEFAULT._replace(suspensions=Fraction(1), suspensions_open_bars=0, sus_any=-9000, octaves="none")
    worked = worked_out("section A\n| F | C | Cm | Bb |\n| Bbm | F | C | F |\n", often, key="F", band="bass")
    lines = inner_lines(worked.solved.timeline)
    assert any(line.notes == (5, 4, 3, 2, 1, 0) for line in lines)
    on_line = {place for line in lines for place in line.chords}
    assert any(chord.suspension for chord in chords(worked))
    for section, index in on_line:
        chord = chords(worked, section)[index]
        notes = {line.notes[line.chords.index((section, index))] for line in lines if (section, index) in line.chords}
        if chord.suspension is not None:
            third = chord.chord.member_on(3).above(chord.chord.root)  # type: ignore[union-attr]
            assert third.pitch_class not in notes


def test_a_line_goes_on_over_a_copy_in_another_key() -> None:
    text = "section A\ntexture light\n| Cm | CmMaj7 | Cm7 | Cm6 |\n| Ab | rest |\nsection B\nlike A\nkey Dm\n"
    worked = worked_out(text, key="Cm")
    assert "the inner line D-C#-C-B-Bb stays in one finger" in "\n".join(reasons.why(worked, [(1, 1)]))


# --- what leads into another key ------------------------------------------------------------------------------------

LIFT = "section A\ntexture light\n{facts}| C | F | G | {last} |\n{under}section B\nlike A\nkey {key}\n{more}"


def lead_in(
    taste: Taste = QUIET, last: str = "C", key: str = "D", facts: str = "", under: str = "", more: str = "", **head: str
) -> LeadIn | None:
    text = LIFT.format(last=last, key=key, facts=facts, under=under, more=more)
    head = {"key": "C", "band": "drums", **head}
    return worked_out(text, taste, **head).arrangement.sections[0].lead_in


WITH_FOUR = DEFAULT._replace(octaves="none")


@pytest.mark.parametrize(
    ("key", "symbol"), [("D", "Asus4 A"), ("Eb", "Bbsus4 Bb"), ("F", None), ("Cm", "Gsus4 G"), ("Am", "Esus4 E")]
)
def test_the_new_key_s_v_is_offered_before_a_change_of_key(key: str, symbol: str | None) -> None:
    found = lead_in(WITH_FOUR, key=key, last="C") if key not in ("Cm", "Am") else None
    if key in ("Cm", "Am"):
        text = f"section A\n| C | F | G | C |\nsection B\nkey {key}\n| {key} | Dm |\n"
        found = worked_out(text, WITH_FOUR, key="C", band="drums").arrangement.sections[0].lead_in
    assert (found.symbol if found else None) == symbol  # C is the V of F: it is there already


def test_its_four_resolves_and_the_hands_lie_between_their_neighbours() -> None:
    found = lead_in(WITH_FOUR)
    assert found is not None and not found.for_all
    assert (found.bar, found.start, found.length, found.resolves) == (4, 2, 2, 3)
    right_hand, plain = ([str(pitch) for pitch in hand] for hand in (found.right, found.plain))
    assert {name[:-1] for name in right_hand} == {"A", "D", "E"} and {name[:-1] for name in plain} == {"A", "C#", "E"}
    assert found.left and found.left[-1].midi < found.right[0].midi
    assert abs(sum(p.midi for p in found.right) / 3 - 64) < 6
    assert lead_in(QUIET).symbol == "A"  # type: ignore[union-attr]  # without suspensions the V alone


@pytest.mark.parametrize(
    ("change", "offered"),
    [
        ({}, True),
        ({"last": "C G"}, False),  # the last chord does not last a bar
        ({"last": "A"}, False),  # it is the V already
        ({"last": "C="}, False),  # as it is written
        ({"facts": "drone E\n"}, False),
        ({"under": "sing | a | b | c | d |\n"}, True),
        ({"under": "sing | a | b | c | water on the stones |\n"}, False),  # somebody sings
        ({"under": "tune | rest | rest | rest | C5 rest |\n"}, True),
        ({"under": "tune | rest | rest | rest | C5 E5 |\n"}, False),
        ({"under": "sing | a | b | c | d |\n", "more": "pickup Oh\n"}, False),
        ({"key": "C"}, False),  # no change of key
    ],
)
def test_only_where_the_song_leaves_room(change: dict[str, str], offered: bool) -> None:
    assert (lead_in(WITH_FOUR, **change) is not None) == offered  # type: ignore[arg-type]


def test_without_the_arc_nothing_is_offered() -> None:
    assert lead_in(WITH_FOUR._replace(arc=False)) is None


@pytest.mark.parametrize(
    ("band", "for_all"), [("drums", False), ("drums, voices", False), ("bass", True), ("guitar", True)]
)
def test_others_who_hold_harmony_make_it_a_thing_for_all(band: str, for_all: bool) -> None:
    found = lead_in(WITH_FOUR, band=band)
    assert found is not None and found.for_all == for_all
    assert bool(found.right) == bool(found.left) == bool(found.plain) == (not for_all)


def test_a_cue_that_sends_the_band_out_leaves_the_keys_alone() -> None:
    text = "section A\ntexture light\n| C | F |\ncue keys alone\n| G | C |\nsection B\nlike A\nkey D\n"
    found = worked_out(text, key="C", band="bass, guitar").arrangement.sections[0].lead_in
    assert found is not None and not found.for_all


def test_it_is_not_counted_as_heard() -> None:
    text = LIFT.format(last="C", key="D", facts="", under="", more="")
    with_it, without = (
        worked_out(text, QUIET._replace(arc=arc), key="C", band="drums").arrangement for arc in (True, False)
    )
    assert with_it.sections[0].lead_in is not None and without.sections[0].lead_in is None
    assert [h.chord for h in with_it.heard] == [h.chord for h in without.heard]
    assert len(with_it.sections[0].chords) == len(without.sections[0].chords)


def test_after_which_visits_it_is_meant() -> None:
    text = "roadmap A, A, B, A, C\n" + LIFT.format(last="C", key="D", facts="", under="", more="")
    text += "section C\nkey D\n| D | G |\n"
    worked = worked_out(text, key="C", band="drums")
    found = worked.arrangement.sections[0].lead_in
    assert found is not None and found.times == (2, 3)
    assert any("leads into D major, B, the 2nd and 3rd time" in line for line in table(worked.arrangement))


def test_in_another_key_for_today_it_moves_along() -> None:
    text = LIFT.format(last="C", key="D", facts="", under="", more="")
    worked = worked_out(text, WITH_FOUR, Key.parse("Bb"), key="C", band="drums")
    found = worked.arrangement.sections[0].lead_in
    assert found is not None and found.symbol == "Gsus4 G"
    at_home = lead_in(WITH_FOUR)
    assert at_home is not None
    assert [p.midi + 2 for p in found.right] == [p.midi for p in at_home.right]
    assert [p.midi + 2 for p in found.left] == [p.midi for p in at_home.left]


def test_the_table_and_the_json_have_it() -> None:
    text = LIFT.format(last="C", key="D", facts="", under="", more="")
    alone = worked_out(text, WITH_FOUR, key="C", band="drums").arrangement
    lines = [line for line in table(alone) if "(Asus4 A)" in line]
    assert len(lines) == 1 and "suggested: leads into D major, B" in lines[0] and "time" not in lines[0]
    value = to_json(alone)["sections"][0]["lead_in"]
    assert (value["symbol"], value["beat"], value["resolves"], value["to"]) == ("Asus4 A", "3", "4", 1)
    together = table(worked_out(text, WITH_FOUR, key="C", band="bass").arrangement)
    assert any("all: (Asus4 A)" in line for line in together)
    assert to_json(alone)["sections"][1]["lead_in"] is None


def test_a_fill_gives_way_to_it_and_one_by_hand_does_not() -> None:
    fills = DEFAULT._replace(octaves="every")
    by_hand = "octave | rest | rest | rest | rest / A4 B4 |\n"
    for under, offered in (("", True), (by_hand, False)):
        text = LIFT.format(last="C", key="D", facts="", under=under, more="")
        part = worked_out(text, fills, key="C", band="drums").arrangement.sections[0]
        assert (part.lead_in is not None) == offered
        in_last_bar = [line for line in part.octaves if any(note.bar == 4 for note in line.notes)]
        assert bool(in_last_bar) != offered
