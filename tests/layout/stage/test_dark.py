"""Contrast, by the formula of WCAG 2.2: what must be read has 7:1 at least, on light pages and on dark ones."""

from __future__ import annotations

import pypdfium2
import pytest

from arranger.layout.model import Box, Document, Keyboard, Text
from arranger.layout.options import StageOptions
from arranger.layout.pages import stage_copy
from arranger.layout.style import NIGHT, NIGHT_INKS
from arranger.pdf.fonts import metrics
from arranger.pdf.write import to_bytes
from tests.layout import songs
from tests.layout.stage.drawn import drawn, lay_out

READ = 7.0  # success criterion 1.4.6 (AAA)
SEEN = 3.0  # lines that guide the eye: success criterion 1.4.11


def luminance(red: float, green: float, blue: float) -> float:
    def linear(share: float) -> float:
        return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4

    return 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)


def ratio(one: tuple[float, float, float], two: tuple[float, float, float]) -> float:
    light, dark = sorted((luminance(*one), luminance(*two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def grey(share: float) -> tuple[float, float, float]:
    return share, share, share


@pytest.mark.parametrize(
    ("colour", "published"),
    [
        ("000000", 21.0), ("595959", 7.005), ("5a5a5a", 6.897), ("767676", 4.542), ("777777", 4.478),
        ("949494", 3.033), ("ff0000", 3.998), ("0000ff", 8.592), ("008000", 5.137), ("000080", 16.01),
        ("aa0000", 7.751),
    ],
)  # fmt: skip
def test_the_formula_gives_the_published_ratios_on_white(colour: str, published: float) -> None:
    red, green, blue = (int(colour[start : start + 2], 16) / 255 for start in (0, 2, 4))
    assert ratio((red, green, blue), grey(1.0)) == pytest.approx(published, abs=0.005)


def laid(dark: bool) -> Document:
    document, _, problems = lay_out(songs.arranged(songs.lanterns()), metrics(), StageOptions(dark=dark))
    assert document is not None and not [problem for problem in problems if problem.severity == "error"]
    return document


@pytest.mark.parametrize("dark", [False, True])
def test_whatever_is_read_has_seven_to_one_on_what_it_stands_on(dark: bool) -> None:
    grounds = set()
    for page in laid(dark).pages:
        paper = next((item.grey for item in page.items if item.role == "paper" and isinstance(item, Box)), 1.0)
        for item in page.items:
            if isinstance(item, Text):
                grounds.add(paper)
                assert ratio(grey(item.grey), grey(paper)) >= READ, item
            elif not isinstance(item, Keyboard) and item.role != "paper":
                assert ratio(grey(item.grey), grey(paper)) >= SEEN, item
    assert len(grounds) == 1  # nothing is light on dark in a light copy


def test_dark_pages_are_light_on_near_black_to_their_edges() -> None:
    for page in laid(dark=True).pages:
        first = page.items[0]
        assert isinstance(first, Box) and first.role == "paper" and first.grey == NIGHT
        assert (first.x, first.y, first.width, first.height) == (0.0, 0.0, page.width, page.height)
    assert luminance(*grey(NIGHT)) < 0.01


def test_what_is_darker_on_white_is_lighter_on_black() -> None:
    assert sorted(NIGHT_INKS) == sorted(NIGHT_INKS, key=lambda ink: -NIGHT_INKS[ink])


def test_dark_and_light_pages_differ_in_nothing_but_their_inks() -> None:
    for light, dark in zip(laid(dark=False).pages, laid(dark=True).pages, strict=True):
        texts = [[(i.x, i.y, i.text, i.size) for i in p.items if isinstance(i, Text)] for p in (light, dark)]
        assert texts[0] == texts[1]
        assert len(dark.items) == len(light.items) + 1


@pytest.mark.parametrize("dark", [False, True])
def test_the_canvas_draws_a_scale_and_dark_inks_as_items_that_have_them(dark: bool) -> None:
    document, _, _ = stage_copy.lay_out(songs.arranged(songs.lanterns()), metrics(), StageOptions(dark=dark))
    assert document is not None and all(page.scale > 1.0 and page.dark == dark for page in document.pages)
    here, there = (pypdfium2.PdfDocument(to_bytes(one)) for one in (document, drawn(document)))
    for one, other in zip(here, there, strict=True):
        texts = one.get_textpage(), other.get_textpage()
        assert texts[0].get_text_range() == texts[1].get_text_range()
        boxes = [[text.get_charbox(place) for place in range(text.count_chars())] for text in texts]
        assert boxes[0] == boxes[1]
        pixels, others = (page.render(scale=1).to_pil().convert("L").tobytes() for page in (one, other))
        apart = [abs(pixel - other) for pixel, other in zip(pixels, others, strict=True)]
        assert sum(apart) < 0.1 * len(apart)  # numbers have two decimals, so edges may be a little lighter or darker
