"""Look songs up among texts, without a store: the same songs for the same words as `library.find`, by title.

Pure, for a page that keeps its songs in the browser.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from arranger.library.catalogue import best_line, has_term, terms_of, title_key, tokens
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
        title = _words(facts.title)
        sung = _words(" ".join(line for _, line in lines))
        if not all(has_term(title, term) or has_term(sung, term) for term in terms):
            continue
        place = None if all(has_term(title, term) for term in terms) else best_line(lines, terms)
        shown = {what: getattr(facts, what) for what in ("title", "key", "tempo", "meter", "errors")}
        found.append((place is not None, title_key(facts.title), {"name": name, **shown, "place": place}))
    return [one for *_, one in sorted(found, key=lambda row: row[:2])]


def _words(text: str) -> str:
    return f" {' '.join(tokens(text))} "
