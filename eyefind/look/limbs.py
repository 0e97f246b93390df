"""Find the crown, and the limbs that hang on it."""

from dataclasses import dataclass

from eyefind.data import Mask, Points
from eyefind.look.blobs import creases, depth_between, split_depth
from eyefind.look.crown import find_crown, solid_part
from eyefind.look.frame import Frame
from eyefind.look.hang import hang, sweep_crumbs
from eyefind.look.middles import split_by_middles
from eyefind.look.outline import box_of
from eyefind.look.parts import BODY, STEM, part_chances
from eyefind.look.seen import chances_on
from eyefind.model import Answers


@dataclass(frozen=True, eq=False)
class Limb:
    """A stem or a tuber.

    Attributes
    ----------
    mask : (h, w) bool array
        Its pixels.
    base_rc : (2,) array
        Where it hangs on, working px.
    parent : int or None
        Place in the list of the limb it grows from; None for the crown.
    stem_chance : float
        Chance of its pixels to be stem rather than body, on average.
    """

    mask: Mask
    base_rc: Points
    parent: int | None
    stem_chance: float


def find_limbs(frame: Frame, seen: Answers | None) -> tuple[Mask, list[Limb]]:
    """Find the crown and what grows from it.

    Parameters
    ----------
    frame : Frame
        The clump.
    seen : Answers or None
        What the network says of the whole photo.

    Returns
    -------
    crown : (h, w) bool array
        Empty when none was made out.
    limbs : list of Limb
        Stems and tubers; a parent comes before its child.
    """
    chances = part_chances(frame) if seen is None else chances_on(frame, seen)
    solid = solid_part(frame.mask, chances, frame.px_per_mm)
    crown = find_crown(solid, chances, frame.px_per_mm)
    rest = solid & ~crown
    if seen is None:
        depth = depth_between(rest, creases(frame), frame.px_per_mm)
        label = split_depth(rest, depth)
    else:
        label = split_by_middles(frame, rest, chances, seen)
    label, crown = sweep_crumbs(label, crown, chances, frame.px_per_mm)
    label, hangings = hang(label, crown, frame.px_per_mm)
    limbs = []
    for number, hanging in enumerate(hangings, 1):
        own = label == number
        box = box_of(own)
        stem, body = chances[box][own[box]][:, (STEM, BODY)].mean(axis=0).tolist()
        limbs.append(
            Limb(
                own,
                hanging.base_rc,
                hanging.on - 1 if hanging.on else None,
                stem / max(stem + body, 1e-6),
            )
        )
    return crown, limbs
