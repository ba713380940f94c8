"""Denser looks: two rows in a line, hands beside their chords, words of a bar on two lines, headings over the music."""

from __future__ import annotations

from itertools import pairwise

import pytest

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.folding import groups_of
from arranger.layout.content.model import MarginEntry, PlannedLine
from arranger.layout.model import Line, Text
from arranger.layout.options import HANDS, Hands, PartOptions
from arranger.layout.pages.part_choice import PartChoice
from arranger.layout.pages.part_draft import PartDraft
from arranger.layout.pages.players_part import lay_out
from arranger.layout.setting.margin import over_lines
from arranger.pdf.fonts import metrics
from arranger.pipeline import Wishes, to_arrangement, to_song
from arranger.song.read import decode
from tests.bench.songbook import songbook

SOME = 12  # songs of the 200
FULL = "135"  # the one of them whose only page has the most lines of two rows


def arrangements(count: int) -> list[Arrangement]:
    """Return arrangements of songs of the songbook, spread over it."""
    songs = list(songbook())
    chosen = [decode(one.name, one.text.encode())[0] for one in songs[:: len(songs) // count]][:count]
    return [to_arrangement(to_song(source)[0], Wishes(figures=False))[0] for source in chosen]


def music(draft: PartDraft) -> list[PlannedLine]:
    return [line.inside.line for line in draft.lines if line.inside.line.bars]


def test_hands_of_a_section_stand_one_way_unless_that_saves_a_page() -> None:
    uniform = 0
    for arrangement in arrangements(SOME):
        choice = PartChoice(arrangement, PartOptions(), metrics())
        draft = choice.best()
        ways: dict[int, set[bool]] = {}
        for line in music(draft):
            ways.setdefault(line.section, set()).add(line.look.beside)
        if all(len(way) == 1 for way in ways.values()):
            uniform += 1
            continue
        assert draft.look.mixed
        others = [look for look in style.looks("keyboard") if not look.mixed]
        assert min(choice.at(draft.groups, look).pages for look in others) > draft.pages
    assert uniform > SOME // 2


@pytest.mark.parametrize("hands", HANDS)
def test_mixed_looks_are_the_last_that_are_tried(hands: Hands) -> None:
    mixed = [look.mixed for look in style.looks(hands)]
    assert mixed == sorted(mixed) and any(mixed) == (hands != "staff")


def test_a_double_bar_stands_where_the_second_row_of_a_line_begins() -> None:
    found = 0
    for arrangement in arrangements(SOME):
        choice = PartChoice(arrangement, PartOptions(hands="letters"), metrics())
        draft = choice.at(groups_of(arrangement), next(look for look in style.looks("letters") if look.joined))
        for section in {line.section for line in music(draft)}:
            rows = [len(row.bars) for row in draft.sections[section].rows]
            lines = [line for line in music(draft) if line.section == section]
            for line in lines:
                bars = [bar.content for bar in line.bars]
                if len(bars) == sum(rows[line.row : line.row + 2]) and len(rows) > line.row + 1:
                    joint = rows[line.row]
                    assert [bar.double for bar in bars[: joint - 1]] == [False] * (joint - 1)
                    assert bars[joint - 1].double or bars[joint - 1].repeat_times
                    found += 1
    assert found


def test_what_stands_before_a_double_bar_keeps_clear_of_it() -> None:
    found = 0
    full = next(one for one in songbook() if one.name == FULL)
    arrangement, _ = to_arrangement(to_song(decode(full.name, full.text.encode())[0])[0], Wishes(figures=False))
    for page in lay_out(arrangement, metrics())[0].pages:
        strokes = sorted(
            (i for i in page.items if isinstance(i, Line) and i.role == "barline"), key=lambda i: (i.y1, i.x1)
        )
        pairs = [one for one, two in pairwise(strokes) if 0 < two.x1 - one.x1 < 3]
        for stroke in pairs:
            for item in page.items:
                if isinstance(item, Text) and stroke.y1 < item.y < stroke.y2 and item.x < stroke.x1:
                    end = item.x + metrics().width(item.text, item.face, item.size)
                    assert end <= stroke.x1 - 1.49
                    found += 1
    assert found


def test_second_lines_of_words_are_set_in_and_verses_apart() -> None:
    found = 0
    for arrangement in arrangements(SOME):
        draft = PartChoice(arrangement, PartOptions(), metrics()).best()
        for ready in (line.inside for line in draft.lines):
            first, second = dict(ready.rows.words), dict(ready.rows.under)
            for verse, baseline in second.items():
                inside = baseline - first[verse]
                following = [y for other, y in first.items() if other > verse]
                assert all(y - baseline > inside for y in following[:1])
                found += 1
    assert found


def test_pickups_over_the_music_stand_in_one_line_and_are_named_once() -> None:
    heading = [MarginEntry("Verse 1–3", "section"), *[MarginEntry("a fact of the section", "fact")] * 3]
    pickups = [MarginEntry(f"and then the {n}", "pickup", verse=n - 1, label=f"{n}.") for n in (1, 2, 3)]
    width = 420.0
    lines = over_lines((*heading, *pickups), width, metrics())
    texts = [[item.text for item in line.items if isinstance(item, Text)] for line in lines]
    assert texts[-1] == ["pickup: 1. and then the 1", "2. and then the 2", "3. and then the 3"]
    assert not any("pickup" in text for line in texts[:-1] for text in line)
    (alone,) = over_lines((heading[0], pickups[0]), width, metrics())
    assert [item.text for item in alone.items if isinstance(item, Text)] == ["Verse 1–3", "pickup: 1. and then the 1"]
