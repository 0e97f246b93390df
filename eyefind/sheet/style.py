"""Colours, shapes, line patterns and sizes of every mark: their only home.

Plain numbers without any imaging library, so that paper and screen can share them.
Every mark is told by shape or pattern first and has a black and a white outline;
colour only repeats what the shape says. The colours are from the set of Okabe and
Ito (2008), chosen to differ under all common kinds of colour blindness.

Sizes are in points at the width that the picture has on paper, `PAPER_WIDTH_MM`.
"""

from math import cos, pi, sin
from typing import Final

from eyefind.data import Kind

Colour = tuple[int, int, int]
"""sRGB, 0 to 255."""
Outline = tuple[tuple[float, float], ...]
"""Closed outline of (x, y) in a square from -1 to 1, y pointing down."""

BLACK: Final[Colour] = (0, 0, 0)
WHITE: Final[Colour] = (255, 255, 255)
YELLOW: Final[Colour] = (240, 228, 66)
SKY: Final[Colour] = (86, 180, 233)
ORANGE: Final[Colour] = (230, 159, 0)

CUT: Final = YELLOW
EYE: Final = SKY
OTHER_FLAG: Final = ORANGE
CAUTION_PAPER: Final[Colour] = (255, 246, 205)
SWATCH: Final[Colour] = (150, 117, 84)
"""Skin-like ground of the marks in the key."""
AROUND: Final[Colour] = (236, 236, 232)
"""Fills the picture where the photo ends."""

TEXT_PAIRS: Final[dict[str, tuple[Colour, Colour]]] = {
    "text": (BLACK, WHITE),
    "letter of a piece": (BLACK, WHITE),
    "number of a cut": (WHITE, BLACK),
    "label of a discard": (BLACK, WHITE),
    "name of a tuber, stem or flag": (WHITE, BLACK),
    "caution": (BLACK, CAUTION_PAPER),
    "stamp": (WHITE, BLACK),
}
"""(ink, paper) of all text, by what it is used for."""

PAPER_WIDTH_MM: Final = 150.0
"""At this printed width the marks and letters of the picture have their sizes."""

LETTER_PT: Final = 24.0
NUMBER_PT: Final = 20.0
DISCARD_PT: Final = 14.0
NAME_PT: Final = 14.0
BODY_PT: Final = 14.0
HEADING_PT: Final = 18.0
TITLE_PT: Final = 22.0
STAMP_PT: Final = 22.0
TIGHT_PT: Final = 13.0
FOOT_PT: Final = 12.0
"""No letter is printed smaller."""
LEAST_WIDTH_MM: Final = PAPER_WIDTH_MM * FOOT_PT / NAME_PT
"""Nor the picture narrower: its least letters would be."""

EDGE_PT: Final = 0.9
"""Thickness of each of the two outlines of a mark, black and white."""
PIECE_LINE_PT: Final = 1.3
CUT_LINE_PT: Final = 1.8
CUT_DASH_PT: Final = (7.0, 4.5)
FLAG_LINE_PT: Final = 2.4
OPEN_DASH_PT: Final = (3.0, 7.6)
HATCH_LINE_PT: Final = 1.0
HATCH_STEP_PT: Final = 11.0
LEADER_LINE_PT: Final = 1.2
PIN_PT: Final = 2.2
"""Radius of the dot at the end of a letter's leader."""
FLAG_RADIUS_PT: Final = (4.0, 8.0)
"""Inner radius of a mark around a flag: beside a neighbour, and where there is room."""
ARROW_PT: Final = 13.0

FADE: Final = 0.45
"""Share of white that covers what lies outside the clump."""


def _regular(corners: int, first: float = 0.0) -> Outline:
    turns = [first + 2 * pi * corner / corners for corner in range(corners)]
    return tuple((sin(turn), -cos(turn)) for turn in turns)


SHAPES: Final[dict[Kind, Outline]] = {
    "eye": _regular(48),
    "spent_parent": _regular(4, pi / 4),
    "soft": _regular(3),
    "tuber_on_tuber": _regular(4),
    "rat_tail": ((-0.8, -1), (0.8, -1), (0.15, 0), (0.8, 1), (-0.8, 1), (-0.15, 0)),
    "broken_neck": (
        *((-0.35, -1), (0.35, -1), (0.35, -0.35), (1, -0.35), (1, 0.35), (0.35, 0.35)),
        *((0.35, 1), (-0.35, 1), (-0.35, 0.35), (-1, 0.35), (-1, -0.35)),
        (-0.35, -0.35),
    ),
}
"""Shape of a flag's mark by its kind."""

KIND_WORDS: Final[dict[Kind, str]] = {
    "eye": "eye",
    "spent_parent": "spent parent",
    "soft": "soft part",
    "tuber_on_tuber": "tuber on tuber",
    "rat_tail": "rat's tail",
    "broken_neck": "broken neck",
}


def colour_of(kind: Kind) -> Colour:
    """Return the colour of a flag's mark by its `kind`."""
    return EYE if kind == "eye" else OTHER_FLAG


def contrast_ratio(one: Colour, other: Colour) -> float:
    """Return the contrast of two colours, 1 to 21, as WCAG 2.2 defines it.

    Parameters
    ----------
    one, other : tuple of int
        sRGB colours, 0 to 255; their order does not matter.

    Returns
    -------
    float
        ``(lighter + 0.05) / (darker + 0.05)`` of the relative luminances.
    """
    darker, lighter = sorted((_luminance(one), _luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: Colour) -> float:
    parts = [value / 255 for value in colour]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
