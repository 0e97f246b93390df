"""Sizes of labels by their measures alone: sheets, strips and tags.

Sheets of labels are made by many firms in a few common grids; measure yours and take
the size that has its rows and columns. A strip or tag is a page of its own, for
printers that take them from a roll; ``A4-ties`` is plain card to be cut.
"""

from dataclasses import dataclass

A4_MM = (210.0, 297.0)
LETTER_MM = (215.9, 279.4)
MARGIN_MM = 2.0
EDGE_MM = 4.5
"""Few office printers print nearer to the paper's edge (common practice)."""


@dataclass(frozen=True)
class LabelSize:
    """Where labels lie on a page, in mm.

    Attributes
    ----------
    page_mm, label_mm : (float, float)
        Width and height.
    columns, rows : int
        Labels a page.
    left_mm, top_mm : float
        From the page's corner to the first label.
    pitch_mm : (float, float)
        From one label to the next, across and down.
    hole : bool
        Whether a hole for the tie is marked at the left end.
    cut_lines : bool
        Whether the label's edge is drawn, to be cut.
    """

    page_mm: tuple[float, float]
    label_mm: tuple[float, float]
    columns: int = 1
    rows: int = 1
    left_mm: float = 0.0
    top_mm: float = 0.0
    pitch_mm: tuple[float, float] = (0.0, 0.0)
    hole: bool = False
    cut_lines: bool = False

    @property
    def margins_mm(self) -> tuple[float, float]:
        """White left and right, and above and below, that every label keeps, mm."""
        if self.columns * self.rows == 1:
            return MARGIN_MM, MARGIN_MM
        return (
            max(MARGIN_MM, EDGE_MM - self.left_mm),
            max(MARGIN_MM, EDGE_MM - self.top_mm),
        )


SIZES = {
    "A4-24": LabelSize(A4_MM, (70.0, 37.0), 3, 8, 0.0, 0.5, (70.0, 37.0)),
    "A4-21": LabelSize(A4_MM, (63.5, 38.1), 3, 7, 7.2, 15.1, (66.0, 38.1)),
    "A4-14": LabelSize(A4_MM, (99.1, 38.1), 2, 7, 4.65, 15.1, (101.6, 38.1)),
    "A4-8": LabelSize(A4_MM, (99.1, 67.7), 2, 4, 4.65, 13.1, (101.6, 67.7)),
    "A4-ties": LabelSize(
        A4_MM, (190.0, 25.0), 1, 11, 10.0, 11.0, (190.0, 25.0), True, True
    ),
    "letter-30": LabelSize(LETTER_MM, (66.7, 25.4), 3, 10, 4.8, 12.7, (69.85, 25.4)),
    "letter-10": LabelSize(LETTER_MM, (101.6, 50.8), 2, 5, 4.0, 12.7, (106.4, 50.8)),
    "strip-62x29": LabelSize((62.0, 29.0), (62.0, 29.0)),
    "strip-90x24": LabelSize((90.0, 24.0), (90.0, 24.0)),
    "tie-200x25": LabelSize((200.0, 25.0), (200.0, 25.0), hole=True),
    "tag-100x16": LabelSize((100.0, 16.0), (100.0, 16.0)),
    "tag-150x20": LabelSize((150.0, 20.0), (150.0, 20.0), hole=True),
}
"""By name; the number behind a paper is how many labels it holds."""
