"""Hand-made flags against hand-made truth, the counts worked out by hand."""

import re
import shutil
from dataclasses import replace
from pathlib import Path

import cv2
import msgspec
import numpy as np
import pytest

pytest.importorskip("matplotlib")
pytest.importorskip("torch")

from typer.testing import CliRunner

from eyefind.data import Anatomy, Flag, Stem, Tuber
from eyefind.errors import EyefindError
from eyefind.rules import load_rules
from eyefind.workshop import gather
from eyefind.workshop.__main__ import app
from eyefind.workshop.evaluate import (
    CLASSICAL,
    NETWORK,
    PLAIN,
    Looked,
    as_columns,
    as_markdown,
    evaluate,
    report,
)
from eyefind.workshop.gather import Judged, Places, judge
from eyefind.workshop.plots import draw_panels, draw_plots, draw_recall
from eyefind.workshop.scores import recall_at
from eyefind.workshop.tables import (
    FALSE_PER_CLUMP,
    Column,
    ahead,
    parent_auroc,
    score,
)
from eyefind.workshop.truth import TrueEye, TruePatch, TrueStem, TrueTuber, Truth

RULES = load_rules()
NOTHING = Places(np.zeros((0, 2)), np.zeros(0))


def square(row, col, side):
    """Outline of a square with its upper left corner at (row, col)."""
    far_row, far_col = row + side, col + side
    return [(row, col), (row, far_col), (far_row, far_col), (far_row, col)]


def eye(number, row, col, size_mm=3.0, delta_e=10.0, colour="pink"):
    return TrueEye(f"Y{number}", row, col, size_mm, "T1", 1.0, colour, delta_e, False)


def true_tuber(name, kind, row, col, broken=False):
    return TrueTuber(
        name,
        kind,
        "crown",
        square(row, col, 40.0),
        (row, col + 20.0),
        8.0,
        40.0,
        20.0,
        10.0,
        True,
        broken,
        False,
    )


@pytest.fixture
def truth():
    """One px a mm: three eyes, three tubers (T3 the parent), a soft patch, a stem."""
    return Truth(
        "eyefind-truth",
        1,
        "clump.png",
        7,
        "by hand",
        200,
        300,
        (200, 300),
        1.0,
        False,
        "above",
        "raking",
        "buff",
        "mat",
        square(0.0, 0.0, 199.0),
        square(0.0, 0.0, 20.0),
        [eye(1, 10.0, 10.0), eye(2, 10.0, 60.0), eye(3, 10.0, 110.0, 1.5, 2.0)],
        [
            true_tuber("T1", "tuber", 50.0, 10.0),
            true_tuber("T2", "tuber", 50.0, 100.0, broken=True),
            true_tuber("T3", "spent_parent", 50.0, 200.0),
        ],
        [TrueStem("S1", square(100.0, 250.0, 20.0), [(110.0, 250.0)] * 2, 20.0)],
        [TruePatch("P1", "soft", "T1", square(60.0, 20.0, 10.0))],
        [],
    )


def flag(kind, row, col, likelihood, belongs_to=None):
    return Flag("", kind, row, col, 3.0, likelihood, ["by hand"], belongs_to)


def found_tuber(name, row, col, side=40.0):
    outline = np.array(square(row, col, side))
    axis = np.array([(row, col + 20.0), (row + side, col + 20.0)])
    return Tuber(
        name,
        outline,
        axis,
        np.full(2, side),
        axis[0],
        8.0,
        side,
        20.0,
        10.0,
        0.1,
        "crown",
    )


