"""The annotated pictures of one clump."""

from dataclasses import dataclass, field, replace
from typing import Final

from PIL import Image

from eyefind.data import Cut, Flag, Photo, Plan, Record, Says
from eyefind.sheet.apart import draw_apart
from eyefind.sheet.drawing import Drawing
from eyefind.sheet.frame import (
    Frame,
    clump_frame,
    cut_frame,
    ground,
)
from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.pen import Pen
from eyefind.sheet.style import PAPER_WIDTH_MM
from eyefind.sheet.words import spoken_of

WIDTH_PX: Final = 1800
"""Width of a picture: 305 dots per inch on `PAPER_WIDTH_MM`."""
FINER: Final = 2
"""Marks are drawn this many times larger, then reduced, to smooth their edges."""
PX_PER_PT: Final = WIDTH_PX * FINER / (PAPER_WIDTH_MM / 25.4 * 72)
CLOSE_PX: Final = 600
"""Width of a close-up, px of the picture: 50 mm at 305 dots per inch."""
BESIDE: Final = 3
"""So many stand beside the large picture."""
SMALLER: Final = 0.7
"""Size of their letters and marks, beside those of the large picture."""
HALF: Final = 0.58
"""Share of `WIDTH_PX` of pictures that fill a column: their marks keep their sizes."""


@dataclass(frozen=True, eq=False)
class Pictures:
    """All pictures of one clump.

    Attributes
    ----------
    clump : PIL.Image.Image
        The annotated picture.
    splits : list of PIL.Image.Image
        Each cut that divides, close up.
    apart : PIL.Image.Image or None
        The pieces drawn apart.
    other : PIL.Image.Image or None
        A plan that is nearly as good.
    """

    clump: Image.Image
    splits: list[Image.Image] = field(default_factory=list)
    apart: Image.Image | None = None
    other: Image.Image | None = None


def draw_all(photo: Photo, record: Record, standing: dict[str, Says]) -> Pictures:
    """Draw all pictures of a clump that its sheet shows."""
    plan = record.plan
    other = plan.alternative if plan else None
    return Pictures(
        draw_picture(photo, record, standing),
        draw_splits(photo, record, standing),
        draw_apart(photo, record, round(WIDTH_PX * HALF), PX_PER_PT / FINER),
        None if other is None else draw_other(photo, record, other, standing),
    )


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


def draw_splits(
    photo: Photo, record: Record, standing: dict[str, Says]
) -> list[Image.Image]:
    """Draw each cut that divides the crown close up, with the eyes around it.

    Parameters
    ----------
    photo : Photo
        The photo itself.
    record : Record
        What is known of it, with a plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.

    Returns
    -------
    list of PIL.Image.Image
        RGB, in the order of the cuts.
    """
    plan, pictures = record.plan, []
    if plan is None:
        return []
    flags = [flag for flag in shown_flags(record, standing) if flag.kind == "eye"]
    width = CLOSE_PX * FINER
    for cut in splits_of(plan):
        alone = replace(record, plan=replace(plan, cuts=[cut], discards=[]))
        frame = cut_frame(cut, flags, record.scale.px_per_mm, width)
        drawn = _draw(
            photo, alone, standing, flags, frame, names=set(), letters=SMALLER
        )
        pictures.append(drawn)
    return pictures


def draw_other(
    photo: Photo, record: Record, other: Plan, standing: dict[str, Says]
) -> Image.Image:
    """Draw another plan of the clump: its pieces and the cuts that divide."""
    flags = [flag for flag in shown_flags(record, standing) if flag.kind == "eye"]
    shown = replace(record, plan=replace(other, cuts=splits_of(other)))
    frame = clump_frame(photo, shown, flags, round(WIDTH_PX * HALF) * FINER)
    return _draw(photo, shown, standing, flags, frame, names=set())


def splits_of(plan: Plan) -> list[Cut]:
    """Return the cuts that divide: the last ones, one fewer than there are pieces."""
    count = len(plan.pieces) - 1
    return plan.cuts[-count:] if count > 0 else []


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
    names: set[str] | None = None,
    letters: float = 1.0,
) -> Image.Image:
    # The photo at its printed size, each pixel doubled: reducing gives it back exactly.
    printed = replace(frame, zoom=frame.zoom / FINER)
    plain = ground(photo, printed, record.anatomy.clump_outline_px)
    size = (plain.width * FINER, plain.height * FINER)
    px_per_pt = PX_PER_PT * letters
    pen = Pen(plain.resize(size, Image.Resampling.NEAREST), px_per_pt)
    names = spoken_of(record, standing) if names is None else names
    drawing = Drawing(pen, frame, what_leaves(record), names)
    confirmed = {flag.id for flag in flags if standing.get(flag.id) == "confirmed"}
    drawing.draw(record, flags, confirmed)
    return pen.image.reduce(FINER)
