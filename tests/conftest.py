"""What all tests share: `golden` compares text with a file under tests/golden/, and `--golden` rewrites such files.

Property tests try the same examples each time, so that a commit is green or is not; `HYPOTHESIS_PROFILE=wide` in the
environment tries others.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import seed, settings

settings.register_profile("same", derandomize=True)
settings.register_profile("wide", print_blob=True)
PROFILE = os.environ.get("HYPOTHESIS_PROFILE", "same")
settings.load_profile(PROFILE)

GOLDEN = Path(__file__).parent / "golden"

Golden = Callable[[str | Path, str], None]


def in_parts(count: int) -> Callable[[Callable[[], None]], Callable[[int], None]]:
    """Divide a property test into parts with examples of their own: none takes long, and processes share them."""

    def divided(check: Callable[[], None]) -> Callable[[int], None]:
        @pytest.mark.parametrize("part", range(count))
        def test(part: int) -> None:
            (seed(part)(check) if PROFILE == "same" else check)()

        test.__name__, test.__doc__ = check.__name__, check.__doc__
        return test

    return divided


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--golden", action="store_true", help="rewrite the golden files; review the diff")


@pytest.fixture(autouse=True)
def nobody_s_settings(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the settings of whoever runs the tests out of them."""
    empty = str(tmp_path_factory.getbasetemp() / "no-settings")
    monkeypatch.setenv("XDG_CONFIG_HOME", empty)
    monkeypatch.setenv("APPDATA", empty)
    monkeypatch.setenv("HOME", empty)


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Golden:
    """Compare a text with a golden file: a path under tests/golden/, or a whole path."""
    rewrite = request.config.getoption("--golden")

    def compare(name: str | Path, text: str) -> None:
        path = GOLDEN / name
        if rewrite:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8", newline="\n")
            return
        assert path.is_file(), f"{path} is missing; `pytest --golden` writes it"
        assert text == path.read_text(encoding="utf-8"), f"{path} differs; if that is right, `pytest --golden`"

    return compare
