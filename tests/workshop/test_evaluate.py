"""Hand-made flags against hand-made truth, the counts worked out by hand."""

from dataclasses import replace

import msgspec
import numpy as np
import pytest
from PIL import Image

from eyefind.data import Anatomy, Flag, Tuber
from eyefind.rules import load_rules
from eyefind.workshop import evaluate as evaluating
from eyefind.workshop import gather
from eyefind.workshop.evaluate import as_markdown, calibration, evaluate, score
from eyefind.workshop.gather import Judged, Places, judge
from eyefind.workshop.truth import TrueEye, TruePatch, TrueTuber, Truth

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
    """One px a mm: three eyes, three tubers (T3 the spent parent), one soft patch."""
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
        [],
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
ANATOMY = Anatomy(
    np.array(square(0.0, 0.0, 199.0)),
    np.array(square(0.0, 0.0, 20.0)),
    [],
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
    assert (judged.tubers_found, judged.tubers_true) == (4, 3)
    # Outlines are filled with their rim, 41 px a side, 35 of them shared.
    np.testing.assert_allclose(sorted(judged.overlaps), [35 / 47, 1.0, 1.0], atol=1e-6)
    assert (judged.necks_found, judged.necks_true) == (2, 3)


def test_the_tables_hold_what_was_worked_out_by_hand(judged):
    tables = score([judged])
    eyes = tables["Eyes, eyefind"]
    # Falling: Y1 found, false, false, Y3 found. One clump.
    assert eyes["recall, all, at 0.5 false a clump"].value == pytest.approx(1 / 3)
    assert eyes["recall, all, at 2 false a clump"].value == pytest.approx(2 / 3)
    precision_sum = 1 / 1 + 2 / 4
    assert eyes["average precision, all"].value == pytest.approx(precision_sum / 3)
    # Y3 is 1.5 mm and faint: neither found nor false among the large or the clear.
    assert eyes["recall, 2 mm or more, at 4 false a clump"].value == 0.5
    assert eyes["recall, clear, at 4 false a clump"].value == 0.5
    assert eyes["recall, clear, at 4 false a clump"].count == 2
    shown = tables["Eyes as shown"]
    assert shown["recall"].value == pytest.approx(1 / 3)
    assert shown["false flags a clump"].value == 2.0
    misses = (1 - 0.9) ** 2 + 0.8**2 + 0.6**2
    assert shown["Brier score"].value == pytest.approx(misses / 3)
    other = tables["Other flags as shown"]
    assert other["soft: recall"].value == 1.0
    assert other["soft: false flags a clump"].value == 1.0
    assert other["broken neck: recall"].count == 1
    assert np.isnan(other["rat tail: recall"].value)
    assert other["spent parent: AUROC over tubers"].value == 1.0
    anatomy = tables["Anatomy"]
    # Kirillov et al., CVPR 2019: three matches, one found for nothing, none missed.
    quality = anatomy["tubers: panoptic quality"].value
    assert quality == pytest.approx((2 + 35 / 47) / (3 + 1 / 2))
    assert anatomy["necks found within 5 mm"].value == pytest.approx(2 / 3)


def test_groups_tell_who_is_found(judged):
    groups = score([judged])["Recall at 2 false flags a clump, by group"]
    assert groups["standing out: clear"].value == 0.5
    assert groups["standing out: not clear"].value == 1.0
    assert groups["light: raking"].count == 3


def test_calibration_counts_each_flag_once(judged):
    rows = calibration([judged, judged])
    assert [(low, count) for low, _, _, _, count in rows] == [
        (0.1, 2),
        (0.5, 2),
        (0.7, 2),
        (0.85, 2),
    ]
    assert [share for _, _, _, share, _ in rows] == [1.0, 0.0, 0.0, 1.0]


def test_no_parent_flagged_where_there_is_none(judged, truth):
    without = replace(
        judged,
        found={**judged.found, "spent_parent": 0},
        false={**judged.false, "spent_parent": 2},
    )
    table = score([judged, without])["Other flags as shown"]
    having = "spent parent: clumps with one in which one is flagged"
    lacking = "spent parent: clumps without one in which one is flagged"
    assert (table[having].value, table[having].count) == (1.0, 1)
    assert (table[lacking].value, table[lacking].count) == (1.0, 1)
    assert table["spent parent: false flags a clump"].value == 1.0


def test_a_finder_that_finds_nothing_scores_nothing(judged):
    kinds = judged.found
    blind = replace(
        judged,
        eyes=NOTHING,
        plain=NOTHING,
        shown=NOTHING,
        found=dict.fromkeys(kinds, 0),
        false=dict.fromkeys(kinds, 0),
        missed={**dict.fromkeys(kinds, 0), "soft": 1},
        overlaps=[],
        tubers_found=0,
        necks_found=0,
    )
    tables = score([blind])
    assert tables["Eyes as shown"]["recall"].value == 0.0
    assert tables["Other flags as shown"]["soft: recall"].value == 0.0
    assert tables["Anatomy"]["tubers: panoptic quality"].value == 0.0


def test_a_folder_is_judged_and_written(truth, tmp_path, monkeypatch):
    monkeypatch.setattr(gather, "weigh_flags", lambda *_: FLAGS)
    monkeypatch.setattr(
        evaluating, "found_parts", lambda *_: (np.ones((200, 300), bool), ANATOMY)
    )
    folder = tmp_path / "set"
    folder.mkdir()
    Image.new("RGB", (300, 200), (90, 90, 90)).save(folder / "clump.png")
    (folder / "clump.truth.json").write_bytes(msgspec.json.encode(truth))
    Image.fromarray(np.full((200, 300), 100, np.uint16)).save(
        folder / "clump.truth.png"
    )
    text = evaluate(folder, tmp_path / "report.md")
    assert (tmp_path / "report.md").read_text(encoding="utf-8") == text
    assert "1 rendered clumps of set, found anatomy" in text
    assert "| soft: recall | 1.00 (1.00 to 1.00; n = 1) |" in text
    numbers = msgspec.json.decode((tmp_path / "report.json").read_bytes())
    value = numbers["tables"]["Eyes as shown"]["false flags a clump"]["value"]
    assert value == 2.0


def test_every_table_is_in_the_text(judged):
    clumps: list[Judged] = [judged]
    tables = score(clumps)
    text = as_markdown("by hand", tables, calibration(clumps))
    for heading in tables:
        assert f"### {heading}" in text
