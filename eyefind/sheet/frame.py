"""What part of the photo a picture shows, and the way from photo to picture."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from PIL import Image, ImageDraw, ImageFilter
from shapely import MultiPolygon, Polygon, make_valid, polygons

from eyefind.data import Flag, Photo, Points, Record
from eyefind.sheet.pen import Path
from eyefind.sheet.style import AROUND, FADE, WHITE

MARGIN: Final = 0.10
"""Room around the clump for labels, as a share of its longer side."""
ASPECT: Final = (1.25, 1.7)
"""Least and greatest width over height: picture and first steps share a page."""


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
        points = np.asarray(points_px, dtype=float).reshape(-1, 2)
        points = points[np.isfinite(points).all(axis=1)]
        corner = np.array([self.top_px, self.left_px])
        path: Path = ((points + 0.5 - corner) * self.zoom)[:, ::-1]
        return path

    def region(self, outline_px: Points) -> Polygon | MultiPolygon:
        """Return a closed outline of the photo as a valid shape in the picture."""
        path = self.path(outline_px)
        if len(path) < 3:
            return Polygon()
        shape = make_valid(polygons(path))
        parts = getattr(shape, "geoms", [shape])
        solid = [part for part in parts if isinstance(part, Polygon)]
        return solid[0] if len(solid) == 1 else MultiPolygon(solid)


def frame_of(photo: Photo, record: Record, flags: list[Flag], width: int) -> Frame:
    """Return the frame that shows the clump and all marks, drawn `width` px wide."""
    low, high = _bounds(photo, record, flags)
    low, high = low - MARGIN * (high - low).max(), high + MARGIN * (high - low).max()
    height_px, width_px = high - low
    aspect = float(np.clip(width_px / height_px, *ASPECT))
    full_height = max(height_px, width_px / aspect)
    full_width = max(width_px, height_px * aspect)
    middle = (low + high) / 2
    return Frame(
        float(middle[0] - full_height / 2),
        float(middle[1] - full_width / 2),
        full_height,
        full_width,
        width / full_width,
    )


def _bounds(photo: Photo, record: Record, flags: list[Flag]) -> tuple[Points, Points]:
    shown = [record.anatomy.clump_outline_px]
    if record.plan is not None:
        shown += [piece.outline_px for piece in record.plan.pieces]
        shown += [cut.path_px for cut in record.plan.cuts]
        shown += [discard.outline_px for discard in record.plan.discards]
    shown += [np.array([[flag.row_px, flag.col_px]]) for flag in flags]
    points = np.concatenate([np.reshape(part, (-1, 2)) for part in shown])
    points = points[np.isfinite(points).all(axis=1)]
    size = np.array(photo.rgb.shape[:2], dtype=float)
    # Marks far outside the photo (a damaged record) must not shrink the clump.
    points = points[((points >= -size) & (points <= 2 * size)).all(axis=1)]
    if not len(points) or (np.ptp(points, axis=0) < 2).any():
        points = np.concatenate([points, [[0.0, 0.0], size]])
    return points.min(axis=0), points.max(axis=0)


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
    part = part.resize(drawn, Image.Resampling.BICUBIC)
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
