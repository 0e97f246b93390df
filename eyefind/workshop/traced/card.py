"""The bench card beside a clump, printed as the product prints it."""

from typing import Any

import mitsuba as mi
import numpy as np

from eyefind.photo.card_layout import CARD_MM, card_image
from eyefind.workshop.traced.bench import TOOL
from eyefind.workshop.traced.clutter import clear_place
from eyefind.workshop.traced.mesh import Mesh, box
from eyefind.workshop.traced.noise3 import Floats

CARD_PX_PER_MM = 10
PAPER = 0.82
"""Reflectance of white paper."""
THICK_MM = 0.5
ABOVE_MM = 0.05
"""The print lies so far above the paper."""


def lay_card(
    rng: np.random.Generator, taken: Floats, reach_mm: float
) -> tuple[Mesh, dict[str, Any]] | None:
    """Lay the bench card beside a clump.

    Parameters
    ----------
    rng : numpy.random.Generator
        Places it.
    taken : (N, 2) array
        Places on the bench that are covered, mm.
    reach_mm : float
        How far away it may lie.

    Returns
    -------
    (Mesh, dict) or None
        The paper, labelled as a tool, and the print on it as Mitsuba has it; None if
        there is no room.
    """
    paper = box((*CARD_MM, THICK_MM)).painted((PAPER,) * 3, 0.9)
    place = clear_place(rng, paper, taken, reach_mm)
    if place is None:
        return None
    turn, shift = place
    shift = shift + np.array([0, 0, THICK_MM / 2 + ABOVE_MM])
    # A rectangle's texture begins at its lower edge, a picture at its upper one.
    grey = card_image(CARD_PX_PER_MM)[::-1, :, None].repeat(3, axis=2) / 255
    linear = np.where(grey > 0.04045, ((grey + 0.055) / 1.055) ** 2.4, grey / 12.92)
    half = np.array([CARD_MM[0] / 2, CARD_MM[1] / 2, 1.0])
    world = np.eye(4, dtype=np.float32)
    world[:3, :3] = turn * half
    world[:3, 3] = shift + np.array([0, 0, THICK_MM / 2 + ABOVE_MM])
    print_ = {
        "type": "rectangle",
        "to_world": mi.ScalarTransform4f(world),
        "bsdf": {
            "type": "diffuse",
            "reflectance": {
                "type": "bitmap",
                "bitmap": mi.Bitmap((PAPER * linear).astype(np.float32)),
                "raw": True,
            },
        },
    }
    return paper.moved(turn, shift).labelled(TOOL), print_
