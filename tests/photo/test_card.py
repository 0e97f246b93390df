import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from photo.drawn import Camera, draw_card

from eyefind.photo import find_card, height_bias
from eyefind.photo.card_layout import (
    CARD_MM,
    MARKER_CENTRES_MM,
    PATCH_CENTRES_MM,
    card_image,
    marker_corners_mm,
)

CORNERS_MM = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * np.array(CARD_MM)
PIXEL_SIGMA_PX = 12**-0.5
"""A pixel's own blur: standard deviation of a box one pixel wide."""


def true_px_per_mm(camera):
    """Square root of the area of a small square at the card's middle, px/mm."""
    step = 0.05
    square = np.array(CARD_MM) / 2 + step * np.array([(0, 0), (1, 0), (0, 1)])
    a, b, c = camera.project(square)
    (x1, y1), (x2, y2) = b - a, c - a
    return np.sqrt(abs(x1 * y2 - y1 * x2)) / step


def cover(rgb, camera, marker):
    """Lay a brown tool over a marker."""
    quad = camera.project(marker_corners_mm(marker)).round().astype(np.int32)
    return cv2.fillConvexPoly(rgb.copy(), cv2.convexHull(quad), (90, 60, 40))


CAMERAS = [
    Camera(),
    Camera(turn_deg=137, x_mm=-20, y_mm=15),
    Camera(tilt_deg=12, about_deg=40, turn_deg=20),
    Camera(tilt_deg=25, about_deg=200, turn_deg=300, x_mm=25),
    Camera(tilt_deg=33, about_deg=95, distance_mm=260, y_mm=-20),
]


class TestGeometry:
    @pytest.mark.parametrize("camera", CAMERAS)
    def test_against_opencvs_pose_with_the_true_camera(self, camera):
        """cv2.solvePnP, told the camera that find_card must guess."""
        card = find_card(draw_card(camera))
        solid = np.column_stack([CORNERS_MM, np.zeros(4)])
        _, turn, shift = cv2.solvePnP(
            solid, card.outline_px[:, ::-1], camera.matrix, None
        )
        normal = cv2.Rodrigues(turn)[0][:, 2]
        tilt_deg = np.degrees(np.arccos(abs(normal[2])))
        assert tilt_deg == pytest.approx(camera.tilt_deg, abs=0.7)
        middle_mm = np.array([*np.array(CARD_MM) / 2, 0])
        distance = (cv2.Rodrigues(turn)[0] @ middle_mm + shift[:, 0])[2]
        assert distance == pytest.approx(camera.distance_mm, rel=0.003)
        assert card.tilt_deg == pytest.approx(tilt_deg, abs=1.5)

    @pytest.mark.parametrize("camera", CAMERAS)
    def test_homography_against_projectpoints(self, camera):
        card = find_card(draw_card(camera))
        grid_mm = np.array([(x, y) for x in range(0, 121, 20) for y in (0, 40, 80)])
        told = cv2.perspectiveTransform(grid_mm[None].astype(float), card.card_to_photo)
        assert np.abs(told[0] - camera.project(grid_mm)).max() < 0.4
        assert np.abs(card.outline_px[:, ::-1] - camera.project(CORNERS_MM)).max() < 0.4

    @given(
        px_per_mm=st.floats(3.5, 8.0),
        tilt=st.floats(0, 30),
        about=st.floats(0, 360),
        turn=st.floats(0, 360),
        x=st.floats(-15, 15),
        y=st.floats(-10, 10),
        blur=st.floats(0, 2),
    )
    @settings(max_examples=25, deadline=None)
    def test_scale_is_recovered_from_any_pose(
        self, px_per_mm, tilt, about, turn, x, y, blur
    ):
        camera = Camera(1200, (1200, 1600), 1200 / px_per_mm, tilt, about, turn, x, y)
        card = find_card(draw_card(camera, blur))
        true = true_px_per_mm(camera)
        assert card.scale.px_per_mm == pytest.approx(true, rel=0.003)
        assert card.scale.source == "card"

    @pytest.mark.parametrize("camera", CAMERAS)
    def test_lengths_elsewhere_keep_within_the_stated_spread(self, camera):
        """Lengths of 20 mm in all directions within 100 mm of the card's middle."""
        card = find_card(draw_card(camera))
        rng = np.random.default_rng(5)
        angle, where = rng.uniform(0, 2 * np.pi, (2, 400))
        start = np.array(CARD_MM) / 2 + 80 * np.column_stack(
            [np.cos(where), np.sin(where)]
        )
        end = start + 20 * np.column_stack([np.cos(angle), np.sin(angle)])
        length_px = np.linalg.norm(camera.project(end) - camera.project(start), axis=1)
        off = length_px / card.scale.px_per_mm / 20 - 1
        assert np.sqrt((off**2).mean()) < 1.5 * card.scale.relative_sd + 0.002
        assert card.scale.relative_sd < 0.01 or camera.tilt_deg > 0

    def test_a_wrong_focal_length_harms_the_tilt_little(self):
        for focal_px in (900, 1800):
            camera = Camera(focal_px, (1200, 1600), focal_px / 5, 20, 30, 50)
            card = find_card(draw_card(camera))
            assert card.tilt_deg == pytest.approx(20, abs=3)

    @pytest.mark.parametrize("height_mm", [-20.0, 15.0, 40.0])
    def test_height_bias_against_projectpoints(self, height_mm):
        camera = Camera(distance_mm=400)
        a, b = camera.project(np.array([(40.0, 40.0), (80.0, 40.0)]), height_mm)
        flat_a, flat_b = camera.project(np.array([(40.0, 40.0), (80.0, 40.0)]))
        read = np.linalg.norm(b - a) / np.linalg.norm(flat_b - flat_a)
        assert height_bias(height_mm, 400) == pytest.approx(read - 1, rel=1e-6)


