"""The examples of docs/command-line.md work as they stand there."""

import re
import shlex
from pathlib import Path

from standins import painted_photo

from eyefind.errors import ExitCode

PAGE = (Path(__file__).parents[2] / "docs" / "command-line.md").read_text("utf-8")


def test_every_example_runs(garden, eyefind):
    # Scales that fit the painted clump are in the page; its photos are made here.
    painted_photo(garden / "bed 3.jpg")
    painted_photo(garden / "bed 3 again.jpg")
    painted_photo(garden / "photos" / "bed 4.jpg")
    back = painted_photo(garden / "bed 3 back.jpg")
    back.write_bytes(back.read_bytes() + b"another side")
    (answers,) = re.findall(r"```\n(E1 .*?)```", PAGE, re.DOTALL)
    (garden / "answers.txt").write_text(answers)
    commands = re.findall(r"^\$ eyefind (.*)$", PAGE, re.MULTILINE)
    assert len(commands) >= 10
    for command in commands:
        result = eyefind(*shlex.split(command))
        assert result.exit_code == 0, (command, result.output)


def test_every_exit_code_is_on_the_page():
    listed = [int(code) for code in re.findall(r"^\| (\d+) \|", PAGE, re.MULTILINE)]
    assert listed == [int(code) for code in ExitCode]


def test_every_option_is_on_the_page(eyefind):
    for verb in ("card", "look", "plan", "sheet", "answer", "side"):
        text = eyefind(verb, "--help").stdout
        options = set(re.findall(r"--[a-z-]+", text)) - {"--help"}
        assert {name for name in options if f"`{name}" not in PAGE} == set()
