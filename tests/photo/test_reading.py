import os
import stat
import warnings

import numpy as np
import pillow_heif
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from photo.files import (
    DISPLAY_P3_COLORANTS,
    SRGB_COLORANTS,
    exif_bytes,
    matrix_profile,
    scene,
    sixteen_bits,
)
from PIL import Image, ImageOps

from eyefind.photo import read_photo
from eyefind.photo.reading import BEHIND_ALPHA

VISUAL_SIDES = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}
"""EXIF 2.3 (CIPA DC-008), tag 274: visual side of the 0th row and of the 0th column."""


def stored_as(upright, orientation):
    """Lay an upright picture down as EXIF 2.3 words it."""
    row_side, col_side = VISUAL_SIDES[orientation]
    stored = upright
    if row_side in ("left", "right"):
        stored = stored.swapaxes(0, 1)
    if row_side in ("bottom", "right"):
        stored = stored[::-1]
    if col_side in ("bottom", "right"):
        stored = stored[:, ::-1]
    return np.ascontiguousarray(stored)


@pytest.fixture
def save(tmp_path):
    """Return a function that saves an image and gives back its path."""

    def _save(image, name="photo.png", **how):
        path = tmp_path / name
        if not isinstance(image, Image.Image):
            image = Image.fromarray(image)
        image.save(path, **how)
        return path

    return _save


class TestUpright:
    @pytest.mark.parametrize("orientation", VISUAL_SIDES)
    @pytest.mark.parametrize("name", ["a.png", "a.tif", "a.webp", "a.jpg"])
    def test_as_exif_2_3_words_it(self, save, orientation, name):
        upright = scene()
        how = {"lossless": True} if name == "a.webp" else {}
        how = {"quality": 100, "subsampling": 0} if name == "a.jpg" else how
        path = save(
            stored_as(upright, orientation), name, exif=exif_bytes(orientation), **how
        )
        rgb = read_photo(path).rgb
        assert rgb.shape == upright.shape
        off = np.abs(rgb.astype(int) - upright)
        assert off.max() <= (6 if name == "a.jpg" else 0)  # JPEG rounds

    @pytest.mark.parametrize("orientation", VISUAL_SIDES)
    def test_as_pillow_turns_it(self, save, orientation):
        path = save(scene(), "a.jpg", exif=exif_bytes(orientation))
        with Image.open(path) as image:
            expected = np.asarray(ImageOps.exif_transpose(image))
        np.testing.assert_array_equal(read_photo(path).rgb, expected)

    @pytest.mark.parametrize("orientation", VISUAL_SIDES)
    def test_heic(self, save, orientation):
        pillow_heif.register_heif_opener()
        upright = scene()
        path = save(
            stored_as(upright, orientation),
            "a.heic",
            exif=exif_bytes(orientation),
            quality=95,
        )
        rgb = read_photo(path).rgb
        assert rgb.shape == upright.shape
        assert np.abs(rgb.astype(int) - upright).mean() < 4

    @pytest.mark.parametrize("orientation", [0, 9, 65535])
    def test_values_that_exif_does_not_know_turn_nothing(self, save, orientation):
        path = save(scene(), exif=exif_bytes(orientation))
        np.testing.assert_array_equal(read_photo(path).rgb, scene())

    def test_broken_metadata_does_no_harm(self, save):
        path = save(scene(), "a.png", exif=b"Exif\0\0MM\0*\0\0\0\x08\xff\xff\0\0")
        np.testing.assert_array_equal(read_photo(path).rgb, scene())

    @given(
        pixels=st.integers(0, 2**32 - 1).map(
            lambda seed: np.random.default_rng(seed).integers(
                0, 256, (101, 103, 3), dtype=np.uint8
            )
        ),
        orientation=st.sampled_from(list(VISUAL_SIDES)),
        flip=st.sampled_from([np.flipud, np.fliplr, np.rot90, np.array]),
    )
    @settings(max_examples=25, deadline=None)
    def test_flipping_the_picture_flips_what_is_read(
        self, tmp_path_factory, pixels, orientation, flip
    ):
        path = tmp_path_factory.mktemp("flip") / "a.png"
        stored = stored_as(np.ascontiguousarray(flip(pixels)), orientation)
        Image.fromarray(stored).save(path, exif=exif_bytes(orientation))
        np.testing.assert_array_equal(read_photo(path).rgb, flip(pixels))


