"""Textures, drones and who plays: as facts, in remarks and cues, in copies and in other keys."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from arranger.song.dump import dump
from arranger.song.model import BandChange
from arranger.song.players import (
    band_change,
    band_with,
    has_drums,
    holds_harmony,
    plays_bass,
    plays_guitar,
)
from arranger.song.read import mended, read
from arranger.song.texture_words import TEXTURES
from arranger.song.tidy import tidied
from arranger.song.transpose import transposed
from arranger.text.source import Source
from arranger.theory.key import Key, all_keys
from tests.song.texts import HEAD, codes, problems, section, song

ROW = "| C | G |"


@pytest.mark.parametrize(
    ("text", "level", "rises_to"),
    [
        ("bare", "bare", None),
        ("FULL", "full", None),
        ("light to full", "light", "full"),
        ("Wide  TO bare", "wide", "bare"),
    ],
)
def test_textures(text: str, level: str, rises_to: str | None) -> None:
    found = section(f"texture {text}\n{ROW}").facts.texture
    assert found is not None
    assert (found.text, found.level, found.rises_to) == (text, level, rises_to)


def test_textures_come_from_the_section_its_model_and_the_header() -> None:
    found = song(
        f"section A\n{ROW}\nsection B\ntexture full\n{ROW}\nsection C\nlike B\nsection D\nlike B\ntexture wide",
        "song T\nkey C\ntexture bare\n",
    )
    assert [s.facts.texture and s.facts.texture.level for s in found.sections] == ["bare", "full", "full", "wide"]
    assert [s.own for s in found.sections] == [(), ("texture",), (), ("texture",)]
    assert section(ROW).facts.texture is None


@pytest.mark.parametrize(
    ("step", "textures"),
    [
        ("A x3 (light, full, wide)", ("light", "full", "wide")),
        ("A x3 (Full)", ("full",) * 3),
        ("A (bare)", ("bare",)),
        ("A until the bell (light)", ("light",)),
        ("A x2 (full, drums out)", ("full", "full")),
        ("A x2 (light, full, bass, drums out)", ("light", "full")),
        ("A x2 (build)", ()),
        ("A x2 (full steam ahead)", ()),
        ("A x2 (light, softer)", ()),
        ("A", ()),
    ],
)
def test_textures_of_passes(step: str, textures: tuple[str, ...]) -> None:
    (found,) = song(f"section A\n{ROW}", f"{HEAD}roadmap {step}\n").roadmap
    assert found.textures == textures
    assert len(found.textures) in (0, found.times)
    assert found.remark == (step[step.index("(") + 1 : -1] if "(" in step else None)


@pytest.mark.parametrize(
    ("step", "code"),
    [
        ("A x3 (light, full)", "texture-passes"),
        ("A (light, full)", "texture-passes"),
        ("A x2 (light to full)", "texture-in-remark"),
        ("A x2 (light, full and wide)", "texture-in-remark"),
    ],
)
def test_remarks_that_do_not_fit_the_passes(step: str, code: str) -> None:
    assert codes(f"section A\n{ROW}", f"{HEAD}roadmap {step}\n") == [code]


def keys_of(text: str) -> tuple[str, ...]:
    facts = song(text, "song T\nkey D\n").sections[-1].facts
    return tuple(map(str, facts.drone.notes)) if facts.drone else ()


@pytest.mark.parametrize(
    ("text", "notes"),
    [("D A", ("D", "A")), ("A", ("A",)), ("tonic", ("D",)), ("Fifth", ("A",)), ("both", ("D", "A")), ("off", ()),
     ("B♭", ("Bb",))],
)  # fmt: skip
def test_drones(text: str, notes: tuple[str, ...]) -> None:
    assert keys_of(f"section A\ndrone {text}\n| D | G | Bb |") == notes


def test_a_drone_stands_in_the_key_of_its_section_and_moves_with_it() -> None:
    assert keys_of("section A\nkey E\ndrone both\n| E | A |") == ("E", "B")
    assert keys_of("section A\ndrone D A\n| D | G |\nsection B\nlike A\nkey E") == ("E", "B")
    assert keys_of("section A\ndrone fifth\n| D | G |\nsection B\nlike A\nkey F") == ("C",)
    assert keys_of("section A\ndrone D A\n| D | G |\nsection B\nlike A\ndrone off") == ()
    assert keys_of("section A\ndrone D A\n| D | G |\nsection B\nlike A\nkey E\ndrone B") == ("B",)


def test_a_drone_with_a_capo_sounds_as_it_is_named() -> None:
    found = song("section A\ndrone D\n| C | F |", "song T\nkey D\ncapo 2 in C\n").sections[0].facts.drone
    assert found is not None and [str(note) for note in found.notes] == ["D"]


@pytest.mark.parametrize(
    ("drone", "row", "unheard"),
    [
        ("D", "| D | G | A |", False),
        ("D", "| C#m | G |", False),  # beside the root of one chord, but not of the other
        ("D", "| C# | F# |", True),  # beside the root, and the fifth
        ("C#", "| D | Bm |", True),  # beside the root, and the third: a seventh is no reason
        ("D", "| N.C. | rest |", False),
    ],
)
def test_a_drone_that_no_chord_bears_is_refused(drone: str, row: str, unheard: bool) -> None:
    said = problems(f"section A\ndrone {drone}\n{row}", "song T\nkey D\n")
    told = [one for one in said if one.code == "drone-unheard"]
    assert bool(told) == unheard
    for one in told:
        better = one.hints[0].split("`")[1]
        again = problems(f"section A\n{better}\n{row}", "song T\nkey D\n")
        assert [o for o in again if o.code == "drone-unheard"] == []


def test_what_a_copy_takes_is_told_once() -> None:
    assert codes("section A\ndrone Db\n| C | G | C |\nsection B\nlike A\nkey D") == ["drone-unheard"]


@pytest.mark.parametrize(
    ("line", "band"),
    [
        ("", ("bass guitar", "drums", "fiddle")),
        ("band keys alone", ()),
        ("band Piano only", ()),
        ("band all", ("bass guitar", "drums", "fiddle")),
        ("band bass", ("bass",)),
        ("band keys, bass and fiddle", ("bass", "fiddle")),
    ],
)
def test_the_band_of_a_section(line: str, band: tuple[str, ...]) -> None:
    found = song(f"section A\n{line}\n{ROW}\nsection B\nlike A", f"{HEAD}band bass guitar, drums, fiddle\n")
    assert [one.facts.band for one in found.sections] == [band, band]
    assert found.band == ("bass guitar", "drums", "fiddle")


def test_a_copy_may_have_the_whole_band_again() -> None:
    found = song(f"section A\nband keys alone\n{ROW}\nsection B\nlike A\nband all", f"{HEAD}band bass, drums\n")
    assert [one.facts.band for one in found.sections] == [(), ("bass", "drums")]


def test_keys_alone_at_the_top_is_nobody() -> None:
    assert song(f"section A\n{ROW}", f"{HEAD}band keys alone\n").band == ()


@pytest.mark.parametrize(
    ("line", "expected"),
    [("band cello", ["player-not-in-band"]), ("band everybody", ["bad-band"]), ("band no drums", ["bad-band"]),
     ("band all, bass", ["bad-band"]), ("band bass", []), ("band double bass", [])],
)  # fmt: skip
def test_the_band_of_a_section_is_held_against_the_song(line: str, expected: list[str]) -> None:
    assert codes(f"section A\n{line}\n{ROW}", f"{HEAD}band bass, drums\n") == expected


@pytest.mark.parametrize(
    ("text", "change"),
    [
        ("keys out", BandChange(keys_out=True)),
        ("no keys", BandChange(keys_out=True)),
        ("Keys in.", BandChange(keys_in=True)),
        ("keys alone", BandChange(alone=True)),
        ("just piano", BandChange(alone=True)),
        ("bass out", BandChange(out=("bass",))),
        ("bass and drums out", BandChange(out=("bass", "drums"))),
        ("bass, drums out", BandChange(out=("bass", "drums"))),
        ("the lead guitar drops out", BandChange(out=("lead guitar",))),
        ("keys and bass out", BandChange(keys_out=True, out=("bass",))),
        ("band in", BandChange(all_in=True)),
        ("all in", BandChange(all_in=True)),
        ("everybody back in!", BandChange(all_in=True)),
        ("drums in", BandChange(back=("drums",))),
        ("softer, drums out", BandChange(out=("drums",))),
        ("bass tacet, drums silent", BandChange(out=("bass", "drums"))),
        ("without drums", BandChange(out=("drums",))),
        ("drums back", BandChange(back=("drums",))),
        ("guitar enters, bass returns", BandChange(back=("guitar", "bass"))),
        ("strings enter, horns return", BandChange(back=("strings", "horns"))),
        ("only keys", BandChange(alone=True)),
        ("piano by itself", BandChange(alone=True)),
        ("keys by themselves", BandChange(alone=True)),
        ("keys only", BandChange(alone=True)),
        ("the band drops out", BandChange(alone=True)),
        ("full band", BandChange(all_in=True)),
        ("everybody", BandChange(all_in=True)),
        ("everyone", BandChange(all_in=True)),
        ("tutti", BandChange(all_in=True)),
        ("keys out, drums come in", BandChange(keys_out=True, back=("drums",))),
    ],
)
def test_changes_of_the_band(text: str, change: BandChange) -> None:
    assert band_change(text) == change


@pytest.mark.parametrize(
    "text",
    ["", "build", "watch out", "drums out at the fill", "guitar solo", "if drums out", "guitar fill", "keys", "in",
     "not keys out", "drums softer", "bass and drums", "fade out", "keys out loud"],
)  # fmt: skip
def test_other_words_change_nothing(text: str) -> None:
    assert band_change(text) is None


def test_changes_stand_with_their_steps_and_rows() -> None:
    found = song(
        f"section A\ncue softly\ncue keys out\n{ROW}\nsing | la\n{ROW}\ncue drums in\ncue keys in\ncue smile\n{ROW}\n"
        "section B\nlike A\ncue keys alone\nsing | oh\n",
        f"{HEAD}roadmap A (drums out), B\n",
    )
    assert [step.band_change for step in found.roadmap] == [BandChange(out=("drums",)), None]
    one, two = found.sections
    assert [row.band_change for row in one.rows] == [BandChange(keys_out=True), None, BandChange(keys_in=True)]
    assert [row.band_change for row in two.rows] == [BandChange(alone=True), None, BandChange(keys_in=True)]


@pytest.mark.parametrize(
    ("text", "before", "after"),
    [
        ("drums out", ("bass and drums", "fiddle"), ("bass", "fiddle")),
        ("guitar out", ("lead guitar", "rhythm guitar", "bass guitar"), ("bass guitar",)),
        ("lead guitar out", ("lead guitar", "rhythm guitar"), ("rhythm guitar",)),
        ("electric guitar out", ("guitar", "drums"), ("drums",)),
        ("keys alone", ("bass", "drums"), ()),
        ("keys alone, bass in", ("bass", "drums"), ("bass",)),
        ("drums in", (), ("drums",)),
        ("fiddle in", ("bass",), ("bass", "fiddle")),
        ("all in", (), ("bass", "drums")),
        ("keys out", ("bass",), ("bass",)),
    ],
)
def test_who_plays_after_a_change(text: str, before: tuple[str, ...], after: tuple[str, ...]) -> None:
    change = band_change(text)
    assert change is not None
    assert band_with(change, before, ("bass", "drums")) == after


def test_kinds_of_players() -> None:
    assert plays_bass(["Upright bass"]) and plays_bass(["bass and drums"]) and plays_bass(["bassist"])
    assert not plays_bass(["bass drum", "bass voice", "guitar"])
    assert plays_guitar(["acoustic guitar, vocals"]) and not plays_guitar(["bass guitar"])
    assert has_drums(["drum kit"]) and has_drums(["bass & drums"]) and not has_drums(["cajon", "bass"])
    assert [holds_harmony(one) for one in ("bass", "fiddle", "drummer", "choir", "cajón", "vocals and guitar")] == [
        True, True, False, False, False, True,
    ]  # fmt: skip


def test_a_feel_may_stand_in_a_section() -> None:
    found = song(
        "section A\n| C <G |\nsection B\nfeel swing\n| C <G |\nsection C\nlike A\nfeel swing\nsection D\nlike B"
    )
    assert [one.facts.feel for one in found.sections] == ["straight", "swing", "swing", "swing"]
    pushes = [str(one.bars[0].marks[1].chord.push) for one in found.sections if one.bars[0].marks[1].chord]
    assert pushes == ["1/2", "1/3", "1/3", "1/3"]
    assert found.feel == "straight"
    assert [one.own for one in found.sections] == [(), ("feel",), ("feel",), ()]


def test_a_copy_with_its_own_feel_is_that_section_written_out() -> None:
    rows = "| C / / <G |\n| % | <F / / <C |"
    copied = song(f"section A\n{rows}\nsection B\nlike A\nfeel swing").sections[1]
    written = song(f"section B\nfeel swing\n{rows}").sections[0]
    assert copied.rows == written.rows


def test_a_copy_whose_feel_leaves_a_push_no_time() -> None:
    rows = "| C / / / / / G <F |"
    assert codes(f"section A\nfeel swing\n{rows}\nsection B\nlike A\nfeel straight") == ["push-too-long"]
    assert codes(f"section A\n{rows}") == ["push-too-long"]


@pytest.mark.parametrize(
    ("line", "mend"),
    [("texture light > full", "texture light to full"), ("drone D, A", "drone D A"), ("drone D D", "drone D"),
     ("drone tonic and fifth", "drone both"), ("drone none", "drone off"), ("band everybody", "band all"),
     ("band nobody", "band keys alone")],
)  # fmt: skip
def test_what_is_certain_is_mended(line: str, mend: str) -> None:
    text = f"song T\nkey D\nband bass\nsection A\n{line}\n| D | G |\n"
    after, done = mended(Source.of("a", text))
    assert after.text == text.replace(line, mend) and len(done) == 1
    assert read(after)[1] == ()


@pytest.mark.parametrize("line", ["texture loud", "texture sparse", "drone root", "drone D A E", "drone d", "drone D4"])
def test_what_is_not_certain_is_left(line: str) -> None:
    source = Source.of("a", f"song T\nkey D\nsection A\n{line}\n| D | G |\n")
    assert mended(source) == (source, ())


MAJORS = [key for key in all_keys() if not key.minor]
textures = st.sampled_from([*TEXTURES, "light to full", "Wide to bare"])
drones = st.sampled_from(["tonic", "fifth", "both", "off", "C", "G C", "E", "Bb"])
bands = st.sampled_from(["keys alone", "all", "bass", "bass and drums"])


@settings(max_examples=150, deadline=None)
@given(textures, drones, bands, st.sampled_from(MAJORS), st.sampled_from(MAJORS))
def test_the_facts_stay_when_tidied_and_move_with_the_key(
    texture: str, drone: str, band: str, section_key: Key, target: Key
) -> None:
    text = (
        f"{HEAD}band bass, drums\nsection A\nTexture {texture}\n drone\t{drone}\nBAND {band}\n"
        "| C | Am | F#dim | E | Gm |\n"
        f"section B\nlike A\nkey {section_key}\n"
    )
    found = song(text.removeprefix(HEAD), HEAD)
    tidy, said = read(Source.of("a", tidied(Source.typed("a", text))))
    assert tidy == found, said
    moved = transposed(found, target)
    back = transposed(moved, found.key)
    for one, other, again in zip(found.sections, moved.sections, back.sections, strict=True):
        assert (one.facts.texture, one.facts.band) == (other.facts.texture, other.facts.band)
        assert (one.facts.drone is None) == (other.facts.drone is None)
        if one.facts.drone and other.facts.drone and again.facts.drone:
            by = target.tonic.pitch_class - found.key.tonic.pitch_class
            assert [(note.pitch_class + by) % 12 for note in one.facts.drone.notes] == [
                note.pitch_class for note in other.facts.drone.notes
            ]
            assert other.facts.drone.text in ("tonic", "fifth", "both", " ".join(map(str, other.facts.drone.notes)))
            assert [note.pitch_class for note in again.facts.drone.notes] == [
                note.pitch_class for note in one.facts.drone.notes
            ]


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=60) | st.lists(st.sampled_from(
    ["keys", "bass", "drums", "and", ",", "out", "in", "alone", "no", "the", "all", "band", "drops", "back", "guitar"]
), max_size=12).map(" ".join))  # fmt: skip
def test_any_words_are_read_and_leave_a_band(text: str) -> None:
    change = band_change(text)
    if change is not None:
        assert change != BandChange()
        assert not (change.keys_out and change.keys_in) and not set(change.out) & set(change.back)
        assert set(band_with(change, ("bass", "drums"), ("bass", "drums", "fiddle"))) <= {
            "bass", "drums", "fiddle", *change.back,
        }  # fmt: skip


def test_the_dump_has_them() -> None:
    found = song(
        f"section A\ntexture light to full\ndrone both\nband keys alone\ncue keys out\n{ROW}",
        f"{HEAD}band bass\nroadmap A x2 (bare, wide, drums out)\n",
    )
    text = dump(found)
    for words in ("texture light to full", "drone 'both' C G", "band (none)", "change keys_out", "textures bare,wide",
                  "change out drums"):  # fmt: skip
        assert words in text
