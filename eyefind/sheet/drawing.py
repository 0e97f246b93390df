"""Marks and labels of one clump, laid over its photo."""

from dataclasses import dataclass, field, replace
from functools import partial
from typing import Final

import numpy as np
from PIL import Image, ImageDraw
from shapely import Point, Polygon, box, union_all
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, polylabel

from eyefind.data import Cut, Flag, Kind, Plan, Points, Record, Stem, Tuber
from eyefind.sheet import words
from eyefind.sheet.frame import Frame
from eyefind.sheet.labels import EYE_WEIGHT, LABEL_WEIGHT, Label, Places
from eyefind.sheet.leaving import Leaving
from eyefind.sheet.pen import Path, Pen, shape_path
from eyefind.sheet.style import (
    ARROW_PT,
    BLACK,
    DISCARD_PT,
    EDGE_PT,
    FLAG_LINE_PT,
    FLAG_RADIUS_PT,
    LEADER_LINE_PT,
    LETTER_PT,
    NAME_PT,
    NUMBER_PT,
    OPEN_DASH_PT,
    PIECE_LINE_PT,
    PIN_PT,
    SHAPES,
    WHITE,
    colour_of,
)

BAND_PT: Final = FLAG_LINE_PT + 4 * EDGE_PT
"""Thickness of a flag's mark: the line with both outlines on either side."""
FINEST: Final = 0.5
"""Marks are drawn so much finer at most: both outlines must still be seen."""
CROWN_WEIGHT: Final = 1.0
"""How bad it is that a label hides the crown, where eyes and necks are looked for."""


