"""Find the bench card in a photo and read off it scale, tilt, grey and sharpness."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Pixels, Points, Scale
from eyefind.photo.card_layout import (
    CARD_MM,
    MARKER_CELLS,
    MARKER_CENTRES_MM,
    PATCH_CENTRES_MM,
    PATCH_MM,
    marker_corners_mm,
    markers,
)
from eyefind.photo.sharpness import LINEAR, card_blur_mm
from eyefind.reduce import reduced, size_at

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]

LEAST_MARKERS = 2
"""The others may be covered, by a tool or a tuber."""

REDUCED_PX = 1600
LEAST_REDUCTION = 0.37
"""Markers are looked for at this long side, or at this share of the full size: a
marker of 3 px/mm, less than any check lets pass, then still has 20 px a side."""

MOST_CORNER_OFF = 0.08
"""A corner's misfit before it is refined, as a share of a marker's side."""

MOST_RESIDUAL_MM = 0.9
"""Corners further off than this, rms, are not those of one flat card of ours."""

PRINT_RELATIVE_SD = 0.005
"""Paper and printer: 0.25 mm on the check line of 50 mm (common practice)."""

REACH_MM = 100.0
"""The clump lies within about this distance of the card's middle."""

FOCAL_35MM = 26.0
"""Main camera of a phone, as focal length on 36 x 24 mm film (common practice)."""
DIAGONAL_35MM = float(np.hypot(36.0, 24.0))

DARKEST_PATCH, CLIPPED = 15, 250
"""sRGB values between which a patch tells its colour."""


@dataclass(frozen=True, eq=False)
class Card:
    """The bench card as it lies in a photo.

    Attributes
    ----------
    card_to_photo : (3, 3) float64 array
        Homography from card millimetres (x, y, 1) to photo pixels (x, y, 1); pixel
        places are (col, row) with an integer at a pixel's centre.
    scale : Scale
        Pixels per millimetre at the card's middle, averaged over directions. Its
        spread takes in the corners' misfit, the tilt (lengths differ by direction,
        and with the distance from the card), and the printer; not the height of the
        crown above the card, see `height_bias`.
    tilt_deg : float
        Angle between the card and the plane of the picture.
    grey_gain : (3,) float64 array
        Factors for linear red, green and blue that make the patches grey; their
        mean is 1, so they change the colour and hardly the brightness.
    blur_sigma_mm : float
        Width of the blur of the markers' edges, see `sharpness.card_blur_mm`; NaN
        where no edge could be measured.
    outline_px : (4, 2) float64 array
        (row, col) of the card's corners: top-left, top-right, bottom-right and
        bottom-left of the printed card.
    """

    card_to_photo: Floats
    scale: Scale
    tilt_deg: float
    grey_gain: Floats
    blur_sigma_mm: float
    outline_px: Points


def find_card(rgb: Pixels) -> Card | None:
    """Find the bench card.

    Markers are found on a reduced picture and their corners refined at full
    resolution. Two of the four suffice: each marker brings four corners, and eight
    points fix the homography with as many numbers to spare; markers that do not
    agree on where one flat card lies are left out.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        Upright sRGB photo.

    Returns
    -------
    Card or None
        None when fewer than two markers that agree are seen.
    """
    grey = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    found = _agreeing_markers(grey)
    if not found:
        return None
    card_mm = np.concatenate([marker_corners_mm(marker) for marker in found])
    photo_px = np.concatenate([_refined(grey, found[marker]) for marker in found])
    card_to_photo = np.asarray(cv2.findHomography(card_mm, photo_px)[0], np.float64)
    misfit_px = transform(card_to_photo, card_mm) - photo_px
    residual_px = float(np.sqrt((misfit_px**2).sum(axis=1).mean()))
    scale = _scale(card_to_photo, residual_px, len(card_mm))
    if residual_px / scale.px_per_mm > MOST_RESIDUAL_MM:
        return None
    corners_mm = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * CARD_MM
    return Card(
        card_to_photo=card_to_photo,
        scale=scale,
        tilt_deg=_tilt_deg(card_mm, photo_px, grey.shape),
        grey_gain=_grey_gain(rgb, card_to_photo),
        blur_sigma_mm=card_blur_mm(grey, card_to_photo, list(found)),
        outline_px=transform(card_to_photo, corners_mm)[:, ::-1],
    )


