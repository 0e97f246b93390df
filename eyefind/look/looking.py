"""The whole look at one photo."""

from collections.abc import Sequence
from dataclasses import dataclass

from eyefind.data import Anatomy, Flag, Mask, Photo, Pixels, Points, Remark, Scale
from eyefind.look.anatomy import read_anatomy
from eyefind.look.clump import find_clump
from eyefind.look.flags import find_flags
from eyefind.look.outline import filled
from eyefind.look.own_scale import scale_by_looks
from eyefind.look.seen import sees_clump
from eyefind.model import Answers
from eyefind.photo import guess_scale
from eyefind.rules import Rules

NO_CROWN = Remark(
    "no_crown",
    "No crown can be made out, so no eyes were looked for.",
    "If there is a crown, photograph the clump with the crown in full view.",
)
NO_NETWORK = Remark(
    "no_network",
    "The learned finder could not be used. A simpler one looked; it misses more eyes.",
    "Install eyefind again: its file network.onnx.xz is missing or damaged.",
)
NOT_SEEN = Remark(
    "not_seen",
    "The learned finder sees no clump here. A simpler one looked; it misses more eyes.",
    "If there is one, photograph it alone on a plain bench, under a lamp.",
)


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
    seen: Answers | None = None,
    further: Sequence[Pixels] = (),
) -> Look:
    """Find the clump, read its anatomy and flag what is worth a look.

    Parameters
    ----------
    photo : Photo
        The photo, upright.
    scale : Scale, optional
        Scale; without it it is found by the looks of the clump or, without the
        network, guessed from the size that clumps usually have.
    card_outline_px : (N, 2) array, optional
        Outline of the bench card.
    rules : Rules
        Rules of the trade.
    clump : (H, W) bool array, optional
        The clump, when `find_clump` was asked before.
    seen : Answers, optional
        What the network says of the whole photo (`see_whole`); without it the classical
        finder goes on alone, and a remark says so.
    further : sequence of (H, W, 3) uint8 array
        The other frames of a lamp set, laid on the photo.

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
        clump = find_clump(photo.rgb, card_outline_px, seen)
    if scale is None:
        scale = _own_scale(photo, clump, seen) or guess_scale(clump, rules)
    remarks = [NO_NETWORK] if seen is None else []
    if seen is not None and not sees_clump(seen):
        seen, remarks = None, [NOT_SEEN]
    anatomy = read_anatomy(photo.rgb, clump, scale, rules, seen)
    flags = find_flags(photo.rgb, clump, anatomy, scale, rules, seen, further)
    crown = filled(anatomy.crown_outline_px, clump.shape)
    return Look(anatomy, flags, clump, crown, scale, [*_remarks(anatomy), *remarks])


def _own_scale(photo: Photo, clump: Mask, seen: Answers | None) -> Scale | None:
    if seen is None or not sees_clump(seen):
        return None
    return scale_by_looks(photo.rgb, clump, seen)


def _remarks(anatomy: Anatomy) -> list[Remark]:
    return [] if len(anatomy.crown_outline_px) else [NO_CROWN]
