"""How full a section is played and when it is struck, beside the music; visits that are drawn apart."""

from __future__ import annotations

from itertools import combinations

import pytest

from arranger.harmony.arrange import work_out
from arranger.harmony.model import Arrangement
from arranger.harmony.patterns import ALONE, PATTERNS, pattern
from arranger.layout.content.collect import collect
from arranger.layout.content.model import RhythmBar
from arranger.layout.model import Document, Item, Text
from arranger.layout.options import PartOptions, StageOptions
from arranger.layout.pages import stage_copy
from arranger.layout.pages.players_part import lay_out
from arranger.layout.setting.rhythm_bar import HEIGHT, beside_each_other, set_rhythm
from arranger.layout.style import COLUMN, QUIET_GREY, SIDE
from arranger.pdf.fonts import metrics
from arranger.song.model import Meter
from arranger.song.read import read
from arranger.text.source import NOWHERE, Source
from arranger.units import A4
from tests.layout import boxes

HEADS = "\U0001d157\U0001d158"
HEAD = "song Test\nkey G\ntempo 76\nband bass, drums, guitar\n"
VERSE = "section Verse\ndynamic mp\n| G | C | D | G |\n"
CHORUS = "section Chorus\ndynamic f\n| C | D | G | G |\n"
BRIDGE = "section Bridge\n| Em | C | G | D |\nsing | one | two | three | four |\n"
THREE = "roadmap Verse, Bridge x3 (light, full, wide), Chorus\n" + VERSE + BRIDGE + CHORUS


def arranged(text: str) -> Arrangement:
    song, problems = read(Source("test", HEAD + text))
    assert song is not None and not problems, problems
    worked, problems = work_out(song, figures=False)
    assert worked is not None, problems
    return worked.arrangement


def part_of(text: str) -> Document:
    document, problems = lay_out(arranged(text), metrics(), PartOptions(A4))
    assert not problems
    return document


def stage_of(text: str) -> Document:
    document, _, problems = stage_copy.lay_out(arranged(text), metrics(), StageOptions())
    assert document is not None and not problems, problems
    return document


def texts(document: Document) -> list[Text]:
    return [item for page in document.pages for item in page.items if isinstance(item, Text)]


def beside(text: str) -> dict[str, str]:
    """Return for each section what stands beside it, without its name."""
    found = collect(arranged(text), metrics())
    return {
        section.name: " / ".join(entry.words for entry in section.rows[0].margin[1:] if entry.words)
        for section in found
    }


def rhythm_of(document: Document, name: str) -> list[Item]:
    """Return the bar of rhythm between a section's name and the next."""
    items = [item for page in document.pages for item in page.items]
    start = next(
        i for i, item in enumerate(items) if item.role == "section" and isinstance(item, Text) and item.text == name
    )
    rest = items[start + 1 :]
    end = next((i for i, item in enumerate(rest) if item.role == "section"), len(rest))
    return [item for item in rest[:end] if item.role == "rhythm"]


def heads(items: list[Item]) -> int:
    return sum(isinstance(item, Text) and item.text in HEADS for item in items)


# --- in words ------------------------------------------------------------------------------------------------------


def test_dynamic_texture_and_manner_stand_in_one_line() -> None:
    found = beside(VERSE + CHORUS)
    assert found == {"Verse": "mp · light · halves", "Chorus": "f · full · quarters"}


def test_a_dynamic_that_changes_keeps_its_hairpin() -> None:
    (section,) = collect(arranged("section Ending\ndynamic p to f\n| G | C |\n"), metrics())
    playing = [(entry.text, entry.hairpin, entry.after) for entry in section.rows[0].margin[1:] if not entry.rhythm]
    assert playing == [("p", "opens", "f"), ("light to full · held to quarters", "", "")]


def test_what_is_suggested_is_light_and_what_is_written_is_not() -> None:
    verse = "section Verse\n{}| G | C | D | G |\nsing | la | la | la | la |\n"
    suggested = [item for item in texts(part_of(verse.format(""))) if "light" in item.text and item.role != "legend"]
    assert [(item.text, item.grey) for item in suggested] == [("light · halves", QUIET_GREY)]
    written = [item for item in texts(part_of(verse.format("texture light\n"))) if "light ·" in item.text]
    assert [(item.text, item.grey) for item in written] == [("light · halves", 0.0)]
    played = [item for item in texts(part_of(verse.format("play broken\n"))) if item.text in ("light", "broken")]
    assert [(item.text, item.grey) for item in played] == [("broken", 0.0), ("light", QUIET_GREY)]


