"""The annotated pictures of one clump."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from PIL import Image
from shapely import LineString

from eyefind.data import Cut, Flag, Photo, Piece, Plan, Record, Says
from eyefind.sheet.apart import draw_apart
from eyefind.sheet.drawing import Drawing
from eyefind.sheet.frame import CLOSE_ASPECT, Frame, clump_frame, cuts_frame, ground
from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.pen import Letters, Pen
from eyefind.sheet.shapes import finite, region_of
from eyefind.sheet.style import FOOT_PT, NAME_PT, PAPER_WIDTH_MM
from eyefind.sheet.words import spoken_of

WIDTH_PX: Final = 1800
"""Width of a picture: 305 dots per inch on `PAPER_WIDTH_MM`."""
FINER: Final = 2
"""Marks are drawn this many times larger, then reduced, to smooth their edges."""
PAPER_WIDTH_PT: Final = PAPER_WIDTH_MM / 25.4 * 72
PX_PER_PT: Final = WIDTH_PX * FINER / PAPER_WIDTH_PT
SMALLER: Final = FOOT_PT / NAME_PT
"""Size of letters and marks on a picture that is printed narrower."""
BESIDE_MM: Final = 1.5
"""A piece so near to a cut lies beside it;"""
ALONG: Final = 0.4
"""along so much of its length, it is one that the cut parts."""
CLOSE: Final = (0.7, 0.6)
"""Size of those of a close-up, which has no names: of one cut, and of several."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """A picture, and its letters where they are not drawn on it.

    Attributes
    ----------
    image : PIL.Image.Image
        RGB.
    letters : list of Letters
        In px of `image`.
    """

    image: Image.Image
    letters: list[Letters] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Pictures:
    """All pictures of one clump, drawn when they are asked for.

    Attributes
    ----------
    aspect, close_aspect : float
        Width over height of the annotated picture, and of each close-up.
    clump : callable
        Draws the annotated picture, so many points wide.
    close_up : callable
        Draws cuts close up, so many points wide.
    apart, other : callable or None
        Draws the pieces apart, and a plan that is nearly as good, so many points wide;
        None where there is no such thing.
    """

    aspect: float
    close_aspect: float
    clump: Callable[[float], Drawn]
    close_up: Callable[[Sequence[Cut], float], Drawn]
    apart: Callable[[float], Drawn] | None = None
    other: Callable[[float], Drawn] | None = None


def pictures_of(photo: Photo, record: Record, standing: dict[str, Says]) -> Pictures:
    """Tell which pictures a clump has, and how each is drawn."""
    flags = shown_flags(record, standing)
    frame = clump_frame(photo, record, flags, WIDTH_PX)
    plan = record.plan
    other = plan.alternative if plan else None

    def clump(width_pt: float) -> Drawn:
        letters = 1.0 if width_pt >= PAPER_WIDTH_PT - 1 else SMALLER
        sized = clump_frame(photo, record, flags, _px(width_pt))
        return _draw(photo, record, standing, flags, sized, letters=letters, keep=True)

    def close_up(cuts: Sequence[Cut], width_pt: float) -> Drawn:
        return draw_close_up(photo, record, standing, cuts, width_pt, keep=True)

    def apart(width_pt: float) -> Drawn:
        drawn = draw_apart(photo, record, _px(width_pt) // FINER, PX_PER_PT / FINER)
        assert drawn is not None
        return Drawn(drawn)

    def other_plan(width_pt: float) -> Drawn:
        assert other is not None
        return draw_other(photo, record, other, standing, width_pt)

    return Pictures(
        frame.width_px / frame.height_px,
        CLOSE_ASPECT[0],
        clump,
        close_up,
        apart if plan and len(plan.pieces) > 1 else None,
        other_plan if other is not None else None,
    )


def draw_picture(
    photo: Photo, record: Record, standing: dict[str, Says]
) -> Image.Image:
    """Draw the photo with pieces, cuts, flags and discards.

    Parameters
    ----------
    photo : Photo
        The photo itself.
    record : Record
        What is known of it; without a plan only flags and tubers are shown.
    standing : dict of str to str
        What the grower said last of each flag, by its id.

    Returns
    -------
    PIL.Image.Image
        RGB, `WIDTH_PX` wide, cropped to the clump and a margin.
    """
    flags = shown_flags(record, standing)
    frame = clump_frame(photo, record, flags, WIDTH_PX * FINER)
    return _draw(photo, record, standing, flags, frame).image


def draw_close_up(
    photo: Photo,
    record: Record,
    standing: dict[str, Says],
    cuts: Sequence[Cut],
    width_pt: float,
    keep: bool = False,
) -> Drawn:
    """Draw cuts that divide the crown close up, with the eyes around them.

    Parameters
    ----------
    photo : Photo
        The photo itself.
    record : Record
        What is known of it, with a plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    cuts : sequence of Cut
        Of the plan.
    width_pt : float
        Width on paper, points.
    keep : bool
        Whether the letters are kept apart.
    """
    assert record.plan is not None
    flags = [flag for flag in shown_flags(record, standing) if flag.kind == "eye"]
    plan = replace(
        record.plan,
        cuts=list(cuts),
        discards=[],
        pieces=_parted(record.plan, cuts, record.scale.px_per_mm),
    )
    frame = cuts_frame(cuts, flags, record.scale.px_per_mm, _px(width_pt))
    shown = replace(record, plan=plan)
    letters = CLOSE[len(cuts) > 1]
    return _draw(photo, shown, standing, flags, frame, set(), letters, keep)


def draw_other(
    photo: Photo,
    record: Record,
    other: Plan,
    standing: dict[str, Says],
    width_pt: float,
) -> Drawn:
    """Draw another plan of the clump: its pieces and the cuts that divide."""
    flags = [flag for flag in shown_flags(record, standing) if flag.kind == "eye"]
    shown = replace(record, plan=replace(other, cuts=splits_of(other)))
    frame = clump_frame(photo, shown, flags, _px(width_pt))
    return _draw(photo, shown, standing, flags, frame, set(), keep=True)


def splits_of(plan: Plan) -> list[Cut]:
    """Return the cuts that divide: the last ones, one fewer than there are pieces."""
    count = len(plan.pieces) - 1
    return plan.cuts[-count:] if count > 0 else []


def _parted(plan: Plan, cuts: Sequence[Cut], px_per_mm: float) -> list[Piece]:
    """Return the pieces that lie along the cuts, not those that only touch an end."""
    near = BESIDE_MM * px_per_mm
    paths = [LineString(path) for cut in cuts if len(path := finite(cut.path_px)) > 1]
    grown = [region_of(piece.outline_px).buffer(near) for piece in plan.pieces]
    return [
        piece
        for piece, shape in zip(plan.pieces, grown, strict=True)
        if any(path.intersection(shape).length > ALONG * path.length for path in paths)
    ]


def shown_flags(record: Record, standing: dict[str, Says]) -> list[Flag]:
    """Return the flags that count: not rejected, nor added and taken back."""
    return [
        flag
        for flag in record.flags
        if standing.get(flag.id) != "rejected"
        and (flag.origin == "found" or flag.id in standing)
    ]


def _px(width_pt: float) -> int:
    """Return the width at which a picture is drawn before it is reduced."""
    return round(width_pt * PX_PER_PT / FINER) * FINER


def _draw(
    photo: Photo,
    record: Record,
    standing: dict[str, Says],
    flags: list[Flag],
    frame: Frame,
    names: set[str] | None = None,
    letters: float = 1.0,
    keep: bool = False,
) -> Drawn:
    # The photo at its printed size, each pixel doubled: reducing gives it back exactly.
    printed = replace(frame, zoom=frame.zoom / FINER)
    plain = ground(photo, printed, record.anatomy.clump_outline_px)
    size = (plain.width * FINER, plain.height * FINER)
    kept: list[Letters] = []
    pen = Pen(
        plain.resize(size, Image.Resampling.NEAREST),
        PX_PER_PT * letters,
        kept=kept if keep else None,
    )
    names = spoken_of(record, standing) if names is None else names
    drawing = Drawing(pen, frame, what_leaves(record), names)
    confirmed = {flag.id for flag in flags if standing.get(flag.id) == "confirmed"}
    drawing.draw(record, flags, confirmed)
    return Drawn(pen.image.reduce(FINER), [one.reduced(FINER) for one in kept])