def height_bias(height_mm: float, camera_mm: float) -> float:
    """Return by how much crown lengths read wrong when the card lies lower.

    A crown nearer to the camera than the card looks larger than the card says:
    lengths on it read long by ``height / (camera - height)`` (similar triangles).
    30 mm at 500 mm are 6 %. Raise the card to the crown's height to be rid of it.

    Parameters
    ----------
    height_mm : float
        How far the crown lies above the card, towards the camera.
    camera_mm : float
        Distance from the camera to the card.

    Returns
    -------
    float
        Read length divided by true length, minus 1.
    """
    return height_mm / (camera_mm - height_mm)


def transform(homography: Floats, points_xy: Floats) -> Floats:
    """Map (N, 2) points (x, y) through a (3, 3) homography."""
    mapped = cv2.perspectiveTransform(points_xy[None].astype(np.float64), homography)
    return np.asarray(mapped[0])


def _agreeing_markers(grey: Grey) -> dict[int, Floats]:
    """Return the corners, (4, 2) (x, y) px, of the markers of one card, by id.

    In linear light blur does not eat the black cells: on drawn cards all markers
    are found up to a blur of 0.9 mm there, on the encoded values up to 0.3 mm. Those
    remain for a card that lies too dark for linear light in 8 bits.
    """
    long_px = max(grey.shape)
    factor = min(1.0, max(REDUCED_PX / long_px, LEAST_REDUCTION))
    small = reduced(grey, size_at(grey.shape, factor))
    counts = np.cumsum(np.bincount(small.ravel(), minlength=256))
    white = LINEAR[np.searchsorted(counts, 0.99 * counts[-1])]
    levels = np.minimum(LINEAR / max(white, 1e-3), 1.0) * 255
    for picture in (cv2.LUT(small, levels.astype(np.uint8)), small):
        found = _agreeing(_markers_in(picture, factor))
        if len(found) >= LEAST_MARKERS:
            return found
    return {}


def _markers_in(picture: Any, factor: float) -> list[tuple[int, Floats]]:
    """Return ids and corners, in px before the reduction by `factor`."""
    how = cv2.aruco.DetectorParameters()
    how.errorCorrectionRate = 1.0  # one wrong cell: the other markers must agree
    detector = cv2.aruco.ArucoDetector(markers(), how)
    corners, ids, _ = detector.detectMarkers(picture)
    numbers = [] if ids is None else np.ravel(ids).tolist()
    return [
        (marker, (quad.reshape(4, 2).astype(np.float64) + 0.5) / factor - 0.5)
        for quad, marker in zip(corners, numbers, strict=True)
        if marker < len(MARKER_CENTRES_MM)
    ]


def _agreeing(seen: list[tuple[int, Floats]]) -> dict[int, Floats]:
    """Keep of the markers `seen` those of one flat card, found by RANSAC.

    So a second card in view, or a chance find in print or weave, stays apart.
    """
    if len(seen) < LEAST_MARKERS:
        return {}
    card_mm = np.concatenate([marker_corners_mm(marker) for marker, _ in seen])
    photo_px = np.concatenate([quad for _, quad in seen])
    side_px = max(float(np.linalg.norm(quad[0] - quad[1])) for _, quad in seen)
    off_px = MOST_CORNER_OFF * side_px
    _, inlier = cv2.findHomography(card_mm, photo_px, cv2.RANSAC, off_px)
    if inlier is None:
        return {}
    whole = np.all(inlier.reshape(-1, 4), axis=1).tolist()
    return {m: quad for (m, quad), keep in zip(seen, whole, strict=True) if keep}


def _refined(grey: Grey, quad: Floats) -> Floats:
    """Refine a marker's corners, (4, 2) (x, y) px, at full resolution."""
    sides_px = np.linalg.norm(quad - np.roll(quad, 1, axis=0), axis=1)
    # Less than a cell, so that no window sees another corner.
    half = max(2, int(0.7 * sides_px.min() / MARKER_CELLS))
    left, top = np.maximum(quad.min(axis=0).astype(int) - 2 * half, 0)
    right, bottom = quad.max(axis=0).astype(int) + 2 * half
    light = LINEAR[grey[top:bottom, left:right]]
    start = np.ascontiguousarray((quad - (left, top))[:, None], dtype=np.float32)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 50, 1e-3)
    refined = cv2.cornerSubPix(light, start, (half, half), (-1, -1), stop)
    return np.asarray(refined[:, 0] + (left, top), dtype=np.float64)