FLAGS = [
    flag("eye", 12.0, 10.0, 0.9),  # 2 mm from Y1: found
    flag("eye", 10.0, 12.5, 0.8),  # 2.5 mm from Y1, which is found: false
    flag("eye", 10.0, 63.1, 0.6),  # 3.1 mm from Y2: just too far, false
    flag("eye", 10.0, 110.0, 0.1),  # on Y3, but less likely than is shown
    flag("soft", 65.0, 25.0, 0.9, "T1"),  # in P1
    flag("soft", 65.0, 110.0, 0.9, "T2"),  # false
    flag("soft", 60.0, 20.0, 0.3, "T1"),  # on P1, but not shown
    flag("spent_parent", 70.0, 220.0, 0.7, "T3"),  # on T3
    flag("spent_parent", 70.0, 30.0, 0.2, "T1"),  # not shown
    flag("spent_parent", 70.0, 120.0, 0.2, "T2"),  # not shown
    flag("broken_neck", 57.0, 120.0, 0.8, "T2"),  # 7 mm from T2's neck: within 8
    flag("broken_neck", 50.0, 30.0, 0.8, "T1"),  # T1's neck is whole: false
]


def found_stem(name, axis):
    return Stem(name, np.zeros((0, 2)), np.array(axis), 20.0)


ANATOMY = Anatomy(
    np.array(square(0.0, 0.0, 199.0)),
    np.array(square(0.0, 0.0, 20.0)),
    [
        found_stem("S1", [(105.0, 240.0), (115.0, 252.0)]),  # its middle 4 mm off: S1
        found_stem("S2", [(150.0, 250.0), (160.0, 250.0)]),  # 35 mm off: false
    ],
    [
        found_tuber("T1", 50.0, 10.0),
        found_tuber("T2", 56.0, 100.0),  # 6 mm down: neck too far, overlap 34 of 46
        found_tuber("T3", 50.0, 200.0),
        found_tuber("T4", 140.0, 10.0, side=20.0),  # nothing there
    ],
)


@pytest.fixture
def judged(truth, monkeypatch):
    monkeypatch.setattr(gather, "weigh_flags", lambda *_: FLAGS)
    rgb = np.full((200, 300, 3), 90, np.uint8)
    return judge(truth, rgb, np.ones((200, 300), bool), ANATOMY, RULES, None)


def test_a_clump_is_counted_as_by_hand(judged):
    assert judged.eyes.likelihood.tolist() == [0.9, 0.8, 0.6, 0.1]
    assert judged.shown.likelihood.tolist() == [0.9, 0.8, 0.6]
    assert judged.found["soft"] == judged.false["soft"] == 1
    assert judged.missed["soft"] == 0
    assert (judged.found["spent_parent"], judged.false["spent_parent"]) == (1, 0)
    assert (judged.found["broken_neck"], judged.false["broken_neck"]) == (1, 1)
    assert judged.found["rat_tail"] == judged.missed["tuber_on_tuber"] == 0
    assert judged.parent_score[judged.is_parent].tolist() == [0.7]
    assert judged.parent_score[~judged.is_parent].tolist() == [0.2, 0.2]
    assert judged.is_flagged.tolist() == judged.is_parent.tolist()
    assert judged.tubers_found == 4
    # Outlines are filled with their rim, 41 px a side, 35 of them shared.
    np.testing.assert_allclose(sorted(judged.overlap), [35 / 47, 1.0, 1.0], atol=1e-6)
    assert (judged.necks_found, judged.necks_true) == (2, 3)
    assert (judged.stems_found, judged.stems_right, judged.stems_true) == (2, 1, 1)


def column(clumps, finder=NETWORK, name="by hand"):
    return Column(name, finder, [(c.truth, c.eyes) for c in clumps], clumps)


