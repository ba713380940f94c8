"""Look songs up among texts, without a store: the same songs for the same words as `library.find`, by title.

Pure, for a page that keeps its songs in the browser; running orders, which are few, are looked up so everywhere.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from arranger.library.catalogue import best_line, has_term, terms_of, title_key, tokens
from arranger.library.song_entry import read_song
from arranger.song.read import decode
from arranger.song.running_order import RunningOrder, read_order


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


def searched_orders(orders: Iterable[tuple[str, str]], words: str) -> list[dict[str, Any]]:
    """Return the running orders that have all words in their titles, dates, places or names, by name.

    Args:
        orders: the name and the text of each.
        words: what is looked for; all orders where it is empty.
    """
    terms = terms_of(words.split())
    found = []
    for name, text in sorted(orders):
        source, refused = decode(name, text.encode("utf-8", "replace"))
        order, problems = (None, refused) if refused else read_order(source)
        title, date, place = ("", "", "") if order is None else _head(order)
        known = _words(f"{title} {date} {place} {name}")
        if all(has_term(known, term) for term in terms):
            errors = sum(problem.severity == "error" for problem in problems)
            songs = 0 if order is None else len(order.songs)
            found.append({"name": name, "title": title, "date": date, "place": place, "songs": songs, "errors": errors})
    return found


def _head(order: RunningOrder) -> tuple[str, str, str]:
    date, place = (one.value if one is not None else "" for one in (order.date, order.place))
    return order.title.value, date, place


def _words(text: str) -> str:
    return f" {' '.join(tokens(text))} "