def test_the_legend_explains_what_is_light() -> None:
    legend = [item.text for item in texts(part_of("section Verse\n| G | C |\n")) if item.role == "legend"]
    assert "suggested too" in legend
    legend = [item.text for item in texts(part_of(VERSE)) if item.role == "legend"]
    assert "suggested too" not in legend and "how to strike, right hand over left" in legend


# --- visits --------------------------------------------------------------------------------------------------------


def test_visits_that_differ_are_told_by_number() -> None:
    found = beside(THREE)
    assert found["Bridge"] == "light · halves / 2nd and 3rd time: next"
    assert found["Bridge, 2nd and 3rd time"] == "full · quarters / 3rd: wide, eighths"


def test_steps_and_times_are_not_mixed_up() -> None:
    """Where the roadmap comes twice to what is heard three times, it is said of how many."""
    text = "roadmap Verse, Chorus, Chorus x2 (build)\n" + VERSE + CHORUS
    assert "3rd of 3: wide, eighths" in beside(text)["Chorus"]


def test_who_plays_is_told_where_that_differs() -> None:
    text = "roadmap Verse, Chorus, Chorus (bass and drums out), Verse, Verse (keys alone)\n" + VERSE + CHORUS
    found = beside(text)
    assert found["Chorus, 2nd time"].startswith("without bass, drums / f · full · ")
    assert found["Verse, 3rd time"].startswith("keys alone / mp · light · ")


@pytest.mark.parametrize("make", [part_of, stage_of])
def test_visits_apart_are_drawn_after_their_section_without_words(make: object) -> None:
    document = make(THREE)  # type: ignore[operator]
    titles = [mark.title for mark in document.bookmarks]
    assert titles == ["Verse", "Bridge", "Bridge, 2nd and 3rd time", "Chorus"]
    names = " ".join(item.text for item in texts(document) if item.role == "section")
    assert names == "Verse Bridge Bridge, 2nd and 3rd time Chorus"
    every = [item.text for item in texts(document)]
    assert not any("not in the roadmap" in text for text in every)
    assert sum(text.startswith("one") for text in every) == 1  # sung once: in words, or as a prompt


@pytest.mark.parametrize("make", [part_of, stage_of])
def test_verses_stand_under_the_hands_with_which_they_are_sung(make: object) -> None:
    sung = "".join(f"sing | {verse} verse is sung | on | and | on |\n" for verse in ("first", "second", "third"))
    text = "roadmap Bell x3 (light, full, full)\nsection Bell\n| C | Am | F | G |\n"
    document = make(text + sung)  # type: ignore[operator]
    assert [mark.title for mark in document.bookmarks] == ["Bell", "Bell, 2nd and 3rd time"]
    begun = [item for item in texts(document) if item.role in ("words", "prompt") and "verse is" in item.text]
    names = [word.split()[-4] if item.role == "words" else word for item in begun for word in [item.text]]
    if make is part_of:
        assert names == ["first", "second", "third"]
        labels = [item.text for item in texts(document) if item.role == "verse"]
        assert labels == ["2.", "3."]
    else:
        assert [name.partition(" verse")[0] for name in names] == ["1. first", "2. second", "3. third"]


def test_a_part_says_every_chord_of_visits_apart() -> None:
    sections = collect(arranged(THREE), metrics())
    apart = next(section for section in sections if section.name.startswith("Bridge, "))
    symbols = [
        "".join(run.text for run in column.symbol.runs)[:1]
        for row in apart.rows
        for bar in row.bars
        for column in bar.columns
        if column.symbol is not None and column.symbol.role == "chord"
    ]
    assert symbols == ["E", "C", "G", "D"] and all(row.verses == 0 for row in apart.rows)


def test_the_song_ends_where_its_last_visit_is_drawn() -> None:
    def final(text: str) -> list[str]:
        return [s.name for s in collect(arranged(text), metrics()) if s.rows[-1].bars[-1].final]

    assert final("roadmap Bridge x2 (light, full)\n" + BRIDGE) == ["Bridge, 2nd time"]
    assert final("roadmap Bridge x3 (light, full, light)\n" + BRIDGE) == ["Bridge"]


def test_a_stage_copy_says_where_visits_apart_lead() -> None:
    every = [item.text for item in texts(stage_of("roadmap Bridge x2 (light, full), Verse\n" + VERSE + BRIDGE))]
    after = every[every.index("Bridge, 2nd time") :]
    assert "→ Verse" in " ".join(after)


# --- rhythm --------------------------------------------------------------------------------------------------------


