"""A folder of small songs, one for their PDFs, and what a run leaves there that nothing disturbs."""

import pytest

from tests.library.helpers import go, left_in, put


@pytest.fixture
def songs(tmp_path):
    put(tmp_path / "songs", 5)
    return tmp_path / "songs"


@pytest.fixture
def out(tmp_path):
    return tmp_path / "out"


@pytest.fixture
def undisturbed(songs, tmp_path):
    """Return what a run that nothing disturbs leaves."""
    go(songs, tmp_path / "undisturbed")
    return left_in(tmp_path / "undisturbed")
