"""Read the playing order: the `roadmap` lines and the sections become steps."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence

from arranger.habits.signs import JUMP, times_in_words, with_own_signs
from arranger.song.chord_rows import MOST_TIMES
from arranger.song.grammar import Failure, Lexeme, parse_roadmap
from arranger.song.model import Bar, Section, Step
from arranger.song.players import band_change
from arranger.song.sections import times_played
from arranger.song.song_line import SongLine
from arranger.song.texture_words import step_textures
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, shown
from arranger.text.source import Span
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName

MOST_HEARD = 10_000  # chords as they are heard; a song has some hundreds
MOST_PRINTED = 3_000  # chords on the page, copies of sections included: some seconds of work and seventy pages

_TIMES = re.compile(r"[xX×]\s*([0-9]+)$")
_BARS = re.compile(r"bars?\s+([0-9]{1,5})(?:\s*[-‐–]\s*([0-9]{1,5}))?$", re.IGNORECASE)
_UNTIL = re.compile(r"\suntil\s", re.IGNORECASE)
# Free forms of steps, and remarks that speak of a key: texts, compiled when first used.
_BACKWARD_TIMES = r"([0-9]{1,2})\s*[xX×]$"
_LEADING_TIMES = r"([0-9]{1,2})\s*[xX×]\s+|[xX×]\s*([0-9]{1,2})\s+"
_LOOSE_TIMES = r"(?i)(?:\*\s*([0-9]{1,2})|\s(twice|[0-9]{1,2} times|three times|four times))$"
_BARS_IN_WORDS = r"(?i)\s(?:bars?|measures?|m\.|mm\.)\s*([0-9]{1,5})\s*(?:to|and|-|–)\s*([0-9]{1,5})$"
_JUMP = rf"{JUMP}|(?:to\s+)?repeat\b.*"
_SEPARATORS = r"\s[-–—>+/&|]\s|\s*(?:->|→|;|>)\s*|\sand\s|\sthen\s"
_REMARK_TIMES = r"\(\s*(?:[xX×]\s*([0-9]{1,2})|([0-9]{1,2})\s*[xX×])\s*\)"
_LEAD = r"(?i)(?:the\s+)?(?:last|final|first|second|third|next)\s+(?=\S)"
_IN_STEPS = {
    "semitone": 1, "half step": 1, "half tone": 1, "half a step": 1, "half a tone": 1,
    "tone": 2, "step": 2, "whole step": 2, "whole tone": 2, "third": 0, "fourth": 5, "fifth": 7, "key": 0,
}  # fmt: skip
_MOVED = (
    rf"(?i)\b(?:(up|down)\s+)?(?:by\s+)?(?:an?\s+|one\s+|(?=half\s+a))"
    rf"({'|'.join(_IN_STEPS)})\b(?:\s+(higher|lower|up|down))?"
)
_KEY_NAMED = (
    r"(?i:\bin|\bto|\bkey)(?i:\s+the)?(?i:\s+key)?(?i:\s+of)?\s+"
    r"([A-G][#b♯♭]?)(?:\s*(m\b|(?i:minor)\b)|(?i:\s+major))?\s*(?=[,;.]|$)"
)
_KEY_CHANGED = r"(?i)\bmodulat|\bkey change|\bchange of key|\bnew key|\btranspos"
_OFTEN = {2: "twice", 3: "three times", 4: "four times", 5: "five times", 6: "six times", 8: "eight times"}
_ABBREVIATION = r"([^\W\d_]{1,4})\.? ?([0-9]{0,2})"
_TAILS = 64  # characters at the end of a step in which bars and times are looked for


def folded(name: str) -> str:
    """Return a name as names are compared: without case, blanks as one, in NFC."""
    return unicodedata.normalize("NFC", " ".join(name.split())).casefold()


def name_fault(name: str) -> str:
    """Return the message on what is wrong with a section's name; empty where nothing is."""
    if not name:
        return "expected a name after `section`, found the end of the line"
    if any(c in name for c in ",()"):
        return "expected a name without commas and parentheses, which have a meaning in the roadmap"
    if "|" in name:
        return "expected a name alone on its line, found a barline with it"
    if "until" in folded(name).split():
        return "expected a name without the word `until`, which has a meaning in the roadmap"
    tail = name[-_TAILS:]
    for pattern, what in ((_TIMES, "x2"), (_BARS, "bars 1-2")):
        match = pattern.search(tail)
        if match and (match.start() == 0 or tail[match.start() - 1].isspace()):
            return f"expected a name that does not end like `{what}`, which has a meaning in the roadmap"
    return ""


