from dataclasses import replace

import cv2
import numpy as np
import pytest
from painted import painted_clump
from photo.drawn import Camera, draw_card
from skimage.draw import polygon2mask

from eyefind.data import Photo, Scale
from eyefind.photo import check_photo, find_card
from eyefind.photo.checks import CODES
from eyefind.photo.sharpness import rough_blur_mm
from eyefind.rules import load_rules

RULES = load_rules()
PX_PER_MM = 6.0


@pytest.fixture(scope="module")
def clump():
    """A painted clump with skin of some relief, and its masks."""
    painted = painted_clump(px_per_mm=PX_PER_MM, shape=(1800, 1800))
    inside = polygon2mask(painted.rgb.shape[:2], painted.anatomy.clump_outline_px)
    crown = polygon2mask(painted.rgb.shape[:2], painted.anatomy.crown_outline_px)
    return painted.rgb, inside, crown


@pytest.fixture(scope="module")
def card():
    return find_card(draw_card(Camera()))


def codes(rgb, clump, crown=None, card=None, scale=None):
    scale = scale or Scale(PX_PER_MM, "card", 0.01)
    remarks = check_photo(Photo(rgb, "a.jpg", "0"), card, scale, clump, crown, RULES)
    for remark in remarks:
        assert remark.text.endswith(".")
        assert remark.advice.endswith(".")
    found = [remark.code for remark in remarks]
    assert found == sorted(set(found), key=CODES.index)
    return found


def lit(rgb, factor):
    """Change the light (linear) by a factor."""
    unit = (rgb / 255.0) ** 2.2 * factor
    return np.rint(255 * np.clip(unit, 0, 1) ** (1 / 2.2)).astype(np.uint8)


def test_a_good_photo_gets_no_remark(clump, card):
    assert codes(*clump, card) == []
    assert codes(*clump) == []


def test_a_guessed_scale_is_told(clump):
    assert codes(*clump, scale=Scale(PX_PER_MM, "guess", 0.35)) == ["no_scale"]


def test_too_small(clump):
    assert codes(*clump, scale=Scale(3.9, "card", 0.01)) == ["too_small"]
    found = codes(*clump, scale=Scale(2.0, "guess", 0.35))
    assert found == ["no_scale", "too_small"]


@pytest.mark.parametrize("side", ["top", "bottom", "left", "right"])
def test_cut_off(clump, side):
    rgb, inside, crown = clump
    rows, cols = (np.flatnonzero(inside.any(axis=axis)) for axis in (1, 0))
    middle = rows.mean() if side in ("top", "bottom") else cols.mean()
    start = {"top": (int(middle), 0), "left": (0, int(middle))}.get(side, (0, 0))
    stop = {"bottom": (int(middle), 1800), "right": (1800, int(middle))}.get(
        side, (1800, 1800)
    )
    part = np.s_[start[0] : stop[0], start[1] : stop[1]]
    photo = Photo(rgb[part], "a.jpg", "0")
    scale = Scale(PX_PER_MM, "card", 0.01)
    remarks = check_photo(photo, None, scale, inside[part], crown[part], RULES)
    assert [remark.code for remark in remarks] == ["cut_off"]
    assert side in remarks[0].text


def test_a_thin_root_may_leave_the_picture(clump):
    rgb, inside, crown = clump
    inside = inside.copy()
    inside[:900, 890:910] = True  # 20 px are 3 mm
    assert codes(rgb, inside, crown) == []


@pytest.mark.parametrize(
    ("sigma_mm", "expected"), [(0.3, []), (0.8, ["blur"]), (1.3, ["blur"])]
)
class TestBlur:
    def test_from_the_card(self, clump, card, sigma_mm, expected):
        assert codes(*clump, replace(card, blur_sigma_mm=sigma_mm)) == expected

    def test_from_the_clumps_own_edges(self, clump, sigma_mm, expected):
        rgb, inside, crown = clump
        soft = cv2.GaussianBlur(rgb, (0, 0), sigma_mm * PX_PER_MM)
        assert codes(soft, inside, crown) == expected


