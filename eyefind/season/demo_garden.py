"""The invented garden of the demo season, and its rendered photographs.

People, garden, varieties and dates are made up; see sample_images/SCENARIO.md.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path

import cv2
import numpy as np

from eyefind.data import Pixels
from eyefind.photo import find_card
from eyefind.photo.card_code import code_rectangles
from eyefind.photo.card_layout import CARD_MM
from eyefind.record import write_bytes

GARDEN, GROWER, YEAR = "Quillfold", "Isaura Thornquist", 2026
WIDTH_PX = 2400
QUALITY = 88
FIRST_SEED = 7100
FIRST_PHOTO_NUMBER = 301
FIRST_PHOTO = datetime(2026, 11, 7, 9, 12)
BETWEEN_CLUMPS = timedelta(minutes=4, seconds=10)
BETWEEN_PHOTOS = timedelta(seconds=25)


@dataclass(frozen=True)
class DemoVariety:
    """One variety of the demo garden: its bed, its clumps, how many are wanted."""

    name: str
    bed: str
    clumps: int
    wanted: int
    give_away: int = 0


VARIETIES = (
    DemoVariety("Lantern Moth", "1", 4, 3, 1),
    DemoVariety("Ninefold Amber", "1", 2, 3),
    DemoVariety("Harrow Pink", "1", 4, 2),
    DemoVariety("Tallow Sparrow", "2", 4, 1),
    DemoVariety("Brickfield Jo", "2", 3, 3, 1),
    DemoVariety("Gannet Thursday", "2", 3, 5),
    DemoVariety("Pewter Aunt", "3", 4, 1, 1),
    DemoVariety("Saltmarsh Twelve", "3", 3, 2),
    DemoVariety("Owl Ledger", "3", 4, 6, 2),
    DemoVariety("Marrow Lamp", "4", 3, 1),
    DemoVariety("Quince Parade", "4", 3, 2),
    DemoVariety("Dunnock Hour", "4", 3, 3, 1),
)
SPOILT = {11: ("blur",), 23: ("dark",)}
"""Clumps that need another photograph, by card number."""
TWICE = {2, 17}
"""Clumps that are photographed twice, by card number."""
NO_CODE = {30}
"""Cards whose number is not in view: the photo is told by its time alone."""


@dataclass(frozen=True)
class DemoClump:
    """One clump: number of its card, variety, bed."""

    number: int
    variety: str
    bed: str


def demo_clumps() -> list[DemoClump]:
    """Return the 40 clumps by card number."""
    numbers = count(1)
    return [
        DemoClump(next(numbers), variety.name, variety.bed)
        for variety in VARIETIES
        for _ in range(variety.clumps)
    ]


def render_photos(folder: Path, width_px: int = WIDTH_PX) -> Iterator[Path]:
    """Render the photographs of the demo season as a phone would leave them.

    Photos that are there already stay, so a stopped run goes on where it was.

    Parameters
    ----------
    folder : Path
        Where to.
    width_px : int
        Width of each photo.

    Yields
    ------
    Path
        Each photo, once it is written.
    """
    for name, clump, again in demo_photos():
        path = folder / f"{name}.jpg"
        if not path.exists():
            taken = FIRST_PHOTO + (clump.number - 1) * BETWEEN_CLUMPS
            taken += BETWEEN_PHOTOS * again
            write_bytes(path, _photo(clump, again, taken, width_px))
        yield path


def demo_photos() -> Iterator[tuple[str, DemoClump, bool]]:
    """Yield name, clump, and whether it is its second photo, in order."""
    numbers = count(FIRST_PHOTO_NUMBER)
    for clump in demo_clumps():
        for again in (False, True)[: 1 + (clump.number in TWICE)]:
            yield f"IMG_{next(numbers):04d}", clump, again


def _photo(clump: DemoClump, again: bool, taken: datetime, width_px: int) -> bytes:
    # The renderer needs PyTorch, which only makers have.
    from eyefind.workshop.scene import Setting, render
    from eyefind.workshop.write import Taken, as_jpeg

    kind = clump.number % 3
    setting = Setting(
        view="above" if again else ("above", "side", "oblique")[kind],
        light=("raking", "slanting", "raking")[kind],
        bench=("mat", "wood", "cloth")[(clump.number // 2) % 3],
        card=True,
        clutter=False,
        aspect=4 / 3,
        spoilt=SPOILT.get(clump.number, ()),
    )
    rgb = render(
        FIRST_SEED + clump.number, width_px, oversample=1.0, setting=setting
    ).rgb
    if clump.number not in NO_CODE:
        rgb = print_code(rgb, clump.number)
    data, _ = as_jpeg(rgb, QUALITY, Taken(f"{taken:%Y:%m:%d %H:%M:%S}"))
    return data


def print_code(rgb: Pixels, number: int) -> Pixels:
    """Print a card's number on the plain card in a photo; unchanged without a card.

    The code darkens what is there, so shade and colour of the light stay.
    """
    card = find_card(rgb)
    if card is None:
        return rgb
    per_mm = 8.0
    ink = np.full(
        (round(CARD_MM[1] * per_mm), round(CARD_MM[0] * per_mm)), 255, np.uint8
    )
    for box in code_rectangles(number):
        left, top = round(box.x_mm * per_mm), round(box.y_mm * per_mm)
        ink[top : top + round(per_mm), left : left + round(per_mm)] = 30
    to_mm = np.array(
        [(1 / per_mm, 0, 0.5 / per_mm), (0, 1 / per_mm, 0.5 / per_mm), (0, 0, 1)]
    )
    px_per_mm = card.scale.px_per_mm
    soft = cv2.GaussianBlur(ink, (0, 0), max(0.4 * per_mm / px_per_mm, 0.1))
    height, width = rgb.shape[:2]
    laid = cv2.warpPerspective(
        soft, card.card_to_photo @ to_mm, (width, height), borderValue=255
    )
    printed = rgb.astype(np.float32) * (laid[..., None] / np.float32(255))
    return np.asarray(printed.round(), np.uint8)
