"""The verbs, from photo to sheet."""

import json

import pytest
from standins import painted_photo

from eyefind.record import read_record
from eyefind.review import standing


def words_in(path):
    record = read_record(path)
    return standing(record.flags, record.decisions)


def test_look_says_what_it_sees_and_where_the_record_is(garden, eyefind):
    result = eyefind("look", "bed 3.png")
    assert result.exit_code == 0, result.output
    assert "Record: bed 3.eyefind.json" in result.stdout
    assert "4 likely eyes, 2 of other kinds; 6 without your answer" in result.stdout
    assert "E1 [no answer yet] eye (T1), 80 % likely: 12 mm above" in result.stdout
    assert "GUESS" in result.stdout
    assert (garden / "bed 3.eyefind.json").exists()


def test_sheet_alone_says_where_the_sheet_is(garden, eyefind):
    result = eyefind("sheet", "bed 3.png", "--out", "sheets", "--style", "whole")
    assert result.exit_code == 0, result.output
    assert "NOT YET REVIEWED" in result.stdout
    told = [
        line.partition("Sheet: ")[2]
        for line in result.stdout.splitlines()
        if "Sheet: " in line
    ]
    assert len(told) == 2
    assert all((garden / path).stat().st_size > 0 for path in told)


def test_plan_is_put_into_the_record(garden, eyefind):
    result = eyefind("plan", "bed 3.png", "--style", "stems")
    assert result.exit_code == 0, result.output
    assert "Plan (stems)" in result.stdout
    assert read_record(garden / "bed 3.eyefind.json").plan.style == "stems"


def test_card(garden, eyefind):
    result = eyefind("card", "--out", "cards")
    assert result.exit_code == 0, result.output
    told = [line.partition("Written: ")[2] for line in result.stdout.splitlines()]
    assert told
    assert all((garden / path).exists() for path in told)
    files = json.loads(eyefind("card", "--out", "cards", "--json").stdout)["files"]
    assert files == told


