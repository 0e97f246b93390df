"""Rendered pictures with their truth as tensors, ready to be cropped from."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import msgspec
import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from eyefind.workshop.truth import PARTS, Truth

TUBER_PARTS = tuple(PARTS.index(name) for name in ("body", "neck", "spent_parent"))
"""Parts that say where a tuber lies; its soft patches and thin end follow it."""
WITH_TUBER = (*TUBER_PARTS, PARTS.index("soft"))
"""Parts whose pixels point at their tuber's middle."""
MOST_INSTANCES = 60
"""Tubers are numbered below this; free rat's tails above."""


@dataclass(frozen=True)
class Picture:
    """One picture: pixels on the training device, places on the CPU.

    Attributes
    ----------
    rgb : (3, H, W) uint8 tensor
        Pixels.
    label : (1, H, W) int16 tensor
        ``100 * part + instance``.
    middles_rc : (MOST_INSTANCES, 2) float tensor
        Middle of each tuber's visible pixels, by instance; px.
    eyes : (N, 3) float tensor
        Row, column, diameter; px.
    necks : (N, 2) float tensor
        Row, column of the necks in view; px.
    px_per_mm : float
        Scale.
    """

    rgb: Tensor
    label: Tensor
    middles_rc: Tensor
    eyes: Tensor
    necks: Tensor
    px_per_mm: float


def read_pictures(folder: Path, device: str) -> list[Picture]:
    """Read all pictures of a rendered set.

    Parameters
    ----------
    folder : Path
        With ``NAME.jpg``, ``NAME.truth.json`` and ``NAME.truth.png``.
    device : str
        Where the tensors go.

    Returns
    -------
    list of Picture
        By name.
    """
    paths = sorted(folder.glob("*.truth.json"))
    with ThreadPoolExecutor() as threads:
        return list(threads.map(lambda path: _read(path, device), paths))


def _read(path: Path, device: str) -> Picture:
    truth = msgspec.json.decode(path.read_bytes(), type=Truth)
    bgr = cv2.imread(str(path.parent / truth.file), cv2.IMREAD_COLOR)
    label = cv2.imread(str(path.with_suffix(".png")), cv2.IMREAD_UNCHANGED)
    if bgr is None or label is None:
        raise FileNotFoundError(f"{path.parent / truth.file} or its label image")
    size = (truth.width_px, truth.height_px)
    large = cv2.resize(label, size, interpolation=cv2.INTER_NEAREST)
    numbers: NDArray[np.int16] = large.astype(np.int16)
    eyes = [
        (eye.row_px, eye.col_px, eye.size_mm * truth.px_per_mm) for eye in truth.eyes
    ]
    necks = [tuber.neck_rc_px for tuber in truth.tubers if tuber.neck_visible]
    return Picture(
        torch.from_numpy(bgr[..., ::-1].transpose(2, 0, 1).copy()).to(device),
        torch.from_numpy(numbers)[None].to(device),
        torch.from_numpy(_middles(numbers)),
        torch.tensor(eyes, dtype=torch.float32).reshape(-1, 3),
        torch.tensor(necks, dtype=torch.float32).reshape(-1, 2),
        truth.px_per_mm,
    )


def _middles(label: NDArray[np.integer[Any]]) -> NDArray[np.float32]:
    """Middle of each tuber's pixels (MOST_INSTANCES, 2), px; zero for those unseen."""
    part, number = np.divmod(label, 100)
    row, col = np.nonzero(np.isin(part, WITH_TUBER) & (number < MOST_INSTANCES))
    number = number[row, col]
    pixels = np.bincount(number, minlength=MOST_INSTANCES).clip(1)
    sums = [np.bincount(number, at, MOST_INSTANCES) for at in (row, col)]
    return np.asarray(np.stack(sums, axis=1) / pixels[:, None], np.float32)