def read_roadmap(lines: Sequence[SongLine], sections: Sequence[Section], problems: Problems) -> tuple[Step, ...]:
    """Read the playing order; several lines are joined."""
    indexes: dict[str, int] = {}
    for index, section in enumerate(sections):
        indexes.setdefault(folded(section.name), index)
    steps: list[Step] = []
    for line in lines:
        parsed = parse_roadmap(with_own_signs(line.text))
        if isinstance(parsed, Failure):
            _bad_roadmap(parsed, line, problems)
            continue
        for pieces in parsed:
            step = _step(pieces, line, indexes, sections, problems)
            if step is not None:
                steps.append(step)
    return tuple(steps)


def _bad_roadmap(failure: Failure, line: SongLine, problems: Problems) -> None:
    at = min(failure.at, max(len(line.text) - 1, 0))
    hint = "names of sections in the order they are played, with commas: `Intro, Verse 1, Chorus x2 (build)`"
    if failure.found[:1] in ("(", ")"):
        hint = "close every parenthesis in the same step: `Chorus (build)`; a comma starts the next step"
    elif failure.found[:1] == ",":
        hint = "one comma between two steps is enough"
    found = shown(failure.found) if failure.found else "the end of the line"
    place = line.within(at, min(len(line.text), at + max(1, len(failure.found))))
    doubled = failure.found[:1] == "," and line.text[:at].rstrip().endswith(",")
    fix = Fix(Span(place.start, place.start + 1), "") if doubled else None
    problems.error("bad-roadmap", f"expected the name of a section, found {found}", place, hint, fix=fix)


