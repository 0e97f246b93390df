"""Marks and plan as pictures to lay over the photo.

They are drawn with the pen of the sheet, so a mark on the screen and on paper is the
same: shape by kind, pattern by state, outlined black and white.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from eyefind.data import Anatomy, Flag, Photo, Points, Record, Says, Stem, Tuber
from eyefind.desk.prepare import Ready
from eyefind.sheet.drawing import (
    BAND_PT,
    Drawing,
    mark_sizes,
)
from eyefind.sheet.frame import Frame, clump_frame
from eyefind.sheet.labels import EYE_WEIGHT
from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.pen import Path, Pen, shape_path
from eyefind.sheet.style import (
    BLACK,
    FLAG_LINE_PT,
    PAPER_WIDTH_MM,
    PIECE_LINE_PT,
    SHAPES,
    WHITE,
    colour_of,
)

Overlay = NDArray[np.uint8]
"""(H, W, 4) uint8 array: sRGB and opacity."""

WIDTH_PX: Final = 1400
"""Width of an overlay: finer than the clump is ever shown as a whole."""
PX_PER_PT: Final = WIDTH_PX / (PAPER_WIDTH_MM / 25.4 * 72)
MOST_LETTERS_PX: Final = WIDTH_PX / 8
"""Larger letters would hide the clump, and take much memory to draw."""
DASHES: Final[dict[str, tuple[float, float] | None]] = {
    "confirmed": None,
    "open": (3.0, 7.6),
    "not_sure": (0.6, 4.4),
    "rejected": None,
}
"""Pattern of a mark by its state, points on and off; a rejected one is struck out."""
STATE_WORDS: Final[dict[str, str]] = {
    "confirmed": "solid line",
    "open": "dashed line",
    "not_sure": "dotted line",
    "rejected": "struck out",
}
PART_DASH_PT: Final = (6.0, 6.0)
"""Pattern of the outline around the tuber or stem that the shown flag belongs to."""
POINTER_PT: Final = 15.0
"""Length of the four pointers around the flag that is shown."""
TURNS: Final = np.pi / 4 + np.linspace(0.0, np.pi / 2, 9)[:-1]
"""How they may be turned, radians; the first is liked best."""


def overlay_frame(ready: Ready, record: Record) -> Frame:
    """Return the part of the photo that overlays cover: the clump and all marks.

    Parameters
    ----------
    ready : Ready
        The clump.
    record : Record
        With flags and anatomy in force.

    Returns
    -------
    Frame
        `WIDTH_PX` wide.
    """
    photo: Photo = ready.photo
    return clump_frame(photo, record, record.flags, WIDTH_PX)


def draw_marks(
    frame: Frame, record: Record, words: dict[str, Says], current: str | None
) -> Overlay:
    """Draw the marks of the flags, and the outline of what the shown one belongs to.

    Once there is a plan, what leaves by it is hatched and named, and the pieces have
    outlines: marks and outlines more would only hide that.

    Parameters
    ----------
    frame : Frame
        What the overlay covers.
    record : Record
        With flags and anatomy in force, and the plan if it is shown.
    words : dict
        Answer by flag id.
    current : str or None
        Id of the flag that is shown; pointers stand around it.

    Returns
    -------
    (H, W, 4) uint8 array
        Clear but for the marks.
    """
    pen = _clear_pen(frame)
    leaving = what_leaves(record).flags if record.plan else {}
    flags = [flag for flag in record.flags if flag.id not in leaving]
    if current is not None and record.plan is None:
        _outline(pen, frame, record, current)
    sizes = mark_sizes(flags, record.scale.px_per_mm, frame.zoom / PX_PER_PT)
    centres = frame.path(_places(flags))
    for flag, centre, (inner_pt, fineness) in zip(flags, centres, sizes, strict=True):
        fine = replace(pen, px_per_pt=pen.px_per_pt * fineness)
        radius = inner_pt * pen.px_per_pt + BAND_PT / 2 * fine.px_per_pt
        draw_mark(fine, flag, centre, radius, words.get(flag.id, "open"))
        if flag.id == current:
            _pointers(pen, centre, radius, centres)
    return np.asarray(pen.image)


def draw_mark(pen: Pen, flag: Flag, centre: Path, radius: float, state: str) -> None:
    """Draw the mark of one flag around `centre`: it never covers the thing itself."""
    outline = shape_path(SHAPES[flag.kind], centre, radius)
    colour = colour_of(flag.kind)
    pen.stroke(outline, FLAG_LINE_PT, colour, (BLACK, WHITE), DASHES[state])
    if state == "rejected":
        reach = np.array([[-1.3, -1.3], [-0.7, -0.7]]) * radius
        for turn in (1.0, -1.0):
            # Two short strokes at opposite corners, so that the middle stays free.
            pen.stroke(centre + turn * reach, FLAG_LINE_PT, colour, (BLACK, WHITE))


def parts_of(anatomy: Anatomy) -> list[Tuber | Stem]:
    """Return the tubers, then the stems."""
    return [*anatomy.tubers, *anatomy.stems]


def draw_plan(frame: Frame, record: Record, least_pt: float) -> Overlay:
    """Draw pieces, cuts and what leaves, and the name of every tuber and stem.

    Parameters
    ----------
    frame : Frame
        What the overlay covers.
    record : Record
        With flags and anatomy in force; without a plan only names are drawn.
    least_pt : float
        No letter is drawn smaller (`letters_pt`).

    Returns
    -------
    (H, W, 4) uint8 array
        Clear but for the plan.
    """
    pen = _clear_pen(frame, least_pt)
    names = {part.id for part in parts_of(record.anatomy)}
    drawing = Drawing(pen, frame, what_leaves(record), names)
    for place in frame.path(_places(record.flags)):
        # The marks of the flags are laid over this picture.
        drawing.places.keep_clear(place, POINTER_PT * pen.px_per_pt, EYE_WEIGHT)
    drawing.draw(record, [], set())
    return np.asarray(pen.image)


def _outline(pen: Pen, frame: Frame, record: Record, flag_id: str) -> None:
    """Draw the outline of the tuber or stem that a flag belongs to."""
    hosts = [flag.belongs_to for flag in record.flags if flag.id == flag_id]
    for part in parts_of(record.anatomy):
        if part.id in hosts:
            region = frame.region(part.outline_px)
            for ring in getattr(region, "geoms", [region]):
                path = np.array(ring.exterior.simplify(1.0).coords)
                pen.stroke(path, PIECE_LINE_PT, WHITE, (BLACK,), PART_DASH_PT)


def _pointers(pen: Pen, centre: Path, radius: float, marks: Path) -> None:
    """Draw four short lines that point at the flag, turned off all other marks."""
    inner = radius + FLAG_LINE_PT * 2 * pen.px_per_pt
    outer = inner + POINTER_PT * pen.px_per_pt
    others = marks[(marks != centre).any(axis=1)]
    turns = (TURNS[:, None] + np.arange(4) * np.pi / 2)[..., None]
    ways = np.concatenate([np.cos(turns), np.sin(turns)], axis=-1)
    middles = centre + ways * (inner + outer) / 2
    away = np.hypot(*(middles[:, :, None] - others).transpose(3, 0, 1, 2))
    # What lies farther off than the pointers reach does not turn them.
    free = away.min(axis=(1, 2), initial=outer)
    for way in ways[int(np.argmax(free))]:
        line = np.stack([centre + way * inner, centre + way * outer])
        pen.stroke(line, 1.5 * FLAG_LINE_PT, WHITE, (WHITE, BLACK))


def _places(flags: list[Flag]) -> Points:
    return np.array([[f.row_px, f.col_px] for f in flags], float).reshape(-1, 2)


def letters_pt(frame: Frame, zoom: float, letters_px: float) -> float:
    """Return the size of letters in an overlay by their size on the screen.

    Parameters
    ----------
    frame : Frame
        What the overlay covers.
    zoom : float
        Pixels of the screen for one of the photo.
    letters_px : float
        Size of the letters on the screen, px.

    Returns
    -------
    float
        Size in points of the overlay; where the photo is shown very small, less than
        would be needed (`MOST_LETTERS_PX`).
    """
    return min(letters_px * frame.zoom / zoom, MOST_LETTERS_PX) / PX_PER_PT


def _clear_pen(frame: Frame, least_pt: float = 0.0) -> Pen:
    size = (round(frame.width_px * frame.zoom), round(frame.height_px * frame.zoom))
    return Pen(Image.new("RGBA", size, (0, 0, 0, 0)), PX_PER_PT, least_pt)
