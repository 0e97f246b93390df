"""The sheet for the bench: all that the cutting needs, on one page to pin above it."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise
from typing import Final

import numpy as np
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from eyefind.data import Cut, Plan, Record, Says
from eyefind.sheet import flow, words
from eyefind.sheet.bench_parts import Block, Parts
from eyefind.sheet.code import SquareCode, code_text
from eyefind.sheet.picture import PAPER_WIDTH_PT, Pictures, splits_of
from eyefind.sheet.style import BODY_PT, FOOT_PT, TIGHT_PT

CODE_SIDE: Final = 22 * mm
GAP: Final = 2 * mm
"""Between pictures."""
BETWEEN: Final = 4 * mm
"""Between columns."""
LEAST_WIDTH: Final = 72 * mm
"""The picture is never narrower."""
STACKED: Final = 105 * mm
"""Nor than this where all else is below it."""
SPREAD: Final = 0.62
"""Greatest width of the picture beside the steps, as a share of the page."""
CLOSE_WIDTH: Final = (33 * mm, 58 * mm)
"""Least and greatest width of a close-up."""
SHARED_WIDTH: Final = 44 * mm
"""Least width where cuts share one, unless the letters must be small as well."""
CLOSE_UPS: Final = 4
"""No more close-ups: further cuts share them."""
TRIES: Final = 6
"""So many widths of the picture are tried."""


@dataclass(frozen=True)
class Setting:
    """One way to set the page.

    Attributes
    ----------
    size : float
        Of the letters, points.
    spread : bool
        Steps beside the picture, else below it.
    boxed : bool
        Whether cautions stand in boxes below their steps, or follow their words.
    moved : int
        So many of the last steps go to a second page, with their cautions.
    """

    size: float
    spread: bool = True
    boxed: bool = True
    moved: int = 0


def ways_to_fit(steps: int) -> Iterator[Setting]:
    """Yield the ways to set the page of so many steps, the best first."""
    for size in (BODY_PT, TIGHT_PT, FOOT_PT):
        yield Setting(size, spread=False)
        yield Setting(size)
        yield Setting(size, boxed=False)
    for moved in range(1, max(steps, 1)):
        yield Setting(FOOT_PT, boxed=False, moved=moved)


@dataclass(frozen=True)
class Bench:
    """The page of one clump.

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
    parts: Parts = field(init=False)

    def __post_init__(self) -> None:
        parts = Parts(self.record, self.plan, self.standing)
        object.__setattr__(self, "parts", parts)

    def tell(self, pictures: Pictures) -> tuple[list[Flowable], int]:
        """Return what the page holds; the picture takes what the rest leaves.

        Parameters
        ----------
        pictures : Pictures
            All pictures of the clump.

        Returns
        -------
        list of Flowable
            The page. Only words beyond all measure make it flow on.
        int
            How many of the last steps it leaves to a second page.
        """
        head = self._head()
        room = self.height - flow.height_of(head, self.width)
        for setting in ways_to_fit(len(self.plan.cuts)):
            lay = self._spread if setting.spread else self._stacked
            page = lay(pictures, setting, room)
            if page is not None:
                return [head, *page], setting.moved
        shown = flow.Picture(pictures.clump, LEAST_WIDTH, pictures.aspect)
        return [head, shown, *self._below(pictures, Setting(FOOT_PT, boxed=False))], 0

    def _stacked(
        self, pictures: Pictures, setting: Setting, room: float
    ) -> list[Flowable] | None:
        """Return the picture with all else below it, None if it does not fit."""
        below = self._below(pictures, setting)
        wide = (room - _height(below, self.width)) * pictures.aspect
        if wide < STACKED:
            return None
        wide = min(wide, PAPER_WIDTH_PT * 1.1, self.width)
        return [flow.Picture(pictures.clump, wide, pictures.aspect), *below]

    def _below(self, pictures: Pictures, setting: Setting) -> Block:
        size = setting.size
        blocks = [
            self.parts.key(self.width),
            self._close_ups(pictures, self.width, size),
            self.parts.before(size),
            *self._steps(setting),
            self.parts.pieces(size, self.width),
            self.parts.not_stored(size),
            self.parts.last(size),
        ]
        return [part for block in blocks for part in block]

    def _spread(
        self, pictures: Pictures, setting: Setting, room: float
    ) -> list[Flowable] | None:
        """Return what to look at beside what to do, None if it does not fit."""
        for wide in np.linspace(SPREAD * self.width, LEAST_WIDTH, TRIES):
            page, tall = self._beside(pictures, setting, float(wide))
            if tall <= room:
                return [page]
        return None

    def _beside(
        self, pictures: Pictures, setting: Setting, wide: float
    ) -> tuple[Flowable, float]:
        """Set the pictures on the left, `wide` points, and the steps on the right.

        What comes after the steps fills the shorter column. Returned is also how tall
        the page is.
        """
        size, right = setting.size, self.width - wide - BETWEEN
        left: Block = [
            flow.Picture(pictures.clump, wide, pictures.aspect),
            *self.parts.key(wide),
            *self._close_ups(pictures, wide, size),
        ]
        told = [*self.parts.before(size), *(p for b in self._steps(setting) for p in b)]
        tall = [_height(left, wide), _height(told, right)]
        blocks: list[Callable[[float], Block]] = [
            partial(self.parts.pieces, size),
            lambda _: self.parts.not_stored(size),
            lambda _: self.parts.last(size),
        ]
        for block in blocks:
            ways = [(block(width), width) for width in (wide, right)]
            ends = [t + _height(*way) for t, way in zip(tall, ways, strict=True)]
            side = int(ends[1] < ends[0])
            (left, told)[side].extend(ways[side][0])
            tall[side] = ends[side]
        page = _side_by_side(left, told, wide, right)
        # Tables have their own way with the space around paragraphs.
        return page, flow.height_of(page, self.width) if max(tall) < 900 else max(tall)

    def _close_ups(self, pictures: Pictures, width: float, size: float) -> Block:
        """Return the close-ups in rows over `width` points."""
        groups = self._groups()
        if not groups:
            return []
        shared = size > FOOT_PT and any(len(cuts) > 1 for cuts in groups)
        least = SHARED_WIDTH if shared else CLOSE_WIDTH[0]
        across = min(len(groups), max(1, int((width + GAP) / (least + GAP))))
        across = -(-len(groups) // -(-len(groups) // across))
        side = min(width / across - GAP, CLOSE_WIDTH[1])
        drawn: Block = [self._close_up(pictures, cuts, side) for cuts in groups]
        return [
            Table(
                [drawn[k : k + across]],
                [side + GAP] * len(drawn[k : k + across]),
                hAlign="LEFT",
                style=flow.CLOSE,
            )
            for k in range(0, len(drawn), across)
        ]

    def _groups(self) -> list[Sequence[Cut]]:
        """Return the cuts that divide, those that share a close-up together."""
        splits = splits_of(self.plan)
        count = min(len(splits), CLOSE_UPS)
        ends = [round(k * len(splits) / max(count, 1)) for k in range(count + 1)]
        return [splits[a:b] for a, b in pairwise(ends)]

    def _close_up(
        self, pictures: Pictures, cuts: Sequence[Cut], side: float
    ) -> flow.Picture:
        return flow.Picture(
            lambda width: pictures.close_up(cuts, width), side, pictures.close_aspect
        )

    def _steps(self, setting: Setting) -> list[Block]:
        cuts = self.plan.cuts
        here = cuts[: len(cuts) - setting.moved]
        steps = self.parts.steps(here, setting.size, setting.boxed)
        if setting.moved:
            numbers = [str(cut.number) for cut in cuts[-setting.moved :]]
            steps.append(self.parts.moved(numbers, setting.size))
        return steps

    def _head(self) -> Flowable:
        photo, scale = self.record.photo, self.record.scale
        name = flow.paragraph(words.clump_name(photo), flow.TITLE)
        about = f"{words.taken_words(photo)}. {words.scale_words(scale)}."
        small = flow.paragraph(about, flow.sized(flow.CELL, FOOT_PT))
        code = SquareCode(code_text(photo, self.record_name), CODE_SIDE)
        wide = [self.width - CODE_SIDE, CODE_SIDE]
        return Table([[[name, small], code]], wide, style=flow.TIGHT)


def _height(parts: Sequence[Flowable], width: float) -> float:
    return sum(flow.height_of(part, width) for part in parts)


def _side_by_side(left: Block, right: Block, wide: float, narrow: float) -> Table:
    cells = [[part or [Spacer(0, 0)] for part in (left, right)]]
    style = [*flow.TIGHT, ("RIGHTPADDING", (0, 0), (0, 0), BETWEEN)]
    return Table(cells, [wide + BETWEEN, narrow], style=style)
