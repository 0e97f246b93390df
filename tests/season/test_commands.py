"""The command line of the season: the tutorial runs on the demo season as it stands."""

import re
import shlex
from pathlib import Path

import msgspec
import pytest
from PIL import Image
from records import the_painted_clump
from typer.testing import CliRunner

from eyefind.cli.app import app
from eyefind.cli.season import season_app
from eyefind.cli.season.bench import spread
from eyefind.errors import ExitCode
from eyefind.photo import PhotoSet
from eyefind.season.garden import find_clump, find_season
from eyefind.season.ledger import Ledger
from eyefind.season.tables import Box, Clump, StoreCheck

PAGE = (Path(__file__).parents[2] / "docs" / "season.md").read_text("utf-8")
WRITTEN = (
    "enough.png",
    "boxes.pdf",
    "labels.pdf",
    "tags.pdf",
    "ties.pdf",
    "season.ics",
    "checklist.pdf",
    "losses.png",
    "accuracy.png",
    "tables",
    "tables.xlsx",
    "flags.coco.json",
    "copy.db",
    "season.zip",
    "restored",
    "cards",
    "mine.db",
)
"""What its commands write."""
COMMANDS = re.findall(r"^\$ eyefind (.*)$", PAGE, re.MULTILINE)


@pytest.fixture
def eyefind():
    """Run ``eyefind`` with these words; what is asked is answered with `answer`."""

    def run(*words: object, answer: str | None = None):
        return CliRunner().invoke(app, [str(word) for word in words], input=answer)

    return run


@pytest.fixture
def garden(demo_path, monkeypatch):
    """The folder of the demo season, as ``season demo`` leaves it."""
    monkeypatch.chdir(demo_path.parent)
    photo = Image.fromarray(the_painted_clump().rgb).resize((500, 500))
    photo.save("photos/bed 5 (2).jpg")
    return demo_path.parent


def test_the_tutorial_runs_as_it_stands(garden, eyefind):
    assert COMMANDS[0] == "season demo --out demo-season"  # has a test of its own
    for command in COMMANDS[1:]:
        result = eyefind(*shlex.split(command))
        assert result.exit_code == 0, (command, result.output)
    for name in WRITTEN:
        assert (garden / name).exists(), name
    with Ledger(garden / "season.eyefind.db") as ledger:
        assert ledger.faults() == []
        season = find_season(ledger)
        assert find_clump(ledger, season, "bed 5")
        assert find_clump(ledger, season, "41").place == "by the gate"


def test_every_command_and_option_is_on_the_page(eyefind):
    names = [
        command.name or command.callback.__name__.replace("_", "-")
        for command in season_app.registered_commands
    ]
    assert len(names) == len(set(names)) > 30
    for name in names:
        assert any(line.startswith(f"season {name}") for line in COMMANDS), name
        text = eyefind("season", name, "--help").stdout
        options = set(re.findall(r"--[a-z-]+", text)) - {"--help"}
        assert {o for o in options if f"`{o}" not in PAGE} == set(), name


def test_without_a_ledger_it_says_how_to_start(tmp_path, monkeypatch, eyefind):
    monkeypatch.chdir(tmp_path)
    result = eyefind("season", "show")
    assert result.exit_code == ExitCode.USAGE
    assert "season start" in result.output
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_binned_unless_it_is_meant(garden, eyefind):
    result = eyefind("season", "bin", "box", "A", answer="n\n")
    assert result.exit_code != 0
    assert "Nothing was done" in result.output
    with Ledger(garden / "season.eyefind.db") as ledger:
        assert "A" in {box.name for box in ledger.rows(Box)}
    assert eyefind("season", "bin", "box", "A", answer="y\n").exit_code == 0
    with Ledger(garden / "season.eyefind.db") as ledger:
        assert "A" not in {box.name for box in ledger.rows(Box)}


def test_a_ledger_is_not_built_anew_unless_it_is_meant(garden, eyefind):
    before = (garden / "season.eyefind.db").read_bytes()
    assert eyefind("season", "rebuild", "photos", answer="n\n").exit_code != 0
    assert (garden / "season.eyefind.db").read_bytes() == before


