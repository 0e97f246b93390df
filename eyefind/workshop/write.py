"""Writes pictures with their truth."""

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from eyefind.workshop.extract import labels_of, truth_of
from eyefind.workshop.scene import Picture, Setting, render
from eyefind.workshop.truth import TrueFrame, frame_file
from eyefind.workshop.twins import Frame

EXIF_IFD = 0x8769
ORIENTATION, DATE_TIME, DATE_TIME_ORIGINAL = 0x0112, 0x0132, 0x9003
"""Tags of the EXIF 2.3 standard."""
STORED_AS: dict[int, Image.Transpose | None] = {
    1: None,
    3: Image.Transpose.ROTATE_180,
    6: Image.Transpose.ROTATE_90,
    8: Image.Transpose.ROTATE_270,
}
"""How pixels are stored so that this EXIF orientation shows them upright."""


@dataclass(frozen=True)
class Taken:
    """What the file says of how it was taken.

    Attributes
    ----------
    at : str
        Local time, ``"YYYY:MM:DD HH:MM:SS"``; empty for none.
    orientation : int
        EXIF orientation: 1, 3, 6 or 8.
    quality : int or None
        JPEG quality; None takes the drawn phone's.
    label_width_px : int or None
        Width of the label image; None takes the picture's.
    """

    at: str = ""
    orientation: int = 1
    quality: int | None = None
    label_width_px: int | None = None


def write_clump(
    folder: Path,
    name: str,
    seed: int,
    width_px: int,
    device: str = "cpu",
    oversample: float = 1.5,
    setting: Setting | None = None,
    taken: Taken | None = None,
) -> Picture:
    """Render a clump and write NAME.jpg, NAME.truth.json and NAME.truth.png.

    The further frames of a set go to NAME-lamp2.jpg and so on.

    Parameters
    ----------
    folder : Path
        Where the files go; made if missing.
    name : str
        Name of the picture without its ending.
    seed, width_px, device, oversample, setting
        As `render` takes them.
    taken : Taken, optional
        What the file says of how it was taken.

    Returns
    -------
    Picture
        What was rendered.
    """
    setting, taken = setting or Setting(), taken or Taken()
    picture = render(seed, width_px, device, oversample, setting)
    folder.mkdir(parents=True, exist_ok=True)
    quality = taken.quality or picture.phone.quality
    data, pixels = as_jpeg(picture.rgb, quality, taken)
    (folder / f"{name}.jpg").write_bytes(data)
    labels = labels_of(picture)
    shown = replace(picture, rgb=pixels)
    truth = truth_of(shown, labels, f"{name}.jpg", seed, list(setting.spoilt))
    for number, frame in enumerate(picture.frames[1:], start=2):
        data, _ = as_jpeg(frame.rgb, quality, taken)
        (folder / frame_file(name, number)).write_bytes(data)
    truth = replace(truth, frames=true_frames(name, picture.frames))
    if taken.label_width_px is not None:
        labels = _smaller(labels, taken.label_width_px)
        truth = replace(truth, label_shape=(labels.shape[0], labels.shape[1]))
    (folder / f"{name}.truth.json").write_bytes(msgspec.json.encode(truth))
    cv2.imwrite(
        str(folder / f"{name}.truth.png"), labels, [cv2.IMWRITE_PNG_COMPRESSION, 9]
    )
    return picture


def true_frames(name: str, frames: Sequence[Frame]) -> list[TrueFrame]:
    """Tell the truth of a set's frames, the main one first."""
    return [
        TrueFrame(frame_file(name, number), frame.toward, frame.motion_px)
        for number, frame in enumerate(frames, start=1)
    ]


def as_jpeg(
    rgb: NDArray[np.uint8], quality: int, taken: Taken
) -> tuple[bytes, NDArray[np.uint8]]:
    """Encode as JPEG.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        Upright pixels.
    quality : int
        JPEG quality.
    taken : Taken
        Time and orientation for the EXIF block.

    Returns
    -------
    data : bytes
        The file.
    pixels : (H, W, 3) uint8 array
        The upright pixels that it holds.
    """
    exif = Image.Exif()
    exif[ORIENTATION] = taken.orientation
    if taken.at:
        exif[DATE_TIME] = taken.at
        exif.get_ifd(EXIF_IFD)[DATE_TIME_ORIGINAL] = taken.at
    image = Image.fromarray(rgb)
    turn = STORED_AS[taken.orientation]
    stored = image if turn is None else image.transpose(turn)
    file = io.BytesIO()
    stored.save(file, "JPEG", quality=quality, exif=exif)
    upright = ImageOps.exif_transpose(Image.open(file)).convert("RGB")
    return file.getvalue(), np.asarray(upright)


def _smaller(labels: NDArray[np.uint16], width_px: int) -> NDArray[np.uint16]:
    height_px = round(labels.shape[0] * width_px / labels.shape[1])
    small = cv2.resize(labels, (width_px, height_px), interpolation=cv2.INTER_NEAREST)
    return np.asarray(small, np.uint16)
