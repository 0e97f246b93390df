"""What the learned finder sees of the whole photo, brought to the look's own grids."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from eyefind.data import Anatomy, Mask, Pixels, Points
from eyefind.look.candidates import Candidates
from eyefind.look.frame import Frame
from eyefind.look.likelihood import NETWORK
from eyefind.look.outline import filled
from eyefind.look.views import Plane
from eyefind.model import Answers, ModelError, ask
from eyefind.model.network import PARTS
from eyefind.reduce import reduced, size_at

WHOLE_PX_PER_MM = 4.0
"""Scale at which the whole photo is shown to the network."""
NEAR_PX_PER_MM, MOST_ENLARGED = 8.0, 1.6
"""Scale at which crown and collar are shown to it, enlarged up to so many times: as
far as it was trained at."""
MOST_PX = 1_200_000
"""No larger picture is shown; without a scale as large a one."""
LEAST_SEEN = 0.01
"""Share of the photo that must look like parts of a clump, lest specks be taken for
one."""
LEAST_AFAR, MOST_AFAR = 0.15, 12
"""What looks like an eye on the whole photo with this chance is looked at from near,
though it lie off the crown that was made out; so many at most."""
LEAST_ODDS = 1e-6
"""Chances are held so far from 0 and 1, that one frame alone does not decide."""
LEAST_SOFT = 0.02
"""Mean chance of soft tissue over a tuber below which no soft patch is looked for."""
OF_LOOK = (
    ("bench", "tool_or_card"),
    ("body", "neck", "spent_parent", "thin_root", "soft"),
    ("crown",),
    ("stem",),
)
"""Which of the network's parts make up each of `eyefind.look.parts.PARTS`."""

Real = TypeVar("Real", np.float32, np.float64)

_OWN_PART = {"spent_parent": "spent_parent", "soft": "soft", "rat_tail": "thin_root"}


def see_whole(rgb: Pixels, px_per_mm: float | None) -> Answers | None:
    """Show the whole photo to the network.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    px_per_mm : float, optional
        Scale, if it is known.

    Returns
    -------
    Answers or None
        None when the weights cannot be used: the classical finder goes on alone.
    """
    height, width = rgb.shape[:2]
    step = min(1.0, (MOST_PX / (height * width)) ** 0.5)
    if px_per_mm is not None:
        step = min(step, WHOLE_PX_PER_MM / px_per_mm)
    try:
        return ask(reduced(rgb, size_at(rgb.shape, step)), np.zeros(2), step)
    except ModelError:
        return None


def see_cut_out(rgb: Pixels, corner_rc: Points, step: float) -> Answers | None:
    """Show a cut-out to the network; takes what `ask` takes, None as `see_whole`."""
    try:
        return ask(rgb, corner_rc, step)
    except ModelError:
        return None


def see_frames(
    frames: Sequence[Pixels],
    corner_rc: Points,
    step: float,
    px_per_mm: float,
    relief: Pixels | None = None,
) -> Answers:
    """Show a cut-out of every frame of a lamp set to the network, from near.

    A cut-out of few px a mm is enlarged, for the network finds more eyes on it then.

    What looks like an eye under one lamp only is mostly a shadow or a glint, so the
    logarithms of the odds of an eye are averaged. All else is as on the main frame.

    Parameters
    ----------
    frames : sequence of (h, w, 3) uint8 array
        The cut-out, resized; the main frame first.
    corner_rc : (2,) array
        Its corner in the full photo, px.
    step : float
        Its px in one px of the photo.
    px_per_mm : float
        Its px in one mm.
    relief : (h, w) uint8 array, optional
        What `eyefind.relief.in_bytes` says of the cut-out; told with the main frame.

    Returns
    -------
    Answers
        Of a single frame those of `ask`.

    Raises
    ------
    ModelError
        If the weights are missing or damaged.
    """
    zoom = min(NEAR_PX_PER_MM / px_per_mm, MOST_ENLARGED)
    if zoom > 1:
        step *= zoom
        frames = [_enlarged(frame, zoom, cv2.INTER_LINEAR) for frame in frames]
        if relief is not None:
            relief = _enlarged(relief, zoom, cv2.INTER_NEAREST)
    main = ask(frames[0], corner_rc, step, relief)
    others = [ask(frame, corner_rc, step) for frame in frames[1:]]
    if not others:
        return main
    odds = np.mean([log_odds(one.eye, LEAST_ODDS) for one in (main, *others)], axis=0)
    return replace(main, eye=1 / (1 + np.exp(-odds)))


def _enlarged(picture: Pixels, zoom: float, how: int) -> Pixels:
    size = size_at(picture.shape, zoom)
    return np.asarray(cv2.resize(picture, size[::-1], interpolation=how))


