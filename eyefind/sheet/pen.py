"""Drawing of marks with a black and a white outline, in Pillow."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from shapely import LineString, MultiPolygon, Polygon
from shapely.ops import substring

from eyefind.sheet.fonts import BOLD, picture_font
from eyefind.sheet.style import (
    ARROW_PT,
    BLACK,
    CUT,
    CUT_DASH_PT,
    CUT_LINE_PT,
    EDGE_PT,
    FOOT_PT,
    HATCH_LINE_PT,
    HATCH_STEP_PT,
    LEADER_LINE_PT,
    WHITE,
    Colour,
)

Path = NDArray[np.float64]
"""(N, 2) float64 array of (x, y) px of the picture being drawn."""


@dataclass(frozen=True)
class Letters:
    """Letters over a picture, to be set where the picture is printed.

    Attributes
    ----------
    text : str
        What they say, in the bold typeface.
    centre : (2,) array
        Their middle, (x, y) px of the picture.
    size, halo : float
        Height of the typeface, and what is drawn around each letter, px.
    ink : (int, int, int)
        sRGB, 0 to 255.
    """

    text: str
    centre: Path
    size: float
    halo: float
    ink: Colour

    def reduced(self, times: int) -> "Letters":
        """Return the same on a picture that is so many times smaller."""
        return replace(
            self,
            centre=self.centre / times,
            size=self.size / times,
            halo=self.halo / times,
        )


@dataclass(frozen=True)
class Pen:
    """Draws marks on one picture.

    Attributes
    ----------
    image : PIL.Image.Image
        RGB picture that is drawn on.
    px_per_pt : float
        Pixels of the picture in one point on paper.
    least_pt : float
        No letter is drawn smaller than this.
    kept : list of Letters or None
        Letters go here instead of onto the picture.
    """

    image: Image.Image
    px_per_pt: float
    least_pt: float = 0.0
    kept: list[Letters] | None = None

    def tile_size(self, text: str, size_pt: float) -> Path:
        """Return (width, height) px of a tile with `text`."""
        height = self._letters_px(size_pt) * 1.3
        length = self._font(size_pt).getlength(text)
        return np.array([max(length + 0.35 * height, height), height])

    def disc_radius(self, size_pt: float) -> float:
        """Return the radius px of a disc with a number of size `size_pt`."""
        return 0.76 * self._letters_px(size_pt)

    def stroke(
        self,
        path: Path,
        width_pt: float,
        core: Colour,
        outlines: tuple[Colour, ...] = (WHITE, BLACK),
        dash_pt: tuple[float, float] | None = None,
    ) -> None:
        """Draw a line with outlines around its `core`, the outermost named first."""
        parts = [path] if dash_pt is None else self._dashes(path, dash_pt)
        for level, colour in enumerate((*outlines, core)):
            extra_pt = 2 * EDGE_PT * (len(outlines) - level)
            for part in parts:
                self._line(part, (width_pt + extra_pt) * self.px_per_pt, colour)

    def cut(self, path: Path) -> None:
        """Draw a cut: a solid double line with dashes within."""
        self.stroke(path, CUT_LINE_PT, BLACK)
        for dash in self._dashes(path, CUT_DASH_PT):
            self._line(dash, CUT_LINE_PT * self.px_per_pt, CUT)

    def arrow(self, tail: Path, tip: Path) -> None:
        """Draw a line from `tail` with an arrow head that ends at `tip`."""
        length = float(np.hypot(*(tip - tail)))
        along = (tip - tail) / max(length, 1e-9) * ARROW_PT * self.px_per_pt
        across = np.array([-along[1], along[0]]) * 0.4
        edge = EDGE_PT * self.px_per_pt
        # The outlines grow beyond the head, so it ends a little before the tip.
        tip = tip - along * (2.5 * EDGE_PT / ARROW_PT)
        head = Polygon([tip, tip - along + across, tip - along - across])
        self.stroke(np.stack([tail, tip - along]), LEADER_LINE_PT, CUT)
        draw = ImageDraw.Draw(self.image)
        for grown, colour in ((2 * edge, WHITE), (edge, BLACK), (0.0, CUT)):
            outline = head.buffer(grown).exterior.coords
            draw.polygon([tuple(point) for point in outline], colour)

    def hatch(self, region: Polygon | MultiPolygon) -> None:
        """Draw slanting double lines over `region`, given in (x, y) px."""
        left, top, right, bottom = region.bounds
        step = HATCH_STEP_PT * self.px_per_pt
        height = bottom - top
        for start in np.arange(left - height, right, step):
            slant = LineString([(start, bottom), (start + height, top)])
            for path in _lines_of(slant.intersection(region)):
                self.stroke(path, HATCH_LINE_PT, WHITE, (BLACK,))

    def tile(
        self, centre: Path, text: str, size_pt: float, ink: Colour, paper: Colour
    ) -> None:
        """Draw `text` on a rectangle of `paper` with two outlines."""
        half = self.tile_size(text, size_pt) / 2
        radius = 0.25 * half[1]
        draw = ImageDraw.Draw(self.image)
        edge = EDGE_PT * self.px_per_pt
        for inset, colour in ((0.0, ink), (edge, paper), (2 * edge, ink)):
            draw.rounded_rectangle(
                [*(centre - half + inset), *(centre + half - inset)], radius, colour
            )
        draw.rounded_rectangle(
            [*(centre - half + 3 * edge), *(centre + half - 3 * edge)], radius, paper
        )
        self._text(centre, text, size_pt, ink)

    def disc(self, centre: Path, text: str, size_pt: float) -> None:
        """Draw a number in a black disc with two outlines."""
        radius = self.disc_radius(size_pt)
        draw = ImageDraw.Draw(self.image)
        edge = EDGE_PT * self.px_per_pt
        for inset, colour in ((0.0, BLACK), (edge, WHITE), (2.5 * edge, BLACK)):
            draw.circle(tuple(centre), radius - inset, colour)
        # Two figures share the room of one.
        shared_pt = max(0.75 * size_pt, min(size_pt, FOOT_PT))
        self._text(centre, text, size_pt if len(text) == 1 else shared_pt, WHITE)

    def dot(self, centre: Path, radius_pt: float) -> None:
        """Draw a white dot in a black and a white outline."""
        draw = ImageDraw.Draw(self.image)
        for grown_pt, colour in ((2 * EDGE_PT, WHITE), (EDGE_PT, BLACK), (0.0, WHITE)):
            radius = (radius_pt + grown_pt) * self.px_per_pt
            draw.circle(tuple(centre), radius, colour)

    def halo_text(self, centre: Path, text: str, size_pt: float) -> None:
        """Draw white letters with a thick black halo and a thin white rim."""
        for halo_pt, colour in ((2.4 * EDGE_PT, WHITE), (1.6 * EDGE_PT, BLACK)):
            self._text(centre, text, size_pt, colour, halo_pt)
        self._text(centre, text, size_pt, WHITE)

    def _text(
        self,
        centre: Path,
        text: str,
        size_pt: float,
        ink: Colour,
        halo_pt: float = 0.0,
    ) -> None:
        halo = halo_pt * self.px_per_pt
        if self.kept is not None:
            size = self._letters_px(size_pt)
            self.kept.append(Letters(text, centre, size, halo, ink))
            return
        ImageDraw.Draw(self.image).text(
            tuple(centre),
            text,
            ink,
            self._font(size_pt),
            anchor="mm",
            stroke_width=halo,
            stroke_fill=ink,
        )

    def _font(self, size_pt: float) -> ImageFont.FreeTypeFont:
        return picture_font(BOLD, self._letters_px(size_pt))

    def _letters_px(self, size_pt: float) -> float:
        return max(size_pt, self.least_pt) * self.px_per_pt

    def _line(self, path: Path, width: float, colour: Colour) -> None:
        draw = ImageDraw.Draw(self.image)
        points = [tuple(point) for point in path]
        draw.line(points, colour, max(1, round(width)), joint="curve")
        if width > 2:
            for end in (points[0], points[-1]):
                draw.circle(end, (width - 1) / 2, colour)

    def _dashes(self, path: Path, dash_pt: tuple[float, float]) -> list[Path]:
        on, off = (length * self.px_per_pt for length in dash_pt)
        line = LineString(path)
        # A whole number of periods, so that a closed outline shows no odd dash.
        periods = max(1, round(line.length / (on + off)))
        period = line.length / periods
        share = on / (on + off)
        return [
            np.array(substring(line, start, start + period * share).coords)
            for start in np.arange(periods) * period
        ]


def closed(path: Path) -> Path:
    """Return `path` with its first point repeated at the end."""
    return np.concatenate([path, path[:1]])


def shape_path(
    shape: Iterable[tuple[float, float]], centre: Path, radius: float
) -> Path:
    """Return the closed outline of `shape` around `centre`."""
    return closed(centre + radius * np.array(list(shape)))


def _lines_of(shape: object) -> list[Path]:
    parts = getattr(shape, "geoms", [shape])
    return [
        np.array(part.coords)
        for part in parts
        if isinstance(part, LineString) and part.length > 0
    ]