def test_the_rhythm_stands_where_it_changes_and_not_where_chords_are_held() -> None:
    again = VERSE.replace("Verse", "Verse 2")
    held = "section Intro\ndynamic p\n| G | C |\n"
    document = part_of(held + VERSE + again + CHORUS)
    found = {name: heads(rhythm_of(document, name)) for name in ("Intro", "Verse", "Verse 2", "Chorus")}
    assert found == {"Intro": 0, "Verse": 4, "Verse 2": 0, "Chorus": 8}


def test_a_section_that_changes_its_manner_has_both() -> None:
    document = part_of("section Verse\ntexture light to full\n| G | C | D | G |\n")
    assert heads(rhythm_of(document, "Verse")) == 4 + 8


def test_a_stage_copy_has_no_rhythm() -> None:
    assert not [item for page in stage_of(THREE).pages for item in page.items if item.role.startswith("rhythm")]


@pytest.mark.parametrize("bass_player", [True, False])
@pytest.mark.parametrize("meter", ["2/4", "3/4", "4/4", "5/4", "7/8", "6/8", "9/8", "12/8"])
def test_every_rhythm_fits_its_room(meter: str, bass_player: bool) -> None:
    """Every stroke has a head, none touches the next of its hand, and all stay inside the column and its height."""
    beats, unit = map(int, meter.split("/"))
    words = {word for table in (PATTERNS, ALONE) for rhythms in table.values() for word in rhythms}
    for word in sorted(words):
        strokes = pattern(word, Meter(beats, unit), bass_player=bass_player)
        bar = (RhythmBar(strokes, Meter(beats, unit)),)
        assert beside_each_other(bar, COLUMN) == (bar,), word
        items = set_rhythm(bar, 0.0, 0.0, COLUMN, NOWHERE)
        drawn = [item for item in items if isinstance(item, Text) and item.text in HEADS]
        assert len(drawn) >= len(strokes)
        for item in items:
            place = boxes.rect(item, metrics())
            assert place.x >= -0.5 and place.right <= COLUMN + 0.5, (word, item)
            if not isinstance(item, Text):
                assert place.y >= 0 and place.bottom <= HEIGHT, (word, item)
        for one, two in combinations(drawn, 2):
            assert abs(one.x - two.x) > 3.5 or abs(one.y - two.y) > 3.0, word


def test_bars_that_do_not_fit_beside_each_other_stand_under_each_other() -> None:
    bars = tuple(
        RhythmBar(pattern(word, Meter(4, 4), bass_player=True), Meter(4, 4)) for word in ("quarters", "eighths")
    )
    assert beside_each_other(bars, COLUMN) == ((bars[0],), (bars[1],))
    assert beside_each_other(bars, 2 * COLUMN) == (bars,)
    assert beside_each_other((), COLUMN) == ()


@pytest.mark.parametrize("pickup", ["", "pickup The\n"])
def test_nothing_in_the_column_overlaps_the_rhythm(pickup: str) -> None:
    verse = VERSE.replace("section Verse\n", f"section Verse\nsound piano + pad\n{pickup}")
    document = part_of("roadmap Verse, Chorus, Verse\n" + verse + "sing | la | la | la | la |\n" + CHORUS)
    for page in document.pages:
        column = [item for item in page.items if boxes.rect(item, metrics()).x < SIDE + COLUMN]
        rhythm = [
            boxes.rect(item, metrics()) for item in column if item.role == "rhythm" and not isinstance(item, Text)
        ]
        others = [item for item in column if isinstance(item, Text) and item.role != "rhythm"]
        assert rhythm or page is not document.pages[0]
        for item in others:
            assert not any(boxes.rect(item, metrics()).overlaps(one, 0.3) for one in rhythm), item
    if pickup:
        every = texts(document)
        first = next(item for item in every if item.role == "words")
        assert next(item for item in every if item.role == "pickup").y == first.y


@pytest.mark.parametrize(("band", "printed"), [("drums", "(Asus4 A)"), ("drums, guitar", "(all: Asus4 A)")])
def test_a_lead_in_is_printed_light_at_its_place(band: str, printed: str) -> None:
    head = f"song Up\nkey C\ntempo 72\nband {band}\nsection A\ndynamic mp\n| C | F | G | C |\n"
    song, _ = read(Source("up", f"{head}section B\nlike A\nkey D\n"))
    assert song is not None
    worked, _ = work_out(song)
    assert worked is not None
    first, second = collect(worked.arrangement, metrics())
    symbols = [c.symbol for c in first.rows[0].bars[3].columns if c.symbol is not None]
    (offered,) = [symbol for symbol in symbols if symbol.role == "lead-in"]
    assert "".join(run.text for run in offered.runs) == printed
    assert {run.face for run in offered.runs} == {"regular"}
    assert not [
        c for row in second.rows for b in row.bars for c in b.columns if c.symbol and c.symbol.role == "lead-in"
    ]
