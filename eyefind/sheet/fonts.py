"""The typeface of the sheets, shipped with them so that every machine draws alike."""

from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import Final

from PIL import ImageFont

REGULAR: Final = "DejaVuSans"
BOLD: Final = "DejaVuSans-Bold"


def font_bytes(name: str) -> BytesIO:
    """Return the TrueType file of typeface `name` as a stream."""
    return BytesIO(files("eyefind.sheet").joinpath(f"fonts/{name}.ttf").read_bytes())


@cache
def picture_font(name: str, size_px: float) -> ImageFont.FreeTypeFont:
    """Return typeface `name` at `size_px` for drawing with Pillow."""
    # The basic layout draws the same bytes with and without Pillow's extras.
    return ImageFont.truetype(
        font_bytes(name), size_px, layout_engine=ImageFont.Layout.BASIC
    )
