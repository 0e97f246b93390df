"""The annotated picture of one clump."""

from typing import Final

import numpy as np
from PIL import Image
from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import polylabel

from eyefind.data import Cut, Flag, Kind, Photo, Record, Says, Stem, Tuber
from eyefind.sheet import words
from eyefind.sheet.frame import Frame, frame_of, ground
from eyefind.sheet.labels import EYE_WEIGHT, Places
from eyefind.sheet.pen import Path, Pen, disc_radius, shape_path, tile_size
from eyefind.sheet.style import (
    ARROW_PT,
    BLACK,
    DISCARD_PT,
    EDGE_PT,
    FLAG_LINE_PT,
    FLAG_RADIUS_PT,
    LEADER_LINE_PT,
    LETTER_PT,
    NAME_PT,
    NUMBER_PT,
    OPEN_DASH_PT,
    PAPER_WIDTH_MM,
    PIECE_LINE_PT,
    SHAPES,
    WHITE,
    colour_of,
)

WIDTH_PX: Final = 1800
"""Width of the picture: 305 dots per inch on `PAPER_WIDTH_MM`."""
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
        What is known of it; without a plan only the flags are drawn.
    standing : dict of str to str
        What the grower said last of each flag, by its id.

    Returns
    -------
    PIL.Image.Image
        RGB, `WIDTH_PX` wide, cropped to the clump and a margin.
    """
    flags = shown_flags(record, standing)
    frame = frame_of(photo, record, flags, WIDTH_PX * FINER)
    pen = Pen(ground(photo, frame, record.anatomy.clump_outline_px), PX_PER_PT)
    places = Places(np.array(pen.image.size, dtype=float))
    _draw_lines(pen, frame, places, record)
    marks = {}
    for flag in flags:
        confirmed = standing.get(flag.id) == "confirmed"
        marks[flag.id] = _draw_flag(pen, frame, record, flag, confirmed)
        places.keep_clear(*marks[flag.id], EYE_WEIGHT)
    _label_plan(pen, frame, places, record)
    spoken_of = words.spoken_of(record, standing)
    for flag_id, (centre, radius) in marks.items():
        if flag_id in spoken_of:
            _label_flag(pen, places, flag_id, centre, radius)
    _label_parts(pen, frame, places, record, spoken_of)
    return pen.image.reduce(FINER)


def shown_flags(record: Record, standing: dict[str, Says]) -> list[Flag]:
    """Return the flags that have a mark: not rejected, nor added and taken back."""
    return [
        flag
        for flag in record.flags
        if standing.get(flag.id) != "rejected"
        and (flag.origin == "found" or flag.id in standing)
    ]


def _draw_lines(pen: Pen, frame: Frame, places: Places, record: Record) -> None:
    if record.plan is None:
        return
    for discard in record.plan.discards:
        region = frame.region(discard.outline_px)
        if not region.is_empty:
            pen.hatch(region)
        _draw_region(pen, region)
    for piece in record.plan.pieces:
        _draw_region(pen, frame.region(piece.outline_px))
    for cut in record.plan.cuts:
        path = frame.path(cut.path_px)
        if len(path) > 1:
            pen.cut(path)
            places.keep_line_clear(path, 3 * EDGE_PT * pen.px_per_pt)


def _draw_region(pen: Pen, region: BaseGeometry) -> None:
    for part in getattr(region, "geoms", [region]):
        if not part.is_empty:
            outline = np.array(part.exterior.coords)
            pen.stroke(outline, PIECE_LINE_PT, WHITE, (BLACK,))


def _draw_flag(
    pen: Pen, frame: Frame, record: Record, flag: Flag, confirmed: bool
) -> tuple[Path, float]:
    """Draw the mark of one flag; return its centre and its outer radius in px."""
    centre = frame.path(np.array([flag.row_px, flag.col_px]))[0]
    inner = FLAG_RADIUS_PT * pen.px_per_pt
    if flag.kind == "eye":
        eye = 0.5 * flag.size_mm * record.scale.px_per_mm * frame.zoom
        inner = max(inner, 1.3 * eye)
    edge = (FLAG_LINE_PT / 2 + 2 * EDGE_PT) * pen.px_per_pt
    draw_flag_mark(pen, flag.kind, centre, inner + edge, confirmed)
    return centre, inner + 2 * edge


def draw_flag_mark(
    pen: Pen, kind: Kind, centre: Path, radius: float, confirmed: bool
) -> None:
    """Draw a flag's mark: shape by `kind`, solid when `confirmed`, else dashed."""
    pen.stroke(
        shape_path(SHAPES[kind], centre, radius),
        FLAG_LINE_PT,
        colour_of(kind),
        dash_pt=None if confirmed else OPEN_DASH_PT,
    )


