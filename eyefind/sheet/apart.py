"""Before and after: the pieces that the plan makes, drawn apart."""

from typing import Final

import numpy as np
from PIL import Image, ImageDraw
from shapely import union_all

from eyefind.data import Photo, Piece, Points, Record
from eyefind.sheet.pen import Pen
from eyefind.sheet.shapes import finite, region_of
from eyefind.sheet.style import (
    BLACK,
    EDGE_PT,
    LETTER_PT,
    PIECE_LINE_PT,
    WHITE,
)

APART: Final = 0.35
"""A piece moves outwards by this share of its distance from the clump's middle."""
LEAST: Final = 0.06
"""And at least by this share of the clump's longer side."""
MARGIN_PT: Final = 16.0
"""White around the pieces: a letter fits in."""


def draw_apart(
    photo: Photo, record: Record, width: int, px_per_pt: float
) -> Image.Image | None:
    """Draw the pieces as they will lie on the bench, moved outwards.

    Parameters
    ----------
    photo : Photo
        The photo itself.
    record : Record
        With a plan.
    width : int
        Width of the picture, px.
    px_per_pt : float
        Pixels of the picture in one point on paper.

    Returns
    -------
    PIL.Image.Image or None
        RGB; None if the plan does not divide the clump.
    """
    pieces = record.plan.pieces if record.plan else []
    outlines = [finite(piece.outline_px) for piece in pieces]
    if len(pieces) < 2 or any(len(outline) < 3 for outline in outlines):
        return None
    moved = _moved(outlines)
    points = np.concatenate([o + m for o, m in zip(outlines, moved, strict=True)])
    low, high = points.min(axis=0), points.max(axis=0)
    margin = MARGIN_PT * px_per_pt
    zoom = (width - 2 * margin) / max(high[1] - low[1], 1.0)
    tall = round((high[0] - low[0]) * zoom + 2 * margin)
    pen = Pen(Image.new("RGB", (width, tall), WHITE), px_per_pt)
    for piece, outline, move in zip(pieces, outlines, moved, strict=True):
        corner = move - low + margin / zoom
        _paste(pen.image, photo, outline, corner, zoom)
        _mark(pen, piece, (outline + corner)[:, ::-1] * zoom)
    return pen.image


def _moved(outlines: list[Points]) -> list[Points]:
    """Return by how much each piece moves, (row, col) px of the photo."""
    shapes = [region_of(outline) for outline in outlines]
    hub = np.array(union_all(shapes).centroid.coords[0])
    size = np.ptp(np.concatenate(outlines), axis=0).max()
    moves = []
    for shape in shapes:
        way = np.array(shape.centroid.coords[0]) - hub
        far = max(float(np.hypot(*way)), 1e-9)
        moves.append(way / far * max(APART * far, LEAST * size))
    return moves


def _paste(
    image: Image.Image, photo: Photo, outline: Points, corner: Points, zoom: float
) -> None:
    """Cut a piece out of the photo and lay it down."""
    rows, cols = photo.rgb.shape[:2]
    low = np.maximum(np.floor(outline.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(outline.max(axis=0)).astype(int) + 1, [rows, cols])
    if (high <= low).any():
        return
    tall, wide = np.maximum((high - low) * zoom, 1).astype(int)
    size = int(wide), int(tall)
    cut = Image.fromarray(photo.rgb[low[0] : high[0], low[1] : high[1]])
    mask = Image.new("L", size, 0)
    inside = (outline - low)[:, ::-1] * zoom
    ImageDraw.Draw(mask).polygon([tuple(point) for point in inside], 255)
    left, top = ((low + corner)[::-1] * zoom).round().astype(int)
    resized = cut.resize(size, Image.Resampling.LANCZOS)
    image.paste(resized, (int(left), int(top)), mask)


def _mark(pen: Pen, piece: Piece, outline: Points) -> None:
    region = region_of(outline)
    for part in getattr(region, "geoms", [region]):
        if not part.is_empty:
            path = np.array(part.exterior.simplify(1.0).coords)
            pen.stroke(path, PIECE_LINE_PT, BLACK, (WHITE,))
    half = pen.tile_size(piece.letter, LETTER_PT) / 2 + EDGE_PT
    centre = np.array(region.representative_point().coords[0])
    limit = np.array(pen.image.size) - half
    centre = np.clip(centre, half, np.maximum(limit, half))
    pen.tile(centre, piece.letter, LETTER_PT, BLACK, WHITE)
