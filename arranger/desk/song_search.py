"""Look songs up among texts, without a store: the same songs for the same words as `library.find`, by title.

Pure, for a page that keeps its songs in the browser.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any

from arranger.library.catalogue import Term, terms_of, title_key, tokens
from arranger.library.song_entry import read_song


def searched(songs: Iterable[tuple[str, str]], words: str) -> list[dict[str, Any]]:
    """Return the songs that have all words in their titles or in what is sung, those with them in the title first.

    Args:
        songs: the name and the text of each.
        words: what is looked for; all songs where it is empty.
    """
    terms = terms_of(words.split())
    found = []
    for name, text in songs:
        facts, lines = read_song(name, text.encode("utf-8", "replace"))
        title, sung = _words(facts.title), [(section, line, _words(line)) for section, line in lines]
        whole = " ".join(words for *_, words in sung)
        if not all(_has(title, term) or _has(whole, term) for term in terms):
            continue
        place = None if all(_has(title, term) for term in terms) else _place(sung, terms)
        shown = {what: getattr(facts, what) for what in ("title", "key", "tempo", "meter", "errors")}
        found.append((place is not None, title_key(facts.title), {"name": name, **shown, "place": place}))
    return [one for *_, one in sorted(found, key=lambda row: row[:2])]


@lru_cache(maxsize=8192)
def _words(text: str) -> str:
    return f" {' '.join(tokens(text))} "


def _has(words: str, term: Term) -> bool:
    return f" {' '.join(term.words)}{' ' if term.whole else ''}" in words


def _place(sung: Sequence[tuple[str, str, str]], terms: Sequence[Term]) -> tuple[str, str] | None:
    """Return the line that has the most of what is looked for, the first of several."""
    best, place = 0, None
    for section, line, words in sung:
        having = sum(_has(words, term) for term in terms)
        if having > best:
            best, place = having, (section, line)
    return place
