"""Read the anatomy of a clump: crown, stems, tubers and how they hang together."""

import numpy as np

from eyefind.data import Anatomy, Mask, Pixels, Points, Scale, Stem, Tuber
from eyefind.look.axis import Axis, neck_index, solid_volume_ml, trace
from eyefind.look.frame import Frame, cut_out
from eyefind.look.limbs import Limb, find_limbs
from eyefind.look.outline import outline_of
from eyefind.look.seen import neck_heat
from eyefind.look.stems import find_stems, seen_stems
from eyefind.model import Answers
from eyefind.rules import Rules

OUTLINE_DOUBT_MM = 0.3
"""Standard deviation of one edge of an outline."""
NECK_SHARE, LEAST_NECK = 0.6, 0.15
"""The network's neck counts within this share of the axis, from this chance on."""
ROUNDNESS_SD = 0.15
"""How far a tuber's depth differs from its width (from memory)."""


def read_anatomy(
    rgb: Pixels, clump: Mask, scale: Scale, rules: Rules, seen: Answers | None = None
) -> Anatomy:
    """Read the anatomy of a clump.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    clump : (H, W) bool array
        Its clump; not empty.
    scale : Scale
        Scale.
    rules : Rules
        Rules of the trade.
    seen : Answers, optional
        What the network says of the whole photo.

    Returns
    -------
    Anatomy
        In px of the full photo. When no crown can be made out its outline is empty
        and the tubers are attached to ``"none"``.
    """
    frame = cut_out(rgb, clump, scale)
    crown, limbs = find_limbs(frame, seen)
    axes = [_axis(limb, limbs, crown, frame.px_per_mm) for limb in limbs]
    is_stem = find_stems(frame, limbs, axes) if seen is None else seen_stems(limbs)
    names = _names(limbs, is_stem, _middle(crown if crown.any() else frame.mask))
    hub = "crown" if crown.any() else "none"
    stems, tubers = [], []
    for name, limb, axis, stem in zip(names, limbs, axes, is_stem, strict=True):
        if stem:
            stems.append(measure_stem(name, frame, limb, axis))
        else:
            on = hub if limb.parent is None else names[limb.parent]
            neck = _neck(frame, axis, seen)
            tubers.append(measure_tuber(name, frame, limb, axis, neck, on, scale))
    return Anatomy(
        frame.to_photo(outline_of(frame.mask)),
        frame.to_photo(outline_of(crown)),
        sorted(stems, key=lambda stem: int(stem.id[1:])),
        sorted(tubers, key=lambda tuber: int(tuber.id[1:])),
    )


def _axis(limb: Limb, limbs: list[Limb], crown: Mask, px_per_mm: float) -> Axis:
    host = crown if limb.parent is None else limbs[limb.parent].mask
    return trace(limb.mask, host, limb.base_rc, px_per_mm)


def _middle(mask: Mask) -> Points:
    return np.asarray(np.argwhere(mask).mean(axis=0), float)


def _names(limbs: list[Limb], is_stem: list[bool], middle: Points) -> list[str]:
    """Give stems and tubers their ids, clockwise around the crown from the top."""
    off = np.reshape([_middle(limb.mask) - middle for limb in limbs], (-1, 2))
    clockwise = np.arctan2(off[:, 1], -off[:, 0]) % (2 * np.pi)
    names = [""] * len(limbs)
    for letter, kind in (("S", True), ("T", False)):
        own = [n for n in np.argsort(clockwise, kind="stable") if is_stem[n] is kind]
        for number, limb in enumerate(own):
            names[limb] = f"{letter}{number + 1}"
    return names


def measure_stem(name: str, frame: Frame, limb: Limb, axis: Axis) -> Stem:
    """Measure a stem on its mask and axis in the working frame."""
    ends = axis.points_rc[[0, -1]]
    return Stem(
        name,
        frame.to_photo(outline_of(limb.mask)),
        frame.to_photo(ends),
        float(np.median(axis.width_mm)),
    )


def _neck(frame: Frame, axis: Axis, seen: Answers | None) -> int:
    """Find the neck's place on the axis: where the network sees it, else by width."""
    if seen is not None:
        heat = neck_heat(seen, frame.to_photo(axis.points_rc))
        heat = heat[: max(1, round(NECK_SHARE * len(heat)))]
        if heat.max() >= LEAST_NECK:
            return int(np.argmax(heat))
    return neck_index(axis.width_mm)


def measure_tuber(
    name: str,
    frame: Frame,
    limb: Limb,
    axis: Axis,
    neck: int,
    on: str,
    scale: Scale,
) -> Tuber:
    """Measure a tuber on its mask and axis in the working frame.

    `neck` is the index of its neck on the axis, `on` what it is attached to.
    """
    body = axis.width_mm[neck:]
    volume = solid_volume_ml(body, axis.step_mm)
    # Volume goes with width squared times length: an edge's doubt counts twice in
    # the width (two edges), the scale's doubt three times.
    edge = 2 * 2**0.5 * OUTLINE_DOUBT_MM / max(float(np.median(body)), 1.0)
    doubt = np.sqrt((3 * scale.relative_sd) ** 2 + edge**2 + ROUNDNESS_SD**2)
    return Tuber(
        name,
        frame.to_photo(outline_of(limb.mask)),
        frame.to_photo(axis.points_rc),
        axis.width_mm,
        frame.to_photo(axis.points_rc[neck : neck + 1])[0],
        float(axis.width_mm[neck]),
        float(axis.step_mm * (len(body) - 1)),
        float(body.max()),
        volume,
        float(doubt),
        on,
    )
