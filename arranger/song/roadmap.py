"""The playing order. Takes the `roadmap` lines and the sections; gives the steps."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from arranger.song.bars import MOST_TIMES
from arranger.song.facts import Line
from arranger.song.grammar import Failure, Piece, parse_line, with_own_signs
from arranger.song.model import Section, Step
from arranger.song.problems import Problems, shown
from arranger.song.repeats import times_played
from arranger.source import Span

MOST_HEARD = 10_000  # chords as they are heard; a song has some hundreds

_TIMES = re.compile(r"[xX×]\s*([0-9]+)$")
_BARS = re.compile(r"bars?\s+([0-9]{1,5})(?:\s*[-‐–]\s*([0-9]{1,5}))?$", re.IGNORECASE)
_UNTIL = re.compile(r"\suntil\s", re.IGNORECASE)
_BACKWARD_TIMES = re.compile(r"([0-9]{1,2})\s*[xX×]$")
_WORD = re.compile(r"\S+")
_TAILS = 64  # characters at the end of a step in which bars and times are looked for


def folded(name: str) -> str:
    """Give a name as names are compared: without case, blanks as one."""
    return " ".join(name.split()).casefold()


def name_fault(name: str) -> str:
    """Tell what a section's name must not hold, or nothing."""
    if not name:
        return "expected a name after `section`, found the end of the line"
    if any(c in name for c in ",()"):
        return "expected a name without commas and parentheses, which have a meaning in the roadmap"
    if "until" in folded(name).split():
        return "expected a name without the word `until`, which has a meaning in the roadmap"
    tail = name[-_TAILS:]
    for pattern, what in ((_TIMES, "x2"), (_BARS, "bars 1-2")):
        match = pattern.search(tail)
        if match and (match.start() == 0 or tail[match.start() - 1].isspace()):
            return f"expected a name that does not end like `{what}`, which has a meaning in the roadmap"
    return ""


def read_roadmap(lines: Sequence[Line], sections: Sequence[Section], problems: Problems) -> tuple[Step, ...]:
    """Read the playing order; several lines are joined."""
    indexes: dict[str, int] = {}
    for index, section in enumerate(sections):
        indexes.setdefault(folded(section.name), index)
    steps: list[Step] = []
    for line in lines:
        parsed = parse_line("roadmap", with_own_signs(line.text))
        if isinstance(parsed, Failure):
            _bad_roadmap(parsed, line, problems)
            continue
        for pieces in parsed:
            step = _step(pieces, line, indexes, sections, problems)
            if step is not None:
                steps.append(step)
    return tuple(steps)


def _bad_roadmap(failure: Failure, line: Line, problems: Problems) -> None:
    at = min(failure.at, max(len(line.text) - 1, 0))
    hint = "names of sections in the order they are played, with commas: `Intro, Verse 1, Chorus x2 (build)`"
    if failure.found[:1] in ("(", ")"):
        hint = "close every parenthesis in the same step: `Chorus (build)`; a comma starts the next step"
    elif failure.found[:1] == ",":
        hint = "one comma between two steps is enough"
    found = shown(failure.found) if failure.found else "the end of the line"
    place = line.within(at, min(len(line.text), at + max(1, len(failure.found))))
    problems.error("bad-roadmap", f"expected the name of a section, found {found}", place, hint)


