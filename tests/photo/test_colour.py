"""The colour measures that the checks and the truth rest on."""

import cv2
import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from eyefind.photo.checks import _luminance
from eyefind.photo.sharpness import LINEAR

SHARMA = [
    (50.0, 2.6772, -79.7751, 50.0, 0.0, -82.7485, 2.0425),
    (50.0, 3.1571, -77.2803, 50.0, 0.0, -82.7485, 2.8615),
    (50.0, 2.8361, -74.0200, 50.0, 0.0, -82.7485, 3.4412),
    (50.0, -1.3802, -84.2814, 50.0, 0.0, -82.7485, 1.0000),
    (50.0, -1.1848, -84.8006, 50.0, 0.0, -82.7485, 1.0000),
    (50.0, -0.9009, -85.5211, 50.0, 0.0, -82.7485, 1.0000),
    (50.0, 0.0, 0.0, 50.0, -1.0, 2.0, 2.3669),
    (50.0, -1.0, 2.0, 50.0, 0.0, 0.0, 2.3669),
    (50.0, 2.4900, -0.0010, 50.0, -2.4900, 0.0009, 7.1792),
    (50.0, 2.4900, -0.0010, 50.0, -2.4900, 0.0010, 7.1792),
    (50.0, 2.4900, -0.0010, 50.0, -2.4900, 0.0011, 7.2195),
    (50.0, 2.4900, -0.0010, 50.0, -2.4900, 0.0012, 7.2195),
    (50.0, -0.0010, 2.4900, 50.0, 0.0009, -2.4900, 4.8045),
    (50.0, -0.0010, 2.4900, 50.0, 0.0010, -2.4900, 4.8045),
    (50.0, -0.0010, 2.4900, 50.0, 0.0011, -2.4900, 4.7461),
    (50.0, 2.5, 0.0, 50.0, 0.0, -2.5, 4.3065),
    (50.0, 2.5, 0.0, 73.0, 25.0, -18.0, 27.1492),
    (50.0, 2.5, 0.0, 61.0, -5.0, 29.0, 22.8977),
    (50.0, 2.5, 0.0, 56.0, -27.0, -3.0, 31.9030),
    (50.0, 2.5, 0.0, 58.0, 24.0, 15.0, 19.4535),
    (50.0, 2.5, 0.0, 50.0, 3.1736, 0.5854, 1.0000),
    (50.0, 2.5, 0.0, 50.0, 3.2972, 0.0, 1.0000),
    (50.0, 2.5, 0.0, 50.0, 1.8634, 0.5757, 1.0000),
    (50.0, 2.5, 0.0, 50.0, 3.2592, 0.3350, 1.0000),
    (60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644),
    (63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630),
    (61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731),
    (35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645),
    (22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373),
    (36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146),
    (90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441),
    (90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381),
    (6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377),
    (2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082),
]
"""L*, a*, b* of two colours and their CIEDE2000 difference: Sharma, Wu & Dalal,
Color Research & Application 30:21-30, 2005, table 1. Typed from memory; that a pair
and its difference agree to four decimals shows that they were remembered right."""


@pytest.mark.parametrize("pair", SHARMA)
def test_ciede2000_pairs_of_sharma_wu_dalal(pair):
    first, second, expected = np.array(pair[:3]), np.array(pair[3:6]), pair[6]
    assert deltaE_ciede2000(first, second) == pytest.approx(expected, abs=5e-5)


def test_opencvs_lab_against_scikit_image():
    rng = np.random.default_rng(0)
    rgb = rng.integers(0, 256, (100, 100, 3), dtype=np.uint8)
    ours = cv2.cvtColor(rgb.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    assert np.abs(ours - rgb2lab(rgb)).max() < 0.5


def test_linear_light():
    """IEC 61966-2-1: mid-grey 119 reflects 18.4 %, that is L* 50 (CIE 15)."""
    assert LINEAR[[0, 255]].tolist() == [0.0, 1.0]
    assert LINEAR[119] == pytest.approx(0.184, abs=5e-4)
    lightness = np.array([0.0, 8.0, 50.0, 100.0], np.float32)
    expected = [0.0, 216 / 24389, 0.18419, 1.0]
    assert _luminance(lightness) == pytest.approx(expected, abs=1e-4)
