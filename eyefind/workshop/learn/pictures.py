"""Rendered pictures with their truth in memory, to be cropped from."""

from collections.abc import Sequence
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

from eyefind.model.network import PARTS
from eyefind.workshop.truth import Truth

WITH_TUBER = tuple(
    PARTS.index(name) for name in ("body", "neck", "spent_parent", "soft")
)
"""Parts whose pixels point at their tuber's middle."""
MOST_INSTANCES = 60
"""Tubers are numbered below this; free rat's tails above."""


@dataclass(frozen=True)
class Pictures:
    """N pictures: pixels on the training device, places on the CPU.

    Attributes
    ----------
    rgb : list of (3, H, W) uint8 tensors
        Pixels; each picture has its own size.
    relief : list of (1, H, W) uint8 tensors
        As `eyefind.relief.in_bytes` gives it; 0 where there is none.
    label : list of (1, H, W) int16 tensors
        ``100 * part + instance``.
    size_px : (N, 2) float tensor
        Height and width.
    middles_rc : (N, MOST_INSTANCES, 2) float tensor
        Middle of each tuber's visible pixels, by instance; px.
    eyes : (N, E, 3) float tensor
        Row, column, diameter; px; nan where there is no further one.
    necks : (N, K, 2) float tensor
        Row, column of the necks in view; px; nan likewise.
    px_per_mm : (N,) float tensor
        Scale.
    """

    rgb: list[Tensor]
    relief: list[Tensor]
    label: list[Tensor]
    size_px: Tensor
    middles_rc: Tensor
    eyes: Tensor
    necks: Tensor
    px_per_mm: Tensor

    def __len__(self) -> int:
        """Count the pictures."""
        return len(self.rgb)


@dataclass(frozen=True)
class _Read:
    truth: Truth
    rgb: NDArray[np.uint8]
    relief: NDArray[np.uint8]
    label: NDArray[np.int16]
    middles_rc: NDArray[np.float32]


def read_pictures(folders: Sequence[Path], device: str) -> Pictures:
    """Read all pictures of rendered sets.

    Parameters
    ----------
    folders : sequence of Path
        With ``NAME.jpg``, ``NAME.truth.json`` and ``NAME.truth.png``.
    device : str
        Where the pixels go.

    Returns
    -------
    Pictures
        By folder and name.

    Raises
    ------
    FileNotFoundError
        If a picture or its label image is missing, or there is none at all.
    """
    paths = [p for folder in folders for p in sorted(folder.glob("*.truth.json"))]
    if not paths:
        raise FileNotFoundError(
            f"No rendered pictures in {', '.join(map(str, folders))}"
        )
    with ThreadPoolExecutor() as threads:
        read = list(threads.map(_read, paths))
    truths = [one.truth for one in read]
    return Pictures(
        [torch.from_numpy(one.rgb).to(device) for one in read],
        [torch.from_numpy(one.relief).to(device) for one in read],
        [torch.from_numpy(one.label).to(device) for one in read],
        torch.tensor([[t.height_px, t.width_px] for t in truths], dtype=torch.float32),
        torch.from_numpy(np.stack([one.middles_rc for one in read])),
        _padded([_eyes(truth) for truth in truths], 3),
        _padded([_necks(truth) for truth in truths], 2),
        torch.tensor([truth.px_per_mm for truth in truths]),
    )


def _eyes(truth: Truth) -> list[tuple[float, ...]]:
    scale = truth.px_per_mm
    return [(eye.row_px, eye.col_px, eye.size_mm * scale) for eye in truth.eyes]


def _necks(truth: Truth) -> list[tuple[float, ...]]:
    return [tuple(t.neck_rc_px) for t in truth.tubers if t.neck_visible]


def _padded(rows: list[list[tuple[float, ...]]], columns: int) -> Tensor:
    """Stack lists of unlike lengths, filled with nan."""
    out = torch.full((len(rows), max(map(len, rows)), columns), torch.nan)
    for index, some in enumerate(rows):
        if some:
            out[index, : len(some)] = torch.tensor(some)
    return out


def _read(path: Path) -> _Read:
    truth = msgspec.json.decode(path.read_bytes(), type=Truth)
    bgr = cv2.imread(str(path.parent / truth.file), cv2.IMREAD_COLOR)
    label = cv2.imread(str(path.with_suffix(".png")), cv2.IMREAD_UNCHANGED)
    if bgr is None or label is None:
        raise FileNotFoundError(f"{path.parent / truth.file} or its label image")
    size = (truth.width_px, truth.height_px)
    large = cv2.resize(label, size, interpolation=cv2.INTER_NEAREST)
    numbers: NDArray[np.int16] = large.astype(np.int16)
    rgb = np.ascontiguousarray(bgr[..., ::-1].transpose(2, 0, 1), np.uint8)
    relief = np.zeros((1, *large.shape), np.uint8)
    if relief_file(path).exists():
        relief[0] = cv2.imread(str(relief_file(path)), cv2.IMREAD_GRAYSCALE)
    return _Read(truth, rgb, relief, numbers[None], _middles(numbers))


def relief_file(truth: Path) -> Path:
    """Name the relief beside ``NAME.truth.json``: ``NAME.relief.png``."""
    return truth.with_name(truth.name.replace(".truth.json", ".relief.png"))


def _middles(label: NDArray[np.integer[Any]]) -> NDArray[np.float32]:
    """Middle of each tuber's pixels (MOST_INSTANCES, 2), px; zero for those unseen."""
    part, number = np.divmod(label, 100)
    row, col = np.nonzero(np.isin(part, WITH_TUBER) & (number < MOST_INSTANCES))
    number = number[row, col]
    pixels = np.bincount(number, minlength=MOST_INSTANCES).clip(1)
    sums = [np.bincount(number, at, MOST_INSTANCES) for at in (row, col)]
    return np.asarray(np.stack(sums, axis=1) / pixels[:, None], np.float32)
