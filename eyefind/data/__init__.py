"""The data that the steps hand to each other: frozen dataclasses, numpy inside.

Field names are those of the record on disk (docs/record.schema.json).

Frame: every place is (row, col) in px of the full upright photo, 0-indexed, an
integer being a pixel's centre. Names end in ``_rc`` or ``_px`` for pixels and in
``_mm`` or ``_ml`` for what derives from them through the scale.
"""

from eyefind.data.anatomy import Anatomy, Stem, Tuber
from eyefind.data.arrays import Mask, Pixels, Points
from eyefind.data.flags import (
    Change,
    Decision,
    Flag,
    Kind,
    Mend,
    Mending,
    Origin,
    Says,
    Side,
)
from eyefind.data.photo import FrameFacts, Photo, PhotoFacts, Remark, Scale, ScaleSource
from eyefind.data.plan import Choice, Cut, Discard, Piece, Plan, Style, Tool
from eyefind.data.record import Record

__all__ = [
    "Anatomy",
    "Change",
    "Choice",
    "Cut",
    "Decision",
    "Discard",
    "Flag",
    "FrameFacts",
    "Kind",
    "Mask",
    "Mend",
    "Mending",
    "Origin",
    "Photo",
    "PhotoFacts",
    "Piece",
    "Pixels",
    "Plan",
    "Points",
    "Record",
    "Remark",
    "Says",
    "Scale",
    "ScaleSource",
    "Side",
    "Stem",
    "Style",
    "Tool",
    "Tuber",
]