def test_the_tables_hold_what_was_worked_out_by_hand(judged):
    tables = score(column([judged]))
    eyes = tables["Eyes"]
    # Falling: Y1 found, false, false, Y3 found. One clump.
    assert eyes["recall, all, at 0.5 false a clump"].value == pytest.approx(1 / 3)
    assert eyes["recall, all, at 2 false a clump"].value == pytest.approx(2 / 3)
    precision_sum = 1 / 1 + 2 / 4
    assert eyes["average precision, all"].value == pytest.approx(precision_sum / 3)
    # Y3 is 1.5 mm and faint: neither found nor false among the large or the clear.
    assert eyes["recall, 2 mm or more, at 4 false a clump"].value == 0.5
    assert eyes["recall, clear, at 4 false a clump"].value == 0.5
    assert eyes["recall, clear, at 4 false a clump"].count == 2
    shown = tables["Eyes as shown to the grower"]
    assert shown["recall"].value == pytest.approx(1 / 3)
    assert shown["false flags a clump"].value == 2.0
    misses = (1 - 0.9) ** 2 + 0.8**2 + 0.6**2
    assert shown["Brier score"].value == pytest.approx(misses / 3)
    other = tables["Other flags as shown"]
    assert other["soft: recall"].value == 1.0
    assert other["soft: false flags a clump"].value == 1.0
    assert other["broken neck: recall"].count == 1
    assert np.isnan(other["rat tail: recall"].value)
    anatomy = tables["Anatomy"]
    # Kirillov et al., CVPR 2019: three matches, one found for nothing, none missed.
    quality = anatomy["tubers: panoptic quality"].value
    assert quality == pytest.approx((2 + 35 / 47) / (3 + 1 / 2))
    assert anatomy["necks found within 5 mm"].value == pytest.approx(2 / 3)
    assert anatomy["stems found within 5 mm"].value == 1.0
    assert anatomy["false stems a clump"].value == 1.0
    assert anatomy["clumps with the right number of stems"].value == 0.0


def test_groups_tell_who_is_found(judged):
    tables = score(column([judged]))
    by = "Eyes found at 2 false flags a clump, by {}".format
    assert tables[by("standing out")]["clear"].value == 0.5
    assert tables[by("standing out")]["not clear"].value == 1.0
    assert tables[by("kind (colour)")]["pink"].value == pytest.approx(2 / 3)
    for word, group in [("light", "raking"), ("skin", "buff"), ("view", "above")]:
        assert tables[by(word)][group].count == 3


def test_calibration_counts_each_flag_once(judged):
    table = score(column([judged, judged]))["Likelihood against outcome, all eye flags"]
    told = [0.9, 0.8, 0.6, 0.1]
    outcome = [1, 0, 0, 1]
    expected = np.mean([(p - o) ** 2 for p, o in zip(told, outcome, strict=True)])
    assert table.pop("Brier score").value == pytest.approx(expected)
    assert {row: (share.value, share.count) for row, share in table.items()} == {
        "eyes among flags of 0.10 to 0.20": (1.0, 2),
        "eyes among flags of 0.50 to 0.70": (0.0, 2),
        "eyes among flags of 0.70 to 0.85": (0.0, 2),
        "eyes among flags of 0.85 to 1.00": (1.0, 2),
    }


def test_parents_hit_and_false_alarms_are_counted_by_clump(judged):
    without = replace(
        judged,
        found={**judged.found, "spent_parent": 0},
        false={**judged.false, "spent_parent": 2},
    )
    tables = score(column([judged, without]))
    parents = tables["Spent parents"]
    hit = parents["clumps with a parent: share where it is flagged"]
    alarm = parents["clumps without one: share with a false parent"]
    assert (hit.value, hit.count) == (1.0, 1)
    assert (alarm.value, alarm.count) == (1.0, 1)
    false = tables["Other flags as shown"]["spent parent: false flags a clump"]
    assert false.value == 1.0


def test_a_parent_that_is_no_tuber_to_the_finder_lowers_its_auroc(judged):
    assert parent_auroc([judged]).value == 1.0
    lost = replace(judged, parent_score=np.array([0.2, 0.2, np.nan]))
    assert parent_auroc([lost]).value == 0.0
    found = score(column([lost]))["Spent parents"]["parents that were found as tubers"]
    assert (found.value, found.count) == (0.0, 1)
    assert np.isnan(parent_auroc([lost], only_found=True).value)


