"""What a clump is made of."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eyefind.data.arrays import Points


@dataclass(frozen=True, eq=False)
class Stem:
    """A stem stub.

    Attributes
    ----------
    id : str
        ``"S1"``, ``"S2"`` ...
    outline_px : (N, 2) array
        Closed outline, last point not repeated.
    axis_px : (2, 2) array
        From the crown to the cut end.
    diameter_mm : float
        Median width across the axis.
    """

    id: str
    outline_px: Points
    axis_px: Points
    diameter_mm: float


@dataclass(frozen=True, eq=False)
class Tuber:
    """One tuber, its neck and what it hangs on.

    Attributes
    ----------
    id : str
        ``"T1"``, ``"T2"`` ... clockwise around the crown from the top.
    outline_px : (N, 2) array
        Closed outline of the visible part, neck included, last point not repeated.
    axis_px : (M, 2) array
        Medial axis from the crown end to the tip.
    width_mm : (M,) array
        Width across the axis at each of its points.
    neck_rc_px : (2,) array
        Centre of the narrowest place between crown and body.
    neck_width_mm : float
        Width there.
    length_mm : float
        Length of the axis from the neck to the tip.
    max_diameter_mm : float
        Greatest width of the body.
    volume_ml : float
        Volume of the body as a solid of revolution about the axis.
    volume_relative_sd : float
        Its standard deviation divided by its value.
    attached_to : str
        ``"crown"``, a stem's id or another tuber's id; ``"none"`` in place of
        ``"crown"`` when no crown was made out.
    """

    id: str
    outline_px: Points
    axis_px: Points
    width_mm: NDArray[np.float64]
    neck_rc_px: Points
    neck_width_mm: float
    length_mm: float
    max_diameter_mm: float
    volume_ml: float
    volume_relative_sd: float
    attached_to: str


@dataclass(frozen=True, eq=False)
class Anatomy:
    """The parts of one clump and how they hang together.

    Attributes
    ----------
    clump_outline_px : (N, 2) array
        Outline of everything that belongs to the clump.
    crown_outline_px : (N, 2) array
        Outline of the crown; (0, 2) when no crown was made out.
    stems, tubers : list
        The other parts.
    """

    clump_outline_px: Points
    crown_outline_px: Points
    stems: list[Stem]
    tubers: list[Tuber]
