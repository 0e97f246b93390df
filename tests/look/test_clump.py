"""The clump on its bench: painted truth, symmetry, refusals, real skin."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from painted import MAT, painted_clump

from eyefind.errors import PhotoError
from eyefind.look import find_clump, see_whole
from eyefind.photo import read_photo

REAL = sorted((Path(__file__).parents[1] / "real_photos").glob("*.png"))
QUIET = settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))


def filled(outline, shape):
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(outline[:, ::-1]).astype(np.int32)], 1)
    return mask > 0


def overlap(one, other):
    return (one & other).sum() / (one | other).sum()


def noisy(rgb, seed=0):
    """Give a painting some grain, as every photograph has."""
    grain = np.random.default_rng(seed).normal(0, 3, rgb.shape)
    return np.clip(rgb + grain, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("tubers", [3, 5, 8])
def test_painted_truth_is_recovered(tubers):
    painted = painted_clump(tubers)
    truth = filled(painted.anatomy.clump_outline_px, painted.rgb.shape[:2])
    assert overlap(find_clump(noisy(painted.rgb)), truth) > 0.9


def test_a_striped_cloth_is_bench_for_all_its_colours():
    """In the reduced picture narrow stripes mix, and each colour varies much."""
    painted = painted_clump(parent=False)
    cloth = np.array([(40, 150, 190), (60, 180, 90), (200, 60, 150), (120, 200, 200)])
    row, col = np.indices(painted.rgb.shape[:2])
    stripes = cloth[((row + 40 * np.sin(col / 60)) // 10).astype(int) % len(cloth)]
    mat = (painted.rgb == MAT).all(axis=2)
    rgb = np.where(mat[..., None], stripes, painted.rgb)
    truth = filled(painted.anatomy.clump_outline_px, mat.shape)
    assert overlap(find_clump(noisy(rgb)), truth) > 0.85


@QUIET
@given(st.integers(0, 3), st.booleans(), st.integers(3, 7))
def test_turning_and_flipping_turns_and_flips_the_mask(turns, flip, tubers):
    def moved(picture):
        turned = np.rot90(picture, turns)
        return np.ascontiguousarray(turned[:, ::-1] if flip else turned)

    rgb = noisy(painted_clump(tubers).rgb)
    assert overlap(find_clump(moved(rgb)), moved(find_clump(rgb))) > 0.95


def test_twice_the_size_gives_the_same_clump():
    rgb = noisy(painted_clump().rgb)
    double = cv2.resize(rgb, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    small = cv2.resize(find_clump(double).astype(np.uint8), rgb.shape[1::-1]) > 0
    assert overlap(small, find_clump(rgb)) > 0.95


@pytest.mark.parametrize("level", [0, 90, 255])
def test_a_blank_picture_is_refused(level):
    with pytest.raises(PhotoError, match="clump"):
        find_clump(np.full((600, 800, 3), level, np.uint8))


def test_an_empty_mat_is_refused():
    mat = np.empty((600, 800, 3), np.uint8)
    mat[:] = MAT
    with pytest.raises(PhotoError, match="clump"):
        find_clump(noisy(mat))


def test_noise_is_refused():
    noise = np.random.default_rng(1).integers(0, 256, (600, 800, 3), dtype=np.uint8)
    with pytest.raises(PhotoError, match="clump"):
        find_clump(noise)


def test_two_clumps_are_refused():
    one = painted_clump(side_tuber=False).rgb
    with pytest.raises(PhotoError, match=r"[Tt]wo clumps|one at a time"):
        find_clump(noisy(np.hstack([one, one])))


@pytest.mark.parametrize("by_network", [False, True])
@pytest.mark.parametrize("path", REAL, ids=lambda path: path.stem)
def test_real_tubers_are_covered(path, by_network):
    """Tubers are yellower than the dark blue mat: b* above 8, the largest region.

    Photographs of tyrwh/PotatoScanner, Apache-2.0 (tests/real_photos/README.md).
    """
    rgb = read_photo(path).rgb
    yellow = cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB)[..., 2].astype(int) - 128 > 8
    _, label, stats, _ = cv2.connectedComponentsWithStats(yellow.astype(np.uint8))
    tuber = label == 1 + np.argmax(stats[1:, cv2.CC_STAT_AREA])
    found = find_clump(rgb, None, see_whole(rgb, None) if by_network else None)
    assert (found & tuber).sum() > 0.9 * tuber.sum()
