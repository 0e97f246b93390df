"""The command line starts light, and says what it can do."""

import subprocess
import sys
from typing import get_args

import pytest
from typer.testing import CliRunner

from eyefind.cli.app import PaperName, StyleName, app

HEAVY = ("numpy", "cv2", "skimage", "scipy", "PIL", "msgspec", "reportlab", "shapely")
WINDOW = ("napari", "qtpy", "PyQt6", "PyQt5", "PySide6", "vispy", "torch")


def loaded_by(code: str) -> set[str]:
    """Top-level modules that a fresh Python has after `code`."""
    tell = "\nimport sys; print(*{name.partition('.')[0] for name in sys.modules})"
    run = subprocess.run(
        [sys.executable, "-c", code + tell], capture_output=True, text=True, check=True
    )
    return set(run.stdout.split("\n")[-2].split())


def test_help_loads_nothing_heavy():
    code = (
        "import sys; sys.argv = ['eyefind', '--help']\n"
        "from eyefind.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
    )
    loaded = loaded_by(code)
    assert "typer" in loaded
    assert not loaded & {*HEAVY, *WINDOW, "rich"}


@pytest.mark.parametrize(
    "module",
    ["eyefind", "eyefind.cli", "eyefind.job", "eyefind.review", "eyefind.desk.session"],
)
def test_no_window_is_loaded(module):
    assert not loaded_by(f"import {module}") & set(WINDOW)


def test_names_are_those_of_the_data():
    from eyefind.data import Style
    from eyefind.sheet.pages import Paper

    assert [name.value for name in StyleName] == list(get_args(Style))
    assert [name.value for name in PaperName] == list(get_args(Paper))


@pytest.mark.parametrize("verb", ["card", "look", "plan", "sheet", "answer"])
def test_every_verb_has_help(verb):
    result = CliRunner().invoke(app, [verb, "--help"])
    assert result.exit_code == 0
    assert "--json" in result.stdout
    assert verb in CliRunner().invoke(app, ["--help"]).stdout


def test_version():
    from eyefind import __version__

    assert __version__ in CliRunner().invoke(app, ["--version"]).stdout


def test_installed_command_answers():
    code = "from eyefind.cli import main; main()"
    run = subprocess.run(
        [sys.executable, "-c", code, "lokk"], capture_output=True, text=True
    )
    assert run.returncode == 2
    assert "lokk" in run.stderr
    assert run.stdout == ""
