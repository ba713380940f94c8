"""Set the head of a song's first pages and the foot of each; report what cannot be printed.

A head that is longer than a page (a title without end, a roadmap of hundreds of steps) goes on over the next pages.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.margin_text import played_key, song_facts, step_words
from arranger.layout.direction import joins
from arranger.layout.model import Bookmark, Document, Face, Item, Line, Page, Text
from arranger.layout.pages.around import PlacedRow
from arranger.layout.style import PIECE_GAP, QUIET_GREY, ROADMAP, STAGE_FOOT_GAP, STAGE_TITLE, UNIT
from arranger.layout.text import Metrics, Run, elided, place, runs, width_of, wrap
from arranger.song.model import Song
from arranger.text.diagnostics import Diagnostic, error
from arranger.text.source import NOWHERE, Span
from arranger.units import Rect

SEPARATOR = " · "
TITLE_GAP = 14.0  # between the title and the key on its right
RULE_GAP = 5.0


class HeadPage(NamedTuple):
    """What a page has of the head.

    Attributes:
        items: placed.
        steps: for each step of the roadmap that stands here the index of its section, and the rectangle of its words.
        bottom: the y where it ends.
    """

    items: tuple[Item, ...]
    steps: tuple[tuple[int, Rect], ...]
    bottom: float


@dataclass(slots=True)
class Flow:
    """Where the next line of a head goes: down the page from `y` to its bottom, then on from the top of the next."""

    x: float
    top: float
    width: float
    bottoms: tuple[float, float]  # of the first page, of the others
    metrics: Metrics
    y: float
    done: list[HeadPage] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    steps: list[tuple[int, Rect]] = field(default_factory=list)

    def baseline(self, above: float, below: float) -> float:
        """Make room for a line that rises so far above its baseline and hangs so far below it; return its baseline."""
        if self.y + above + below > self.bottoms[1 if self.done else 0] and (self.items or self.done):
            self.turn()
        baseline = self.y + above
        self.y = baseline + below
        return baseline

    def turn(self) -> None:
        """Begin the next page."""
        self.done.append(HeadPage(tuple(self.items), tuple(self.steps), self.y))
        self.items, self.steps, self.y = [], [], self.top

    def paragraph(self, text: str, face: Face, size: float, role: str, span: Span = NOWHERE) -> None:
        """Place a text in as many lines as it needs."""
        leading = size * style.HEADER_LEADING / style.HEADER * 0.78
        for line in wrap(text, face, size, self.width, self.metrics):
            above = max(self.metrics.rise(line, face, size), leading)
            baseline = self.baseline(above, self.metrics.descent(face, size))
            self.items += place(runs(line, face, size, self.metrics), self.x, baseline, role, span)

    def row(self, row: PlacedRow | None) -> None:
        """Place a row across the page, if there is one."""
        if row is not None:
            self.items += row.at(self.baseline(0.0, row.height))

    def title(self, song: Song, size: float) -> tuple[float, float, int]:
        """Place the title on lines that it needs; return where the last ends, its baseline, how many there are."""
        lines = wrap(song.title.value, "bold", size, self.width, self.metrics)
        end, baseline = self.x, self.y
        for line in lines:
            parts = runs(line, "bold", size, self.metrics)
            above = max(self.metrics.rise(line, "bold", size), self.metrics.cap_height("bold", size))
            baseline = self.baseline(above, self.metrics.descent("bold", size))
            self.items += place(parts, self.x, baseline, "title", song.title.span)
            end = self.x + width_of(parts)
        return end, baseline, len(lines)

    def roadmap(self, song: Song, size: float) -> None:
        """Place the playing order, each step whole on one line where it fits."""
        metrics = self.metrics
        leading = size * style.HEADER_LEADING / style.HEADER
        above, below = metrics.rise("dÉ", "bold", size), metrics.descent("bold", size)
        cap, blank = metrics.cap_height("bold", size), metrics.width(" ", "bold", size)
        at = self.x
        baseline = self.baseline(above, below) if song.roadmap else self.y
        for number, step in enumerate(song.roadmap, 1):
            text = step_words(song, step) + ("," if number < len(song.roadmap) else "")
            for part, line in enumerate(wrap(text, "bold", size, self.width, metrics)):
                set_text = runs(line, "bold", size, metrics)
                width = width_of(set_text)
                if part or (at > self.x and at + width > self.x + self.width):
                    at = self.x
                    baseline = self.baseline(max(metrics.rise(line, "bold", size), leading - below), below)
                self.items += place(set_text, at, baseline, "roadmap", step.span)
                self.steps.append((step.section, Rect(at, baseline - cap, width, cap + below)))
                at += width + blank

    def finish(self) -> tuple[HeadPage, ...]:
        """Rule off the head and return its pages."""
        rule = self.baseline(RULE_GAP, 0.0)
        self.items.append(Line(self.x, rule, self.x + self.width, rule, style.BARLINE, "rule", style.LINE_GREY))
        self.turn()
        return tuple(self.done)


def set_heading(
    arrangement: Arrangement,
    metrics: Metrics,
    left: float,
    width: float,
    bottoms: tuple[float, float],
    with_rights: bool = False,
    compact: bool = False,
    over: PlacedRow | None = None,
) -> tuple[HeadPage, ...]:
    """Place the head of a part from `left` on, on as many pages as it needs.

    `bottoms` are how far down the first page it may reach, and the others. `with_rights`: the rights stand in the head,
    for they are one line, or too long for the foot of the page. `compact`: who begins and who plays stand
    behind the title or the roadmap where there is room. `over` is a row that stands over it.
    """
    flow, song = Flow(left, style.TOP, width, bottoms, metrics, style.TOP), arrangement.song
    flow.row(over)
    end, baseline, lines = flow.title(song, style.TITLE)
    facts = SEPARATOR.join(song_facts(arrangement))
    right = runs(facts, "bold", style.HEADER, metrics)
    at_right = lines == 1 and end + TITLE_GAP + width_of(right) <= flow.x + width
    right_end = flow.x + width - (width_of(right) + PIECE_GAP if at_right else 0.0)
    who = [(f"start: {song.start.value}", song.start.span)] if song.start is not None else []
    if song.band:
        who.append((f"with {', '.join(song.band)}", NOWHERE))
    players = SEPARATOR.join(part for part, _ in who)
    beside = runs(players, "regular", style.HEADER, metrics)
    fits = compact and lines == 1 and end + TITLE_GAP + width_of(beside) <= right_end
    if who and fits:
        flow.items += place(beside, end + TITLE_GAP, baseline, "header", who[0][1])
    if at_right:
        flow.items += place(right, flow.x + width - width_of(right), baseline, "key")
    else:
        flow.paragraph(facts, "bold", style.HEADER, "key")
    if who and not fits:
        flow.paragraph(players, "regular", style.HEADER, "header", who[0][1])
    flow.roadmap(song, style.HEADER)
    credits = [("words", song.words_by), ("music", song.music_by), ("copyist", song.copyist)]
    if song.words_by is not None and song.music_by is not None and song.words_by.value == song.music_by.value:
        credits = [("words and music", song.words_by), ("copyist", song.copyist)]
    named = SEPARATOR.join(f"{role}: {text.value}" for role, text in credits if text is not None)
    if named:
        flow.paragraph(named, "regular", style.SMALL, "header")
    if song.rights is not None and with_rights:
        flow.paragraph(song.rights.value, "regular", style.SMALL, "rights", song.rights.span)
    return flow.finish()


def set_stage_head(
    arrangement: Arrangement, metrics: Metrics, width: float, height: float, over: PlacedRow | None = None
) -> tuple[HeadPage, ...]:
    """Place the head of a stage copy on pages of a size: title, key, tempo and meter, who begins, the roadmap.

    `over` is a row that stands over it.

    Facts and who begins stand in one line where they fit, the last at its right end; else one under the other.
    """
    flow, song = Flow(0.0, 0.0, width, (height, height), metrics, 0.0), arrangement.song
    flow.row(over)
    flow.title(song, STAGE_TITLE)
    facts = SEPARATOR.join(song_facts(arrangement))
    start = f"start: {song.start.value}" if song.start is not None else ""
    left, right = runs(facts, "bold", UNIT, metrics), runs(start, "regular", UNIT, metrics)
    if song.start is not None and width_of(left) + width_of(right) + PIECE_GAP <= width:
        above = max(metrics.rise(facts, "bold", UNIT), metrics.rise(start, "regular", UNIT), UNIT)
        baseline = flow.baseline(above, metrics.descent("bold", UNIT))
        flow.items += place(left, 0.0, baseline, "key")
        flow.items += place(right, width - width_of(right), baseline, "header", song.start.span)
    else:
        flow.paragraph(facts, "bold", UNIT, "key")
        flow.paragraph(start, "regular", UNIT, "header", song.start.span if song.start is not None else NOWHERE)
    if song.roadmap_written:
        flow.roadmap(song, ROADMAP)
    return flow.finish()


SHAPING = "shaping"  # what is remembered of scripts whose letters are not joined: one report says it for all
MISSING_HINTS = (
    "the program's own fonts have the letters of Latin, Greek and Cyrillic scripts",
    "--font FILE takes a font for others",
)
FOOT_APART = 12.0
NEXT_SHARE = 0.4  # of the width that the words about the next page may take in any case
FACTS_SHARE = 0.35  # and the key with the date


def foot_height(metrics: Metrics) -> float:
    """Return how far the foot's one line rises above the bottom margin."""
    return metrics.rise("dl", "regular", style.FOOTER)