class TestFinding:
    @pytest.mark.parametrize("hidden", [(0,), (3,), (0, 2), (1, 2)])
    def test_two_markers_are_enough(self, hidden):
        camera = Camera(tilt_deg=8, about_deg=70, turn_deg=33)
        rgb = draw_card(camera)
        for marker in hidden:
            rgb = cover(rgb, camera, marker)
        card = find_card(rgb)
        assert card.scale.px_per_mm == pytest.approx(true_px_per_mm(camera), rel=0.005)
        # Two corners of the card may then lie beyond what was seen.
        assert np.abs(card.outline_px[:, ::-1] - camera.project(CORNERS_MM)).max() < 4

    def test_one_marker_is_not(self):
        camera = Camera()
        rgb = draw_card(camera)
        for marker in (0, 1, 2):
            rgb = cover(rgb, camera, marker)
        assert find_card(rgb) is None

    def test_of_two_cards_one_is_taken(self):
        near = draw_card(Camera(distance_mm=200))
        far = draw_card(Camera(distance_mm=300, turn_deg=70))
        card = find_card(np.hstack([near, far]))
        assert min(abs(card.scale.px_per_mm - s) for s in (4.0, 6.0)) < 0.02

    def test_a_mirrored_card_is_none_of_ours(self):
        assert find_card(np.ascontiguousarray(draw_card(Camera())[:, ::-1])) is None

    def test_no_card(self):
        rng = np.random.default_rng(0)
        noise = rng.integers(0, 256, (600, 800, 3), dtype=np.uint8)
        assert find_card(noise) is None
        assert find_card(np.full((600, 800, 3), 90, np.uint8)) is None

    def test_in_a_large_photo(self):
        camera = Camera(3000, (3000, 4000), 3000 / 4.5, 5, 20, 200, -150, 90)
        card = find_card(draw_card(camera))
        assert card.scale.px_per_mm == pytest.approx(true_px_per_mm(camera), rel=0.003)

    @pytest.mark.parametrize("light", [0.015, 0.05, 1.0])
    def test_in_poor_or_strong_light(self, light):
        camera = Camera(turn_deg=10)
        card = find_card(draw_card(camera, 2.0, (light,) * 3, noise=0.0005))
        assert card.scale.px_per_mm == pytest.approx(6, rel=0.005)
        assert card.blur_sigma_mm == pytest.approx(2 / 6, rel=0.1)

    @pytest.mark.parametrize("turn_deg", [0, 90, 180, 270])
    def test_corners_keep_their_names_when_the_card_is_turned(self, turn_deg):
        camera = Camera(turn_deg=turn_deg)
        card = find_card(draw_card(camera))
        off = card.outline_px[:, ::-1] - camera.project(CORNERS_MM)
        assert np.abs(off).max() < 0.5


