"""The drawn bench card, found again by OpenCV's own marker detector."""

# ruff: noqa: E402 - the extra "workshop" may be missing

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

torch = pytest.importorskip("torch")

from eyefind.model.network import PARTS
from eyefind.workshop import card
from eyefind.workshop.coat import Coat
from eyefind.workshop.field import Camera, Field
from eyefind.workshop.scene import Setting, render


def markers(grey: NDArray[np.uint8]) -> dict[int, NDArray[np.float64]]:
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    kit = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    corners, ids, _ = cv2.aruco.ArucoDetector(kit, settings).detectMarkers(grey)
    if ids is None:
        return {}
    return {
        int(i): np.asarray(c[0], float)
        for i, c in zip(ids.ravel(), corners, strict=True)
    }


def px_per_mm(found: dict[int, NDArray[np.float64]]) -> float:
    """Scale from the distances between all marker centres, against the card's."""
    place = {number: corners.mean(axis=0) for number, corners in found.items()}
    ratios = [
        np.linalg.norm(place[a] - place[b])
        / np.linalg.norm(
            np.subtract(card.MARKER_CENTRES_MM[a], card.MARKER_CENTRES_MM[b])
        )
        for a in place
        for b in place
        if a < b
    ]
    return float(np.mean(ratios))


def test_drawn_card_follows_its_specification() -> None:
    drawn = card.drawn()
    per_mm = card.DRAWN_PX_PER_MM
    assert drawn.shape == (80 * per_mm, 120 * per_mm)
    found = markers(drawn)
    assert sorted(found) == [0, 1, 2, 3]
    for number, corners in found.items():
        middle = (corners.mean(axis=0) + 0.5) / per_mm
        assert middle == pytest.approx(card.MARKER_CENTRES_MM[number], abs=0.1)
        side = np.linalg.norm(corners[1] - corners[0]) / per_mm
        assert side == pytest.approx(18.0, abs=0.15)
        assert corners[0].sum() == corners.sum(axis=1).min(), "upright"
    for x_mm, grey in ((30, 242), (42, 200), (54, 160), (66, 120), (78, 80), (90, 45)):
        assert drawn[40 * per_mm, x_mm * per_mm] == grey


def test_laid_card_keeps_scale_and_leaves_the_clump_on_top() -> None:
    camera = Camera(4.0, -80.0, -80.0, 640, 640, "cpu")
    field = Field(camera, np.zeros(2))
    field.part[300:340, 300:340] = PARTS.index("body")
    coat = Coat(torch.zeros(640, 640, 3), torch.zeros(640, 640))
    card.lay_card(field, coat, (0.0, 0.0), 0.4)
    assert (field.part[300:340, 300:340] == PARTS.index("body")).all()
    grey = (coat.colour[..., 0].numpy() * 255).astype(np.uint8)
    assert px_per_mm(markers(grey)) == pytest.approx(4.0, rel=0.002)
    laid = int((field.part == PARTS.index("tool_or_card")).sum()) + 40 * 40
    assert laid / 16 == pytest.approx(120 * 80, rel=0.01)


@pytest.mark.parametrize("seed", [3])
def test_scale_of_a_rendered_card_is_the_true_one(seed: int) -> None:
    setting = Setting("above", "frontal", "mat", card=True, clutter=False)
    picture = render(seed, 640, setting=setting)
    found = markers(cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2GRAY))
    assert len(found) == 4
    slope = float(np.hypot(*picture.posed.slope))
    # A bench tilted by t shows the card foreshortened by up to 1 - cos(t).
    slack = 0.005 + (1 - 1 / np.hypot(1, slope))
    truth = picture.field.camera.px_per_mm / picture.oversample
    assert px_per_mm(found) == pytest.approx(truth, rel=slack)
