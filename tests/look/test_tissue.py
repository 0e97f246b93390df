"""The spent parent among painted tubers: told by comparison, not by darkness alone."""

import cv2
import numpy as np
import pytest
from painted import PARENT, SKIN, painted_clump
from skimage.draw import polygon

from eyefind.look.flags import find_flags
from eyefind.look.likelihood import likelihood
from eyefind.look.tissue import LEAST_SPREAD, look_at_skin, tubers_as_parents
from eyefind.rules import load_rules

RULES = load_rules()


def chances(painted, rgb=None):
    """How likely each tuber is the spent parent, by id; and the measures."""
    rgb = painted.rgb if rgb is None else rgb
    skin = look_at_skin(rgb, np.ones(rgb.shape[:2], bool), painted.scale)
    found = tubers_as_parents(skin, painted.anatomy)
    chance = likelihood("spent_parent", found.measures)
    return dict(zip(found.belongs_to, chance, strict=True)), found


def repainted(painted, colours, grain=0.0):
    """Paint tubers over, by id; the necks' upper ends stay below the crown's colour."""
    rgb = painted.rgb.astype(float)
    for tuber in painted.anatomy.tubers:
        if tuber.id in colours:
            rows, cols = tuber.outline_px.T
            rgb[polygon(rows, cols, shape=rgb.shape[:2])] = colours[tuber.id]
    noise = np.random.default_rng(3).normal(0.0, grain, rgb.shape) if grain else 0.0
    return np.clip(rgb + noise, 0, 255).astype(np.uint8)


@pytest.fixture(scope="module")
def six():
    return painted_clump(tubers=6, parent=False, side_tuber=False)


@pytest.fixture(scope="module")
def with_parent():
    return painted_clump(tubers=6, parent=True, side_tuber=False)


def test_the_tuber_darker_than_its_siblings_stands_out(with_parent):
    chance, found = chances(with_parent)
    assert max(chance, key=chance.get) == "T6"
    least = RULES.value("other_flag_likelihood")
    assert [name for name, value in chance.items() if value >= least] == ["T6"]
    row = found.belongs_to.index("T6")
    # CIELAB lightness of the two sRGB colours, CIE 15:2004: 68.2 and 30.4.
    assert found.measures["darker_by"][row] == pytest.approx(68.2 - 30.4, abs=0.5)
    assert found.measures["compared_with"][row] == 5


def test_six_equal_tubers_have_no_spent_parent(six):
    chance, found = chances(six)
    assert max(chance.values()) < RULES.value("other_flag_likelihood")
    np.testing.assert_allclose(found.measures["darker_by"], 0.0, atol=0.5)


def test_six_equally_dark_tubers_have_none_either(six):
    """A dark variety, or soil on all of them, is not six spent parents."""
    rgb = repainted(six, {f"T{n}": PARENT for n in range(1, 7)})
    chance, _ = chances(six, rgb)
    assert max(chance.values()) < RULES.value("other_flag_likelihood")


def test_grain_alone_makes_no_spent_parent(six):
    chance, _ = chances(six, repainted(six, {}, grain=4.0))
    assert max(chance.values()) < RULES.value("other_flag_likelihood")


def test_likelihood_rises_with_darkness(six):
    steps = [
        np.array(SKIN) + share * (np.array(PARENT) - SKIN)
        for share in (0.0, 0.3, 0.6, 1.0)
    ]
    rising = [chances(six, repainted(six, {"T3": c}))[0]["T3"] for c in steps]
    assert rising == sorted(rising)
    assert rising[-1] > rising[0] + 0.3


def test_twice_the_pixels_give_the_same_verdict(with_parent):
    large = painted_clump(6, px_per_mm=8.0, side_tuber=False, shape=(2400, 2400))
    small_chance, _ = chances(with_parent)
    large_chance, _ = chances(large)
    for name, value in small_chance.items():
        assert large_chance[name] == pytest.approx(value, abs=0.05)


def test_a_mirrored_clump_gives_the_same_verdict(with_parent):
    """The painted clump is its own mirror image but for the parent, now the first."""
    mirrored = cv2.flip(with_parent.rgb, 1)
    chance, _ = chances(with_parent)
    flipped, _ = chances(with_parent, mirrored)
    for number in range(1, 7):
        assert flipped[f"T{number}"] == pytest.approx(chance[f"T{7 - number}"], abs=0.1)


def test_a_single_tuber_is_compared_with_none_and_not_flagged():
    one = painted_clump(tubers=1, parent=False, side_tuber=False)
    chance, found = chances(one)
    assert list(found.measures["compared_with"]) == [0.0]
    assert all(found.measures[name][0] == 0.0 for name in LEAST_SPREAD)
    assert chance["T1"] < RULES.value("other_flag_likelihood")


def test_the_flag_says_what_was_measured_and_to_feel(with_parent):
    painted = with_parent
    clump = np.zeros(painted.rgb.shape[:2], np.uint8)
    outline = np.rint(painted.anatomy.clump_outline_px[:, ::-1]).astype(np.int32)
    cv2.fillPoly(clump, [outline], 1)
    flags = find_flags(painted.rgb, clump > 0, painted.anatomy, painted.scale, RULES)
    (parent,) = [flag for flag in flags if flag.kind == "spent_parent"]
    assert parent.belongs_to == "T6"
    assert parent.reasons[0] == "38 L* darker than the other tubers"
    assert "feel it" in parent.reasons[-1]
