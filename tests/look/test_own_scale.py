"""The scale found by the looks: exact on true answers, near the truth on a sample."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from eyefind.data import Photo
from eyefind.look import look_at, see_whole
from eyefind.look.own_scale import told_px_per_mm
from eyefind.model import Answers
from eyefind.model.network import PARTS
from eyefind.photo import check_photo
from eyefind.rules import load_rules

SAMPLE = Path(__file__).parents[2] / "sample_images" / "bed2-ninefold-amber-1.jpg"
SAMPLE_PX_PER_MM = 8.59
"""From its truth."""
STEP = 0.25


def true_answers(px_per_mm, part="body", noise_mm=0.0):
    """Answers for two tubers side by side, each with its own middle."""
    shape = (60, 80)
    rows, cols = np.indices(shape)
    middle = np.where(cols < 40, 20, 60)
    way = np.stack([30 - rows, middle - cols], axis=2) / (px_per_mm * STEP)
    way += np.random.default_rng(1).normal(0, noise_mm, way.shape)
    parts = np.zeros((*shape, len(PARTS)), np.float32)
    parts[..., PARTS.index(part)] = 1
    flat = np.zeros(shape, np.float32)
    return Answers(np.zeros(2), STEP, flat, flat, flat, np.float32(way), parts)


@pytest.mark.parametrize("px_per_mm", [2.0, 5.5, 12.0])
def test_true_ways_tell_the_scale_though_two_tubers_touch(px_per_mm):
    assert told_px_per_mm(true_answers(px_per_mm)) == pytest.approx(px_per_mm, 1e-4)
    noisy = told_px_per_mm(true_answers(px_per_mm, noise_mm=0.1))
    assert noisy == pytest.approx(px_per_mm, 0.05)


def test_a_spent_parent_tells_as_well_but_a_bench_does_not():
    assert told_px_per_mm(true_answers(5.0, "spent_parent")) == pytest.approx(5.0, 1e-4)
    assert told_px_per_mm(true_answers(5.0, "bench")) is None


def test_ways_that_lead_from_the_middle_tell_nothing():
    assert told_px_per_mm(true_answers(-5.0)) is None


@pytest.mark.parametrize("step", [0.5, 0.35])
def test_a_sample_without_a_given_scale_finds_its_own_and_says_so(step):
    full = np.asarray(Image.open(SAMPLE).convert("RGB"))
    rgb = cv2.resize(full, None, fx=step, fy=step, interpolation=cv2.INTER_AREA)
    photo, rules = Photo(rgb, SAMPLE.name, "0" * 64, None), load_rules()
    seen = look_at(photo, None, None, rules, seen=see_whole(rgb, None))
    assert seen.scale.source == "looks"
    assert seen.scale.is_unsure
    # Three times the standard deviation that it tells.
    off = np.log(seen.scale.px_per_mm / (SAMPLE_PX_PER_MM * step))
    assert abs(off) < 3 * seen.scale.relative_sd
    remarks = check_photo(photo, None, seen.scale, seen.clump, seen.crown, rules)
    assert "looks" in next(r.text for r in remarks if r.code == "no_scale")


def test_without_the_network_the_size_of_a_clump_is_the_guess():
    full = np.asarray(Image.open(SAMPLE).convert("RGB"))
    rgb = cv2.resize(full, None, fx=0.3, fy=0.3, interpolation=cv2.INTER_AREA)
    photo = Photo(rgb, SAMPLE.name, "0" * 64, None)
    assert look_at(photo, None, None, load_rules()).scale.source == "guess"