class TestPixels:
    def test_grey_becomes_rgb(self, save):
        grey = scene()[..., 0]
        rgb = read_photo(save(grey)).rgb
        np.testing.assert_array_equal(rgb, np.dstack([grey] * 3))

    @pytest.mark.parametrize("name", ["a.png", "a.tif"])
    @pytest.mark.parametrize("grey", [True, False])
    def test_sixteen_bits(self, tmp_path, name, grey):
        pixels = scene()[..., 0] if grey else scene()
        sixteen_bits(tmp_path / name, pixels)
        expected = np.dstack([pixels] * 3) if grey else pixels
        np.testing.assert_array_equal(read_photo(tmp_path / name).rgb, expected)

    def test_palette(self, save):
        image = Image.fromarray(scene()).quantize(64)
        expected = np.asarray(image.convert("RGB"))
        np.testing.assert_array_equal(read_photo(save(image)).rgb, expected)

    def test_transparent_pixels_show_mid_grey(self, save):
        image = Image.fromarray(scene()).convert("RGBA")
        alpha = np.full((120, 160), 255, np.uint8)
        alpha[:, :80] = 0
        image.putalpha(Image.fromarray(alpha))
        rgb = read_photo(save(image)).rgb
        assert (rgb[:, :80] == BEHIND_ALPHA).all()
        np.testing.assert_array_equal(rgb[:, 80:], scene()[:, 80:])

    def test_a_transparent_palette_entry_shows_mid_grey(self, save):
        image = Image.fromarray(scene()).quantize(8)
        path = save(image, transparency=bytes([0] * 8))
        assert (read_photo(path).rgb == BEHIND_ALPHA).all()

    def test_a_profile_is_converted(self, save):
        """Expected: profile to XYZ (D50) to sRGB by the ICC's matrix model, by hand."""
        p3, srgb = (np.array(c).T for c in (DISPLAY_P3_COLORANTS, SRGB_COLORANTS))
        d50 = (0.9642, 1.0, 0.8249)
        np.testing.assert_allclose(p3.sum(axis=1), d50, atol=2e-3)
        np.testing.assert_allclose(srgb.sum(axis=1), d50, atol=2e-3)
        stored = np.full((120, 120, 3), (180, 120, 90), np.uint8)
        light = np.linalg.inv(srgb) @ p3 @ (stored[0, 0] / 255.0) ** 2.2
        expected = 255 * (1.055 * light ** (1 / 2.4) - 0.055)
        path = save(stored, icc_profile=matrix_profile(DISPLAY_P3_COLORANTS))
        rgb = read_photo(path).rgb[60, 60]
        assert np.abs(rgb - expected).max() <= 1.5
        assert np.abs(expected - stored[0, 0]).max() > 5  # else nothing was shown

    @pytest.mark.parametrize("profile", [b"no profile at all", b"\0" * 200])
    def test_a_broken_profile_counts_as_srgb(self, save, profile):
        path = save(scene(), icc_profile=profile)
        np.testing.assert_array_equal(read_photo(path).rgb, scene())

    def test_a_profile_that_does_not_fit_grey_counts_as_none(self, save):
        grey = scene()[..., 0]
        path = save(grey, icc_profile=matrix_profile(DISPLAY_P3_COLORANTS))
        np.testing.assert_array_equal(read_photo(path).rgb[..., 0], grey)

    def test_a_second_picture_behind_a_phones_photo_is_no_animation(self, save):
        small = Image.fromarray(scene()).resize((80, 60))
        path = save(
            scene(), "a.jpg", format="MPO", save_all=True, append_images=[small]
        )
        assert read_photo(path).rgb.shape == (120, 160, 3)


class TestFacts:
    @pytest.mark.parametrize(
        ("taken", "offset", "expected"),
        [
            ("2026:11:07 15:04:05", None, "2026-11-07T15:04:05"),
            ("2026:11:07 15:04:05", "+01:00", "2026-11-07T15:04:05+01:00"),
            ("2026:11:07 15:04:05", "rubbish", "2026-11-07T15:04:05"),
            ("0000:00:00 00:00:00", None, None),
            ("    :  :     :  :  ", None, None),
            (None, None, None),
        ],
    )
    def test_capture_time(self, save, taken, offset, expected):
        path = save(scene(), "a.jpg", exif=exif_bytes(None, taken, offset))
        assert read_photo(path).taken_at == expected

    def test_sha256(self, tmp_path, save):
        """FIPS 180-4, as sha256sum computes it (from another implementation)."""
        from subprocess import run

        path = save(scene(), "a b\u00fc.png")
        told = run(["sha256sum", path], capture_output=True, text=True, check=True)
        assert read_photo(path).sha256 == told.stdout.split()[0].lstrip("\\")

    def test_names_with_spaces_and_umlauts(self, save):
        assert read_photo(save(scene(), "Beet 3 \u00fc\u00df.png")).file == (
            "Beet 3 \u00fc\u00df.png"
        )

    def test_a_wrong_ending_does_not_matter(self, save):
        path = save(scene(), "photo.jpg", format="PNG")
        np.testing.assert_array_equal(read_photo(path).rgb, scene())

    def test_the_file_is_never_written(self, save):
        path = save(scene(), "a.jpg", exif=exif_bytes(6))
        path.chmod(stat.S_IRUSR)
        before, state = path.read_bytes(), os.stat(path)
        read_photo(path)
        assert path.read_bytes() == before
        assert os.stat(path).st_mtime_ns == state.st_mtime_ns

    def test_pixels_cannot_be_changed_by_mistake(self, save):
        with pytest.raises(ValueError, match="read-only"):
            read_photo(save(scene())).rgb[0, 0] = 0

    def test_pillows_warnings_stay_inside(self, save, monkeypatch):
        path = save(scene())
        monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 120 * 160 - 1)
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            read_photo(path)
