"""Keep finished pages small while others are made: a book of any number of songs takes little memory."""

from __future__ import annotations

import pickle
import zlib
from collections.abc import Iterable, Iterator

from arranger.layout.model import Page

QUICKLY = 1  # zlib's level: pages are small for minutes, not stored


class PackedPages:
    """Pages in order, each unpacked when it is asked for. Only what this process packed is ever unpacked."""

    def __init__(self) -> None:
        self._pages: list[bytes] = []

    def append(self, page: Page) -> None:
        """Add a page at the end."""
        self._pages.append(zlib.compress(pickle.dumps(page, pickle.HIGHEST_PROTOCOL), QUICKLY))

    def extend(self, pages: Iterable[Page]) -> None:
        """Add pages at the end."""
        for page in pages:
            self.append(page)

    def __len__(self) -> int:
        return len(self._pages)

    def __iter__(self) -> Iterator[Page]:
        for packed in self._pages:
            page: Page = pickle.loads(zlib.decompress(packed))
            yield page