def set_foot(
    title: str,
    facts: str,
    following: Sequence[str],
    right: str,
    metrics: Metrics,
    paper: tuple[float, float],
    side: float = style.SIDE,
) -> list[Item]:
    """Place the foot: what the sheet is, what follows on the next page, at the right which page it is.

    Titles that are too long are cut short; the facts (key, date) after them are whole but for absurd dates. `following`
    is what to have ready when the page is turned, in ever fewer words, of which the first that has room stands there;
    empty on the last page. `paper` is the page's width and height, and `side` its margins.
    """
    width, height = paper
    y, room = height - style.BOTTOM, width - 2 * side

    def cut(text: str, face: Face, most: float) -> tuple[Run, ...]:
        return runs(elided(text, face, style.FOOTER, most, metrics), face, style.FOOTER, metrics)

    number = runs(right, "regular", style.FOOTER, metrics)
    number_x = width - side - width_of(number)
    beside = cut(f" · {facts}", "regular", room * FACTS_SHARE)
    left = number_x - 2 * FOOT_APART - side - metrics.width(title, "regular", style.FOOTER) - width_of(beside)
    share = max(room * NEXT_SHARE, left)
    short = (text for text in following if metrics.width(text, "bold", style.FOOTER) <= share)
    onward = cut(next(short, following[-1] if following else ""), "bold", share)
    next_x = number_x - (width_of(onward) + FOOT_APART if onward else 0.0)
    # The two are set apart: a title that runs to the left would turn what follows it.
    sheet = cut(title, "regular", next_x - FOOT_APART - side - width_of(beside))
    return [
        *place((*sheet, *beside), side, y, "foot"),
        *place(onward, next_x, y, "next"),
        *place(number, number_x, y, "page"),
    ]


