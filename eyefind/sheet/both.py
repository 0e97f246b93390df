"""Photos of two sides of one clump beside each other, their tubers named."""

from collections.abc import Sequence
from dataclasses import replace

from PIL import Image

from eyefind.data import Photo, Record
from eyefind.sheet.picture import draw_picture


def draw_both(sides: Sequence[tuple[Photo, Record]]) -> Image.Image:
    """Draw photos beside each other, the main one first, with nothing but names.

    Parameters
    ----------
    sides : sequence of (Photo, Record)
        The photos and what is known of them.

    Returns
    -------
    PIL.Image.Image
        RGB.
    """
    drawn = [
        draw_picture(photo, replace(record, plan=None, flags=[]), {})
        for photo, record in sides
    ]
    wide, tall = sum(one.width for one in drawn), max(one.height for one in drawn)
    both = Image.new("RGB", (wide, tall), "white")
    left = 0
    for one in drawn:
        both.paste(one, (left, 0))
        left += one.width
    return both