def test_what_hardly_shows_is_told_apart(judged, truth, monkeypatch):
    # Of the ellipse of 628 mm2 T1 shows 25, found as a square of 1600: no tuber is it.
    hidden = replace(truth.tubers[0], outline_px=square(50.0, 10.0, 5.0))
    barely = replace(truth, tubers=[hidden, *truth.tubers[1:]])
    monkeypatch.setattr(gather, "weigh_flags", lambda *_: FLAGS)
    rgb = np.full((200, 300, 3), 90, np.uint8)
    again = judge(barely, rgb, np.ones((200, 300), bool), ANATOMY, RULES, None)
    assert again.in_view.tolist() == [False, True, True]
    tables = score(column([again]))
    anatomy, parents = tables["Anatomy"], tables["Spent parents"]
    # Two matches and two found for nothing; missed one of all, none of those in view.
    shared = 1 + 35 / 47
    quality = anatomy["tubers: panoptic quality"].value
    assert quality == pytest.approx(shared / (2 + 2 / 2 + 1 / 2))
    quality = anatomy["tubers a quarter in view: panoptic quality"].value
    assert quality == pytest.approx(shared / (2 + 2 / 2))
    flagged = parents["parents a quarter in view that are flagged"]
    assert (flagged.value, flagged.count) == (1.0, 1)
    # The parent itself hardly in view: nothing is left to be found or flagged.
    away = replace(judged, in_view=~judged.is_parent)
    parents = score(column([away]))["Spent parents"]
    assert parents["parents a quarter in view that were found as tubers"].count == 0
    assert parents["parents that were found as tubers"].value == 1.0


def test_a_found_tuber_that_hardly_shows_is_not_false_either(judged):
    # T3, found whole, counts for nothing: three found, of which two are right.
    anatomy = score(column([replace(judged, in_view=~judged.is_parent)]))["Anatomy"]
    quality = anatomy["tubers a quarter in view: panoptic quality"].value
    assert quality == pytest.approx((1 + 35 / 47) / (2 + 1 / 2))


def blind(judged: Judged) -> Judged:
    """What a finder that finds nothing made of the same clump."""
    kinds = judged.found
    return replace(
        judged,
        eyes=NOTHING,
        shown=NOTHING,
        found=dict.fromkeys(kinds, 0),
        false=dict.fromkeys(kinds, 0),
        missed={**dict.fromkeys(kinds, 0), "soft": 1},
        overlap=0 * judged.overlap,
        tubers_found=0,
        necks_found=0,
        stems_found=0,
        stems_right=0,
    )


def test_a_finder_that_finds_nothing_scores_nothing(judged):
    tables = score(column([blind(judged)]))
    assert tables["Eyes as shown to the grower"]["recall"].value == 0.0
    assert tables["Other flags as shown"]["soft: recall"].value == 0.0
    assert tables["Anatomy"]["tubers: panoptic quality"].value == 0.0
    assert tables["Anatomy"]["stems found within 5 mm"].value == 0.0


def test_how_far_one_is_ahead_is_the_difference_of_their_recalls(judged):
    gained = ahead(column([judged]), column([blind(judged)], CLASSICAL))
    assert gained["recall gained, all"].value == pytest.approx(2 / 3)
    assert gained["recall gained, clear"].count == 2
    same = ahead(column([judged] * 3), column([judged] * 3, CLASSICAL))
    assert same["recall gained, all"].high == same["recall gained, all"].low == 0.0


@pytest.fixture
def columns(judged):
    """Two sets, three finders: the plain one finds Y2, and nothing else."""
    plain = Places(np.array([[10.0, 60.0]]), np.array([0.4]))
    looked = [Looked(judged, blind(judged), plain)] * 2
    return as_columns("own", looked) + as_columns("other", looked)


