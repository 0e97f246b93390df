"""Eyes on a painted crown: where they may be, what is measured, what it weighs."""

from dataclasses import replace

import numpy as np
import pytest
from painted import CROWN, painted_clump
from skimage.draw import disk, polygon2mask

from eyefind.look.candidates import Candidates, gathered
from eyefind.look.collar import cut_out_collar
from eyefind.look.eye_measures import measure_eyes
from eyefind.look.eyes import APART_MM, apart, eye_candidates, find_eyes
from eyefind.look.flags import weigh_flags
from eyefind.look.likelihood import likelihood, load_models, weighted_sum
from eyefind.look.reasons import reasons_for
from eyefind.rules import load_rules

RULES = load_rules()
LAMP_DEG = 135.0
"""The painting has no shade, so any direction serves."""


def collar_of(painted, rgb):
    clump = polygon2mask(rgb.shape[:2], painted.anatomy.clump_outline_px)
    return cut_out_collar(rgb, clump, painted.anatomy, painted.scale, RULES)


def eyes_in(painted, rgb):
    return find_eyes(collar_of(painted, rgb), LAMP_DEG)


def marked(painted, place_rc, colour, size_mm=4.0):
    """Paint one more mark of an eye's size and shape."""
    rgb = painted.rgb.copy()
    radius_px = size_mm / 2 * painted.scale.px_per_mm
    rgb[disk(place_rc, radius_px, shape=rgb.shape[:2])] = colour
    return rgb


def nearest(found, place_rc, px_per_mm):
    """Index of the candidate nearest to a place, and how far it is, mm."""
    far = np.hypot(*(found.place_rc - place_rc).T) / px_per_mm
    return int(far.argmin()), float(far.min())


@pytest.fixture(scope="module")
def painted():
    return painted_clump()


@pytest.fixture(scope="module")
def bare(painted):
    """The same clump without its eyes."""
    rgb = painted.rgb.copy()
    for eye in (flag for flag in painted.flags if flag.kind == "eye"):
        radius_px = 0.6 * eye.size_mm * painted.scale.px_per_mm
        rgb[disk((eye.row_px, eye.col_px), radius_px)] = CROWN
    return replace(painted, rgb=rgb)


def test_painted_eyes_are_the_likeliest_with_their_size_and_tuber(painted):
    found, chance = eyes_in(painted, painted.rgb)
    eyes = [flag for flag in painted.flags if flag.kind == "eye"]
    for eye in eyes:
        index, far_mm = nearest(found, (eye.row_px, eye.col_px), 4.0)
        assert far_mm <= 1.0
        assert found.size_mm[index] == pytest.approx(eye.size_mm, rel=0.45)
        assert found.belongs_to[index] == eye.belongs_to
        assert index < 2 * len(eyes)
    assert (np.diff(chance) <= 0).all()


def test_no_two_flags_lie_nearer_than_they_may(painted):
    found, _ = eyes_in(painted, painted.rgb)
    far = np.linalg.norm(found.place_rc[:, None] - found.place_rc[None], axis=2)
    np.fill_diagonal(far, np.inf)
    assert far.min() >= APART_MM * painted.scale.px_per_mm


def test_of_neighbours_the_likeliest_stays():
    place = np.array([[0.0, 0.0], [0.0, 10.0], [0.0, 5.0], [50.0, 0.0]])
    chance = np.array([0.3, 0.2, 0.9, 0.1])
    assert apart(place, chance, 4.0).tolist() == [2, 3]