class TestBlur:
    @pytest.mark.parametrize("sigma_mm", [0.1, 0.3, 0.6, 0.9])
    @pytest.mark.parametrize("px_per_mm", [4.5, 7.5])
    def test_a_known_blur_is_measured(self, sigma_mm, px_per_mm):
        camera = Camera(1200, (1200, 1600), 1200 / px_per_mm, turn_deg=17)
        card = find_card(draw_card(camera, sigma_mm * px_per_mm, noise=0.01))
        total_mm = np.hypot(sigma_mm, PIXEL_SIGMA_PX / px_per_mm)
        assert card.blur_sigma_mm == pytest.approx(total_mm, rel=0.05)

    @pytest.mark.parametrize("blur_px", [(4.0, 0.5), (0.5, 4.0)])
    def test_blur_by_motion_counts_in_its_direction(self, blur_px):
        card = find_card(draw_card(Camera(), blur_px))
        assert card.blur_sigma_mm == pytest.approx(4.0 / 6, rel=0.06)


class TestGrey:
    @pytest.mark.parametrize(
        "light", [(0.8, 0.8, 0.8), (0.8, 0.6, 0.35), (0.3, 0.4, 0.55), (1, 0.9, 0.8)]
    )
    def test_the_tint_of_the_light_is_undone(self, light):
        card = find_card(draw_card(Camera(turn_deg=20), light=light))
        balanced = card.grey_gain * light
        assert balanced / balanced.mean() == pytest.approx(np.ones(3), abs=0.02)
        assert card.grey_gain.mean() == pytest.approx(1)

    def test_a_covered_patch_does_no_harm(self):
        camera = Camera()
        rgb = draw_card(camera, light=(0.8, 0.7, 0.5))
        free = find_card(rgb).grey_gain
        for centre in PATCH_CENTRES_MM[:2]:
            col, row = camera.project(np.array([centre]))[0].round().astype(int)
            rgb[row - 50 : row + 50, col - 35 : col + 35] = (200, 40, 40)
        assert find_card(rgb).grey_gain == pytest.approx(free, rel=0.02)


class TestDrawing:
    @pytest.mark.parametrize("px_per_mm", [2.0, 5.37, 23.622])
    def test_against_opencvs_own_detection(self, px_per_mm):
        """cv2.aruco finds every marker where the specification puts it."""
        edge = 20
        drawn = cv2.copyMakeBorder(
            card_image(px_per_mm), *[edge] * 4, cv2.BORDER_CONSTANT, value=255
        )
        kit = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
        corners, ids, _ = cv2.aruco.ArucoDetector(kit).detectMarkers(drawn)
        found = dict(zip(np.ravel(ids).tolist(), corners, strict=True))
        assert sorted(found) == [0, 1, 2, 3]
        for marker, (x_mm, y_mm) in enumerate(MARKER_CENTRES_MM):
            quad = found[marker].reshape(4, 2) - edge + 0.5
            around = np.array([(-9, -9), (9, -9), (9, 9), (-9, 9)])
            expected = around + np.array((x_mm, y_mm))
            assert np.abs(quad - expected * px_per_mm).max() < 1.2

    @pytest.mark.parametrize("px_per_mm", [4.0, 7.3])
    def test_patches_and_ruler_lie_where_the_specification_says(self, px_per_mm):
        drawn = card_image(px_per_mm)
        assert drawn.shape == (round(80 * px_per_mm), round(120 * px_per_mm))
        values = {30: 242, 42: 200, 54: 160, 66: 120, 78: 80, 90: 45}
        for x_mm, grey in values.items():
            patch = drawn[
                round(33.5 * px_per_mm) : round(46.5 * px_per_mm),
                round((x_mm - 4.5) * px_per_mm) : round((x_mm + 4.5) * px_per_mm),
            ]
            assert (patch == grey).all()
        between = slice(round(27 * px_per_mm), round(93 * px_per_mm))
        dark = np.flatnonzero(drawn[int(58 * px_per_mm), between] < 128)
        assert np.ptp(dark) / px_per_mm == pytest.approx(50, abs=0.7)
        assert dark[0] / px_per_mm == pytest.approx(35 - 27, abs=0.5)