def document_of(
    arrangement: Arrangement, kind: str, pages: tuple[Page, ...], bookmarks: tuple[Bookmark, ...]
) -> Document:
    """Return the pages with what a document says of itself; `kind` is what it is in the key that is played."""
    song = arrangement.song
    authors = [text.value for text in (song.words_by, song.music_by) if text is not None]
    return Document(
        pages=pages,
        title=song.title.value,
        author=", ".join(dict.fromkeys(authors)),
        subject=f"{kind} in {played_key(arrangement).removeprefix('played in ')}",
        language=song.language.value if song.language is not None else "",
        bookmarks=bookmarks,
    )


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
                        message = (
                            f"the letters of the script of {character!r} join, and this installation cannot join them"
                        )
                        hint = "the extra `scripts` can: pip install 'keys-arranger[scripts]'"
                        found.append(error("unshaped-script", message, item.span if item.span.end else None, hint))
                elif not metrics.covers(character, item.face) and character not in reported:
                    reported.add(character)
                    message = f"the fonts have no sign for {character!r} (U+{ord(character):04X})"
                    found.append(error("missing-glyph", message, item.span if item.span.end else None, *MISSING_HINTS))
    return tuple(found)


STAGE_NEXT_SHARE = 0.5  # of the width that the words about the next page may take in any case
ONE_LINE = 23 * UNIT  # a page so wide has its foot in one line
TALL = "dÉ"  # what a line of the foot is as high as


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
        about: what this copy is, the first first, as much as there is room for.
        number: of the page; empty where there is one page only.
        metrics: of the fonts.
        width: of the page inside its margins.
        height: of the same, above the foot.
    """

    def set_text(text: str) -> tuple[Run, ...]:
        return runs(text, "regular", UNIT, metrics)

    line = metrics.rise(TALL, "bold", UNIT), metrics.descent("bold", UNIT)
    one_line = width >= ONE_LINE
    y = height + STAGE_FOOT_GAP + line[0]
    below = y if one_line else y + line[0] + line[1]
    least = width_of(set_text(SEPARATOR.join(filter(None, (about[0], number)))))
    share = max(width * STAGE_NEXT_SHARE, width - PIECE_GAP - least) if one_line else width
    short = (text for text in following if width_of(runs(text, "bold", UNIT, metrics)) <= share)
    onward = runs(next(short, following[-1] if following else ""), "bold", UNIT, metrics)  # nothing is cut off
    room = width - (width_of(onward) + PIECE_GAP if onward and one_line else 0.0)
    page = set_text(SEPARATOR + number if number else "")
    if least > room:
        page = set_text(SEPARATOR + number.replace(" of ", "/"))
    texts = (*(SEPARATOR.join(about[:count]) for count in range(len(about), 0, -1)), *about[1:])
    text = next((text for text in texts if width_of(set_text(text)) <= room - width_of(page)), "")
    quiet = (*set_text(text), *page) if text else set_text(number)
    return [*place(onward, 0.0, y, "next"), *place(quiet, width - width_of(quiet), below, "foot", grey=QUIET_GREY)]
