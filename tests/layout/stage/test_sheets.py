"""Sheets and margins, against the standards of paper and the guides of music publishers."""

from __future__ import annotations

import pytest

from arranger.layout.model import Box, Shape, Text
from arranger.layout.options import StageOptions
from arranger.layout.pages.fitting import margins_of
from arranger.pdf.fonts import metrics
from arranger.units import MM, SCREENS, SHEETS, WIDEST_MARGIN, inch, mm, screen
from tests.layout import songs
from tests.layout.stage.drawn import lay_out

PRINTERS = mm(6)  # what printers leave white at most


@pytest.mark.parametrize(
    ("name", "width", "height", "points"),
    [
        ("a4", 210, 297, (595.28, 841.89)),
        ("a5", 148, 210, (419.53, 595.28)),
        ("letter", 215.9, 279.4, (612.0, 792.0)),
        ("a4-pair", 297, 210, (841.89, 595.28)),
        ("letter-pair", 279.4, 215.9, (792.0, 612.0)),
    ],
)
def test_papers_are_those_of_the_standards(name: str, width: float, height: float, points: tuple[float, float]) -> None:
    sheet = SHEETS[name]
    assert (sheet.width / MM, sheet.height / MM) == pytest.approx((width, height))
    assert (sheet.width, sheet.height) == pytest.approx(points, abs=0.005)


def test_screens_are_four_to_three_both_ways() -> None:
    upright, flat = SHEETS["tablet"], SHEETS["tablet-flat"]
    assert (upright.width, upright.height) == (flat.height, flat.width) == pytest.approx((432.0, 576.0))
    for inches in SCREENS:
        sheet = screen("tablet", inch(inches), upright=True)
        assert sheet.height / sheet.width == pytest.approx(4 / 3)
        assert (sheet.width**2 + sheet.height**2) ** 0.5 == pytest.approx(inch(inches))


def test_margins_are_those_of_the_guides() -> None:
    """15 mm at the sides and 10 at top and bottom (Metropole Orkest); 19 mm (MOLA) and 1 in (ACB) can be asked for."""
    for name in ("a4", "letter"):
        assert margins_of(StageOptions(SHEETS[name])) == pytest.approx((mm(15), mm(15), mm(10)))
    assert mm(19) < WIDEST_MARGIN == pytest.approx(72.0)
    for sheet in SHEETS.values():
        assert sheet.least >= (mm(2) if sheet.screen else PRINTERS)
        assert sheet.least <= min(sheet.side, sheet.end) <= WIDEST_MARGIN


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("margin", [None, mm(6), mm(20)])
def test_everything_lies_inside_the_margins(name: str, margin: float | None) -> None:
    chosen = StageOptions(SHEETS[name], margin=margin, distance=0.6)
    document, _, _ = lay_out(songs.arranged(songs.lanterns()), metrics(), chosen)
    assert document is not None
    side, _, end = margins_of(chosen)
    for page in document.pages:
        assert (page.width, page.height) == (SHEETS[name].width, SHEETS[name].height)
        for item in page.items:
            if isinstance(item, Text):
                assert item.x >= side - 0.01 and item.x + metrics().width(item.text, item.face, item.size) <= (
                    page.width - side + 0.01
                )
                assert end - 0.01 <= item.y <= page.height - end + 0.01
            elif isinstance(item, Box) and item.role != "paper":
                assert side - 0.01 <= item.x and item.x + item.width <= page.width - side + 0.01
            elif isinstance(item, Shape) and item.role == "turn":  # it stands in the margin, where printers print
                least = 0.0 if SHEETS[name].screen else PRINTERS / 2
                assert max(point.x for point in item.points) <= page.width - least


def test_two_pages_lie_side_by_side_and_are_told_apart() -> None:
    chosen = StageOptions(SHEETS["a4-pair"], distance=0.7)
    document, reading, _ = lay_out(songs.arranged(songs.lanterns()), metrics(), chosen)
    assert document is not None and reading is not None
    assert len(document.pages) == (reading.pages + 1) // 2
    assert document.pages[0].label == "1–2"
    middle = document.pages[0].width / 2
    for item in document.pages[0].items:
        if isinstance(item, Text):
            right = item.x + metrics().width(item.text, item.face, item.size)
            assert right <= middle - mm(6) + 0.01 or item.x >= middle + mm(6) - 0.01


def test_a_wider_margin_leaves_smaller_type_or_more_pages() -> None:
    arrangement = songs.arranged(songs.lanterns())
    chosen = StageOptions(distance=0.7, pages=1)
    _, narrow, _ = lay_out(arrangement, metrics(), chosen._replace(margin=mm(6)))
    _, wide, _ = lay_out(arrangement, metrics(), chosen._replace(margin=WIDEST_MARGIN))
    assert narrow is not None and (wide is None or wide.size < narrow.size)