@pytest.mark.parametrize("where", ["body", "bench"])
def test_a_mark_like_an_eye_away_from_the_crown_is_no_eye(painted, where):
    # Eyes sit only where neck and crown join: Dahlia Society of California, December
    # 2024; a tuber is a root and has none: Aoba et al. 1961.
    body = painted.anatomy.tubers[1]
    place = body.axis_px[len(body.axis_px) * 2 // 3] if where == "body" else (40, 40)
    rgb = marked(painted, place, (226, 150, 150))
    clump = polygon2mask(rgb.shape[:2], painted.anatomy.clump_outline_px)
    flags = weigh_flags(rgb, clump, painted.anatomy, painted.scale, RULES)
    far = [
        np.hypot(flag.row_px - place[0], flag.col_px - place[1])
        for flag in flags
        if flag.kind == "eye"
    ]
    assert far
    assert min(far) > 10.0 * painted.scale.px_per_mm


def test_likelihood_rises_with_evidence(bare):
    """The same mark, ever pinker than the crown, is ever likelier to be an eye."""
    eye = bare.flags[0]
    place = (eye.row_px, eye.col_px)
    step = (np.array([226, 150, 150]) - CROWN) / 4
    chances, contrasts = [], []
    for strength in (1, 2, 3, 4):
        rgb = marked(bare, place, np.rint(CROWN + strength * step))
        found, chance = eyes_in(bare, rgb)
        index, far_mm = nearest(found, place, bare.scale.px_per_mm)
        assert far_mm <= 1.0
        chances.append(chance[index])
        contrasts.append(found.measures["contrast"][index])
    assert contrasts == sorted(contrasts)
    assert chances[-1] > chances[0]
    # Measured against this crown's own spread, the last steps may tie.
    assert min(np.diff(chances)) > -0.02


def test_measures_say_what_was_painted(bare):
    place = (bare.flags[0].row_px, bare.flags[0].col_px)
    for colour, name, sign in (
        ((200, 164, 128), "lighter", 1),
        ((110, 80, 50), "lighter", -1),
        ((185, 112, 90), "redder", 1),
        ((135, 135, 85), "redder", -1),
    ):
        found = eye_candidates(collar_of(bare, marked(bare, place, colour)), LAMP_DEG)
        index, _ = nearest(found, place, bare.scale.px_per_mm)
        assert sign * found.measures[name][index] > 5.0
        assert found.measures["all_round"][index] == 1.0
        assert found.measures["inside"][index] == 1.0
        assert found.measures["glare"][index] == 0.0


def test_a_bump_and_a_pit_are_told_by_the_lit_flank(bare):
    """A disc shaded along the lamp's direction: light flank to the lamp, or away."""
    place = np.array([bare.flags[0].row_px, bare.flags[0].col_px])
    rows, cols = disk(place, 8, shape=bare.rgb.shape[:2])
    lamp = np.deg2rad(LAMP_DEG)
    toward = (cols - place[1]) * np.cos(lamp) - (rows - place[0]) * np.sin(lamp)
    raised = []
    for sign in (1, -1):
        rgb = bare.rgb.copy()
        shade = np.array(CROWN)[None] + sign * 4.0 * toward[:, None]
        rgb[rows, cols] = np.clip(shade, 0, 255)
        collar = collar_of(bare, rgb)
        work_rc = collar.to_work(place[None])
        measures = measure_eyes(collar, work_rc, np.array([4.0]), LAMP_DEG)
        raised.append(float(measures["raised"][0]))
        assert measures["askew"][0] < 0.2 * abs(raised[-1])
    assert raised[0] > 3.0
    assert raised[1] == pytest.approx(-raised[0], rel=0.3)


def test_reasons_name_the_measures(bare):
    place = (bare.flags[0].row_px, bare.flags[0].col_px)
    found, _ = eyes_in(bare, marked(bare, place, (226, 150, 150)))
    index, _ = nearest(found, place, bare.scale.px_per_mm)
    row = {name: values[index] for name, values in found.measures.items()}
    said = ", ".join(reasons_for(found, index))
    assert f"lighter than its surroundings by {row['lighter']:.0f} L*" in said
    assert f"redder than its surroundings by {row['redder']:.0f}" in said
    assert f"{row['size_mm']:.1f} mm across" in said
    owner = found.belongs_to[index]
    assert f"{row['neck_mm']:.0f} mm above the neck of tuber {owner}" in said
    assert "glare" not in said


def test_the_likelihood_is_the_logistic_of_held_and_scaled_measures():
    model = load_models()["soft"]
    name, term = next(iter(model.terms.items()))
    middle = {key: np.full(3, other.centre) for key, other in model.terms.items()}
    middle[name] = np.array([term.low - 9.0, term.low, term.high + 9.0])
    total = weighted_sum(model, middle)
    low, high = (
        model.bias + term.weight * (end - term.centre) / term.spread
        for end in (term.low, term.high)
    )
    np.testing.assert_allclose(total, [low, low, high])
    chance = likelihood("soft", {**middle, "a measure to come": np.zeros(3)})
    held = model.platt_slope * total + model.platt_offset
    np.testing.assert_allclose(chance, 1 / (1 + np.exp(-held)))


def test_candidates_keep_together_what_belongs_together():
    rows = [
        (np.array([n, 2.0 * n]), 3.0 + n, f"T{n}", None, {"dark": 10.0 * n})
        for n in range(4)
    ]
    found = gathered("soft", rows, ("dark",))
    picked = found.pick(np.array([3, 1]))
    assert picked.place_rc.tolist() == [[3.0, 6.0], [1.0, 2.0]]
    assert picked.size_mm.tolist() == [6.0, 4.0]
    assert picked.belongs_to == ["T3", "T1"]
    assert picked.measures["dark"].tolist() == [30.0, 10.0]
    none: Candidates = gathered("soft", [], ("dark",))
    assert len(none) == 0
    assert none.place_rc.shape == (0, 2)
    assert likelihood("spent_parent", _empty("spent_parent")).shape == (0,)


def _empty(kind):
    return {name: np.zeros(0) for name in load_models()[kind].terms}
