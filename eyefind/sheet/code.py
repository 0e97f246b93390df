"""The square code that finds the record again, drawn in vectors."""

from typing import Final

import segno
from reportlab.lib.colors import black
from reportlab.platypus import Flowable

from eyefind.data import PhotoFacts

QUIET: Final = 4
"""Modules of white around the code: ISO/IEC 18004 asks for four."""
ROUGH: Final = "m"
"""Level of error correction: 15 % of the code may be soiled (ISO/IEC 18004)."""


def code_text(facts: PhotoFacts, record_name: str) -> str:
    """Return what the code says: the record's file and the photo's fingerprint."""
    return f"{record_name} {facts.sha256[:12]}"


class SquareCode(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A QR code, `side` points wide with its white rim."""

    def __init__(self, text: str, side: float) -> None:
        super().__init__()
        self.width = self.height = side
        self._rows = segno.make_qr(text, error=ROUGH).matrix

    def draw(self) -> None:
        """Draw every dark module as a filled square."""
        module = self.width / (len(self._rows) + 2 * QUIET)
        self.canv.setFillColor(black)
        path = self.canv.beginPath()
        for down, row in enumerate(self._rows):
            bottom = self.height - (QUIET + down + 1) * module
            for right, dark in enumerate(row):
                if dark:
                    path.rect((QUIET + right) * module, bottom, module, module)
        self.canv.drawPath(path, stroke=0, fill=1)
