"""Tell stems from tubers."""

import numpy as np
from numpy.typing import NDArray

from eyefind.look.axis import Axis
from eyefind.look.frame import Frame
from eyefind.look.limbs import Limb

STEM_SCORE = 3.0
"""Sum of five marks, 0 to 1 each, from which on a limb is a stem."""


def stem_scores(
    frame: Frame, limbs: list[Limb], axes: list[Axis]
) -> NDArray[np.float64]:
    """Rate how much each limb is like a stem rather than a tuber.

    Parameters
    ----------
    frame : Frame
        The clump.
    limbs : list of Limb
        What hangs on the crown.
    axes : list of Axis
        Their axes.

    Returns
    -------
    (limbs,) array
        Sum of five marks from 0 to 1: even width, flat end, straight, greener than
        the rest, on the crown itself.
    """
    return np.array(
        [
            0.0
            if limb.parent is not None
            else _shape_marks(axis) + 3.0 * limb.stem_chance
            for limb, axis in zip(limbs, axes, strict=True)
        ]
    )


def _shape_marks(axis: Axis) -> float:
    width = axis.width_mm
    count = len(width)
    middle = width[count // 5 : max(count // 5 + 2, count - count // 10)]
    even = 1 - np.clip(np.std(middle) / max(np.mean(middle), 1e-6) / 0.25, 0, 1)
    near_end = max(1, round(2.0 / axis.step_mm))
    flat = np.clip(
        (width[-1 - near_end] / max(np.median(middle), 1e-6) - 0.5) / 0.4, 0, 1
    )
    straight = np.clip((axis.straightness - 0.9) / 0.09, 0, 1)
    return float(even + flat + straight)


def find_stems(frame: Frame, limbs: list[Limb], axes: list[Axis]) -> list[bool]:
    """Say which limbs are stems."""
    return [bool(s >= STEM_SCORE) for s in stem_scores(frame, limbs, axes)]


def seen_stems(limbs: list[Limb]) -> list[bool]:
    """Say which limbs are stems by the network's word: mostly stem, on the crown."""
    return [limb.parent is None and limb.stem_chance >= 0.5 for limb in limbs]