@dataclass
class Drawing:
    """Draws everything that is known of a clump on one picture.

    Attributes
    ----------
    pen : Pen
        Draws on the picture.
    frame : Frame
        The part of the photo that the picture shows.
    leaving : Leaving
        What leaves by the plan.
    spoken_of : set of str
        Ids of flags, tubers and stems that need their name.
    """

    pen: Pen
    frame: Frame
    leaving: Leaving
    spoken_of: set[str]
    places: Places = field(init=False)
    marks: dict[str, tuple[Path, float]] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        self.places = Places(np.array(self.pen.image.size, dtype=float))
        self.bare = self.pen.image.copy()
        self.window = box(0, 0, *self.pen.image.size)

    def draw(self, record: Record, flags: list[Flag], confirmed: set[str]) -> None:
        """Draw lines, then marks, then labels, so that nothing hides an eye.

        Parameters
        ----------
        record : Record
            What is known of the clump.
        flags : list of Flag
            The flags that count.
        confirmed : set of str
            Ids of those that the grower confirmed.
        """
        if record.plan is not None:
            self._lines(record.plan)
        crown = self.frame.region(record.anatomy.crown_outline_px)
        if not crown.is_empty:
            low, high = np.array(crown.bounds).reshape(2, 2)
            self.places.keep_clear((low + high) / 2, (high - low) / 2, CROWN_WEIGHT)
        self.marks = self._flags(flags, confirmed, record.scale.px_per_mm)
        if record.plan is not None:
            doubtful = {
                self.leaving.flags[flag.id]
                for flag in flags
                if flag.id in self.leaving.flags and flag.id not in confirmed
            }
            self._plan_labels(record.plan, doubtful)
        for flag_id, (centre, radius) in self.marks.items():
            if flag_id in self.spoken_of:
                self._flag_name(flag_id, centre, radius)
        parts: list[Tuber | Stem] = [*record.anatomy.tubers, *record.anatomy.stems]
        for part in parts:
            if part.id in self.spoken_of - self.leaving.tubers:
                self._part_name(part)

    def _lines(self, plan: Plan) -> None:
        for discard in plan.discards:
            region = self._seen(discard.outline_px)
            if not region.is_empty:
                self.pen.hatch(region)
            self._outline(discard.outline_px)
        for piece in plan.pieces:
            self._outline(piece.outline_px)
        for cut in plan.cuts:
            path = self.frame.path(cut.path_px)
            if len(path) > 1:
                self.pen.cut(path)
                self.places.keep_line_clear(path, 3 * EDGE_PT * self.pen.px_per_pt)

    def _outline(self, outline_px: Points) -> None:
        region = self.frame.region(outline_px)
        for part in getattr(region, "geoms", [region]):
            if not part.is_empty:
                # Traced outlines have a corner at every pixel of the photo.
                path = np.array(part.exterior.simplify(1.0).coords)
                self.pen.stroke(path, PIECE_LINE_PT, WHITE, (BLACK,))

    def _flags(
        self, flags: list[Flag], confirmed: set[str], px_per_mm: float
    ) -> dict[str, tuple[Path, float]]:
        """Draw the flags' marks; return centre and outer radius px by flag."""
        marks = {}
        sizes = mark_sizes(flags, px_per_mm, self._pt_per_px())
        for flag, (inner_pt, fineness) in zip(flags, sizes, strict=True):
            centre = self.frame.path(np.array([[flag.row_px, flag.col_px]]))
            # What leaves is hatched and numbered: one mark more would only crowd it.
            if flag.id in self.leaving.flags or not self._sees(centre):
                continue
            if flag.kind == "eye":
                self._uncover(centre[0], inner_pt * self.pen.px_per_pt)
            sure = flag.id in confirmed
            fine = replace(self.pen, px_per_pt=self.pen.px_per_pt * fineness)
            radius = draw_flag_mark(
                fine, flag.kind, centre[0], inner_pt / fineness, sure
            )
            self.places.keep_clear(centre[0], radius, EYE_WEIGHT)
            marks[flag.id] = (centre[0], radius)
        return marks

    def _uncover(self, centre: Path, radius: float) -> None:
        """Lay what the photo shows of an eye over the lines that ran across it."""
        left, top = (int(low) for low in np.floor(centre - radius))
        side = int(np.ceil(2 * radius)) + 1
        bare = self.bare.crop((left, top, left + side, top + side))
        mask = Image.new("L", bare.size, 0)
        x, y = centre - (left, top)
        ImageDraw.Draw(mask).circle((x, y), radius, 255)
        self.pen.image.paste(bare, (left, top), mask)

    def _plan_labels(self, plan: Plan, doubtful: set[int]) -> None:
        self._letters_and_numbers(plan)
        for number, discard in enumerate(plan.discards):
            label = words.OUT + "?" * (number in doubtful)
            # A tuber that leaves is named as well where there is room.
            named = discard.belongs_to in self.leaving.tubers
            own = _largest(self._seen(discard.outline_px))
            if not named or not self._write(f"{label} {discard.belongs_to}", own):
                self._write(label, own)

    def _write(self, label: str, own: Polygon) -> bool:
        """Write on what leaves if it is large enough; its hatching tells the rest."""
        size = self.pen.tile_size(label, DISCARD_PT)
        centre = None if own.is_empty else self.places.fit(_heart(own), size, own)
        if centre is not None:
            self.pen.tile(centre, label, DISCARD_PT, BLACK, WHITE)
        return centre is not None

    def _letters_and_numbers(self, plan: Plan) -> None:
        """Letter the pieces, that with the least room first, and number the cuts."""
        owns = [(_largest(self._seen(p.outline_px)), p.letter) for p in plan.pieces]
        pieces = sorted(
            (one for one in owns if not one[0].is_empty), key=lambda one: one[0].area
        )
        cuts = [
            cut for cut in plan.cuts if self._sees(self.frame.path(cut.path_px)[:1])
        ]
        letters = [self._letter(k, pieces) for k in range(len(pieces))]
        numbers = [
            Label(partial(self._number_place, cut), partial(self._number_hope, cut))
            for cut in cuts
        ]
        centres = self.places.settle(letters + numbers)
        for (own, _), centre in zip(pieces, centres, strict=False):
            if not own.contains(Point(centre)):
                self._leader(start := self._edge(own, centre), centre)
                self._pin(start)
        for cut, centre in zip(cuts, centres[len(pieces) :], strict=True):
            self.pen.arrow(centre, self._entry(cut)[0])
            self.pen.disc(centre, str(cut.number), NUMBER_PT)
        for (_, letter), centre in zip(pieces, centres, strict=False):
            self.pen.tile(centre, letter, LETTER_PT, BLACK, WHITE)

    def _letter(self, number: int, pieces: list[tuple[Polygon, str]]) -> Label:
        own, letter = pieces[number]
        size = self.pen.tile_size(letter, LETTER_PT)
        others = union_all(
            [shape for k, (shape, _) in enumerate(pieces) if k != number]
        )
        heart = _heart(own)
        return Label(lambda: self.places.choose(heart, size, own, others=others))

    def _pin(self, place: Path) -> None:
        """End a leader in a dot, unless that would touch the mark of an eye."""
        reach = 2 * PIN_PT * self.pen.px_per_pt
        marks = self.marks.values()
        if all(
            np.hypot(*(place - centre)) > radius + reach for centre, radius in marks
        ):
            self.pen.dot(place, PIN_PT)

    def _number_place(self, cut: Cut) -> Path:
        tip, ahead = self._entry(cut)
        radius = self.pen.disc_radius(NUMBER_PT)
        half = 0.5 * ARROW_PT * self.pen.px_per_pt
        centre = self.places.choose(
            tip,
            np.full(2, 2 * radius),
            ahead=ahead,
            least=self._least(radius),
            arrow_half=half,
        )
        self.places.keep_line_clear(np.stack([centre, tip]), half, LABEL_WEIGHT)
        return centre

    def _number_hope(self, cut: Cut, weight: float) -> None:
        tip, ahead = self._entry(cut)
        radius = self.pen.disc_radius(NUMBER_PT)
        centre = tip + ahead * self._least(radius)
        self.places.keep_line_clear(np.stack([centre, tip]), radius / 2, weight)
        self.places.keep_clear(centre, radius, weight)

    def _least(self, radius: float) -> float:
        """Return how far from its cut the middle of a number stands, arrow between."""
        return radius + 1.2 * ARROW_PT * self.pen.px_per_pt

    def _entry(self, cut: Cut) -> tuple[Path, Path]:
        """Return where a cut begins, and the unit vector back along it."""
        path = self.frame.path(cut.path_px)
        back = path[0] - path[min(1, len(path) - 1)]
        length = float(np.hypot(*back))
        return path[0], back / length if length else np.array([0.0, -1.0])

    def _flag_name(self, flag_id: str, centre: Path, radius: float) -> None:
        size = self.pen.tile_size(flag_id, NAME_PT)
        place = self.places.choose(centre, size, least=radius + 0.5 * size[1])
        way = (place - centre) / max(float(np.hypot(*(place - centre))), 1e-9)
        self._leader(centre + way * radius, place)
        self.pen.halo_text(place, flag_id, NAME_PT)

    def _part_name(self, part: Tuber | Stem) -> None:
        own = _largest(self._seen(part.outline_px))
        if own.is_empty:
            return
        size = self.pen.tile_size(part.id, NAME_PT)
        centre = self.places.choose(_heart(own), size, own)
        if own.distance(Point(centre)) > 0.7 * size.max():
            self._leader(self._edge(own, centre), centre)
        self.pen.halo_text(centre, part.id, NAME_PT)

    def _edge(self, own: Polygon, centre: Path) -> Path:
        """Return the place just inside `own` that is nearest to a label outside.

        Farther in, a line could run across an eye.
        """
        inner = own.buffer(-3.0 * self.pen.px_per_pt)
        near, _ = nearest_points(own if inner.is_empty else inner, Point(centre))
        return np.array(near.coords[0])

    def _leader(self, start: Path, end: Path) -> None:
        path = np.stack([start, end])
        self.places.keep_line_clear(path, 2 * EDGE_PT * self.pen.px_per_pt)
        self.pen.stroke(path, LEADER_LINE_PT, WHITE, (BLACK,))

    def _seen(self, outline_px: Points) -> BaseGeometry:
        """Return what the picture shows of a region."""
        return self.frame.region(outline_px).intersection(self.window)

    def _sees(self, points: Path) -> bool:
        return bool(len(points)) and self.window.covers(Point(points[0]))

    def _pt_per_px(self) -> float:
        """Return points on paper for one pixel of the photo."""
        return self.frame.zoom / self.pen.px_per_pt


