"""Six real photographs (Apache-2.0, see real_photos/README.md): tubers, no clump."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from eyefind.photo import check_photo, find_card, find_photos, guess_scale, read_photo
from eyefind.rules import load_rules

FOLDER = Path(__file__).parents[1] / "real_photos"
PHOTOS = sorted(FOLDER.glob("*.png"))


def test_the_folder_is_found():
    assert len(PHOTOS) == 6
    assert find_photos([FOLDER]) == PHOTOS


@pytest.mark.parametrize("path", PHOTOS, ids=lambda path: path.stem)
class TestRealPhotos:
    def test_pixels_against_opencvs_reader(self, path):
        expected = cv2.imread(str(path), cv2.IMREAD_COLOR_RGB)
        np.testing.assert_array_equal(read_photo(path).rgb, expected)

    def test_there_is_no_card_and_the_check_says_so(self, path):
        """The mat is blue and the tuber is not: a mask good enough for the check."""
        photo, rules = read_photo(path), load_rules()
        assert find_card(photo.rgb) is None
        lab = cv2.cvtColor(photo.rgb, cv2.COLOR_RGB2LAB)
        tuber = lab[..., 2] > 128
        scale = guess_scale(tuber, rules)
        found = check_photo(photo, None, scale, tuber, None, rules)
        codes = [remark.code for remark in found]
        assert codes[:2] == ["no_scale", "too_small"]
        # Taken wet, sharp and well lit, on a dark mat.
        assert not {"blur", "dark", "bright", "tilt", "soil"} & set(codes)