class TestAnswer:
    @pytest.fixture
    def record(self, garden, eyefind):
        eyefind("look", "bed 3.png")
        return garden / "bed 3.eyefind.json"

    def test_by_options(self, record, eyefind):
        result = eyefind(
            *("answer", "bed 3.png", "--confirm", "E1", "--confirm", "E3"),
            *("--reject", "E2", "--not-sure", "E4", "--by", "Ida"),
        )
        assert result.exit_code == 0, result.output
        assert words_in(record) == {
            "E1": "confirmed",
            "E3": "confirmed",
            "E2": "rejected",
            "E4": "not_sure",
        }
        assert {word.by for word in read_record(record).decisions} == {"Ida"}
        assert "E2 [rejected]" in result.stdout
        assert "2 without your answer" in result.stdout

    def test_undo_and_redo(self, record, eyefind):
        eyefind("answer", "bed 3.png", "--confirm", "E1", "--confirm", "E2")
        assert eyefind("answer", "bed 3.png", "--undo").exit_code == 0
        assert words_in(record) == {"E1": "confirmed"}
        assert eyefind("answer", "bed 3.png", "--redo").exit_code == 0
        assert words_in(record) == {"E1": "confirmed", "E2": "confirmed"}

    def test_add_an_eye(self, record, eyefind):
        result = eyefind("answer", "bed 3.png", "--add-eye", "560,640.5")
        assert result.exit_code == 0, result.output
        assert "G1 [confirmed] eye" in result.stdout
        flag = read_record(record).flags[-1]
        assert (flag.row_px, flag.col_px, flag.origin) == (560.0, 640.5, "added")
        eyefind("answer", "bed 3.png", "--undo")
        assert "G1" not in eyefind("answer", "bed 3.png").stdout

    def test_from_a_file(self, record, eyefind, garden):
        (garden / "Antworten f\u00fcr Beet 3.txt").write_text(
            "# first row\nE1 confirmed\n\nE2  Rejected # a scar\nE4 not sure\n"
            "E3 not_sure\n",
            encoding="utf-8-sig",
        )
        name = "Antworten f\u00fcr Beet 3.txt"
        result = eyefind("answer", "bed 3.png", "--from", name, "--reject", "F2")
        assert result.exit_code == 0, result.output
        assert words_in(record) == {
            "E1": "confirmed",
            "E2": "rejected",
            "E3": "not_sure",
            "E4": "not_sure",
            "F2": "rejected",
        }

    def test_listing_writes_nothing(self, record, eyefind):
        before = record.read_bytes()
        result = eyefind("answer", "bed 3.png")
        assert result.exit_code == 0
        assert "F1 [no answer yet] spent parent" in result.stdout
        assert record.read_bytes() == before

    def test_a_plan_is_renewed(self, record, eyefind):
        eyefind("plan", "bed 3.png", "--style", "singles")
        result = eyefind("answer", "bed 3.png", "--confirm", "E1")
        assert "Plan (singles)" in result.stdout
        plan = read_record(record).plan
        assert sum(piece.confirmed_eyes for piece in plan.pieces) == 1

    @pytest.mark.parametrize(
        ("options", "message"),
        [
            (["--confirm", "E9"], "no flag E9"),
            (["--confirm", "E1", "--reject", "E1"], "two answers"),
            (["--undo", "--confirm", "E1"], "stand alone"),
            (["--undo", "--redo"], "stand alone"),
            (["--undo"], "no answer to take back"),
            (["--redo"], "no answer to bring back"),
            (["--add-eye", "5"], "not 2 numbers"),
            (["--add-eye", "5,x"], "not 2 numbers"),
            (["--add-eye", "9999,5", "--confirm", "E1"], "outside"),
            (["--from", "none.txt"], "cannot be read"),
            (["--from", "bad.txt", "--confirm", "E2"], "Line 2 of bad.txt"),
            (["--from", "bed 3.png"], "plain text"),
        ],
    )
    def test_what_cannot_be_followed_writes_nothing(
        self, record, eyefind, garden, options, message
    ):
        (garden / "bad.txt").write_text("E1 confirmed\nE2 perhaps\n")
        before = record.read_bytes()
        result = eyefind("answer", "bed 3.png", *options)
        assert result.exit_code == 2
        assert message in result.stderr
        assert record.read_bytes() == before


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--points", "1,2,3,4"], "belong together"),
        (["--length", "100"], "belong together"),
        (["--points", "1,2,3", "--length", "100"], "not 4 numbers"),
        (["--points", "1,2,3,nan", "--length", "100"], "not 4 numbers"),
        (["--points", "1,2,1,2", "--length", "100"], "one and the same"),
        (["--points", "1,2,3,4", "--length", "0"], "makes no sense"),
        (["--points", "1,2,3,4", "--length", "9", "--width", "9"], "only one"),
        (["--width", "-5"], "makes no sense"),
        (["--rules", "none.toml"], "none.toml"),
        (["--width", "200", "bed 4.png"], "one photo"),
    ],
)
def test_options_that_make_no_sense(garden, eyefind, options, message):
    painted_photo(garden / "bed 4.png")
    result = eyefind("look", "bed 3.png", *options)
    assert result.exit_code == 2
    assert message in result.stderr
    assert not list(garden.glob("*.json"))


def test_unknown_style_is_named_with_the_known_ones(garden, eyefind):
    result = eyefind("plan", "bed 3.png", "--style", "halves")
    assert result.exit_code == 2
    assert "singles" in result.stderr


def test_paper_in_any_case(garden, eyefind):
    assert eyefind("sheet", "bed 3.png", "--paper", "letter").exit_code == 0


def test_json_is_one_object_a_photo(garden, eyefind):
    painted_photo(garden / "bed 4.png")
    (garden / "bed 5.png").write_bytes(b"")
    result = eyefind("sheet", garden, "--json", "--style", "whole")
    assert result.exit_code == 6
    done, also, failed = map(json.loads, result.stdout.splitlines())
    assert done["photo"].endswith("bed 3.png")
    assert done["done"]
    assert also["done"]
    assert done["flags"] == 6
    assert done["unanswered"] == ["E1", "E2", "E3", "E4", "F1", "F2"]
    assert done["plan"]["style"] == "whole"
    assert not done["plan"]["reviewed"]
    assert len(done["sheets"]) == 4
    assert read_record(garden / done["record"]).scale.source == done["scale_source"]
    assert failed["photo"].endswith("bed 5.png")
    assert not failed["done"]
    assert failed["exit_code"] == 3
    assert failed["what"]
    assert failed["advice"]
