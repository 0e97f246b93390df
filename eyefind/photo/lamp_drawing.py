"""How to take a lamp set, as a drawing for the card page and docs/lamp.md."""

import math

from reportlab.graphics.shapes import (
    Circle,
    Drawing,
    Ellipse,
    Group,
    Line,
    Rect,
    String,
)
from reportlab.lib.colors import Color, black, white
from reportlab.lib.units import mm

SIZE_MM = (170.0, 40.0)
TEXT_PT = 10
LINE_PT = 1.2
BENCH_MM = 7.0
"""Height of the bench's edge in the view from the side."""
LAMP_HEIGHT_DEG = 20
CLUMP_GREY = Color(0.75, 0.75, 0.75)


def lamp_drawing() -> Drawing:
    """Draw where phone and lamp stand: from the side, and from above.

    Returns
    -------
    reportlab.graphics.shapes.Drawing
        `SIZE_MM` in size, black on white.
    """
    drawing = Drawing(SIZE_MM[0] * mm, SIZE_MM[1] * mm)
    drawing.add(_from_the_side())
    above = _from_above()
    above.translate(92 * mm, 0)
    drawing.add(above)
    return drawing


def _from_the_side() -> Group:
    middle = 52.0
    angle = math.radians(LAMP_HEIGHT_DEG)
    lamp = (middle - 38 * math.cos(angle), BENCH_MM + 3 + 38 * math.sin(angle))
    return Group(
        _line(6, BENCH_MM, 84, BENCH_MM),
        _clump(middle, BENCH_MM + 3, 11, 3),
        _line(lamp[0], lamp[1], middle - 9, BENCH_MM + 5, dashed=True),
        *_lamp(*lamp, ""),
        _line(80, BENCH_MM, 80, 34),
        _line(80, 34, middle + 7, 34),
        _box(middle - 7, 32.5, 14, 3),
        _text(middle - 33, 36, "phone on a stand"),
        _text(2, BENCH_MM + 20, "lamp low"),
        _text(6, 1.5, "From the side: 5 to 40 degrees above the bench"),
    )


def _from_above() -> Group:
    middle = (38.0, 22.0)
    lamps = []
    for number, (right, up) in enumerate(((-1, 0), (1, 0), (0, 1), (0, -1)), start=1):
        place = middle[0] + 28 * right, middle[1] + 13.5 * up
        lamps += _lamp(*place, str(number))
    return Group(
        _clump(*middle, 11, 6),
        *lamps,
        _text(0, 1.5, "From above: 1, 2 for two photos; 1 to 4 for four"),
    )


def _clump(x_mm: float, y_mm: float, across_mm: float, up_mm: float) -> Group:
    parts = Group()
    for shift in (-0.75, 0.75):
        parts.add(
            Ellipse(
                (x_mm + shift * across_mm) * mm,
                y_mm * mm,
                0.7 * across_mm * mm,
                up_mm * 0.7 * mm,
                fillColor=CLUMP_GREY,
                strokeWidth=LINE_PT,
            )
        )
    crown = Circle(x_mm * mm, y_mm * mm, up_mm * mm, fillColor=CLUMP_GREY)
    crown.strokeWidth = LINE_PT
    parts.add(crown)
    return parts


def _lamp(x_mm: float, y_mm: float, number: str) -> list[Circle | String]:
    bulb = Circle(x_mm * mm, y_mm * mm, 3.2 * mm, fillColor=white, strokeWidth=2)
    words = String(x_mm * mm, y_mm * mm - 3.5, number, textAnchor="middle")
    words.fontName, words.fontSize = "Helvetica-Bold", TEXT_PT
    return [bulb, words]


def _line(
    x_mm: float, y_mm: float, to_x_mm: float, to_y_mm: float, dashed: bool = False
) -> Line:
    line = Line(x_mm * mm, y_mm * mm, to_x_mm * mm, to_y_mm * mm)
    line.strokeWidth = LINE_PT
    if dashed:
        line.strokeDashArray = [4, 3]
    return line


def _box(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> Rect:
    return Rect(x_mm * mm, y_mm * mm, width_mm * mm, height_mm * mm, fillColor=black)


def _text(x_mm: float, y_mm: float, words: str) -> String:
    return String(x_mm * mm, y_mm * mm, words, fontName="Helvetica", fontSize=TEXT_PT)
