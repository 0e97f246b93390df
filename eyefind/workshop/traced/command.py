"""Writes traced clumps with their truth."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import cv2
import mitsuba as mi
import msgspec

from eyefind.workshop.truth import TrueFrame, Truth, frame_file

if TYPE_CHECKING:
    from eyefind.workshop.traced.scene import Shot
    from eyefind.workshop.traced.truth import Labels

VARIANTS = ("llvm_ad_rgb", "cuda_ad_rgb")
"""Mitsuba's variants that trace many rays at once."""


def use_variant(variant: str) -> None:
    """Choose Mitsuba's variant; those that trace one ray at a time are too slow."""
    if variant not in VARIANTS:
        raise ValueError(f"The variant must be one of {', '.join(VARIANTS)}.")
    mi.set_variant(variant)


def write_traced(
    folder: Path,
    name: str,
    seed: int,
    width_px: int,
    samples: int,
    variant: str,
    lamps: int = 1,
    views: int = 1,
    close: bool = False,
) -> None:
    """Render a clump and write NAME.jpg, NAME.truth.json and NAME.truth.png.

    The further frames of a set go to NAME-lamp2.jpg and so on, further views to
    NAME-view2.jpg and so on, each with its own truth.

    Parameters
    ----------
    folder : Path
        Where the files go; made if missing.
    name : str
        Name of the picture without its ending.
    seed, width_px, samples, lamps, views, close
        As `take` takes them.
    variant : str
        Mitsuba's variant, one of `VARIANTS`.
    """
    use_variant(variant)
    # Mitsuba's types are those of the variant, which must be chosen before.
    from eyefind.workshop.traced.scene import take
    from eyefind.workshop.traced.truth import labels_of, truth_of

    folder.mkdir(parents=True, exist_ok=True)
    shots = take(seed, width_px, samples, lamps, views, close)
    for view, shot in enumerate(shots, start=1):
        own = name if view == 1 else f"{name}-view{view}"
        labels = labels_of(shot)
        _write(folder, own, shot, labels, truth_of(shot, labels, f"{own}.jpg", seed))


def _write(
    folder: Path, name: str, shot: "Shot", labels: "Labels", truth: Truth
) -> None:
    frames = [
        TrueFrame(frame_file(name, number), twin.toward, twin.motion_px)
        for number, twin in enumerate(shot.twins, start=1)
    ]
    truth = replace(truth, frames=frames)
    for frame, twin in zip(frames[1:], shot.twins[1:], strict=True):
        (folder / frame.file).write_bytes(twin.data)
    label_file = str(folder / f"{name}.truth.png")
    cv2.imwrite(label_file, labels, [cv2.IMWRITE_PNG_COMPRESSION, 9])
    (folder / f"{name}.jpg").write_bytes(shot.data)
    (folder / f"{name}.truth.json").write_bytes(msgspec.json.encode(truth))
