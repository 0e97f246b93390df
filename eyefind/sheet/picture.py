"""The annotated pictures of one clump."""

from dataclasses import replace
from typing import Final

from PIL import Image

from eyefind.data import Flag, Photo, Record, Says
from eyefind.sheet.drawing import Drawing
from eyefind.sheet.frame import Frame, clump_frame, crown_frame, ground
from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.pen import Pen
from eyefind.sheet.style import PAPER_WIDTH_MM
from eyefind.sheet.words import spoken_of

WIDTH_PX: Final = 1800
"""Width of a picture: 305 dots per inch on `PAPER_WIDTH_MM`."""
FINER: Final = 2
"""Marks are drawn this many times larger, then reduced, to smooth their edges."""
PX_PER_PT: Final = WIDTH_PX * FINER / (PAPER_WIDTH_MM / 25.4 * 72)


def draw_picture(
    photo: Photo, record: Record, standing: dict[str, Says]
) -> Image.Image:
    """Draw the photo with pieces, cuts, flags and discards.

    Parameters
    ----------
    photo : Photo
        The photo itself.
    record : Record
        What is known of it; without a plan only flags and tubers are shown.
    standing : dict of str to str
        What the grower said last of each flag, by its id.

    Returns
    -------
    PIL.Image.Image
        RGB, `WIDTH_PX` wide, cropped to the clump and a margin.
    """
    flags = shown_flags(record, standing)
    frame = clump_frame(photo, record, flags, WIDTH_PX * FINER)
    return _draw(photo, record, standing, flags, frame)


def draw_crown(
    photo: Photo, record: Record, standing: dict[str, Says]
) -> Image.Image | None:
    """Draw the crown closer, with all marks that lie there.

    Parameters
    ----------
    photo : Photo
        The photo itself.
    record : Record
        What is known of it.
    standing : dict of str to str
        What the grower said last of each flag, by its id.

    Returns
    -------
    PIL.Image.Image or None
        RGB, `WIDTH_PX` wide; None if the plan does not divide the crown.
    """
    flags = shown_flags(record, standing)
    frame = crown_frame(record, flags, WIDTH_PX * FINER)
    if frame is None:
        return None
    return _draw(photo, record, standing, flags, frame)


def shown_flags(record: Record, standing: dict[str, Says]) -> list[Flag]:
    """Return the flags that count: not rejected, nor added and taken back."""
    return [
        flag
        for flag in record.flags
        if standing.get(flag.id) != "rejected"
        and (flag.origin == "found" or flag.id in standing)
    ]


def _draw(
    photo: Photo,
    record: Record,
    standing: dict[str, Says],
    flags: list[Flag],
    frame: Frame,
) -> Image.Image:
    # The photo at its printed size, each pixel doubled: reducing gives it back exactly.
    printed = replace(frame, zoom=frame.zoom / FINER)
    plain = ground(photo, printed, record.anatomy.clump_outline_px)
    size = (plain.width * FINER, plain.height * FINER)
    pen = Pen(plain.resize(size, Image.Resampling.NEAREST), PX_PER_PT)
    leaving = what_leaves(record)
    drawing = Drawing(pen, frame, leaving, spoken_of(record, standing))
    confirmed = {flag.id for flag in flags if standing.get(flag.id) == "confirmed"}
    drawing.draw(record, flags, confirmed)
    return pen.image.reduce(FINER)
