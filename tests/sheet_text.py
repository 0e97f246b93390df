"""What a PDF says when it is read back."""

from dataclasses import dataclass
from io import BytesIO

import numpy as np
from pypdf import PdfReader


@dataclass(frozen=True)
class Line:
    """One run of text on a page, as the PDF places it."""

    page: int
    text: str
    left: float
    base: float
    size: float
    font: str


def lines_of(pdf: bytes) -> list[Line]:
    """Return all runs of text of a PDF with place and size in points."""
    lines: list[Line] = []
    for number, page in enumerate(PdfReader(BytesIO(pdf)).pages):

        def visit(text, cm, tm, font, size, number=number):  # type: ignore[no-untyped-def]
            place = np.array([[*tm[0:2], 0], [*tm[2:4], 0], [*tm[4:6], 1]]) @ np.array(
                [[*cm[0:2], 0], [*cm[2:4], 0], [*cm[4:6], 1]]
            )
            if text.strip():
                name = str(font["/BaseFont"]) if font else ""
                real = size * float(np.hypot(*place[1, :2]))
                lines.append(Line(number, text, place[2, 0], place[2, 1], real, name))

        page.extract_text(visitor_text=visit)
    return lines


def text_of(pdf: bytes) -> list[str]:
    """Return the text of each page, every gap a single space."""
    pages = PdfReader(BytesIO(pdf)).pages
    return [" ".join(page.extract_text().split()) for page in pages]
