"""What the tests of this room share: some of them change the search, so nothing that was settled before is kept."""

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
