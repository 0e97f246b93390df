"""Handwriting on labels and on skins."""

import cv2
import numpy as np
import torch
from numpy.typing import NDArray

from eyefind.model.network import PARTS
from eyefind.workshop.anatomy import Clump, Vector
from eyefind.workshop.coat import Coat
from eyefind.workshop.field import Camera, Field

WORDS = ("amber", "harrow", "moth", "ninefold", "pink", "row seven", "bed two", "no 4")
INKS = ((0.10, 0.10, 0.12), (0.30, 0.18, 0.42), (0.12, 0.18, 0.45), (0.55, 0.12, 0.12))
SHARE_WRITTEN = 0.2
"""Share of clumps with a tuber that was written on, as some growers do."""
_FONTS = (
    cv2.FONT_HERSHEY_SCRIPT_SIMPLEX,
    cv2.FONT_HERSHEY_SIMPLEX,
    cv2.FONT_HERSHEY_PLAIN,
)


def written(
    rng: np.random.Generator,
    camera: Camera,
    middle_mm: Vector,
    angle: float,
    letter_mm: float,
) -> NDArray[np.bool_]:
    """Write a word into the picture's plane.

    Parameters
    ----------
    rng : numpy.random.Generator
        Chooses word and hand.
    camera : Camera
        What the picture shows.
    middle_mm : (2,) array
        Middle of the word, x and y.
    angle : float
        Its direction, rad.
    letter_mm : float
        Height of its letters.

    Returns
    -------
    (height, width) bool array
        Where ink lies.
    """
    text, font = str(rng.choice(WORDS)), int(rng.choice(_FONTS))
    line = np.zeros((90, 60 * len(text)), np.uint8)
    thick = int(rng.integers(3, 8))
    cv2.putText(line, text, (10, 62), font, 1.8, 255, thick, cv2.LINE_AA)
    scale = letter_mm * camera.px_per_mm / 40
    c, s = scale * np.cos(angle), scale * np.sin(angle)
    row, col = camera.to_px(float(middle_mm[0]), float(middle_mm[1]))
    half_w, half_h = line.shape[1] / 2, line.shape[0] / 2
    fold = np.array(
        [
            [c, -s, col - c * half_w + s * half_h],
            [s, c, row - s * half_w - c * half_h],
        ]
    )
    shown = cv2.warpAffine(line, fold, (camera.width, camera.height))
    return np.asarray(shown > 90)


def write_on_skin(
    rng: np.random.Generator, field: Field, coat: Coat, clump: Clump
) -> None:
    """Write a name on a tuber of some clumps.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    field, coat : Field, Coat
        The coat is changed in place.
    clump : Clump
        Whose tuber.
    """
    hosts = [n for n, tube in enumerate(clump.tubes) if tube.kind == "tuber"]
    number = hosts[rng.integers(len(hosts))]
    if rng.random() > SHARE_WRITTEN:
        return
    tube = clump.tubes[number]
    spot = int((tube.neck_end + tube.end) / 2)
    way = tube.points[min(spot + 4, tube.end)] - tube.points[spot]
    angle = float(np.arctan2(way[1], way[0]) + rng.choice([0, np.pi]))
    letter = float(tube.radius[spot] * rng.uniform(0.3, 0.7))
    ink = written(rng, field.camera, tube.points[spot, :2], angle, letter)
    mine = (field.tube == number) & (field.part == PARTS.index("body"))
    mine &= torch.from_numpy(ink).to(mine.device)
    colour = torch.tensor(INKS[rng.integers(len(INKS))], device=mine.device)
    faint = float(rng.uniform(0.4, 0.95))
    coat.colour[mine] = coat.colour[mine] * (1 - faint) + colour * faint
