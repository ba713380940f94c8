"""The head and the foot of a stage copy, in units of the copy."""

from __future__ import annotations

from collections.abc import Sequence

from arranger.harmony.model import Arrangement
from arranger.layout.facts import song_facts
from arranger.layout.heading import SEPARATOR, Flow, Heading, set_roadmap
from arranger.layout.metrics import Metrics
from arranger.layout.model import Face, Item
from arranger.layout.style import PIECE_GAP, QUIET_GREY, ROADMAP, STAGE_FOOT_GAP, STAGE_TITLE, UNIT
from arranger.layout.text import place, runs, width_of, wrap
from arranger.text.source import NOWHERE, Span

STAGE_NEXT_SHARE = 0.5  # of the width that the words about the next page may take in any case
ONE_LINE = 23 * UNIT  # a page so wide has its foot in one line
TALL = "dÉ"  # what a line of the foot is as high as


def set_stage_head(arrangement: Arrangement, metrics: Metrics, width: float, height: float) -> tuple[Heading, ...]:
    """Place title, key, tempo and meter, who begins, and the roadmap.

    Args:
        arrangement: whose head it is.
        metrics: of the fonts.
        width: of a page inside its margins.
        height: of the same.

    Returns:
        One for each page that the head stands on.
    """
    song = arrangement.song
    flow = Flow(0.0, width, 0.0, (height, height), metrics, 0.0)
    for line in wrap(song.title.value, "bold", STAGE_TITLE, width, metrics):
        above = max(metrics.rise(line, "bold", STAGE_TITLE), metrics.cap_height("bold", STAGE_TITLE))
        baseline = flow.baseline(above, metrics.descent("bold", STAGE_TITLE))
        flow.items += place(runs(line, "bold", STAGE_TITLE, metrics), 0.0, baseline, "title", song.title.span)
    pieces: list[tuple[str, Face, str, Span]] = [(SEPARATOR.join(song_facts(arrangement)), "bold", "key", NOWHERE)]
    if song.start is not None:
        pieces.append((f"start: {song.start.value}", "regular", "header", song.start.span))
    _side_by_side(pieces, flow)
    if song.roadmap_written:
        set_roadmap(song, flow, ROADMAP)
    return flow.finish()


def _side_by_side(pieces: Sequence[tuple[str, Face, str, Span]], flow: Flow) -> None:
    """Place pieces of text in one line where they fit, the last at its right end; else one under the other."""
    widths = [width_of(runs(text, face, UNIT, flow.metrics)) for text, face, _, _ in pieces]
    if len(pieces) == 1 or sum(widths) + PIECE_GAP > flow.width:
        for text, face, role, span in pieces:
            flow.paragraph(text, face, UNIT, role, span)
        return
    above = max(flow.metrics.rise(text, face, UNIT) for text, face, _, _ in pieces)
    baseline = flow.baseline(max(above, UNIT), flow.metrics.descent("bold", UNIT))
    for (text, face, role, span), x in zip(pieces, (0.0, flow.width - widths[-1]), strict=True):
        flow.items += place(runs(text, face, UNIT, flow.metrics), x, baseline, role, span)


def stage_foot_height(width: float, metrics: Metrics) -> float:
    """Return the height of the foot with the gap over it, on a page of a width."""
    line = metrics.rise(TALL, "bold", UNIT) + metrics.descent("bold", UNIT)
    return STAGE_FOOT_GAP + line * (1 if width >= ONE_LINE else 2)


def set_stage_foot(
    following: Sequence[str], about: Sequence[str], number: str, metrics: Metrics, width: float, height: float
) -> list[Item]:
    """Place the foot: what to have ready when the page is turned; what this copy is, and which page.

    Args:
        following: what is played next elsewhere, in ever fewer words; empty where nothing is.
        about: what is told of the copy, the first first, as much as there is room for.
        number: of the page; empty where there is one page only.
        metrics: of the fonts.
        width: of the page inside its margins.
        height: of the same, above the foot.
    """
    y = height + STAGE_FOOT_GAP + metrics.rise(TALL, "bold", UNIT)
    below = y if width >= ONE_LINE else y + metrics.rise(TALL, "bold", UNIT) + metrics.descent("bold", UNIT)
    least = runs(SEPARATOR.join(filter(None, (about[0], number))), "regular", UNIT, metrics)
    share = width if below > y else max(width * STAGE_NEXT_SHARE, width - PIECE_GAP - width_of(least))
    short = (text for text in following if width_of(runs(text, "bold", UNIT, metrics)) <= share)
    told = next(short, following[-1] if following else "")  # nothing is cut off
    ready = runs(told, "bold", UNIT, metrics) if told else ()
    room = width - (width_of(ready) + PIECE_GAP if told and below == y else 0.0)
    page = runs(SEPARATOR + number if number else "", "regular", UNIT, metrics)
    if width_of(least) > room:
        page = runs(SEPARATOR + number.replace(" of ", "/"), "regular", UNIT, metrics)
    texts = [SEPARATOR.join(about[:count]) for count in range(len(about), 0, -1)]
    left = room - width_of(page)
    fits = (text for text in (*texts, *about[1:]) if width_of(runs(text, "regular", UNIT, metrics)) <= left)
    text = next(fits, "")
    quiet = (*runs(text, "regular", UNIT, metrics), *page) if text else runs(number, "regular", UNIT, metrics)
    return [*place(ready, 0.0, y, "next"), *place(quiet, width - width_of(quiet), below, "foot", grey=QUIET_GREY)]
