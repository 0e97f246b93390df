"""The first page: what the grower needs at the bench, to be pinned above it."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import Final, Literal

from PIL import Image as PilImage
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from eyefind.data import Piece, Plan, Record, Says
from eyefind.sheet import flow, step_words, words
from eyefind.sheet.cautions import texts_beside
from eyefind.sheet.code import SquareCode, code_text
from eyefind.sheet.key import WIDTH_PT, draw_key
from eyefind.sheet.picture import BESIDE, Pictures
from eyefind.sheet.steps import steps_of
from eyefind.sheet.style import (
    BLACK,
    BODY_PT,
    FOOT_PT,
    LEAST_WIDTH_MM,
    TIGHT_PT,
)

CODE_SIDE: Final = 27 * mm
GAP: Final = 2 * mm
"""Between pictures."""
SIDE: Final = 46 * mm
"""Width of the column beside the picture, for the code and close-ups."""
KEYS: Final = 4
"""So many marks are explained in a row."""
KEY_SCALE: Final = 0.5
COLUMNS: Final = (0.06, 0.35, 0.31, 0.28)
"""Shares of the width for the columns of the pieces."""


Layout = Literal["alone", "code", "close-ups"]
"""What stands in the column beside the picture: the code first, or close-ups only."""


@dataclass(frozen=True)
class Moved:
    """What the first page leaves to the second one.

    Attributes
    ----------
    boxes : bool
        The boxes around the cautions: these follow the words of their steps.
    pieces : bool
        Pieces and what is not stored.
    close_ups : bool
        The close-ups that do not stand beside the picture.
    steps : int
        So many of the last steps, with their cautions.
    """

    boxes: bool = False
    pieces: bool = False
    close_ups: bool = False
    steps: int = 0


def ways_to_fit(steps: int) -> Iterator[tuple[float, Moved]]:
    """Yield letters' sizes and what is moved, the best page first.

    What a hand needs while it cuts stays longest. Never moved are the picture, the
    key, the code, what to heed before the first cut, and the first step.

    Parameters
    ----------
    steps : int
        Steps of the plan.
    """
    for size in (BODY_PT, TIGHT_PT, FOOT_PT):
        yield size, Moved()
    yield FOOT_PT, Moved(boxes=True)
    yield FOOT_PT, Moved(boxes=True, pieces=True)
    for number in range(max(steps, 1)):
        yield FOOT_PT, Moved(True, True, True, number)


@dataclass(frozen=True)
class Front:
    """The first page of one clump.

    Attributes
    ----------
    record, plan : Record, Plan
        What is known of the clump, and its plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    record_name : str
        Name of the record's file.
    width, height : float
        What a page holds, in points.
    """

    record: Record
    plan: Plan
    standing: dict[str, Says]
    record_name: str
    width: float
    height: float

    def tell(self, pictures: Pictures) -> tuple[list[Flowable], Moved]:
        """Return what the page holds; the picture takes what the rest leaves.

        Parameters
        ----------
        pictures : Pictures
            All pictures of the clump.

        Returns
        -------
        list of Flowable
            The page. Only words beyond all measure make it flow on.
        Moved
            What it leaves to the second page.
        """
        image = pictures.clump
        aspect = image.width / image.height
        ways = ways_to_fit(len(self.plan.cuts))
        for (size, moved), layout in product(ways, _layouts(pictures)):
            head = self._head(layout)
            below = self._below(pictures, size, moved, layout)
            left = self.height - self._tall([head, *below])
            least = self._shown(pictures, LEAST_WIDTH_MM * mm, layout)
            if left >= self._tall([least]):
                break
        wide = max((left - 5) * aspect, LEAST_WIDTH_MM * mm)
        widest = self.width - (SIDE + GAP) * (layout != "alone")
        shown = self._shown(pictures, min(wide, widest), layout)
        return [head, shown, *below], moved

    def _tall(self, parts: list[Flowable]) -> float:
        return sum(flow.height_of(part, self.width) for part in parts)

    def _shown(self, pictures: Pictures, width: float, layout: Layout) -> Flowable:
        """Return the picture, `width` points wide, and the column beside it."""
        shown = flow.Picture(pictures.clump, width)
        if layout == "alone":
            return shown
        parts: list[Flowable] = [self._code()] if layout == "code" else []
        parts += [flow.Picture(image, SIDE) for image in pictures.splits[:BESIDE]]
        parts += self._key(1, SIDE) if _keyed(pictures, layout) else []
        right = ("ALIGN", (0, 0), (-1, 0), "RIGHT")
        column = Table(
            [[part] for part in parts], colWidths=[SIDE], style=[*flow.CLOSE, right]
        )
        style = [*flow.CLOSE, ("RIGHTPADDING", (0, 0), (-1, -1), 0)]
        return Table([[shown, column]], [self.width - SIDE, SIDE], style=style)

    def _code(self) -> SquareCode:
        return SquareCode(code_text(self.record.photo, self.record_name), CODE_SIDE)

    def _head(self, layout: Layout) -> Flowable:
        photo, scale = self.record.photo, self.record.scale
        name = flow.paragraph(words.clump_name(photo), flow.TITLE)
        about = f"{words.taken_words(photo)}. {words.scale_words(scale)}."
        small = flow.paragraph(about, flow.sized(flow.CELL, FOOT_PT))
        if layout == "code":
            half = 0.5 * self.width
            if flow.height_of(name, half) <= 2 * flow.TITLE.leading:
                return Table([[name, small]], [half] * 2, style=flow.CLOSE)
            return Table([[[name, small]]], [self.width], style=flow.CLOSE)
        wide = [self.width - CODE_SIDE, CODE_SIDE]
        key = self._key(KEYS, wide[0]) if layout == "close-ups" else []
        return Table([[[name, small, *key], self._code()]], wide, style=flow.CLOSE)

    def _key(self, across: int, width: float) -> list[Flowable]:
        """Return rows of marks with what they mean."""
        swatch = WIDTH_PT * KEY_SCALE
        small = flow.sized(flow.CELL, FOOT_PT)
        cells: list[Flowable] = []
        for image, meaning in draw_key(self.record, self.standing):
            cells += [flow.Picture(image, swatch), flow.paragraph(meaning, small)]
        across = min(across, max(1, len(cells) // 2))
        cells += [Spacer(0, 0)] * (-len(cells) % (2 * across))
        rows = [cells[k : k + 2 * across] for k in range(0, len(cells), 2 * across)]
        wide = [swatch + 4, width / across - swatch - 4] * across
        style = [*flow.CLOSE, ("VALIGN", (0, 0), (-1, -1), "MIDDLE")]
        return [Table([row], wide, style=style) for row in rows]

    def _below(
        self, pictures: Pictures, size: float, moved: Moved, layout: Layout
    ) -> list[Flowable]:
        more = [] if moved.close_ups else pictures.splits[BESIDE:]
        here = layout != "close-ups" and not _keyed(pictures, layout)
        key = self._key(KEYS, self.width) if here else []
        return [
            *key,
            *close_ups(more, self.width),
            self._before(size),
            *self._steps(size, moved),
            *([] if moved.pieces else self._pieces(size)),
            *self._rest(pictures, size, moved),
        ]

    def _rest(self, pictures: Pictures, size: float, moved: Moved) -> list[Flowable]:
        """Return what stands on the second page, so that nobody misses it here."""
        numbers = [str(cut.number) for cut in self.plan.cuts][-moved.steps :]
        several = "s" * (moved.steps > 1)
        rest = [f"step{several} {words.span_words(numbers)}"] if moved.steps else []
        rest += ["the pieces, what is not stored"] * moved.pieces
        rest += ["more close-ups"] * (moved.close_ups and len(pictures.splits) > BESIDE)
        return [self._line("On page 2", ", ".join(rest), size)] if rest else []

    def _before(self, size: float) -> Flowable:
        """Return what to heed before the first cut."""
        limits = words.limits(self.record, self.plan)
        if not self.plan.cuts:
            return self._line("No cuts in this plan", " ".join(limits), size)
        texts = [" ".join(limits), *texts_beside("start")]
        return flow.caution(texts, size, head="Before you cut:")

    def _steps(self, size: float, moved: Moved) -> list[Flowable]:
        cuts = self.plan.cuts
        here = cuts[: len(cuts) - moved.steps]
        steps = steps_of(here, self.record, self.plan, size, not moved.boxes)
        return [part for step in steps for part in step]

    def _pieces(self, size: float) -> list[Flowable]:
        head = ["", "Tubers", "Eyes", "Has an eye"]
        strong = flow.sized(flow.STRONG, size)
        rows = [self._row([Paragraph(text, strong) for text in head], lined=False)]
        rows += [self._piece(piece, size) for piece in self.plan.pieces]
        return [
            Spacer(0, GAP),
            *flow.together(rows[:2]),
            *rows[2:],
            self._line("Not stored", self._not_stored(), size),
        ]

    def _piece(self, piece: Piece, size: float) -> Flowable:
        texts = [
            ", ".join(piece.tubers),
            words.eyes_words(piece),
            words.chance_words(piece),
        ]
        letter = Paragraph(
            f"<b>{flow.marked_up(piece.letter)}</b>", flow.sized(flow.CELL, size + 4)
        )
        style = flow.sized(flow.CELL, size)
        return self._row([letter, *(flow.paragraph(text, style) for text in texts)])

    def _row(self, cells: list[Flowable], lined: bool = True) -> Table:
        line = ("LINEABOVE", (0, 0), (-1, -1), 1, flow.pdf_colour(BLACK))
        wide = [share * self.width for share in COLUMNS]
        style = [*flow.CLOSE, *([line] if lined else [])]
        return Table([cells], colWidths=wide, style=style, splitInRow=1)

    def _not_stored(self) -> str:
        named = step_words.discard_words(self.record, self.plan, self.standing)
        return "; ".join(named) or "nothing is taken off"

    def _line(self, head: str, text: str, size: float) -> Flowable:
        text = f"<b>{head}:</b> {flow.marked_up(words.sentence(text))}"
        return Paragraph(text, flow.sized(flow.BODY, size))


def _layouts(pictures: Pictures) -> tuple[Layout, ...]:
    """Return the layouts that may be taken, the best first."""
    if not pictures.splits:
        # Beside a picture without close-ups the column only saves room.
        return ("alone", "code")
    return ("code",) if len(pictures.splits) < BESIDE else ("close-ups",)


def _keyed(pictures: Pictures, layout: Layout) -> bool:
    """Tell whether the key has room in the column."""
    return layout == "code" and len(pictures.splits) < BESIDE - 1


def close_ups(images: list[PilImage.Image], width: float) -> list[Flowable]:
    """Return close-ups in rows over `width` points, each about as wide as `SIDE`."""
    across = max(1, round(width / SIDE))
    side = width / across - GAP
    drawn: list[Flowable] = [flow.Picture(image, side) for image in images]
    rows = [drawn[start : start + across] for start in range(0, len(drawn), across)]
    return [
        Table([row], [side + GAP] * len(row), hAlign="LEFT", style=flow.BARE)
        for row in rows
    ]
