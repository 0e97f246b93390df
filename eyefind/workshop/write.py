"""Writes pictures with their truth."""

import io
from dataclasses import replace
from pathlib import Path

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from eyefind.workshop.extract import labels_of, truth_of
from eyefind.workshop.scene import Picture, Setting, render


def write_clump(
    folder: Path,
    name: str,
    seed: int,
    width_px: int,
    device: str = "cpu",
    oversample: float = 1.5,
    setting: Setting | None = None,
) -> Picture:
    """Render a clump and write NAME.jpg, NAME.truth.json and NAME.truth.png.

    Parameters
    ----------
    folder : Path
        Where the files go; made if missing.
    name : str
        Name of the picture without its ending.
    seed, width_px, device, oversample, setting
        As `render` takes them.

    Returns
    -------
    Picture
        What was rendered.
    """
    setting = setting or Setting()
    picture = render(seed, width_px, device, oversample, setting)
    folder.mkdir(parents=True, exist_ok=True)
    data, pixels = as_jpeg(picture.rgb, picture.phone.quality)
    (folder / f"{name}.jpg").write_bytes(data)
    labels = labels_of(picture)
    truth = truth_of(
        replace(picture, rgb=pixels),
        labels,
        f"{name}.jpg",
        seed,
        list(setting.spoilt),
    )
    (folder / f"{name}.truth.json").write_bytes(msgspec.json.encode(truth))
    cv2.imwrite(str(folder / f"{name}.truth.png"), labels)
    return picture


def as_jpeg(rgb: NDArray[np.uint8], quality: int) -> tuple[bytes, NDArray[np.uint8]]:
    """Encode as JPEG; return the bytes and the pixels that they hold."""
    file = io.BytesIO()
    Image.fromarray(rgb).save(file, "JPEG", quality=quality, dpi=(72, 72))
    file.seek(0)
    return file.getvalue(), np.asarray(Image.open(file).convert("RGB"))
