"""What the codes of diagnostics mean: the page grammar/mistakes.md, taken apart by its headings."""

from __future__ import annotations

import re
from functools import cache

from arranger.resources import grammar_text

_HEADING = re.compile(r"^### ([a-z0-9-]+)$", re.MULTILINE)


@cache
def _parts() -> dict[str, str]:
    """Return the part of the page under each code, without what belongs to the next chapter."""
    _, *found = _HEADING.split(grammar_text("mistakes.md"))
    return {code: text.split("\n## ")[0].strip() for code, text in zip(found[::2], found[1::2], strict=True)}


def known_codes() -> tuple[str, ...]:
    """List the codes that are explained, in the order of the page."""
    return tuple(_parts())


def explanation(code: str) -> str:
    """Return what a code means: its name, a text, and in most cases what was typed and what is right.

    Raises:
        KeyError: there is no such code.
    """
    return f"{code}\n\n{_parts()[code]}"
