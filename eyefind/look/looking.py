"""The whole look at one photo."""

from dataclasses import dataclass

import cv2
import numpy as np

from eyefind.data import Anatomy, Flag, Mask, Photo, Points, Remark, Scale
from eyefind.look.anatomy import read_anatomy
from eyefind.look.clump import find_clump
from eyefind.look.flags import find_flags
from eyefind.photo import guess_scale
from eyefind.rules import Rules


@dataclass(frozen=True, eq=False)
class Look:
    """What was seen in one photo.

    Attributes
    ----------
    anatomy : Anatomy
        The parts of the clump.
    flags : list of Flag
        What to point at.
    clump, crown : (H, W) bool array
        Which pixels of the full photo belong to them; the crown is empty when none
        was made out.
    scale : Scale
        The scale that was used: the one given, or a guess.
    remarks : list of Remark
        What the grower must know of this look.
    """

    anatomy: Anatomy
    flags: list[Flag]
    clump: Mask
    crown: Mask
    scale: Scale
    remarks: list[Remark]


def look_at(
    photo: Photo,
    scale: Scale | None,
    card_outline_px: Points | None,
    rules: Rules,
    clump: Mask | None = None,
) -> Look:
    """Find the clump, read its anatomy and flag what is worth a look.

    Parameters
    ----------
    photo : Photo
        The photo, upright.
    scale : Scale, optional
        Scale; without it one is guessed from the size that clumps usually have.
    card_outline_px : (N, 2) array, optional
        Outline of the bench card.
    rules : Rules
        Rules of the trade.
    clump : (H, W) bool array, optional
        The clump, when `find_clump` was asked before.

    Returns
    -------
    Look
        All that was seen.

    Raises
    ------
    PhotoError
        If no clump is in view, or two.
    """
    if clump is None:
        clump = find_clump(photo.rgb, card_outline_px)
    if scale is None:
        scale = guess_scale(clump, rules)
    anatomy = read_anatomy(photo.rgb, clump, scale, rules)
    flags = find_flags(photo.rgb, clump, anatomy, scale, rules)
    crown = _filled(anatomy.crown_outline_px, clump.shape)
    return Look(anatomy, flags, clump, crown, scale, _remarks(anatomy))


def _remarks(anatomy: Anatomy) -> list[Remark]:
    if len(anatomy.crown_outline_px):
        return []
    return [
        Remark(
            "no_crown",
            "No crown can be made out, so no eyes were looked for.",
            "If there is a crown, photograph the clump with the crown in full view.",
        )
    ]


def _filled(outline: Points, shape: tuple[int, ...]) -> Mask:
    mask = np.zeros(shape, np.uint8)
    if len(outline):
        cv2.fillPoly(mask, [np.round(outline[:, ::-1]).astype(np.int32)], 1)
    return mask > 0
