"""Take off what a listing, the source of a web page or a table puts around the lines of a sheet. Takes and gives texts.

Each text comes with the number of its line in the sheet as it was typed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from html import unescape
from itertools import pairwise

from arranger.convert.marks import chord_of

Numbered = tuple[int, str]

FEWEST_TAGS = 3  # that end an element: they show the source of a page
_TAG = re.compile(
    r"<(?P<end>/?)(?P<name>html|head|body|title|meta|link|p|pre|div|span|br|hr|b|i|u|em|strong|font|small|sup|sub|a|"
    r"h[1-6]|"
    r"table|tbody|thead|tr|td|th|ul|ol|li|center|code|section|article|header|footer|main|tt)(?:\s[^<>]*)?/?>",
    re.IGNORECASE,
)
_UNSEEN = re.compile(r"<(script|style)\b.*?</\1>|<!--.*?-->|<!doctype[^>]*>", re.IGNORECASE | re.DOTALL)
_BREAKS = frozenset(("br", "p", "div", "li", "tr", "pre", "hr", "h1", "h2", "h3", "h4", "h5", "h6", "title"))
_APART = frozenset(("p", "h1", "h2", "h3", "h4", "h5", "h6", "ul", "ol", "table"))  # a blank line stands behind them
_LISTED = re.compile(r"\s*(?P<number>[0-9]{1,3})(?P<sign>[.:|)]?)(?:\s|$)")
_BULLET = re.compile(r"\s*[-*•‣◦▪●–]\s+(?P<rest>\S.*)")
MOST_WITHOUT_BULLET = 3  # lines for each one with a bullet
FEWEST_LISTED = 6  # lines with their numbers one after the other: a listing
# The line under the head of a table: |---|:--:|
_RULE = re.compile(r"\s*\|(?:\s*:?-{2,}:?\s*\|)+\s*")
# Signs of East Asian texts around names, as wide as two others.
_WIDE_SIGNS = str.maketrans({"【": "[", "［": "[", "〔": "[", "】": "]", "］": "]", "〕": "]", "：": ": "})
_BOARD_TAG = re.compile(
    r"\[(?P<end>/?)(?:b|i|u|s|size|color|colour|font|center|centre|code|quote|ch|tab|pre|url|list|align|h[1-3])(?:=[^\[\]]*)?\]",
    re.IGNORECASE,
)
_LETTER_BY_LETTER = re.compile(r"\s*[^\W_](?: ?:|(?:\s+[^\W_])+ ?:?)\s*")
FEWEST_LETTERS = 3  # one by one that are a word: `C O D A`


def unwrapped(lines: Sequence[Numbered]) -> list[Numbered]:
    r"""Return the lines as they would be read, without line numbers, tags and rules of tables.

    >>> unwrapped([(1, "<b>Verse</b><br>"), (2, "<pre>G &amp; D</pre>"), (3, "<p>Out</p>")])
    [(1, 'Verse'), (2, 'G & D'), (3, 'Out'), (3, '')]
    """
    found = list(_without_tags(lines))
    found = _without_bullets(_without_numbers(_without_board_tags(found)))
    found = [(number, _with_letters_joined(text)) for number, text in found]
    return [(number, text.translate(_WIDE_SIGNS)) for number, text in found if not _RULE.fullmatch(text)]


def _without_tags(lines: Sequence[Numbered]) -> Iterator[Numbered]:
    text = "\n".join(text for _, text in lines)
    if sum(match["end"] != "" for match in _TAG.finditer(text)) < FEWEST_TAGS:
        yield from lines
        return
    text = _UNSEEN.sub(lambda match: "\n" * match[0].count("\n"), text)
    for (number, _), line in zip(lines, text.split("\n"), strict=True):
        shown = unescape(_TAG.sub(_shown, line)).replace("\n\n", "\n")
        parts = shown.split("\n")
        if line.strip() and not shown.strip():
            continue  # tags alone
        while len(parts) > 1 and not parts[0].strip():
            parts = parts[1:]
        apart = any(match["end"] and match["name"].lower() in _APART for match in _TAG.finditer(line))
        while len(parts) > 1 and not parts[-1].strip():
            parts = parts[:-1]
        yield from ((number, part) for part in (*parts, *([""] if apart else [])))


def _without_board_tags(lines: Sequence[Numbered]) -> list[Numbered]:
    """Take the tags of message boards away: `[b]G[/b]`."""
    if sum(match["end"] != "" for _, text in lines for match in _BOARD_TAG.finditer(text)) < FEWEST_TAGS:
        return list(lines)
    return [(n, _BOARD_TAG.sub("", text)) for n, text in lines if not text.strip() or _BOARD_TAG.sub("", text).strip()]


def _with_letters_joined(text: str) -> str:
    """Join letters that are typed one by one, as in headings that are spread: `V E R S E  1`."""
    letters = text.split()
    if len(letters) < FEWEST_LETTERS or not _LETTER_BY_LETTER.fullmatch(text) or not text.isupper():
        return text
    if all(chord_of(letter) or letter.isdigit() for letter in letters):
        return text  # G  A  D 7
    return " ".join("".join(word.split()) for word in re.split(r"\s{2,}", text.strip()))


def _shown(match: re.Match[str]) -> str:
    return "\n" if match["name"].lower() in _BREAKS else ""


def _without_bullets(lines: Sequence[Numbered]) -> list[Numbered]:
    """Take bullets away where many lines have one, some of them lines of chords. Columns stay."""
    marked = [match for _, text in lines if (match := _BULLET.match(text)) is not None]
    chords = [m for m in marked if all(chord_of(piece) for piece in m["rest"].split())]
    if MOST_WITHOUT_BULLET * len(marked) < sum(bool(text.strip()) for _, text in lines) or not chords:
        return list(lines)
    return [(number, _BULLET.sub(lambda m: " " * (m.start("rest")) + m["rest"], text)) for number, text in lines]


def _without_numbers(lines: Sequence[Numbered]) -> list[Numbered]:
    """Take the numbers of lines away where each line has its own, one more than the line before."""
    found = [(number, text, _LISTED.match(text)) for number, text in lines if text.strip()]
    matches = [match for _, _, match in found if match is not None]
    if len(matches) < FEWEST_LISTED or len(matches) < len(found):
        return list(lines)
    numbers = [int(match["number"]) for match in matches]
    if any(b - a != 1 for a, b in pairwise(numbers)):
        return list(lines)
    texts = [(match, text[match.end("sign") :]) for (_, text, _), match in zip(found, matches, strict=True)]
    begins = [match.end("sign") + len(rest) - len(rest.lstrip()) for match, rest in texts if rest.strip()]
    start = min(begins)
    return [(number, text[start:]) for number, text in lines]