def test_great_blur_asks_for_another_photo(clump, card):
    scale = Scale(PX_PER_MM, "card", 0.01)
    for sigma_mm, again in ((0.8, False), (1.3, True)):
        blurred = replace(card, blur_sigma_mm=sigma_mm)
        photo = Photo(clump[0], "a.jpg", "0")
        (remark,) = check_photo(photo, blurred, scale, *clump[1:], RULES)
        assert remark.advice.startswith("Take the photo again") == again


@pytest.mark.parametrize(
    ("sigma_mm", "off"), [(0.2, 0.2), (0.4, 0.2), (0.8, 0.2), (1.2, 0.3)]
)
def test_the_rough_blur_on_sharp_outlines(clump, sigma_mm, off):
    """Outlines without texture blurred by a known sigma; great blur reads low."""
    rgb, inside, _ = clump
    soft = cv2.GaussianBlur(rgb, (0, 0), sigma_mm * PX_PER_MM)
    assert rough_blur_mm(soft, inside, PX_PER_MM) == pytest.approx(sigma_mm, rel=off)


def test_the_rough_blur_of_nothing():
    flat = np.full((300, 300, 3), 90, np.uint8)
    assert np.isnan(rough_blur_mm(flat, np.ones((300, 300), bool), 5.0))
    assert np.isnan(rough_blur_mm(flat, np.zeros((300, 300), bool), 5.0))


def test_dark(clump):
    rgb, inside, crown = clump
    assert "dark" in codes(lit(rgb, 0.05), inside, crown)
    assert "dark" not in codes(lit(rgb, 0.5), inside, crown)


def test_bright(clump):
    assert "bright" in codes(lit(clump[0], 4.0), *clump[1:])


class TestGlare:
    def test_on_the_clump(self, clump):
        rgb, inside, crown = clump
        rgb = rgb.copy()
        body = np.argwhere(inside & ~crown)
        bright = body[: len(body) // 50]
        rgb[bright[:, 0], bright[:, 1]] = 255
        assert codes(rgb, inside, crown) == ["glare"]

    def test_a_little_on_the_crown_is_enough(self, clump):
        rgb, inside, crown = clump
        rgb = rgb.copy()
        spot = np.argwhere(crown)
        bright = spot[: len(spot) // 200]
        rgb[bright[:, 0], bright[:, 1]] = 252
        assert codes(rgb, inside, crown) == ["glare"]
        assert codes(rgb, inside) == []

    def test_a_white_bench_is_none(self, clump):
        rgb, inside, crown = clump
        rgb = rgb.copy()
        rgb[~inside] = 255
        assert codes(rgb, inside, crown) == []

    def test_red_skin_is_none(self, clump):
        rgb, inside, crown = clump
        rgb = rgb.copy()
        rgb[inside, 0] = 255
        assert codes(rgb, inside, crown) == []


def test_tilt(clump, card):
    assert codes(*clump, replace(card, tilt_deg=14.0)) == []
    assert codes(*clump, replace(card, tilt_deg=16.0)) == ["tilt"]


class TestSoil:
    def covered(self, clump):
        rgb, inside, crown = clump
        rgb = rgb.copy()
        rgb[~inside] = (190, 185, 180)
        crumbs = np.random.default_rng(0).normal(0, 8, (inside.sum(), 1))
        rgb[inside] = np.clip(np.array([66, 54, 42]) + crumbs, 0, 255)
        return rgb, inside, crown

    def test_a_clump_as_dark_as_soil_on_a_light_bench(self, clump):
        assert "soil" in codes(*self.covered(clump))

    def test_against_the_card(self, clump, card):
        """On a dark bench only the card tells; its white lies at 0.85 of the light."""
        rgb, inside, crown = self.covered(clump)
        rgb[~inside] = (40, 38, 36)
        assert "soil" not in codes(rgb, inside, crown)
        corner = np.array([(20, 20), (20, 420), (300, 420), (300, 20)], float)
        rgb[15:305, 15:425] = 238
        laid = replace(card, outline_px=corner)
        assert "soil" in codes(rgb, inside, crown, laid)

    def test_poor_light_alone_is_no_soil(self, clump):
        rgb, inside, crown = clump
        rgb = rgb.copy()
        rgb[~inside] = (190, 185, 180)
        assert "soil" not in codes(lit(rgb, 0.08), inside, crown)


def test_no_clump_gets_no_remark_about_itself(clump):
    nothing = np.zeros(clump[1].shape, bool)
    assert codes(clump[0], nothing) == []
