"""The command line with the painted clump before it."""

import pytest
from standins import Finder, install, painted_photo
from typer.testing import CliRunner

from eyefind.cli.app import app


@pytest.fixture
def finder(monkeypatch) -> Finder:
    return install(monkeypatch)


@pytest.fixture
def garden(tmp_path, monkeypatch, finder):
    """A folder to work in, with ``bed 3.png`` in it."""
    monkeypatch.chdir(tmp_path)
    painted_photo(tmp_path / "bed 3.png")
    return tmp_path


@pytest.fixture
def eyefind():
    """Run ``eyefind`` with these words."""

    def run(*words: object):
        return CliRunner().invoke(app, [str(word) for word in words])

    return run