def _local(card_to_photo: Floats, place_mm: Floats) -> Floats:
    """Return the (2, 2) derivative of the homography, px per mm, at (x, y) mm."""
    x, y, w = card_to_photo @ np.append(place_mm, 1.0)
    top = card_to_photo[:2, :2] * w - np.outer((x, y), card_to_photo[2, :2])
    return np.asarray(top / w**2)


def _scale(card_to_photo: Floats, residual_px: float, corners: int) -> Scale:
    middle = np.array(CARD_MM) / 2
    longest, shortest = np.linalg.svd(_local(card_to_photo, middle), compute_uv=False)
    px_per_mm = float(np.sqrt(longest * shortest))
    # Spread of the length factor over all directions, for a slim ellipse.
    by_direction = (longest - shortest) / (2 * np.sqrt(2) * px_per_mm)
    around = middle + REACH_MM * np.array([(1, 0), (-1, 0), (0, 1), (0, -1)])
    areas = [abs(np.linalg.det(_local(card_to_photo, place))) for place in around]
    by_place = np.sqrt(np.mean((np.sqrt(areas) / px_per_mm - 1) ** 2))
    by_fit = residual_px / (px_per_mm * max(CARD_MM) / 2) / np.sqrt(corners / 4)
    parts = (by_direction, by_place, by_fit, PRINT_RELATIVE_SD)
    return Scale(px_per_mm, "card", float(np.linalg.norm(parts)))


def _tilt_deg(card_mm: Floats, photo_px: Floats, shape: tuple[int, ...]) -> float:
    """Return the angle between card and picture plane, degrees.

    OpenCV's infinitesimal plane-based pose (Collins & Bartoli, Int. J. Comput.
    Vision 109:252-286, 2014) with a pinhole camera: square pixels, axis through the
    middle of the uncropped picture, focal length `FOCAL_35MM`. The foreshortening
    that it reads near the axis hardly depends on that focal length.
    """
    height, width = shape
    focal_px = FOCAL_35MM / DIAGONAL_35MM * np.hypot(height, width)
    camera = np.array(
        [
            (focal_px, 0, (width - 1) / 2),
            (0, focal_px, (height - 1) / 2),
            (0, 0, 1),
        ]
    )
    solid = np.column_stack([card_mm - np.array(CARD_MM) / 2, np.zeros(len(card_mm))])
    _, turns, _, _ = cv2.solvePnPGeneric(
        solid, photo_px, camera, np.zeros(4), flags=cv2.SOLVEPNP_IPPE
    )
    normal = cv2.Rodrigues(turns[0])[0][:, 2]  # the pose that fits best comes first
    return float(np.degrees(np.arccos(min(1.0, abs(normal[2])))))


def _grey_gain(rgb: Pixels, card_to_photo: Floats) -> Floats:
    """Return the gains that make the patches grey, see `Card.grey_gain`.

    The median over the patches of each channel's share, so that a finger or a glint
    on one patch does no harm. Clipped and black patches do not count.
    """
    half = np.array(PATCH_MM) * 0.3
    shares = []
    for centre in PATCH_CENTRES_MM:
        corners_mm = centre + half * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
        corners = transform(card_to_photo, corners_mm)
        left, top = np.maximum(corners.min(axis=0).round().astype(int), 0)
        right, bottom = corners.max(axis=0).round().astype(int) + 1
        pixels = rgb[top : max(bottom, 0), left : max(right, 0)].reshape(-1, 3)
        if len(pixels) == 0:
            continue
        values = np.median(LINEAR[pixels], axis=0)
        if values.min() > LINEAR[DARKEST_PATCH] and values.max() < LINEAR[CLIPPED]:
            shares.append(values / values.mean())
    if not shares:
        return np.ones(3)
    gain = 1.0 / np.median(shares, axis=0)
    return np.asarray(gain / gain.mean())
