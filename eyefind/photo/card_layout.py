"""The bench card: where everything on it lies, and the one drawing of it.

Places are millimetres from the card's top-left corner, x right and y down. The card
is a white sheet with grey and black rectangles; PDF, PNG, detection and rendered
benches all take them from here.
"""

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

CARD_MM = (120.0, 80.0)
"""Width and height."""

MARKER_MM = 18.0
MARKER_CELLS = 6
"""A marker is 6 x 6 cells, its black border one cell wide."""
CELL_MM = MARKER_MM / MARKER_CELLS
MARKER_CENTRES_MM = ((15.0, 15.0), (105.0, 15.0), (105.0, 65.0), (15.0, 65.0))
"""By marker id: top-left, top-right, bottom-right, bottom-left."""

PATCH_MM = (10.0, 14.0)
PATCH_CENTRES_MM = tuple((x, 40.0) for x in (30.0, 42.0, 54.0, 66.0, 78.0, 90.0))
PATCH_GREYS = (242, 200, 160, 120, 80, 45)
"""sRGB value, R = G = B, left to right."""

RULER_MM = 50.0
RULER_START_MM = (35.0, 58.0)
TICK_STEP_MM = 10.0
TICK_HALF_MM = 1.5
LINE_MM = 0.5

_GRID_PER_MM = 4
"""Every edge of the drawing lies on a grid of a quarter of a millimetre."""


class Rectangle(NamedTuple):
    """A filled rectangle: left, top, width and height in mm, sRGB grey value."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    grey: int


def markers() -> cv2.aruco.Dictionary:
    """Return OpenCV's predefined dictionary that the card's markers come from."""
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)


def marker_corners_mm(marker: int) -> NDArray[np.float64]:
    """Return a marker's outer corners.

    Parameters
    ----------
    marker : int
        Id, 0 to 3.

    Returns
    -------
    (4, 2) float64 array
        (x, y) mm: top-left, top-right, bottom-right, bottom-left, as OpenCV's.
    """
    unit = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    return np.array(MARKER_CENTRES_MM[marker]) + unit * (MARKER_MM / 2)


def card_rectangles() -> list[Rectangle]:
    """Return what is printed on the white card; no two rectangles overlap.

    Returns
    -------
    list of Rectangle
        The black cells of the markers, the grey patches, the ruler and its ticks.
    """
    return [*_marker_rectangles(), *_patch_rectangles(), *_ruler_rectangles()]


def card_image(px_per_mm: float) -> NDArray[np.uint8]:
    """Draw the card, each pixel the mean of the area that it covers.

    Parameters
    ----------
    px_per_mm : float
        Pixels per millimetre, any positive number.

    Returns
    -------
    (H, W) uint8 array
        sRGB grey values. The point (x, y) mm lies at column ``x * px_per_mm - 0.5``
        and row ``y * px_per_mm - 0.5``.
    """
    width_mm, height_mm = CARD_MM
    grid = np.full(
        (round(height_mm * _GRID_PER_MM), round(width_mm * _GRID_PER_MM)), 255.0
    )
    for box in card_rectangles():
        left, top = round(box.x_mm * _GRID_PER_MM), round(box.y_mm * _GRID_PER_MM)
        right = left + round(box.width_mm * _GRID_PER_MM)
        bottom = top + round(box.height_mm * _GRID_PER_MM)
        grid[top:bottom, left:right] = box.grey
    rows = _cover(grid.shape[0], px_per_mm / _GRID_PER_MM)
    cols = _cover(grid.shape[1], px_per_mm / _GRID_PER_MM)
    return np.asarray(np.rint(rows @ grid @ cols.T), dtype=np.uint8)


def _cover(cells: int, px_per_cell: float) -> NDArray[np.float64]:
    """Return the share of each pixel (row) that each cell of a line (column) covers."""
    pixels = round(cells * px_per_cell)
    starts = np.arange(pixels)[:, None]
    edges = np.arange(cells + 1) * px_per_cell
    edges[-1] = pixels
    return np.diff(np.clip(edges, starts, starts + 1), axis=1)


def _marker_rectangles() -> list[Rectangle]:
    found = []
    for marker, (x_mm, y_mm) in enumerate(MARKER_CENTRES_MM):
        cells = cv2.aruco.generateImageMarker(markers(), marker, MARKER_CELLS)
        for row, col in np.argwhere(cells == 0):
            left = x_mm - MARKER_MM / 2 + col * CELL_MM
            top = y_mm - MARKER_MM / 2 + row * CELL_MM
            found.append(Rectangle(left, top, CELL_MM, CELL_MM, 0))
    return found


def _patch_rectangles() -> list[Rectangle]:
    width_mm, height_mm = PATCH_MM
    return [
        Rectangle(x_mm - width_mm / 2, y_mm - height_mm / 2, width_mm, height_mm, grey)
        for (x_mm, y_mm), grey in zip(PATCH_CENTRES_MM, PATCH_GREYS, strict=True)
    ]


def _ruler_rectangles() -> list[Rectangle]:
    """Line and ticks: 50 mm from the middle of the first to that of the last tick."""
    x_mm, y_mm = RULER_START_MM
    half = LINE_MM / 2
    boxes = [Rectangle(x_mm - half, y_mm - half, RULER_MM + LINE_MM, LINE_MM, 0)]
    for step in np.arange(0.0, RULER_MM + 1e-9, TICK_STEP_MM):
        left = float(x_mm + step - half)
        length = TICK_HALF_MM - half
        boxes.append(Rectangle(left, y_mm - TICK_HALF_MM, LINE_MM, length, 0))
        boxes.append(Rectangle(left, y_mm + half, LINE_MM, length, 0))
    return boxes