def _label_plan(pen: Pen, frame: Frame, places: Places, record: Record) -> None:
    if record.plan is None:
        return
    for cut in record.plan.cuts:
        _label_cut(pen, frame, places, cut)
    for number, discard in enumerate(record.plan.discards, 1):
        region = frame.region(discard.outline_px)
        label = words.discard_label(number)
        _label_region(pen, places, region, label, DISCARD_PT)
    for piece in record.plan.pieces:
        region = frame.region(piece.outline_px)
        _label_region(pen, places, region, piece.letter, LETTER_PT)


def _label_parts(
    pen: Pen, frame: Frame, places: Places, record: Record, spoken_of: set[str]
) -> None:
    parts: list[Tuber | Stem] = [*record.anatomy.tubers, *record.anatomy.stems]
    for part in parts:
        region = _largest(frame.region(part.outline_px))
        if part.id in spoken_of and not region.is_empty:
            box = tile_size(part.id, NAME_PT, pen.px_per_pt)
            pen.halo_text(places.choose(_heart(region), box, region), part.id, NAME_PT)


def _label_flag(
    pen: Pen, places: Places, flag_id: str, centre: Path, radius: float
) -> None:
    box = tile_size(flag_id, NAME_PT, pen.px_per_pt)
    place = places.choose(centre, box, least=radius + 0.5 * box[1])
    way = (place - centre) / max(float(np.hypot(*(place - centre))), 1e-9)
    _leader(pen, centre + way * radius, place)
    pen.halo_text(place, flag_id, NAME_PT)


def _label_cut(pen: Pen, frame: Frame, places: Places, cut: Cut) -> None:
    path = frame.path(cut.path_px)
    if not len(path):
        return
    text = str(cut.number)
    radius = disc_radius(text, NUMBER_PT, pen.px_per_pt)
    back = path[0] - path[min(1, len(path) - 1)]
    length = float(np.hypot(*back))
    ahead = back / length if length else np.array([0.0, -1.0])
    least = radius + 1.2 * ARROW_PT * pen.px_per_pt
    centre = places.choose(path[0], np.full(2, 2 * radius), ahead=ahead, least=least)
    pen.arrow(centre, path[0])
    pen.disc(centre, text, NUMBER_PT)


def _label_region(
    pen: Pen, places: Places, region: BaseGeometry, text: str, size_pt: float
) -> None:
    own = _largest(region)
    if own.is_empty:
        return
    anchor = _heart(own)
    centre = places.choose(anchor, tile_size(text, size_pt, pen.px_per_pt), own)
    if not own.contains(Point(centre)):
        _leader(pen, anchor, centre)
    pen.tile(centre, text, size_pt, BLACK, WHITE)


def _leader(pen: Pen, start: Path, end: Path) -> None:
    pen.stroke(np.stack([start, end]), LEADER_LINE_PT, WHITE, (BLACK,))


def _largest(region: BaseGeometry) -> Polygon:
    parts = getattr(region, "geoms", [region])
    return max(parts, key=lambda part: part.area, default=Polygon())


def _heart(region: Polygon) -> Path:
    """Return the middle of the widest place of `region`."""
    tolerance = max(1.0, 0.02 * float(np.sqrt(region.area)))
    return np.array(polylabel(region, tolerance).coords[0])
