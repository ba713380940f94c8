"""Last room: the foot of each page, and the check that every character can be printed."""

from __future__ import annotations

from collections.abc import Iterable

from arranger.layout import style
from arranger.layout.direction import joins
from arranger.layout.metrics import Metrics
from arranger.layout.model import Face, Item, Page, Text
from arranger.layout.text import elided, place, runs, width_of
from arranger.text.diagnostics import Diagnostic, error

SHAPING = "shaping"  # what is remembered of scripts whose letters are not joined: one report tells all
FOOT_APART = 12.0
NEXT_SHARE = 0.4  # of the width that the words about the next page may take at most
FACTS_SHARE = 0.35  # and the key with the date


def foot_height(metrics: Metrics) -> float:
    """Return how far the foot's one line rises above the bottom margin."""
    return metrics.rise("dl", "regular", style.FOOTER)


def set_foot(
    title: str, facts: str, following: str, right: str, metrics: Metrics, paper: tuple[float, float]
) -> list[Item]:
    """Place the foot: what the sheet is, what follows on the next page, which page it is. Long titles are cut short.

    Args:
        title: the song.
        facts: its key, the date; printed after the title, whole but for absurd dates.
        following: what to have ready when the page is turned; empty on the last page.
        right: the page's number.
        metrics: of the fonts.
        paper: width and height of the page.
    """
    width, height = paper
    y = height - style.BOTTOM
    room = width - 2 * style.SIDE
    number = runs(right, "regular", style.FOOTER, metrics)
    number_x = width - style.SIDE - width_of(number)
    next_text = elided(following, "bold", style.FOOTER, room * NEXT_SHARE, metrics)
    next_runs = runs(next_text, "bold", style.FOOTER, metrics)
    next_x = number_x - (width_of(next_runs) + FOOT_APART if next_text else 0.0)
    after = elided(f" · {facts}", "regular", style.FOOTER, room * FACTS_SHARE, metrics)
    title_room = next_x - FOOT_APART - style.SIDE - width_of(runs(after, "regular", style.FOOTER, metrics))
    # The two are set apart: a title that runs to the left would turn what follows it.
    sheet = runs(elided(title, "regular", style.FOOTER, title_room, metrics), "regular", style.FOOTER, metrics)
    beside = runs(after, "regular", style.FOOTER, metrics)
    return [
        *place((*sheet, *beside), style.SIDE, y, "foot"),
        *place(next_runs, next_x, y, "next"),
        *place(number, number_x, y, "page"),
    ]


def missing_glyphs(pages: Iterable[Page], metrics: Metrics) -> tuple[Diagnostic, ...]:
    """Report each character that no font has, once, where it is first printed."""
    reported: set[str] = set()
    checked: set[tuple[str, Face, bool]] = set()
    found = []
    for page in pages:
        for item in page.items:
            if not isinstance(item, Text):
                continue
            for character in item.text:
                seen = (character, item.face, bool(item.glyphs))
                if seen in checked:
                    continue
                checked.add(seen)
                if joins(character) and not item.glyphs and metrics.covers(character, item.face):
                    if SHAPING not in reported:
                        reported.add(SHAPING)
                        found.append(_unshaped(character, item))
                elif not metrics.covers(character, item.face) and character not in reported:
                    reported.add(character)
                    found.append(_missing(character, item))
    return tuple(found)


def _unshaped(character: str, item: Text) -> Diagnostic:
    return error(
        "unshaped-script",
        f"the letters of the script of {character!r} join, and this installation cannot join them",
        item.span if item.span.end else None,
        "the extra `scripts` can: pip install 'keys-arranger[scripts]'",
    )


def _missing(character: str, item: Text) -> Diagnostic:
    return error(
        "missing-glyph",
        f"the fonts have no sign for {character!r} (U+{ord(character):04X})",
        item.span if item.span.end else None,
        "the program's own fonts have the letters of Latin, Greek and Cyrillic scripts",
        "--font FILE takes a font for others",
    )
