"""A lamp set laid together: which frames are good, and what is wrong with others."""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from eyefind.data import FrameFacts, Mask, Photo, PhotoFacts, Pixels, Remark
from eyefind.errors import PhotoError
from eyefind.photo.card import Card, find_card
from eyefind.photo.checks import measure_blur
from eyefind.photo.matching import matching_gains
from eyefind.photo.reading import read_photo
from eyefind.photo.register import (
    Registered,
    corners_of,
    from_corners,
    register,
    warp,
)
from eyefind.photo.shading import shading_change
from eyefind.rules import Rules

BLURRIER = 1.5
"""A frame this much more blurred than the main one spoils more than it tells."""
THREADS = 2
THIN_PX = 8
"""The exposure is compared on one pixel in so many, down and across."""
LEAST_LIKENESS = 0.4
"""Correlation of the clump's edges below which it is another view."""

ADVICE = {
    "set_unread": "Copy the frame from the phone or camera again.",
    "set_size": "Take all frames of a set upright alike and in one size.",
    "set_view": "Name only frames of one clump, taken without moving it.",
    "set_moved": "Fix the phone on a stand, touch neither clump nor bench between the "
    "frames, and use the self-timer.",
    "set_blur": "Rest the phone on a stand and use the self-timer; dim light needs a "
    "longer rest.",
    "set_lamp": "Carry the lamp to another side of the clump between the frames: "
    "opposite sides for two, four sides for four.",
    "set_exposure": "Hold the finger on the crown until the exposure locks, before the "
    "first frame.",
}
"""Every code that a set is remarked on with, and what to do about it."""
GOES_ON = "set_exposure"
"""The one fault that leaves a frame in."""


@dataclass(frozen=True, eq=False)
class LampSet:
    """The frames of a set, laid on the main one.

    Attributes
    ----------
    frames : list of (H, W, 3) uint8 arrays
        The good ones, the main frame first; fewer than two make no relief.
    facts : list of FrameFacts
        What the record keeps of every further frame, good or not.
    remarks : list of Remark
        What was wrong, in words; each code of `ADVICE` at most once.
    """

    frames: list[Pixels]
    facts: list[FrameFacts]
    remarks: list[Remark]


@dataclass(frozen=True, eq=False)
class _Main:
    """All that a further frame is held against."""

    photo: Photo
    card: Card | None
    clump: Mask
    px_per_mm: float
    blur_mm: float
    rules: Rules


@dataclass(frozen=True, eq=False)
class _Laid:
    """A further frame laid on the main one; without a fit when sizes differ."""

    rgb: Pixels
    facts: FrameFacts
    fit: Registered | None
    blur_mm: float = 0.0


def lay_together(
    photo: Photo,
    others: Sequence[Path],
    clump: Mask,
    card: Card | None,
    px_per_mm: float,
    rules: Rules,
) -> LampSet:
    """Lay the frames of a lamp set on the main one and leave out those that spoil it.

    Parameters
    ----------
    photo : Photo
        The main frame.
    others : sequence of Path
        The further ones.
    clump : (H, W) bool array
        Mask of the clump in the main frame.
    card : Card or None
        The bench card in the main frame.
    px_per_mm : float
        Scale of the main frame.
    rules : Rules
        ``lamp_set_misfit_px``, ``lamp_set_change``, ``lamp_set_exposure`` and
        ``blur_warn_mm`` are used.

    Returns
    -------
    LampSet
        With the main frame alone when no other is good.
    """
    blur_mm, _ = measure_blur(photo.rgb, card, clump, px_per_mm)
    main = _Main(photo, card, clump, px_per_mm, blur_mm, rules)
    frames, facts = [photo.rgb], []
    said: dict[str, list[str]] = {}
    # Most of the work is OpenCV's and Pillow's, which threads do at the same time.
    with ThreadPoolExecutor(THREADS) as pool:
        tried = list(pool.map(lambda path: _lay(main, path), others))
    for laid in tried:
        if isinstance(laid, PhotoError):
            said.setdefault("set_unread", []).append(laid.what)
            continue
        code, words = _trouble(main, laid, frames)
        good = code in ("", GOES_ON)
        if good:
            frames.append(laid.rgb)
        if code:
            left = "" if good else " It was left out."
            said.setdefault(code, []).append(f"{words}{left}")
        facts.append(replace(laid.facts, left_out="" if good else code))
    remarks = [
        Remark(code, " ".join(said[code]), advice)
        for code, advice in ADVICE.items()
        if code in said
    ]
    return LampSet(frames, facts, remarks)