def test_a_check_tells_what_to_do_and_what_to_mind(garden, eyefind):
    result = eyefind("season", "check", "soft", "3-A", "3-B", "--day", "2027-01-10")
    assert "2 pieces soft: kept." in result.output
    assert "Disinfect the blade" in result.output
    with Ledger(garden / "season.eyefind.db") as ledger:
        checks = ledger.rows(StoreCheck, "result = 'soft'")
        assert [check.on_day for check in checks] == ["2027-01-10"] * 2


@pytest.mark.parametrize(
    "words",
    [
        ("season", "check", "soft", "3-Z"),
        ("season", "check", "mouldy", "3-A"),
        ("season", "clump", "3", "--cut", "yesterday"),
        ("season", "enough", "--loss", "8"),
        ("season", "plot", "losses", "--by", "light"),
        ("season", "labels", "--size", "A4-5"),
        ("season", "show", "--year", "1999"),
        ("season", "unbin", "99"),
        ("season", "take", "nowhere"),
    ],
)
def test_what_makes_no_sense_is_told_in_words(garden, eyefind, words):
    history = eyefind("season", "history", "--count", 9999).output
    result = eyefind(*words)
    assert result.exit_code in (ExitCode.USAGE, ExitCode.BAD_PHOTO)
    assert "Traceback" not in result.output
    assert eyefind("season", "history", "--count", 9999).output == history


@pytest.mark.parametrize(
    "verb", ["show", "clumps", "again", "enough", "divide", "pack", "losses", "wake"]
)
def test_machines_read_json(garden, eyefind, verb):
    result = eyefind("season", verb, "--json")
    assert result.exit_code == 0
    found = msgspec.json.decode(result.stdout)
    assert isinstance(found, list)
    assert found or verb == "wake"


def test_a_damaged_ledger_is_told_with_its_exit_code(garden, eyefind, quick_ways):
    path = garden / "season.eyefind.db"
    path.write_bytes(b"no ledger any more" * 500)
    result = eyefind("season", "show")
    assert result.exit_code == ExitCode.BAD_RECORD
    assert "season rebuild" in result.output
    assert eyefind("season", "rebuild", "photos", "--yes").exit_code == 0
    assert eyefind("season", "verify").exit_code == 0


def test_a_disagreement_has_an_exit_code(garden, eyefind):
    next(garden.glob("photos/1/*.json")).unlink()
    result = eyefind("season", "verify")
    assert result.exit_code == ExitCode.BAD_RECORD
    assert "is gone" in result.output


def test_a_watched_folder_may_be_empty_at_first(garden, eyefind, monkeypatch):
    came = garden / "come" / "a.jpg"
    came.parent.mkdir()

    def comes_late(*_):
        yield []
        came.write_bytes(b"no picture")
        yield [PhotoSet(came.resolve())]

    monkeypatch.setattr("eyefind.season.batch.new_photos", comes_late)
    result = eyefind("season", "take", "come", "--watch")
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert lines[0].startswith("Waiting")
    assert lines[1].startswith("a.jpg: ")
    assert lines[2].startswith("40 clumps: ")
    assert eyefind("season", "take", "nowhere", "--watch").exit_code == ExitCode.USAGE


def test_runs_of_card_numbers():
    assert spread(["4-6", "9", "bed 3-2", "6-4"]) == [
        "4",
        "5",
        "6",
        "9",
        "bed 3-2",
        "6-4",
    ]


def test_a_season_starts_in_a_new_ledger(tmp_path, eyefind):
    path = tmp_path / "mine.db"
    words = ("season", "start", "Backfield", "--year", 2026, "--ledger", path)
    assert eyefind(*words).exit_code == 0
    assert eyefind(*words).exit_code == ExitCode.USAGE
    with Ledger(path) as ledger:
        assert find_season(ledger).year == 2026
        assert ledger.rows(Clump) == []
