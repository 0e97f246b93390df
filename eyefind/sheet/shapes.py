"""Outlines as shapes."""

from typing import Final

import numpy as np
from shapely import MultiPolygon, Polygon, make_valid, polygons

from eyefind.data import Points

DECIMALS: Final = 3
"""To this the corners are rounded: the geometry fails on vanishing differences."""


def region_of(outline: Points) -> Polygon | MultiPolygon:
    """Return a closed outline as a valid shape, in its own two coordinates.

    Parameters
    ----------
    outline : (N, 2) array
        Points; the last one is not repeated.

    Returns
    -------
    Polygon or MultiPolygon
        Empty for fewer than three points that are numbers.
    """
    points = finite(outline)
    if len(points) < 3:
        return Polygon()
    ring = polygons(np.round(points, DECIMALS))
    # The repair alone leaves parts that share an edge apart: buffering joins them.
    shape = make_valid(ring, method="structure", keep_collapsed=False).buffer(0)
    return shape if isinstance(shape, Polygon | MultiPolygon) else Polygon()


def finite(points: Points) -> Points:
    """Return those of (N, 2) points that are numbers."""
    rows: Points = np.asarray(points, dtype=float).reshape(-1, 2)
    return rows[np.isfinite(rows).all(axis=1)]