def mark_sizes(
    flags: list[Flag], px_per_mm: float, pt_per_px: float
) -> list[tuple[float, float]]:
    """Return the size of each flag's mark: marks of near neighbours are finer.

    Parameters
    ----------
    flags : list of Flag
        The flags that are drawn.
    px_per_mm : float
        Scale of the photo.
    pt_per_px : float
        Points of the picture for one pixel of the photo.

    Returns
    -------
    list of (float, float)
        Inner radius, points, which never covers the eye; and how fine the lines are,
        from `FINEST` to 1.
    """
    sizes = []
    inner_pts = _inner_radii_pt(flags, px_per_mm, pt_per_px)
    rooms_px = _rooms_px(flags)
    for flag, inner_pt, room_px in zip(flags, inner_pts, rooms_px, strict=True):
        room_pt = room_px * pt_per_px
        least_pt = _least_mm(flag) * px_per_mm * pt_per_px
        share = min(room_pt / (inner_pt + BAND_PT), (room_pt - least_pt) / BAND_PT)
        fineness = float(np.clip(share, FINEST, 1.0))
        sizes.append((max(inner_pt * fineness, least_pt), fineness))
    return sizes


def _inner_radii_pt(
    flags: list[Flag], px_per_mm: float, pt_per_px: float
) -> list[float]:
    """Return the inner radius of each flag's mark in points.

    Wide where there is room, narrower beside a neighbour, never so narrow that the
    mark would cover what it shows.
    """
    room_pt = _rooms_px(flags) * pt_per_px - BAND_PT / 2
    least_pt = [_least_mm(flag) * px_per_mm * pt_per_px for flag in flags]
    return [float(pt) for pt in np.maximum(np.clip(room_pt, *FLAG_RADIUS_PT), least_pt)]


