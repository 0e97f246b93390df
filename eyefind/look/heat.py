"""Eyes by the network's heat map of the crown."""

import cv2
import numpy as np

from eyefind.data import Points
from eyefind.look.candidates import Values
from eyefind.look.collar import Collar
from eyefind.look.likelihood import NETWORK
from eyefind.look.seen import log_odds
from eyefind.model import Answers
from eyefind.model.network import PARTS

APART_MM = 1.2
"""Radius within which only the strongest answer is a candidate."""
LEAST_CHANCE = 0.01
"""Weaker answers are no candidates."""
LEAST_ODDS = 1e-4
"""Chances are held so far from 0 and 1 before they are weighed."""
MOST = 80
"""Strongest answers kept."""
SIZES_MM = (1.2, 8.0)
"""Diameters between which an eye's is held, so that it can be measured."""


def heat_peaks(collar: Collar, near: Answers) -> tuple[Points, Values]:
    """Find where the network's chance of an eye is highest.

    Parameters
    ----------
    collar : Collar
        Crown and collar.
    near : Answers
        What the network says of them.

    Returns
    -------
    work_rc : (N, 2) array
        Places on the clump, working px, the strongest first. They need not lie on the
        crown that was made out, for it may be made out badly.
    size_mm : (N,) array
        Their diameters.
    """
    reach = 2 * max(1, round(APART_MM * collar.px_per_mm / collar.step * near.step)) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    heat = near.eye
    peak = (heat >= cv2.dilate(heat, kernel)) & (heat >= LEAST_CHANCE)
    at = np.argwhere(peak)
    work_rc = collar.to_work(near.to_photo(at))
    limits = np.array(collar.clump.shape) - 1
    row, col = np.clip(np.rint(work_rc).astype(int), 0, limits).T
    inside = collar.clump[row, col]
    at, work_rc = at[inside], work_rc[inside]
    strongest = np.argsort(-heat[tuple(at.T)], kind="stable")[:MOST]
    size_px = near.eye_size[tuple(at[strongest].T)].astype(float)
    size_mm = size_px * collar.step / collar.px_per_mm
    return work_rc[strongest], np.clip(size_mm, *SIZES_MM)


def opinions(
    collar: Collar, near: Answers, whole: Answers, work_rc: Points
) -> dict[str, Values]:
    """Return what the network says of candidates.

    Parameters
    ----------
    collar : Collar
        Crown and collar.
    near, whole : Answers
        What the network says of the cut-out, and of the whole photo.
    work_rc : (N, 2) array
        Places, working px.

    Returns
    -------
    dict of str to (N,) array
        ``network`` and ``network_far`` (logarithm of the odds of an eye, near and from
        afar), ``on_crown`` (chance of crown or neck there).
    """
    photo_rc = collar.to_photo(work_rc)
    crown = near.parts[..., PARTS.index("crown")] + near.parts[..., PARTS.index("neck")]
    return {
        NETWORK: log_odds(_highest(near, near.eye, photo_rc), LEAST_ODDS),
        "network_far": log_odds(_highest(whole, whole.eye, photo_rc), LEAST_ODDS),
        "on_crown": _highest(near, crown, photo_rc),
    }


def _highest(answers: Answers, plane: np.ndarray, photo_rc: Points) -> Values:
    """Highest value within a pixel of each place."""
    around = cv2.dilate(np.ascontiguousarray(plane), np.ones((3, 3), np.uint8))
    limits = np.array(plane.shape) - 1
    at = np.clip(np.rint(answers.to_answers(photo_rc)).astype(int), 0, limits)
    return np.asarray(around[tuple(at.T)], float)
