"""What leaves: which cut takes it off, and which flags and tubers go with it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from scipy.optimize import linear_sum_assignment
from shapely.geometry.base import BaseGeometry

from eyefind.data import Cut, Record
from eyefind.sheet.shapes import finite, region_of

# A cut takes a part off when it runs along the part's outline: further away than this,
# on the average over its length, it is another cut.
NEAR_MM: Final = 8.0
# A flag this near to a part that leaves goes with it.
SLACK_MM: Final = 2.0
# A tuber leaves when this share of its outline's area does.
SHARE: Final = 0.6

_STEPS: Final = np.linspace(0.0, 1.0, 9)


@dataclass(frozen=True)
class Leaving:
    """What leaves by a plan, its discards counted from 0.

    Attributes
    ----------
    cuts : dict of int to int
        Number of the cut that takes each discard off. The cuts that run along the
        discards' outlines are chosen so that their distances are the least in sum;
        a discard that no cut runs along is left out.
    flags : dict of str to int
        Discard that a flag points at, by the flag's id. An eye is never a reason to
        discard, so eyes are not in it.
    tubers : set of str
        Ids of the tubers that leave for the most part.
    """

    cuts: dict[int, int]
    flags: dict[str, int]
    tubers: set[str]


def what_leaves(record: Record) -> Leaving:
    """Tell what leaves by the plan of `record`."""
    plan = record.plan
    regions = [region_of(part.outline_px) for part in plan.discards] if plan else []
    if plan is None or not regions:
        return Leaving({}, {}, set())
    tubers = _tubers(record, regions)
    return Leaving(
        _cuts(plan.cuts, regions, record.scale.px_per_mm),
        _flags(record, regions, tubers),
        set(tubers),
    )


def _cuts(
    cuts: list[Cut], regions: list[BaseGeometry], px_per_mm: float
) -> dict[int, int]:
    if not cuts:
        return {}
    near_px = NEAR_MM * px_per_mm
    apart = np.array([[_apart_px(cut, region) for cut in cuts] for region in regions])
    # Beyond reach all cuts are alike, else one far pair could displace a near one.
    rows, cols = linear_sum_assignment(np.minimum(apart, near_px))
    return {
        int(row): cuts[col].number
        for row, col in zip(rows, cols, strict=True)
        if apart[row, col] < near_px
    }


def _apart_px(cut: Cut, region: BaseGeometry) -> float:
    """Return the mean distance of a cut's points from the outline of `region`."""
    path = finite(cut.path_px)
    if len(path) < 2 or region.is_empty:
        return np.inf
    line = shapely.LineString(path)
    points = shapely.line_interpolate_point(line, _STEPS, normalized=True)
    return float(shapely.distance(points, region.boundary).mean())


def _flags(
    record: Record, regions: list[BaseGeometry], tubers: dict[str, int]
) -> dict[str, int]:
    slack_px = SLACK_MM * record.scale.px_per_mm
    flags = {}
    for flag in record.flags:
        away = shapely.distance(shapely.Point(flag.row_px, flag.col_px), regions)
        near = np.flatnonzero(away <= slack_px)
        if flag.kind == "eye":
            continue
        if len(near):
            flags[flag.id] = int(near[0])
        elif flag.belongs_to in tubers:
            flags[flag.id] = tubers[flag.belongs_to]
    return flags


def _tubers(record: Record, regions: list[BaseGeometry]) -> dict[str, int]:
    """Return the discard that each leaving tuber is in, by the tuber's id."""
    tubers = {}
    for tuber in record.anatomy.tubers:
        whole = region_of(tuber.outline_px)
        shared = shapely.area(shapely.intersection(whole, regions))
        if shared.max() > SHARE * whole.area:
            tubers[tuber.id] = int(shared.argmax())
    return tubers
