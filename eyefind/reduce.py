"""Pictures and masks brought to a smaller size, fast."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask

HALVES = 4
"""Windows begin and end on multiples of it: they can be halved twice."""


def reduced(picture: NDArray[Any], size: tuple[int, int]) -> NDArray[Any]:
    """Reduce a picture by averaging areas.

    It is halved as often as that goes, for OpenCV takes the mean of 2 x 2 px ten times
    as fast as that of any other area.

    Parameters
    ----------
    picture : (H, W) or (H, W, n) uint8 or float32 array
        The picture.
    size : (rows, cols)
        Size wanted, px; no larger than the picture.

    Returns
    -------
    (rows, cols) or (rows, cols, n) array of the same type
        The picture itself if it has that size.
    """
    rows, cols = picture.shape[:2]
    while rows % 2 == cols % 2 == 0 and rows >= 2 * size[0] and cols >= 2 * size[1]:
        rows, cols = rows // 2, cols // 2
        picture = cv2.resize(picture, (cols, rows), interpolation=cv2.INTER_AREA)
    if (rows, cols) == tuple(size):
        return picture
    return cv2.resize(picture, size[::-1], interpolation=cv2.INTER_AREA)


def reduced_mask(mask: Mask, size: tuple[int, int]) -> Mask:
    """Reduce a mask: what is covered by half or more belongs to it.

    Parameters
    ----------
    mask : (H, W) bool array
        The mask.
    size : (rows, cols)
        Size wanted, px; no larger than the mask.

    Returns
    -------
    (rows, cols) bool array
        The reduced mask.
    """
    return np.asarray(reduced(mask.view(np.uint8) * np.uint8(255), size) > 127)


def window_of(mask: Mask, margin_px: int) -> tuple[slice, slice]:
    """Cut a window for `reduced` around a mask.

    Parameters
    ----------
    mask : (H, W) bool array
        The mask, not empty.
    margin_px : int
        Wanted around it, as far as the picture goes.

    Returns
    -------
    rows, cols : slice
        Their ends are multiples of `HALVES` or the picture's own, so that what is cut
        out can be halved.
    """
    left, top, width, height = cv2.boundingRect(mask.view(np.uint8))
    ends = ((top, height, mask.shape[0]), (left, width, mask.shape[1]))
    rows, cols = (
        slice(
            max(0, start - margin_px) // HALVES * HALVES,
            min(most, -((start + length + margin_px) // -HALVES) * HALVES),
        )
        for start, length, most in ends
    )
    return rows, cols


def size_at(shape: tuple[int, ...], step: float) -> tuple[int, int]:
    """Return the size, (rows, cols), of a picture reduced by `step`."""
    return max(1, round(shape[0] * step)), max(1, round(shape[1] * step))
