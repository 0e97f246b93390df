"""What the magnifier shows: a piece of the photo, natural and enhanced."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np

from eyefind.data import Pixels
from eyefind.desk.prepare import Ready
from eyefind.look.views import colour_stretch, even_light, local_contrast, relief

SCREEN_PX_PER_MM: Final = 96 / 25.4
"""Pixels of the screen in one mm: magnifications are times life size on a screen of 96
dots per inch."""
MARGIN_MM: Final = 8.0
"""Skin around what is shown that the enhanced views take into account."""
MOST_SIDE_PX: Final = 700
"""The enhanced views are made of at most so many photo pixels a side; more would not
be seen and would take longer than the eye waits."""

VIEWS: Final[dict[str, str]] = {
    "even_light": "even light",
    "local_contrast": "local contrast",
    "colour_stretch": "colour stretch",
    "relief": "relief",
    "lamp": "relief by your lamp",
    "all_lamps": "all lamps, no glare",
}
"""The enhanced views and their names in words."""
LAMP_VIEW: Final = "lamp"
ALL_LAMPS_VIEW: Final = "all_lamps"
SET_VIEWS: Final = {LAMP_VIEW: "relief", ALL_LAMPS_VIEW: "even_light"}
"""The views of clumps with a lamp set, which `eyefind.desk.lamp` draws, and what stands
in for each where there is a single photo."""


@dataclass(frozen=True)
class Window:
    """The piece of the photo that the magnifier shows.

    Attributes
    ----------
    row_px, col_px : float
        Its middle in the photo.
    zoom : float
        Pixels of the screen for one of the photo.
    height, width : int
        Its size on the screen, px.
    """

    row_px: float
    col_px: float
    zoom: float
    height: int
    width: int

    def to_screen(self, row_px: float, col_px: float) -> tuple[float, float]:
        """Return where a place of the photo is shown, (x, y) px of the window."""
        x = (col_px - self.col_px) * self.zoom + self.width / 2
        y = (row_px - self.row_px) * self.zoom + self.height / 2
        return x, y

    def to_photo(self, x: float, y: float) -> tuple[float, float]:
        """Return which place of the photo, (row, col) px, is shown at (x, y)."""
        row_px = (y - self.height / 2) / self.zoom + self.row_px
        col_px = (x - self.width / 2) / self.zoom + self.col_px
        return row_px, col_px


def window_at(
    place_rc: tuple[float, float],
    times: float,
    px_per_mm: float,
    size: tuple[int, int],
    ratio: float = 1.0,
) -> Window:
    """Return the window of a magnifier.

    Parameters
    ----------
    place_rc : (row, col)
        What it looks at, px of the photo.
    times : float
        Magnification, times life size.
    px_per_mm : float
        Scale of the photo.
    size : (height, width)
        Its size on the screen, px.
    ratio : float
        Pixels of the screen in one of `size`'s (screens with fine pixels).

    Returns
    -------
    Window
        The window.
    """
    zoom = times * SCREEN_PX_PER_MM * ratio / px_per_mm
    return Window(place_rc[0], place_rc[1], zoom, *size)


def natural(ready: Ready, window: Window) -> Pixels:
    """Return the photo in the window, (height, width, 3); black beyond its edges."""
    return draw(ready.photo.rgb, window, (0.0, 0.0), 1.0)


def enhanced(ready: Ready, window: Window, view: str, px_per_mm: float) -> Pixels:
    """Return an enhanced view in the window.

    Only what is shown, and a margin, is enhanced: that takes a few ms on photos of any
    size.

    Parameters
    ----------
    ready : Ready
        The clump.
    window : Window
        What is shown.
    view : str
        A key of `VIEWS` that is none of `SET_VIEWS`.
    px_per_mm : float
        Scale of the photo.

    Returns
    -------
    (height, width, 3) uint8 array
        The view.
    """
    half = np.array([window.height, window.width]) / 2 / window.zoom
    half = half + MARGIN_MM * px_per_mm
    middle = np.array([window.row_px, window.col_px])
    limit = np.array(ready.clump.shape)
    top, left = np.clip(np.floor(middle - half), 0, limit - 2).astype(int)
    bottom, right = np.clip(np.ceil(middle + half), 2, limit).astype(int)
    bottom, right = max(bottom, top + 2), max(right, left + 2)
    piece = ready.photo.rgb[top:bottom, left:right]
    clump = ready.clump[top:bottom, left:right]
    step = min(1.0, MOST_SIDE_PX / max(piece.shape[:2]))
    if step < 1.0:
        size = (round(piece.shape[1] * step), round(piece.shape[0] * step))
        piece = np.asarray(
            cv2.resize(piece, size, interpolation=cv2.INTER_AREA), np.uint8
        )
        clump = cv2.resize(clump.view(np.uint8), size) > 0
    made = _maker(view, ready.lamp_deg)(
        np.ascontiguousarray(piece), np.ascontiguousarray(clump), px_per_mm * step
    )
    return draw(made, window, (float(top), float(left)), step)


def _maker(view: str, lamp_deg: float) -> Callable[..., Pixels]:
    if view == "relief":
        return lambda rgb, mask, ppm: relief(rgb, mask, ppm, lamp_deg)
    makers = {
        "even_light": even_light,
        "local_contrast": local_contrast,
        "colour_stretch": colour_stretch,
    }
    return makers[view]


def draw(
    rgb: Pixels, window: Window, corner_rc: tuple[float, float], step: float
) -> Pixels:
    """Draw a picture of a piece of the photo into the window.

    Parameters
    ----------
    rgb : (h, w, 3) uint8 array
        The picture.
    window : Window
        What is shown.
    corner_rc : (row, col)
        Where its first pixel lies in the photo.
    step : float
        Pixels of it for one of the photo.

    Returns
    -------
    (height, width, 3) uint8 array
        The window; black beyond the picture's edges.
    """
    zoom = window.zoom / step
    row = (window.row_px - corner_rc[0] + 0.5) * step - 0.5
    col = (window.col_px - corner_rc[1] + 0.5) * step - 0.5
    turn = np.array(
        [
            [zoom, 0.0, window.width / 2 - zoom * col],
            [0.0, zoom, window.height / 2 - zoom * row],
        ]
    )
    way = cv2.INTER_CUBIC if zoom >= 1 else cv2.INTER_AREA
    shown = cv2.warpAffine(rgb, turn, (window.width, window.height), flags=way)
    return np.asarray(shown, np.uint8)
