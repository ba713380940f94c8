"""What the tests of commands share: a folder of their own, and running a command line in it."""

import pytest

from arranger.cli import main


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Give an empty folder, the current one; a file of tests puts into it what its songs are."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def run(folder, capsys):
    """Run a command line in the folder; give its status, output and messages."""

    def run(*words):
        status = main([str(word) for word in words])
        return status, *capsys.readouterr()

    return run