def _rooms_px(flags: list[Flag]) -> Path:
    """Return half the way from each flag to its nearest neighbour, px of the photo."""
    places = np.array([[flag.row_px, flag.col_px] for flag in flags]).reshape(-1, 2)
    apart_px = np.hypot(*(places[:, None] - places).transpose(2, 0, 1))
    np.fill_diagonal(apart_px, np.inf)
    room_px: Path = apart_px.min(axis=1, initial=np.inf) / 2
    return room_px


def _least_mm(flag: Flag) -> float:
    """Return the inner radius of a mark that just leaves its eye free, mm."""
    return 0.6 * flag.size_mm * (flag.kind == "eye")


def draw_flag_mark(
    pen: Pen, kind: Kind, centre: Path, inner_pt: float, confirmed: bool
) -> float:
    """Draw a flag's mark: shape by `kind`, solid when `confirmed`, else dashed.

    Returns
    -------
    float
        Its outer radius in px.
    """
    edge_pt = FLAG_LINE_PT / 2 + 2 * EDGE_PT
    pen.stroke(
        shape_path(SHAPES[kind], centre, (inner_pt + edge_pt) * pen.px_per_pt),
        FLAG_LINE_PT,
        colour_of(kind),
        # White next to the colour makes one broad light band where colour is dropped.
        outlines=(BLACK, WHITE),
        dash_pt=None if confirmed else OPEN_DASH_PT,
    )
    return (inner_pt + 2 * edge_pt) * pen.px_per_pt


def _largest(region: BaseGeometry) -> Polygon:
    parts = [
        part for part in getattr(region, "geoms", [region]) if isinstance(part, Polygon)
    ]
    return max(parts, key=lambda part: part.area, default=Polygon())


def _heart(region: Polygon) -> Path:
    """Return the middle of the widest place of `region`."""
    tolerance = max(1.0, 0.02 * float(np.sqrt(region.area)))
    return np.array(polylabel(region, tolerance).coords[0])