def frames_again(
    photo: Photo, facts: Sequence[FrameFacts], folder: Path
) -> list[Pixels]:
    """Return the good frames of a set again, laid together as the record says.

    Parameters
    ----------
    photo : Photo
        The main frame.
    facts : sequence of FrameFacts
        The record's further frames.
    folder : Path
        Where they lie.

    Returns
    -------
    list of (H, W, 3) uint8 arrays
        The main frame first. Frames that are gone or have changed are passed over.
    """
    frames = [photo.rgb]
    for fact in facts:
        if fact.left_out:
            continue
        try:
            other = read_photo(folder / fact.photo.file)
        except PhotoError:
            continue
        if other.sha256 == fact.photo.sha256:
            to_main = from_corners(fact.corners_px, photo.rgb.shape)
            frames.append(warp(other.rgb, to_main))
    return frames


def _lay(main: _Main, path: Path) -> _Laid | PhotoError:
    """Read a frame and lay it on the main one, or say why it cannot be read."""
    try:
        other = read_photo(path)
    except PhotoError as error:
        return error
    rgb = other.rgb
    height, width = rgb.shape[:2]
    facts = PhotoFacts(other.file, other.sha256, height, width, other.taken_at)
    if rgb.shape != main.photo.rgb.shape:
        return _Laid(rgb, FrameFacts(facts, corners_of(np.eye(3), rgb.shape)), None)
    card = find_card(rgb)
    fit = register(main.photo.rgb, rgb, main.clump, (main.card, card))
    blur_mm, _ = measure_blur(rgb, card, main.clump, main.px_per_mm)
    placed = FrameFacts(facts, corners_of(fit.to_main, rgb.shape))
    return _Laid(warp(rgb, fit.to_main), placed, fit, blur_mm)


def _trouble(main: _Main, laid: _Laid, frames: Sequence[Pixels]) -> tuple[str, str]:
    """Return the code of `ADVICE` for what is wrong with a frame, and the words."""
    name, first, fit = laid.facts.photo.file, main.photo.file, laid.fit
    value = main.rules.value
    if fit is None:
        return "set_size", f"{name} is not of the size of {first}."
    if laid.blur_mm > max(value("blur_warn_mm"), BLURRIER * main.blur_mm):
        return "set_blur", f"{name} is blurred by {laid.blur_mm:.1f} mm."
    if fit.likeness < LEAST_LIKENESS:
        return (
            "set_view",
            f"{name} does not show the clump as {first} does.",
        )
    if fit.residual_px > value("lamp_set_misfit_px"):
        return "set_moved", (
            f"Clump or phone moved between {first} and {name}: "
            f"{fit.residual_px:.0f} pixels could not be put right."
        )
    changes = [shading_change(frame, laid.rgb, main.clump) for frame in frames]
    if min(changes) < value("lamp_set_change"):
        return "set_lamp", f"The lamp stands in {name} where it stood before."
    # On the whole picture: most of it is flat bench, which no lamp leaves in shade.
    thin = [one[::THIN_PX, ::THIN_PX] for one in (main.photo.rgb, laid.rgb)]
    gain = float(matching_gains(thin, np.ones(thin[0].shape[:2], bool))[1].mean())
    if max(gain, 1 / gain) > value("lamp_set_exposure"):
        how = "darker" if gain > 1 else "brighter"
        return GOES_ON, (
            f"{name} is {max(gain, 1 / gain):.1f} times {how} than {first}; that was "
            "evened out as far as it goes."
        )
    return "", ""