def _step(
    pieces: tuple[Piece, ...],
    line: Line,
    indexes: Mapping[str, int],
    sections: Sequence[Section],
    problems: Problems,
) -> Step | None:
    step = pieces[0]
    name = line.text[step.start : step.end].rstrip()
    start = step.start + len(name) - len(name.lstrip())
    name = name.lstrip()
    remark = line.text[pieces[1].start + 1 : pieces[1].end - 1].strip() if len(pieces) > 1 else None
    span = line.within(start, pieces[-1].end if len(pieces) > 1 else start + len(name))
    if not name:
        problems.error("bad-roadmap", "expected the name of a section between commas, found none", span)
        return None
    until, times, first, last = None, 1, None, None
    cut = _UNTIL.search(name)
    if cut:
        until, name = name[cut.end() :].strip(), name[: cut.start()].rstrip()
    match = _last(_TIMES, name)
    if match and until is None:
        name, times = name[: match.start()].rstrip(), int(match[1][:4])
    match = _last(_BARS, name)
    if match:
        name, first, last = name[: match.start()].rstrip(), int(match[1]), int(match[2] or match[1])
    if not 1 <= times <= MOST_TIMES:
        problems.error("bad-times", f"expected x1 to x{MOST_TIMES}, found {shown(f'x{times}')}", span)
        return None
    index = indexes.get(folded(name))
    if index is None:
        _unknown_section(name, line.within(start, start + len(name)), indexes, sections, problems)
        return None
    if first is not None and not _bars_exist(first, last or first, sections[index], span, problems):
        return None
    return Step(index, times, until, first, last, remark, span)


def _last(pattern: re.Pattern[str], text: str) -> re.Match[str] | None:
    """Find a pattern at the end of a text, behind a blank."""
    low = max(0, len(text) - _TAILS)
    for match in pattern.finditer(text, low):
        if match.start() and text[match.start() - 1].isspace():
            return match
    return None


def _unknown_section(
    name: str, span: Span, indexes: Mapping[str, int], sections: Sequence[Section], problems: Problems
) -> None:
    hints = []
    backward = _BACKWARD_TIMES.search(name[-_TAILS:])
    bare = name[: -len(backward[0])].rstrip() if backward else ""
    if backward and folded(bare) in indexes:
        hints.append(f"write `{bare} x{backward[1]}`: how often stands after the name")
    elif (_TIMES.search(name[-_TAILS:]) or _BARS.search(name[-_TAILS:])) and folded(name) not in indexes:
        hints.append("a step is a name, then `bars 5-8`, then `x2` or `until …`, then a remark in parentheses")
    near = problems.nearest(name, [s.name for s in sections], 3)
    starts = [s.name for s in sections if folded(s.name).startswith(folded(name) + " ")][:3]
    offered = list(dict.fromkeys(near + starts))[:3]
    if offered and not hints:
        hints.append(f"did you mean {' or '.join(f'`{n}`' for n in offered)}?")
    if not hints:
        names = ", ".join(f"`{s.name}`" for s in sections[:8])
        hints.append(f"the sections are {names}{', …' if sections[8:] else ''}")
    problems.error("unknown-section", f"expected the name of a section, found {shown(name)}", span, *hints)


def _bars_exist(first: int, last: int, section: Section, span: Span, problems: Problems) -> bool:
    numbers = [bar.number for bar in section.bars]
    if numbers and numbers[0] <= first <= last <= numbers[-1]:
        return True
    found = f"`bars {first}-{last}`" if first != last else f"`bars {first}`"
    has = f"bars {numbers[0]} to {numbers[-1]}" if len(numbers) > 1 else "1 bar" if numbers else "no bars"
    problems.error("no-such-bars", f"expected bars of {shown(section.name)}, which has {has}, found {found}", span)
    return False


def check_order(steps: Sequence[Step], sections: Sequence[Section], written: bool, problems: Problems) -> None:
    """Warn of sections that a written roadmap leaves out; refuse a song that is too long."""
    if written:
        played = {step.section for step in steps}
        for index, section in enumerate(sections):
            if index not in played:
                problems.warning(
                    "section-not-played",
                    f"the roadmap leaves out {shown(section.name)}",
                    section.span,
                    f"add `{section.name}` where it is played",
                )
    counts = [_heard(section) for section in sections]
    total = 0
    for step in steps:
        total += counts[step.section] * step.times
        if total > MOST_HEARD:
            problems.error(
                "song-too-long", f"expected {MOST_HEARD:,} chords at most as they are heard, found more", step.span
            )
            return


def _heard(section: Section) -> int:
    """Count the chords heard when a section is played once through, repeats included."""
    bars = section.bars
    return sum(max(1, len(bar.marks)) * times for bar, times in zip(bars, times_played(bars), strict=True))
