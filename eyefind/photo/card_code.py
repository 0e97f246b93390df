"""The number of a bench card as a QR code (ISO/IEC 18004), drawn and read again.

A card of a numbered run carries one between its upper markers. It names the card, and
so the clump that lies beside it; the label of a piece carries the same number.
"""

import re

import cv2
import numpy as np
import segno
from numpy.typing import NDArray

from eyefind.data import Pixels
from eyefind.photo.card import Card
from eyefind.photo.card_layout import Rectangle

CODE_PATTERN = re.compile(r"EYE-(\d{4})")
"""What a card's code says; other codes in the photo are not ours."""
MOST_NUMBER = 9999

MODULE_MM = 1.0
MODULES = 21
"""Version 1: eight letters fit at error level H, so mud may hide 30 % of it."""
CODE_LEFT_TOP_MM = (49.5, 6.0)
QUIET = 4
"""Modules that stay white around a code, as the standard asks."""

_PX_PER_MODULE = 8
_SHARPEN = (0.0, 0.6)
"""Share of the neighbours' mean that is taken off each module before it is called
black or white; the second undoes a blur of half a module."""


def code_text(number: int) -> str:
    """Return what the code of card `number`, 1 to 9999, says."""
    return f"EYE-{number:04d}"


def code_rectangles(number: int) -> list[Rectangle]:
    """Return the black modules of a card's code.

    Parameters
    ----------
    number : int
        Number of the card, 1 to 9999.

    Returns
    -------
    list of Rectangle
        In mm from the card's top-left corner.
    """
    code = segno.make(code_text(number), version=1, error="h", micro=False)
    left, top = CODE_LEFT_TOP_MM
    return [
        Rectangle(
            left + col * MODULE_MM, top + row * MODULE_MM, MODULE_MM, MODULE_MM, 0
        )
        for row, line in enumerate(code.matrix)
        for col, dark in enumerate(line)
        if dark
    ]


def read_code(rgb: Pixels, card: Card) -> str | None:
    """Read the code off a card that was found.

    Where every module lies is known, so each is asked for black or white at its
    middle and the code drawn anew for the decoder. It is so read through more blur,
    and nothing else in the photo can be taken for it.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        Upright sRGB photo.
    card : Card
        Where the card lies in it.

    Returns
    -------
    str or None
        ``"EYE-0017"``; None when there is none that can be read.
    """
    light = _modules(rgb, card)
    around = cv2.blur(light, (3, 3))
    for share in _SHARPEN:
        text = _decoded(light - share * around)
        if CODE_PATTERN.fullmatch(text):
            return text
    return None


def _modules(rgb: Pixels, card: Card) -> NDArray[np.float32]:
    """Return the mean grey value of the middle half of each module."""
    left, top = CODE_LEFT_TOP_MM
    step_mm = MODULE_MM / _PX_PER_MODULE
    # A pixel's place is its middle.
    to_mm = np.array(
        [
            (step_mm, 0, left + step_mm / 2),
            (0, step_mm, top + step_mm / 2),
            (0, 0, 1),
        ]
    )
    side_px = MODULES * _PX_PER_MODULE
    flat = cv2.warpPerspective(
        rgb,
        card.card_to_photo @ to_mm,
        (side_px, side_px),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
    )
    grey = cv2.cvtColor(flat, cv2.COLOR_RGB2GRAY).astype(np.float32)
    cells = grey.reshape(MODULES, _PX_PER_MODULE, MODULES, _PX_PER_MODULE)
    quarter = _PX_PER_MODULE // 4
    return np.asarray(cells[:, quarter:-quarter, :, quarter:-quarter].mean((1, 3)))


def _decoded(light: NDArray[np.float32]) -> str:
    """Call each module black or white (Otsu's threshold) and decode the code."""
    span = max(float(np.ptp(light)), 1.0)
    grey = ((light - light.min()) * (255 / span)).astype(np.uint8)
    _, clean = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    clean = np.pad(clean, QUIET, constant_values=255)
    drawn = np.kron(clean, np.ones((_PX_PER_MODULE, _PX_PER_MODULE), np.uint8))
    return str(cv2.QRCodeDetector().detectAndDecode(drawn)[0])