def test_a_report_sets_finders_side_by_side(columns, tmp_path):
    text = report(columns, tmp_path / "report.md")
    assert (tmp_path / "report.md").read_text(encoding="utf-8") == text
    assert "- own: 2 clumps of family by hand, 6 visible eyes" in text
    finders = (NETWORK, CLASSICAL, PLAIN)
    over = " | ".join(
        f"{name}, {each}" for name in ("own", "other") for each in finders
    )
    assert f"| measure | {over} |" in text
    row = " | ".join([f"{v} ({v} to {v}; n = 6)" for v in ("0.67", "0.00", "0.33")] * 2)
    assert f"| recall, all, at 2 false a clump | {row} |" in text
    numbers = msgspec.json.decode((tmp_path / "report.json").read_bytes())
    assert [(each["set"], each["finder"]) for each in numbers] == [
        (name, each) for name in ("own", "other") for each in finders
    ]
    ahead_of_plain = numbers[2]["tables"][
        "The network ahead, at 2 false flags a clump, of"
    ]
    assert ahead_of_plain["recall gained, all"]["value"] == pytest.approx(1 / 3)


def test_every_table_is_in_the_text(judged):
    tables = score(column([judged]))
    text = as_markdown([column([judged])], [tables])
    for heading in tables:
        assert f"## {heading}\n" in text


def test_plots_are_pictures_with_lines_in_them(columns, tmp_path):
    for path in draw_plots(columns, tmp_path / "report.md").values():
        picture = cv2.imread(str(path))
        assert path.read_bytes().startswith(b"\x89PNG")
        # Two panels, one below the other, each with ink on its paper.
        for half in np.array_split(picture, 2):
            assert 0.01 < (half.min(axis=2) < 128).mean() < 0.5


def test_the_drawn_recall_is_that_of_the_table(columns):
    panels = draw_panels(columns, draw_recall).axes
    assert [axes.get_title() for axes in panels] == ["own: 2 clumps", "other: 2 clumps"]
    lines = panels[0].get_lines()
    assert [line.get_label() for line in lines] == [NETWORK, CLASSICAL, PLAIN]
    for line, drawn in zip(lines, columns[:3], strict=True):
        for at in FALSE_PER_CLUMP:
            (index,) = np.nonzero(np.isclose(line.get_xdata(), at))[0]
            assert line.get_ydata()[index] == recall_at(drawn.ranked, at)
    # Told apart without colour.
    assert len({(line.get_linestyle(), line.get_marker()) for line in lines}) == 3


def test_folders_that_cannot_be_judged_are_refused(tmp_path):
    with pytest.raises(EyefindError, match="holds no"):
        evaluate([tmp_path])
    with pytest.raises(EyefindError, match="one name"):
        evaluate([tmp_path / "a" / "set", tmp_path / "b" / "set"])


def test_the_command_judges_two_small_sets(tmp_path):
    """From the pictures to the tables: the shipped finder on what was rendered."""
    own, other, out = tmp_path / "own", tmp_path / "other", tmp_path / "report.md"
    options = ["--out", str(own), "--count", "1", "--first", "7", "--width", "600"]
    assert CliRunner().invoke(app, ["render", *options]).exit_code == 0
    other.mkdir()
    for path in (Path(__file__).parents[2] / "sample_images").glob(
        "bed1-lantern-moth-1.*"
    ):
        shutil.copy(path, other)
    result = CliRunner().invoke(
        app, ["evaluate", str(own), str(other), "--out", str(out)]
    )
    assert result.exit_code == 0, result.output
    text = out.read_text(encoding="utf-8")
    assert text in result.output
    for line in ("tubers: panoptic quality", "AUROC over all tubers in view"):
        assert re.search(rf"\| {line} \|( [^|]+ \|){{4}}\n", text)
    numbers = msgspec.json.decode(out.with_suffix(".json").read_bytes())
    assert len(numbers) == 6
    for path in re.findall(r"\]\((.+?\.png)\)", text):
        assert (tmp_path / path).stat().st_size > 10_000
