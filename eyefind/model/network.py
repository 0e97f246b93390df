"""Ask the network what each place of a picture is.

The weights lie beside this module as ``network.onnx.xz``, their hash and origin in
``network.json``; ``python -m eyefind.workshop learn`` and ``ship`` make both. OpenCV's
dnn runs them on the CPU. See docs/model-card.md.
"""

import lzma
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.resources import files

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Pixels, Points

Plane = NDArray[np.float32]
Bytes = NDArray[np.uint8]

PARTS = (
    "bench", "body", "neck", "crown", "stem", "spent_parent", "thin_root", "soft",
    "tool_or_card",
)  # fmt: skip
"""What a place can be, in the order of the network's answers."""
WEIGHTS = "network.onnx.xz"
STRIDE = 4
"""Picture px per px of the answers."""
DIVISOR = 32
"""Height and width that the network takes are multiples of it."""
OFFSET_MM = 30.0
"""Unit of the offsets to a tuber's middle."""
INPUTS = ("red", "green", "blue", "relief", "valid")
"""Channels of the input, 0 to 1; the last two are 0 where no relief is known."""
EYE, NECK, SIZE, OFFSET = 0, 1, 2, slice(3, 5)
"""Channels of the answers; the parts follow."""


class ModelError(Exception):
    """The weights are missing or not those that were shipped."""


class Facts(msgspec.Struct, frozen=True):
    """What is known of the weights.

    Attributes
    ----------
    sha256 : str
        Hash of ``network.onnx.xz``.
    made_from : str
        What it was trained on, and how.
    """

    sha256: str
    made_from: str


@dataclass(frozen=True, eq=False)
class Answers:
    """What the network says of a cut-out of a photo, at a quarter of its size.

    Attributes
    ----------
    corner_rc : (2,) array
        Corner of the cut-out in the full photo, px.
    step : float
        Px of the answers in one px of the photo.
    eye, neck : (h, w) float32 array
        Chance that the middle of one lies here; highest at the middle.
    eye_size : (h, w) float32 array
        Diameter of an eye that lies here, px of the photo.
    offset_mm : (h, w, 2) float32 array
        Way to the middle of the tuber that lies here, down and right.
    parts : (h, w, 9) float32 array
        Chance of each of `PARTS`; sums to 1.
    """

    corner_rc: Points
    step: float
    eye: Plane
    neck: Plane
    eye_size: Plane
    offset_mm: Plane
    parts: Plane

    def to_photo(self, rc: Points) -> Points:
        """Turn (N, 2) px of the answers into px of the full photo."""
        return (np.asarray(rc, float) + 0.5) / self.step - 0.5 + self.corner_rc

    def to_answers(self, photo_rc: Points) -> Points:
        """Turn (N, 2) px of the full photo into px of the answers."""
        return np.asarray((photo_rc - self.corner_rc + 0.5) * self.step - 0.5, float)

    def on(
        self, plane: Plane, corner_rc: Points, step: float, shape: tuple[int, int]
    ) -> Plane:
        """Sample a plane of the answers on the grid of another cut-out.

        Parameters
        ----------
        plane : (h, w) or (h, w, n) float32 array
            One of the answers.
        corner_rc : (2,) array
            Corner of the other cut-out, px of the photo.
        step : float
            Its px in one px of the photo.
        shape : (int, int)
            Its size.

        Returns
        -------
        (H, W) or (H, W, n) float32 array
            Beyond the answers' edge their last value.
        """
        ratio = self.step / step
        row, col = (
            0.5 * ratio + (corner_rc - self.corner_rc) * self.step - 0.5
        ).tolist()
        sampled = cv2.warpAffine(
            np.ascontiguousarray(plane),
            np.array([[ratio, 0, col], [0, ratio, row]]),
            shape[::-1],
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(sampled, np.float32)


def ask(
    rgb: Pixels, corner_rc: Points, step: float, relief: Bytes | None = None
) -> Answers:
    """Ask the network about a cut-out of a photo.

    Parameters
    ----------
    rgb : (h, w, 3) uint8 array
        The cut-out, resized; best at 2.5 to 9.5 px per mm.
    corner_rc : (2,) array
        Its corner in the full photo, px.
    step : float
        Its px in one px of the photo.
    relief : (h, w) uint8 array, optional
        What `eyefind.relief.in_bytes` says of the cut-out.

    Returns
    -------
    Answers
        At a quarter of the cut-out's size.

    Raises
    ------
    ModelError
        If the weights are missing or damaged.
    """
    height, width = rgb.shape[:2]
    below, right = -height % DIVISOR, -width % DIVISOR
    if relief is None:
        relief = np.zeros((height, width), np.uint8)
    whole = np.dstack([rgb, relief, np.where(relief > 0, np.uint8(255), np.uint8(0))])
    padded = np.pad(whole, ((0, below), (0, right), (0, 0)), mode="edge")
    net = _network()
    blob = padded.transpose(2, 0, 1)[None].astype(np.float32) / np.float32(255)
    net.setInput(np.ascontiguousarray(blob))
    rows, cols = -(-height // STRIDE), -(-width // STRIDE)
    out = np.asarray(net.forward()[0, :, :rows, :cols], np.float32)
    logits = out[OFFSET.stop :]
    parts = np.exp(logits - logits.max(axis=0))
    return Answers(
        corner_rc,
        step / STRIDE,
        _chance(out[EYE]),
        _chance(out[NECK]),
        np.exp2(np.clip(out[SIZE], 0, 8)) / np.float32(step),
        np.ascontiguousarray(out[OFFSET].transpose(1, 2, 0)) * np.float32(OFFSET_MM),
        np.ascontiguousarray((parts / parts.sum(axis=0)).transpose(1, 2, 0)),
    )


@cache
def facts() -> Facts:
    """Read what is known of the shipped weights; raises ModelError if it is missing."""
    try:
        text = files("eyefind.model").joinpath("network.json").read_bytes()
        return msgspec.json.decode(text, type=Facts)
    except (OSError, msgspec.DecodeError) as error:
        raise ModelError("network.json is missing or damaged") from error


@cache
def _network() -> cv2.dnn.Net:
    try:
        packed = files("eyefind.model").joinpath(WEIGHTS).read_bytes()
    except OSError as error:
        raise ModelError(f"{WEIGHTS} is missing") from error
    if sha256(packed).hexdigest() != facts().sha256:
        raise ModelError(f"{WEIGHTS} is not the file that was shipped")
    weights = np.frombuffer(lzma.decompress(packed), np.uint8)
    return cv2.dnn.readNetFromONNX(weights)


def _chance(logit: Plane) -> Plane:
    return np.asarray(1 / (1 + np.exp(-logit)), np.float32)
