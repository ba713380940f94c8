"""Define diagnostics: what a stage has to say about its input, as data. `render` returns the printed form of one.

Style: lower case, no full stop, "expected X, found Y"; hints apart.
"""

import unicodedata
from collections.abc import Iterable
from typing import Literal, NamedTuple

from arranger.text.source import Source, Span
from arranger.text.terminal import printable

Severity = Literal["error", "warning"]

TAB_WIDTH = 4  # columns that a tab takes in the printed excerpt
EXCERPT = 100  # characters of a line that are shown around the mark; a terminal seldom is wider


class Fix(NamedTuple):
    """A change of the text that mends a problem for certain: what stands at `span` becomes `text`."""

    span: Span
    text: str


class Diagnostic(NamedTuple):
    """One problem: where it is, what was found, and what would be right there (`hints`, most likely first).

    `code` is a stable word with hyphens (`unknown-section`). `span` is None where no place in the text is meant. `fix`
    is there only where nothing else can have been meant.
    """

    severity: Severity
    code: str
    message: str
    span: Span | None = None
    hints: tuple[str, ...] = ()
    fix: Fix | None = None


def error(code: str, message: str, span: Span | None = None, *hints: str, fix: Fix | None = None) -> Diagnostic:
    """Make an error."""
    return Diagnostic("error", code, message, span, hints, fix)


def warning(code: str, message: str, span: Span | None = None, *hints: str, fix: Fix | None = None) -> Diagnostic:
    """Make a warning."""
    return Diagnostic("warning", code, message, span, hints, fix)


def has_errors(diagnostics: Iterable[Diagnostic]) -> bool:
    """Return whether any is an error (and not only a warning)."""
    return any(d.severity == "error" for d in diagnostics)


def in_order(diagnostics: Iterable[Diagnostic]) -> tuple[Diagnostic, ...]:
    """Sort by place in the text; those without a place come first, equal places keep their order."""
    return tuple(sorted(diagnostics, key=lambda d: d.span.start if d.span else -1))


def columns(text: str) -> int:
    """Count the terminal columns of a text: none for combining marks and joiners, two for wide characters."""
    width = 0
    for character in text:
        if unicodedata.category(character) in ("Mn", "Me", "Cf"):
            continue
        width += 2 if unicodedata.east_asian_width(character) in ("W", "F") else 1
    return width


def render(diagnostic: Diagnostic, source: Source) -> str:
    """Return the printed form: place and message, the line with a mark under the place, then the hints."""
    head = f"{diagnostic.severity} {diagnostic.code}: {printable(diagnostic.message)}"
    if diagnostic.span is None:
        lines = [f"{printable(source.name)}: {head}"]
    else:
        line, column = source.line_column(diagnostic.span.start)
        lines = [f"{printable(source.name)}:{line}:{column}: {head}", *_excerpt(diagnostic.span, source, line)]
    lines += [f"  hint: {printable(hint)}" for hint in diagnostic.hints]
    return "\n".join(lines)


def _excerpt(span: Span, source: Source, line: int) -> list[str]:
    whole = source.line_span(line)
    first = max(whole.start, span.start - EXCERPT // 2) if whole.end - whole.start > EXCERPT else whole.start
    last = min(whole.end, first + EXCERPT)
    before = source.text[first : span.start].replace("\t", " " * TAB_WIDTH)
    marked = source.text[span.start : min(span.end, last)].replace("\t", " " * TAB_WIDTH)
    shown = printable(source.text[first:last].replace("\t", " " * TAB_WIDTH))
    mark = "^" * max(1, columns(printable(marked)))
    return [f"  {shown}", f"  {' ' * columns(printable(before))}{mark}"]
