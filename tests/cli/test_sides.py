"""``eyefind side``: what is suggested, what is kept, what is planned then."""

import json
from dataclasses import replace

import pytest
from PIL import Image
from pypdf import PdfReader
from standins import painted_photo

from eyefind.record import read_record
from eyefind.review import sides_in_force
from eyefind.sides import suggest

ALL = [f"T{n}=T{n}" for n in range(1, 6)]


@pytest.fixture
def back(garden):
    """The same clump in another file: another side, as far as the finder goes."""
    path = painted_photo(garden / "bed 3 back.png")
    path.write_bytes(path.read_bytes() + b"another side")
    return path


@pytest.fixture
def sure(monkeypatch):
    """The suggestion is held to be sure, as of a clump that is not so regular."""

    def suggested(main, side):
        return replace(suggest(main, side), sure=True)

    monkeypatch.setattr("eyefind.cli.sides.suggest", suggested)


def sides(garden):
    return sides_in_force(read_record(garden / "bed 3.eyefind.json").decisions)


def test_a_suggestion_is_shown_and_nothing_written(garden, back, sure, eyefind):
    result = eyefind("side", "bed 3.png", back.name)
    assert result.exit_code == 0, result.output
    assert "Suggested: T1=T1, T2=T2" in result.stdout
    assert "No pair was kept. Say --yes" in result.stdout
    assert sides(garden) == []


def test_both_photos_are_drawn_beside_each_other_to_be_compared(garden, back, eyefind):
    result = eyefind("side", "bed 3.png", back.name)
    drawn = garden / "bed 3-bed 3 back.eyefind-sides.png"
    assert f"Look at both first: {drawn.name}" in result.stdout
    with Image.open(drawn) as picture:
        halves = [picture.crop((k * 1800, 0, k * 1800 + 1800, 900)) for k in (0, 1)]
        assert picture.width == 3600
    # One clump in two files: both halves show it, with the names of its tubers.
    assert halves[0].tobytes() == halves[1].tobytes()
    assert len(halves[0].getcolors(10**6)) > 1000


def test_it_says_how_many_flags_of_the_side_want_an_answer(garden, back, sure, eyefind):
    result = eyefind("side", "bed 3.png", back.name, "--yes")
    assert "6 flags of bed 3 back.png without your answer" in result.stdout
    names = [f"--confirm={flag}" for flag in ("E1", "E2", "E3", "E4", "F1", "F2")]
    eyefind("answer", back.name, *names)
    result = eyefind("side", "bed 3.png", back.name, "--yes")
    assert "Every flag of bed 3 back.png is answered." in result.stdout


def test_yes_takes_it_and_undo_takes_it_back(garden, back, sure, eyefind):
    result = eyefind("side", "bed 3.png", back.name, "--yes", "--by", "Ida")
    assert result.exit_code == 0, result.output
    assert "Kept: T1=T1, T2=T2" in result.stdout
    assert "Other sides of bed 3.png: bed 3 back.png" in result.stdout
    assert [len(side.places_px) for side in sides(garden)] == [5]
    assert eyefind("answer", "bed 3.png", "--undo").exit_code == 0
    assert sides(garden) == []


def test_yes_does_not_take_what_is_not_sure(garden, back, eyefind):
    """The painted clump is alike after many turns: nobody can be sure of one."""
    told = eyefind("side", "bed 3.png", back.name)
    assert "--yes is not enough: name the pairs" in told.stdout
    for more in ([], ["--match=T1=T1"], ["--json"]):
        result = eyefind("side", "bed 3.png", back.name, "--yes", *more)
        assert result.exit_code == 2
        words = " ".join(result.stderr.split())
        assert "Not sure which tuber is which" in words
        assert " ".join(f"--match {pair}" for pair in ALL) in words
        assert sides(garden) == []
    named = [f"--match={pair}" for pair in ALL]
    assert eyefind("side", "bed 3.png", back.name, *named).exit_code == 0
    assert [len(side.places_px) for side in sides(garden)] == [5]


def test_named_pairs_come_before_suggested_ones(garden, back, sure, eyefind):
    told = eyefind("side", "bed 3.png", back.name, "--match", "T1=T3", "--json")
    assert json.loads(told.stdout)["matched"] == {"T1": "T3"}
    both = eyefind("side", "bed 3.png", back.name, "--yes", "--match=T1=T3", "--json")
    said = json.loads(both.stdout)
    assert said["matched"] == {"T1": "T3", "T2": "T2", "T4": "T4", "T5": "T5"}
    assert said["sides"] == ["bed 3 back.png"]
    assert eyefind("side", "bed 3.png", back.name, "--none").exit_code == 0
    assert sides(garden) == []


def test_eyes_of_the_side_are_in_the_plan_and_on_the_sheet(garden, back, sure, eyefind):
    eyefind("plan", "bed 3.png")
    rejects = [f"--reject=E{n}" for n in range(1, 5)]
    eyefind("answer", "bed 3.png", *rejects)
    assert len(read_record(garden / "bed 3.eyefind.json").plan.pieces) == 1
    eyefind("side", "bed 3.png", back.name, "--yes")
    confirms = [f"--confirm=E{n}" for n in range(1, 5)]
    eyefind("answer", back.name, *confirms)
    result = eyefind("sheet", "bed 3.png", "--json")
    assert result.exit_code == 0, result.output
    pieces = read_record(garden / "bed 3.eyefind.json").plan.pieces
    assert len(pieces) > 1
    assert sum(piece.far_eyes for piece in pieces) == 4
    text = " ".join(
        page.extract_text()
        for page in PdfReader(garden / "bed 3.eyefind-sheet.pdf").pages
    )
    assert "Eye seen on the other side" in " ".join(text.split())
    assert "2 sides were seen" in " ".join(text.split())


def test_a_match_renews_the_plan_with_what_was_asked(garden, back, sure, eyefind):
    eyefind("plan", "bed 3.png", "--style", "least", "--pieces", "3")
    eyefind("side", "bed 3.png", back.name, "--yes")
    plan = read_record(garden / "bed 3.eyefind.json").plan
    assert (plan.style, plan.most_pieces) == ("least", 3)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--match", "T1=T99"], "the other side has no such tuber"),
        (["--match", "T1"], "not understood"),
        (["--match", "T1=T2", "--match", "T1=T3"], "named twice"),
        (["--none", "--yes"], "stands alone"),
    ],
)
def test_what_makes_no_sense_writes_nothing(
    garden, back, sure, eyefind, options, message
):
    result = eyefind("side", "bed 3.png", back.name, *options)
    assert result.exit_code == 2
    assert message in result.stderr
    assert sides(garden) == []


def test_the_photo_is_no_side_of_itself(garden, eyefind):
    result = eyefind("side", "bed 3.png", "bed 3.png", "--match=T1=T1")
    assert result.exit_code == 2
    assert "main photo itself" in result.stderr
