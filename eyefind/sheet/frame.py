"""What part of the photo a picture shows, and the way from photo to picture."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from PIL import Image, ImageDraw, ImageFilter
from shapely import (
    LineString,
    MultiPoint,
    MultiPolygon,
    Polygon,
    contains_xy,
    union_all,
)

from eyefind.data import Cut, Flag, Photo, Points, Record
from eyefind.sheet.pen import Path
from eyefind.sheet.shapes import finite, region_of
from eyefind.sheet.style import AROUND, FADE, WHITE

MARGIN: Final = 0.08
"""Room around the clump for labels, as a share of its longer side."""
ASPECT: Final = (1.4, 1.7)
"""Least and greatest width over height: picture and steps share a page."""
CLOSE_MM: Final = 9.0
"""Eyes this near to a split are shown with it."""
SHARED: Final = 0.3
"""Room around cuts that share a close-up, likewise: more labels stand there."""
CLOSE_ASPECT: Final = (1.5, 1.5)
"""The close-ups of splits are all alike, so that they stand in rows."""


@dataclass(frozen=True)
class Frame:
    """A part of the photo and the size at which it is drawn.

    Attributes
    ----------
    top_px, left_px, height_px, width_px : float
        In the photo; may reach beyond it.
    zoom : float
        Pixels of the picture for one of the photo.
    """

    top_px: float
    left_px: float
    height_px: float
    width_px: float
    zoom: float

    def path(self, points_px: Points) -> Path:
        """Return (row, col) px of the photo as (x, y) px of the picture."""
        corner = np.array([self.top_px, self.left_px])
        path: Path = ((finite(points_px) + 0.5 - corner) * self.zoom)[:, ::-1]
        return path

    def region(self, outline_px: Points) -> Polygon | MultiPolygon:
        """Return a closed outline of the photo as a valid shape in the picture."""
        return region_of(self.path(outline_px))


def clump_frame(photo: Photo, record: Record, flags: list[Flag], width: int) -> Frame:
    """Return the frame that shows the clump and all marks, drawn `width` px wide."""
    shown = [record.anatomy.clump_outline_px, _places(flags)]
    if record.plan is not None:
        shown += [piece.outline_px for piece in record.plan.pieces]
        shown += [cut.path_px for cut in record.plan.cuts]
        shown += [discard.outline_px for discard in record.plan.discards]
    points = np.concatenate([finite(part) for part in shown])
    size = np.array(photo.rgb.shape[:2], dtype=float)
    # Marks far outside the photo (a damaged record) must not shrink the clump.
    points = points[((points >= -size) & (points <= 2 * size)).all(axis=1)]
    if not len(points) or (np.ptp(points, axis=0) < 2).any():
        points = np.concatenate([points, [[0.0, 0.0], size]])
    return _within(_around(points, width), points, size)


def cuts_frame(
    cuts: Sequence[Cut], flags: list[Flag], px_per_mm: float, width: int
) -> Frame:
    """Return the frame around cuts and the eyes beside them, drawn `width` px wide."""
    paths = [finite(cut.path_px) for cut in cuts]
    paths = [path for path in paths if len(path)] or [np.zeros((1, 2))]
    reach = CLOSE_MM * px_per_mm
    lines = [LineString(p) if len(p) > 1 else MultiPoint(p) for p in paths]
    near = union_all(lines).buffer(reach)
    eyes = _places(flags)
    path = np.concatenate(paths)
    shown = [path, eyes[contains_xy(near, eyes)] if len(eyes) else eyes]
    # Room around a short cut, so that the eye finds where it lies.
    corners = np.array([path.min(axis=0) - reach, path.max(axis=0) + reach])
    around = np.concatenate([*shown, corners])
    return _around(around, width, CLOSE_ASPECT, SHARED if len(cuts) > 1 else MARGIN)


def _places(flags: list[Flag]) -> Points:
    return np.array([[flag.row_px, flag.col_px] for flag in flags]).reshape(-1, 2)


def _around(
    points: Points,
    width: int,
    aspects: tuple[float, float] = ASPECT,
    room: float = MARGIN,
) -> Frame:
    """Return a frame with a margin around `points`, neither too tall nor too wide."""
    low, high = points.min(axis=0), points.max(axis=0)
    margin = room * (high - low).max()
    height_px, width_px = high - low + 2 * margin
    aspect = float(np.clip(width_px / height_px, *aspects))
    full_height = max(height_px, width_px / aspect)
    full_width = max(width_px, height_px * aspect)
    middle = (low + high) / 2
    return Frame(
        float(middle[0] - full_height / 2),
        float(middle[1] - full_width / 2),
        float(full_height),
        float(full_width),
        float(width / full_width),
    )


def _within(frame: Frame, points: Points, photo_px: Points) -> Frame:
    """Return `frame` moved so that it shows less of what lies beyond the photo.

    The margin around `points` stays.
    """
    low, high = points.min(axis=0), points.max(axis=0)
    margin = MARGIN * (high - low).max()
    size = np.array([frame.height_px, frame.width_px])
    corner = np.array([frame.top_px, frame.left_px])
    inside = np.clip(corner, 0.0, np.maximum(photo_px - size, 0.0))
    corner = np.where(size <= photo_px, inside, corner)
    corner = np.clip(corner, high + margin - size, low - margin)
    return replace(frame, top_px=float(corner[0]), left_px=float(corner[1]))


def ground(photo: Photo, frame: Frame, clump_outline_px: Points) -> Image.Image:
    """Return the photo in `frame`, what lies outside the clump faded to white."""
    size = (round(frame.width_px * frame.zoom), round(frame.height_px * frame.zoom))
    picture = Image.new("RGB", size, AROUND)
    rows, cols = photo.rgb.shape[:2]
    top, left = max(0, int(frame.top_px)), max(0, int(frame.left_px))
    bottom = min(rows, int(np.ceil(frame.top_px + frame.height_px)))
    right = min(cols, int(np.ceil(frame.left_px + frame.width_px)))
    part = Image.fromarray(photo.rgb[top:bottom, left:right])
    drawn = (
        max(1, round((right - left) * frame.zoom)),
        max(1, round((bottom - top) * frame.zoom)),
    )
    part = part.resize(drawn, Image.Resampling.LANCZOS)
    corner = (
        round((left - frame.left_px) * frame.zoom),
        round((top - frame.top_px) * frame.zoom),
    )
    picture.paste(part, corner)
    clump = frame.path(clump_outline_px)
    if len(clump) < 3:
        return picture
    inside = Image.new("L", size, 0)
    ImageDraw.Draw(inside).polygon([tuple(point) for point in clump], 255)
    inside = inside.filter(ImageFilter.BoxBlur(size[0] / 300))
    faded = Image.blend(picture, Image.new("RGB", size, WHITE), FADE)
    return Image.composite(picture, faded, inside)