def _step(
    pieces: tuple[Lexeme, ...],
    line: SongLine,
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
    loose = re.fullmatch(_REMARK_TIMES, pieces[1].text) if len(pieces) > 1 else None
    if loose is not None:
        place = line.within(pieces[1].start, pieces[1].end)
        problems.warning(
            "times-in-remark",
            f"expected `x{loose[1] or loose[2]}` without parentheses, found the remark {shown(pieces[1].text)}",
            place,
            f"write `{name} x{loose[1] or loose[2]}`; what stands in parentheses is only printed",
            fix=Fix(place, f"x{loose[1] or loose[2]}") if times == 1 and until is None else None,
        )
    if first is not None and not _bars_exist(first, last or first, sections[index], span, problems):
        return None
    textures = () if remark is None else step_textures(remark, times, span, problems)
    change = None if remark is None else band_change(remark)
    found = Step(index, times, until, first, last, remark, textures, change, span)
    if loose is None:
        _warn_of_step(found, sections[index], problems)
    return found


def _warn_of_step(step: Step, section: Section, problems: Problems) -> None:
    """Warn of a step that is likely played otherwise than it was meant."""
    through = _repeated_whole(section.bars) if step.times > 1 and step.from_bar is None else 1
    if through > 1:
        total = _often(step.times * through)
        written = shown(f"{section.name} x{step.times}")
        again = ", ".join([section.name] * step.times) if step.times < 4 else ""
        message = f"in all {written} is played {total}: its repeat {_often(through)} each time"
        other = f"write `{section.name}` if it is played {_often(through)} in all"
        hint = f"{f'write `{again}`' if again else 'name it once for each time'} if {total} is meant"
        problems.warning("repeat-in-step", message, step.span, other, hint)
    key = section.facts.key
    moved = _key_meant(step.remark, key) if step.remark is not None and "key" not in section.own else None
    if moved is not None and moved != key:
        name = f"{section.name} in {moved}" if isinstance(moved, Key) else f"{section.name} moved"
        problems.warning(
            "key-in-remark",
            f"expected another key in a section of its own, found the remark {shown(f'({step.remark})')}",
            step.span,
            f"what stands in parentheses is only printed: {shown(section.name)} stays in {key.words}",
            f"write `section {name}`, below it `like {section.like or section.name}` and "
            + (f"`key {moved}`" if isinstance(moved, Key) else "`key` with the new one")
            + ", and name that section here",
        )


def _often(times: int) -> str:
    return _OFTEN.get(times, f"{times} times")


def _repeated_whole(bars: Sequence[Bar]) -> int:
    """Return how often a section is played by a repeat that is all of it; 1 where no such repeat is."""
    endings = [index for index, bar in enumerate(bars) if bar.ending]
    body = endings[0] if endings else len(bars) - 1
    if not bars or not (bars[-1].repeat_times or bars[-1].ending_close):
        return 1
    parted = any(bar.repeat_start for bar in bars[1:]) or any(bar.ending_close for bar in bars[:-1])
    return 1 if parted or any(bar.repeat_times for bar in bars[:body]) else times_played(tuple(bars))[0]


def _key_meant(remark: str, key: Key) -> Key | str | None:
    """Return the key that a remark speaks of, the words alone where it names none, or None."""
    named = re.search(_KEY_NAMED, remark)
    if named is not None:
        meant = Key(NoteName.parse(with_own_signs(named[1])), bool(named[2]) or key.minor)
        return meant if meant.exists and meant.minor == key.minor else remark
    moved = re.search(_MOVED, remark)
    way = (moved[1] or moved[3] or "").lower() if moved is not None else ""
    if moved is None or not way:
        return remark if re.search(_KEY_CHANGED, remark) else None
    by = _IN_STEPS[" ".join(moved[2].lower().split())] * (1 if way in ("up", "higher") else -1)
    if not by:
        return remark
    found = Key(key.spelled((key.tonic.pitch_class + by) % 12), key.minor)
    both = [one for one in (found, found.enharmonic()) if one is not None and one.exists]
    return min(both, key=lambda one: abs(one.signature))


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
    hints, better = _free_step(name, indexes)
    near = problems.nearest(name, [s.name for s in sections], 3)
    starts = [s.name for s in sections if _shortened(name, s.name)][:3]
    offered = list(dict.fromkeys(near + starts))[:3]
    if offered and not hints:
        hints.append(f"did you mean {' or '.join(f'`{n}`' for n in offered)}?")
    if not hints:
        names = ", ".join(f"`{s.name}`" for s in sections[:8])
        hints.append(f"the sections are {names}{', …' if sections[8:] else ''}")
    fix = None if better is None else Fix(span, better)
    problems.error("unknown-section", f"expected the name of a section, found {shown(name)}", span, *hints, fix=fix)


def _shortened(short: str, name: str) -> bool:
    """Return whether a name may be meant by a shorter one: `Verse` for `Verse 1`, `V1`, `Ch`.

    >>> _shortened("V1", "Verse 1"), _shortened("ch", "Chorus"), _shortened("V2", "Verse 1")
    (True, True, False)
    """
    if folded(name).startswith(folded(short) + " "):
        return True
    match = re.fullmatch(_ABBREVIATION, folded(short))
    if match is None:
        return False
    word, _, number = folded(name).partition(" ")
    return word.startswith(match[1]) and (not match[2] or number == match[2])


def _free_step(name: str, indexes: Mapping[str, int]) -> tuple[list[str], str | None]:
    """Return hints to a step in a free form, and what it means for certain."""
    tail = name[-_TAILS:]
    for pattern in (_BACKWARD_TIMES, _LEADING_TIMES, _LOOSE_TIMES):
        match = re.search(pattern, tail) if pattern is not _LEADING_TIMES else re.match(pattern, name)
        if match is None:
            continue
        bare = (name[: len(name) - len(match[0])] if pattern is not _LEADING_TIMES else name[match.end() :]).strip()
        number = next(group for group in match.groups() if group).lower()
        times = times_in_words(number) or number.removesuffix(" times")
        plain = bare if folded(bare) in indexes else re.sub(_LEAD, "", bare, count=1)
        if folded(plain) in indexes:
            better = f"{plain} x{times}"
            return [f"write `{better}`: how often stands after the name"], better if plain == bare else None
    bars = re.search(_BARS_IN_WORDS, tail)
    if bars is not None and folded(name[: len(name) - len(bars[0])]) in indexes:
        better = f"{name[: len(name) - len(bars[0])].rstrip()} bars {bars[1]}-{bars[2]}"
        return [f"write `{better}`"], better
    if _TIMES.search(tail) or _BARS.search(tail):
        return ["a step is a name, then `bars 5-8`, then `x2` or `until …`, then a remark in parentheses"], None
    if folded(name).endswith(" until"):
        return ["say what ends it: `Vamp until the lights go`"], None
    if re.fullmatch(_JUMP, name):
        return ["there are no jumps: name the sections in the order in which they are played"], None
    parts = [part.strip() for part in re.split(_SEPARATORS, name)]
    if len(parts) > 1 and all(folded(part) in indexes for part in parts):
        better = ", ".join(parts)
        return [f"set commas between the sections: `{better}`"], better
    return [], None


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
                message = f"the roadmap leaves out {shown(section.name)}"
                hint = f"add `{section.name}` where it is played"
                problems.warning("section-not-played", message, section.span, hint)
    total = 0
    for section in sections:
        total += sum(len(bar.marks) for bar in section.bars)
        if total > MOST_PRINTED:
            found = (
                f"expected {MOST_PRINTED:,} chords at most as they are written, sections by `like` included, found more"
            )
            problems.error("song-too-long", found, section.span, "make two songs of it")
            return
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