def log_odds(chance: NDArray[Real], least: float) -> NDArray[Real]:
    """Return the logarithm of the odds of chances, held `least` away from 0 and 1."""
    held = np.clip(chance, least, 1 - least)
    return np.asarray(np.log(held / (1 - held)), chance.dtype)


def sees_clump(seen: Answers) -> bool:
    """Whether the network sees as much of a clump as a photo of one shows at least."""
    return bool(tissue(seen, seen.eye.shape).mean() >= LEAST_SEEN)


def tissue(seen: Answers, shape: tuple[int, int]) -> Mask:
    """Say what is clump rather than bench or thing.

    Parameters
    ----------
    seen : Answers
        Of the whole photo.
    shape : (int, int)
        Wanted size; the whole photo in it.

    Returns
    -------
    (h, w) bool array
        Where the chance of any part of a clump is above one half.
    """
    other = sum(seen.parts[..., PARTS.index(name)] for name in OF_LOOK[0])
    return np.asarray(cv2.resize(np.asarray(other), shape[::-1]) < 0.5)


def chances_on(frame: Frame, seen: Answers) -> Plane:
    """Bring the network's parts to the look's, as `part_chances` would give them.

    Returns
    -------
    (h, w, 4) float32 array
        Chance of each of `eyefind.look.parts.PARTS`; 0 outside the clump.
    """
    planes = [
        np.sum([seen.parts[..., PARTS.index(name)] for name in names], axis=0)
        for names in OF_LOOK
    ]
    shape = frame.mask.shape
    here = seen.on(np.dstack(planes), frame.corner_rc, frame.step, shape)
    return np.where(frame.mask[..., None], here, 0)


def eyes_afar(seen: Answers, clump: Mask) -> Points:
    """Find the clump's likeliest eyes on the whole photo, to look at them from near.

    Parameters
    ----------
    seen : Answers
        Of the whole photo.
    clump : (H, W) bool array
        The clump.

    Returns
    -------
    (N, 2) array
        Places, px of the photo; at most `MOST_AFAR`.
    """
    peak = (seen.eye >= cv2.dilate(seen.eye, np.ones((5, 5)))) & (
        seen.eye >= LEAST_AFAR
    )
    at = np.argwhere(peak)
    strongest = np.argsort(-seen.eye[tuple(at.T)], kind="stable")
    photo_rc = seen.to_photo(at[strongest])
    row, col = np.clip(np.rint(photo_rc).astype(int), 0, np.array(clump.shape) - 1).T
    return photo_rc[clump[row, col]][:MOST_AFAR]


def share_inside(seen: Answers, outline_px: Points, name: str) -> float:
    """Say how much of an outlined thing is of one part.

    Parameters
    ----------
    seen : Answers
        Of the whole photo.
    outline_px : (N, 2) array
        The outline, px of the photo.
    name : str
        One of `eyefind.model.network.PARTS`.

    Returns
    -------
    float
        Its mean chance, 0 to 1; 0 for what is too small to be seen.
    """
    inside = filled(seen.to_answers(outline_px), seen.eye.shape)
    chosen = seen.parts[..., PARTS.index(name)][inside]
    return float(chosen.mean()) if len(chosen) else 0.0


def softer(anatomy: Anatomy, seen: Answers) -> Anatomy:
    """Keep only the tubers on which the network sees any soft tissue."""
    suspect = [
        tuber
        for tuber in anatomy.tubers
        if share_inside(seen, tuber.outline_px, "soft") >= LEAST_SOFT
    ]
    return replace(anatomy, tubers=suspect)


def neck_heat(seen: Answers, photo_rc: Points) -> NDArray[np.float64]:
    """Return the highest chance of a neck within 1.5 px of the answers of each place.

    Parameters
    ----------
    seen : Answers
        Of the whole photo.
    photo_rc : (N, 2) array
        Places, px of the photo.

    Returns
    -------
    (N,) float array
        0 to 1.
    """
    near = cv2.dilate(seen.neck, np.ones((3, 3), np.uint8))
    at = seen.to_answers(photo_rc)
    return np.asarray(map_coordinates(near, at.T, order=1, mode="nearest"), float)


def with_opinion(found: Candidates, seen: Answers) -> Candidates:
    """Add to candidates what the network says of them, as the measure ``network``.

    Parameters
    ----------
    found : Candidates
        Of any kind but eyes.
    seen : Answers
        Of the whole photo.

    Returns
    -------
    Candidates
        Of spent parents, soft patches and rat's tails the chance of such tissue inside
        the outline, of other kinds the chance of a neck at the place.
    """
    own = _OWN_PART.get(found.kind)
    if own is None:
        opinion = neck_heat(seen, found.place_rc)
    else:
        outlines = [outline for outline in found.outline_px if outline is not None]
        opinion = np.array([share_inside(seen, outline, own) for outline in outlines])
    return replace(found, measures={**found.measures, NETWORK: opinion})
