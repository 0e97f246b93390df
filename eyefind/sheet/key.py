"""The key: every sort of mark in one picture, and what it means."""

from typing import Final

import numpy as np
from PIL import Image
from shapely import box

from eyefind.data import Kind, Record, Says
from eyefind.sheet.drawing import draw_flag_mark
from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.pen import Pen
from eyefind.sheet.picture import FINER, PX_PER_PT, shown_flags
from eyefind.sheet.style import (
    BLACK,
    FLAG_RADIUS_PT,
    KIND_WORDS,
    LETTER_PT,
    NUMBER_PT,
    SWATCH,
    WHITE,
)

WIDTH_PT: Final = 52.0
HEIGHT_PT: Final = 38.0


def draw_key(
    record: Record, standing: dict[str, Says]
) -> list[tuple[Image.Image, str]]:
    """Draw the key to the picture of `record`.

    Parameters
    ----------
    record : Record
        As given to `draw_picture`.
    standing : dict of str to str
        As given to `draw_picture`.

    Returns
    -------
    list of (PIL.Image.Image, str)
        A swatch of `WIDTH_PT` by `HEIGHT_PT` and its meaning for each sort of mark.
    """
    plan = record.plan
    items: list[tuple[Image.Image, str]] = []
    if plan and plan.pieces:
        items.append((_piece_swatch(), "piece"))
    if plan and plan.cuts:
        items.append((_cut_swatch(), "cut"))
    if plan and plan.discards:
        items.append((_discard_swatch(), "not stored"))
    leaving = what_leaves(record)
    sorts = {
        (flag.kind, standing.get(flag.id) == "confirmed")
        for flag in shown_flags(record, standing)
        if flag.id not in leaving.flags
    }
    for kind, words in KIND_WORDS.items():
        for confirmed in (True, False):
            if (kind, confirmed) in sorts:
                state = "sure" if confirmed else "not sure"
                items.append((_flag_swatch(kind, confirmed), f"{words}, {state}"))
    return items


def _piece_swatch() -> Image.Image:
    pen = _pen()
    pen.tile(_at(0.5, 0.5), "A", LETTER_PT, BLACK, WHITE)
    return pen.image.reduce(FINER)


def _cut_swatch() -> Image.Image:
    pen = _pen()
    pen.cut(np.stack([_at(0.64, 0.5), _at(0.98, 0.5)]))
    pen.arrow(_at(0.2, 0.5), _at(0.64, 0.5))
    pen.disc(_at(0.24, 0.5), "1", 0.9 * NUMBER_PT)
    return pen.image.reduce(FINER)


def _discard_swatch() -> Image.Image:
    pen = _pen()
    pen.hatch(box(*_at(0.0, 0.0), *_at(1.0, 1.0)))
    return pen.image.reduce(FINER)


def _flag_swatch(kind: Kind, confirmed: bool) -> Image.Image:
    pen = _pen()
    draw_flag_mark(pen, kind, _at(0.5, 0.5), FLAG_RADIUS_PT[1], confirmed)
    return pen.image.reduce(FINER)


def _pen() -> Pen:
    size = (round(WIDTH_PT * PX_PER_PT), round(HEIGHT_PT * PX_PER_PT))
    return Pen(Image.new("RGB", size, SWATCH), PX_PER_PT)


def _at(right: float, down: float) -> np.ndarray:
    """Return a place in the swatch, given as shares of its width and height."""
    return np.array([right * WIDTH_PT, down * HEIGHT_PT]) * PX_PER_PT
