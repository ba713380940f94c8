"""What is wrong with songs, as JSON for editors and other programs. Takes sources with their diagnostics; gives text.

Lines and columns count from 1, columns in characters of the file as it is read (normalised to NFC); an end is the place
after the last character. Where no place in the text is meant, `from` and `to` are null.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from arranger.text.diagnostics import Diagnostic
from arranger.text.source import Source, Span


def problems_json(found: Iterable[tuple[Source, Sequence[Diagnostic]]]) -> str:
    """Return all that is wrong with songs: a list of files, each with its problems in order."""
    files = [
        {"file": source.name, "problems": [_problem(one, source) for one in problems]} for source, problems in found
    ]
    return json.dumps(files, ensure_ascii=False, indent=2) + "\n"


def _problem(one: Diagnostic, source: Source) -> dict[str, Any]:
    fix = None
    if one.fix is not None:
        fix = {**_place(one.fix.span, source), "text": one.fix.text}
    return {
        "severity": one.severity,
        "code": one.code,
        **_place(one.span, source),
        "message": one.message,
        "hints": list(one.hints),
        "fix": fix,
    }


def _place(span: Span | None, source: Source) -> dict[str, Any]:
    if span is None:
        return {"from": None, "to": None}
    ends = (source.line_column(offset) for offset in (span.start, span.end))
    return dict(zip(("from", "to"), ({"line": line, "column": column} for line, column in ends), strict=True))
