"""What the tests of this room share: songs from text, arranged, and nothing kept that was settled for another test."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from arranger.harmony.settled import forget


@pytest.fixture(autouse=True)
def nothing_kept() -> Iterator[None]:
    """Begin and end with nothing that was settled for another test."""
    forget()
    yield
    forget()
