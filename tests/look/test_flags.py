"""Flags on painted clumps, whose truth is known."""

from dataclasses import replace

import numpy as np
import pytest
from painted import painted_clump
from skimage.draw import polygon2mask

from eyefind.data import Anatomy
from eyefind.look.flags import find_flags, numbered, weigh_flags
from eyefind.rules import load_rules

RULES = load_rules()


def clump_of(painted):
    return polygon2mask(painted.rgb.shape[:2], painted.anatomy.clump_outline_px)


def flags_of(painted, find=find_flags):
    return find(painted.rgb, clump_of(painted), painted.anatomy, painted.scale, RULES)


@pytest.fixture(scope="module")
def painted():
    return painted_clump()


@pytest.fixture(scope="module")
def flags(painted):
    return flags_of(painted)


def test_painted_eyes_are_found_within_a_millimetre(painted, flags):
    found = [(f.row_px, f.col_px) for f in flags if f.kind == "eye"]
    for eye in (flag for flag in painted.flags if flag.kind == "eye"):
        far = [np.hypot(r - eye.row_px, c - eye.col_px) for r, c in found]
        assert min(far) <= 1.0 * painted.scale.px_per_mm


def test_no_eye_is_flagged_away_from_crown_and_collar(painted):
    # Eyes sit only where neck and crown join: Dahlia Society of California, December
    # 2024; Aoba et al. 1961 (buds belong to stem nodes). All candidates are held to it.
    band = RULES.value("collar_band_mm") * painted.scale.px_per_mm
    crown = painted.anatomy.crown_outline_px
    inside = polygon2mask(painted.rgb.shape[:2], crown)
    necks = np.array([t.neck_rc_px for t in painted.anatomy.tubers])
    eyes = [f for f in flags_of(painted, weigh_flags) if f.kind == "eye"]
    assert eyes
    for eye in eyes:
        place = np.array([eye.row_px, eye.col_px])
        far = min(np.hypot(*(points - place).T).min() for points in (crown, necks))
        on_crown = inside[round(eye.row_px), round(eye.col_px)]
        assert on_crown or far <= band + 1.0 * painted.scale.px_per_mm


def test_the_spent_parent_is_found_and_none_where_there_is_none(flags):
    assert [f.belongs_to for f in flags if f.kind == "spent_parent"] == ["T5"]
    sound = flags_of(painted_clump(parent=False))
    assert not [f for f in sound if f.kind == "spent_parent"]


def test_a_tuber_on_a_tuber_is_flagged(flags):
    assert [f.belongs_to for f in flags if f.kind == "tuber_on_tuber"] == ["T6"]


def test_a_mirrored_photo_gives_the_same_eyes_mirrored(painted, flags):
    width = painted.rgb.shape[1]

    def flip(points):
        return np.column_stack([points[:, 0], width - 1 - points[:, 1]])

    anatomy = painted.anatomy
    flipped = Anatomy(
        flip(anatomy.clump_outline_px),
        flip(anatomy.crown_outline_px),
        [
            replace(s, outline_px=flip(s.outline_px), axis_px=flip(s.axis_px))
            for s in anatomy.stems
        ],
        [
            replace(
                t,
                outline_px=flip(t.outline_px),
                axis_px=flip(t.axis_px),
                neck_rc_px=flip(t.neck_rc_px[None])[0],
            )
            for t in anatomy.tubers
        ],
    )
    mirrored = find_flags(
        np.ascontiguousarray(painted.rgb[:, ::-1]),
        np.ascontiguousarray(clump_of(painted)[:, ::-1]),
        flipped,
        painted.scale,
        RULES,
    )
    there = [(f.row_px, width - 1 - f.col_px) for f in mirrored if f.kind == "eye"]
    for eye in (flag for flag in painted.flags if flag.kind == "eye"):
        far = [np.hypot(r - eye.row_px, c - eye.col_px) for r, c in there]
        assert min(far) <= 1.0 * painted.scale.px_per_mm


def test_ids_follow_the_tubers_and_do_not_depend_on_the_order(painted, flags):
    again = numbered(flags[::-1], painted.anatomy)
    assert [(f.id, f.row_px, f.col_px) for f in again] == [
        (f.id, f.row_px, f.col_px) for f in flags
    ]
    assert flags[0].id == "E1"
    assert all(flag.reasons for flag in flags)


def test_nothing_to_see_gives_no_eye_and_no_error(painted):
    nothing = np.zeros((0, 2))
    bare = Anatomy(nothing, nothing, [], [])
    assert find_flags(painted.rgb, clump_of(painted), bare, painted.scale, RULES) == []
    flat = np.full_like(painted.rgb, 120)
    found = find_flags(flat, clump_of(painted), painted.anatomy, painted.scale, RULES)
    assert not [flag for flag in found if flag.kind == "eye"]
