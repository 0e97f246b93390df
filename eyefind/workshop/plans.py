"""Judge the planner on rendered clumps: what its cuts would do to the true clump."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from time import perf_counter

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.ops import substring

from eyefind.data import Anatomy, Flag, Kind, Plan, Says
from eyefind.look.seen import see_whole
from eyefind.plan import make_plan
from eyefind.plan.search import THOROUGH, USUAL, Search
from eyefind.plan.shapes import polygon
from eyefind.rules import Rules, load_rules
from eyefind.workshop.gather import found_parts, read_truths, true_scale
from eyefind.workshop.scores import with_interval
from eyefind.workshop.true_anatomy import true_anatomy, true_axis
from eyefind.workshop.truth import TrueTuber, Truth

OWN_SHARE = 0.5
"""A true tuber is in the piece that covers this share of it."""


@dataclass(frozen=True)
class Outcome:
    """What came of one clump.

    Attributes
    ----------
    pieces, valid : int
        Pieces of a divided plan; those with an eye and a sound body on a whole neck.
    good, best : int
        Valid pieces, a clump left whole counted too; and those of the thorough plan on
        the true anatomy.
    eyes, eyes_lost : int
        Eyes that the camera sees; those that a cut comes nearer to than the rule's
        clearance, or that leave with what is not stored.
    necks, necks_cut : int
        Visible necks of sound tubers; those that a cut goes through.
    seconds : float
        How long the planning took.
    """

    pieces: int
    valid: int
    good: int
    best: int
    eyes: int
    eyes_lost: int
    necks: int
    necks_cut: int
    seconds: float


def judge_plans(folder: Path, found: bool = False) -> str:
    """Judge plans with every visible eye confirmed, and everything that comes off.

    Parameters
    ----------
    folder : Path
        Pictures with their truth.
    found : bool
        Plan on the anatomy that the look finds; else on the true one.

    Returns
    -------
    str
        A table in Markdown, each figure with its count.
    """
    outcomes = list(_outcomes(folder, found, load_rules()))
    head = (
        f"{len(outcomes)} rendered clumps of {folder.name}, "
        f"{'found' if found else 'true'} anatomy, flags confirmed"
    )
    return "\n".join([head, "", "| measure | value |", "|---|---|", *_rows(outcomes)])


def judge_plan(truth: Truth, plan: Plan, best: int, seconds: float) -> Outcome:
    """Set a plan against the truth.

    Parameters
    ----------
    truth : Truth
        The truth.
    plan : Plan
        The plan.
    best : int
        Valid pieces that could be had.
    seconds : float
        How long the planning took.

    Returns
    -------
    Outcome
        The counts.
    """
    rules = load_rules()
    cuts = shapely.union_all([LineString(cut.path_px) for cut in plan.cuts])
    sound = [tuber for tuber in truth.tubers if _is_sound(tuber, rules)]
    severed = {tuber.id for tuber in sound if _severed(tuber, cuts, truth)}
    # A soft tuber may have to leave whole: its neck is no loss.
    visible = [tuber for tuber in sound if tuber.neck_visible and not tuber.soft]
    near_px = rules.value("eye_clearance_mm") * truth.px_per_mm
    gone = shapely.union_all([polygon(part.outline_px) for part in plan.discards])
    lost = {
        eye.id
        for eye in truth.eyes
        if cuts.dwithin(place := Point(eye.row_px, eye.col_px), near_px)
        or gone.covers(place)
    }
    kept = [tuber for tuber in sound if tuber.id not in severed]
    eyes = [Point(e.row_px, e.col_px) for e in truth.eyes if e.id not in lost]
    shapes = [polygon(piece.outline_px) for piece in plan.pieces]
    homes = [_nearest(place, shapes) for place in eyes]
    good = sum(
        number in homes and any(_lies_in(tuber, shape) for tuber in kept)
        for number, shape in enumerate(shapes)
    )
    divided = len(plan.pieces) > 1
    return Outcome(
        len(plan.pieces) if divided else 0,
        good if divided else 0,
        good,
        best,
        len(truth.eyes),
        len(lost),
        len(visible),
        sum(tuber.id in severed for tuber in visible),
        seconds,
    )


def true_flags(truth: Truth) -> list[Flag]:
    """Return a flag for every eye that the camera sees and all that should come off."""
    flags = [
        Flag(f"E{n}", "eye", e.row_px, e.col_px, e.size_mm, 1.0, [], e.belongs_to)
        for n, e in enumerate(truth.eyes, 1)
    ]
    off: list[tuple[Kind, list[tuple[float, float]]]] = [
        (kind, tuber.outline_px)
        for tuber in truth.tubers
        if (kind := _comes_off(tuber)) and len(tuber.outline_px) > 2
    ]
    off += [(p.kind, p.outline_px) for p in truth.patches if len(p.outline_px) > 2]
    for number, (kind, outline) in enumerate(off, 1):
        row, col = np.mean(outline, axis=0)
        place = float(row), float(col)
        shape = np.array(outline)
        name = f"F{number}"
        flags.append(Flag(name, kind, *place, 20.0, 1.0, [], outline_px=shape))
    return flags


def _outcomes(folder: Path, found: bool, rules: Rules) -> Iterator[Outcome]:
    for truth, rgb, _ in read_truths(folder):
        true = true_anatomy(truth)
        thorough, _ = _planned(truth, true, rules, THOROUGH)
        best = judge_plan(truth, thorough, 0, 0.0).good
        anatomy = true
        if found:
            seen = see_whole(rgb, truth.px_per_mm)
            anatomy = found_parts(rgb, true_scale(truth), rules, seen)[1]
        plan, seconds = _planned(truth, anatomy, rules, USUAL)
        yield judge_plan(truth, plan, best, seconds)


def _planned(
    truth: Truth, anatomy: Anatomy, rules: Rules, search: Search
) -> tuple[Plan, float]:
    flags = true_flags(truth)
    said: dict[str, Says] = {flag.id: "confirmed" for flag in flags}
    scale = true_scale(truth)
    start = perf_counter()
    plan = make_plan(anatomy, flags, said, scale, "singles", rules, search=search)
    return plan, perf_counter() - start


def _rows(outcomes: list[Outcome]) -> Iterator[str]:
    for name, top, bottom in (
        ("valid pieces of divided clumps", "valid", "pieces"),
        ("eyes lost to cuts", "eyes_lost", "eyes"),
        ("necks severed", "necks_cut", "necks"),
    ):
        done, of = _total(outcomes, top), _total(outcomes, bottom)
        share = with_interval(partial(_share, top=top, bottom=bottom), outcomes, of)
        yield f"| {name} | {share}: {done} |"
    regret = with_interval(
        lambda some: float(np.mean([o.best - o.good for o in some])),
        outcomes,
        len(outcomes),
    )
    good, best = _total(outcomes, "good"), _total(outcomes, "best")
    yield f"| regret, valid pieces a clump | {regret}: {good} instead of {best} |"
    times = np.array([outcome.seconds for outcome in outcomes]) * 1000
    median, most = np.median(times), times.max()
    yield f"| planning, median and longest | {median:.0f} and {most:.0f} ms |"


def _total(outcomes: Sequence[Outcome], name: str) -> int:
    return sum(getattr(outcome, name) for outcome in outcomes)


def _share(outcomes: Sequence[Outcome], top: str, bottom: str) -> float:
    of = _total(outcomes, bottom)
    return _total(outcomes, top) / of if of else float("nan")


def _comes_off(tuber: TrueTuber) -> Kind | None:
    if tuber.kind != "tuber":
        return tuber.kind
    return "broken_neck" if tuber.broken_neck else None


def _is_sound(tuber: TrueTuber, rules: Rules) -> bool:
    return (
        tuber.kind == "tuber"
        and not tuber.broken_neck
        and len(tuber.outline_px) > 2
        and tuber.max_diameter_mm >= rules.value("smallest_body_diameter_mm")
        and tuber.length_mm >= rules.value("smallest_body_length_mm")
    )


def _severed(true: TrueTuber, cuts: shapely.Geometry, truth: Truth) -> bool:
    """Whether a cut parts the body from the crown, anywhere from there to its middle.

    So if it crosses the way from the crown's rim to where the body is thickest; or if
    it comes nearer to the middle of the neck's line than half the neck's width, from
    the rim to as far beyond the neck as that is wide. Of a neck that is hidden only
    its middle is known.
    """
    width_px = true.neck_width_mm * truth.px_per_mm
    axis_px, width_mm = true_axis(true, truth)
    thickest = max(int(np.argmax(width_mm)), 1)
    neck = middle = Point(true.neck_rc_px)
    if true.neck_visible:
        axis = LineString(axis_px)
        neck = shapely.union(
            middle, substring(axis, 0.0, axis.project(middle) + width_px)
        )
    through = cuts.intersects(LineString(axis_px[: thickest + 1]))
    return bool(through or cuts.dwithin(neck, width_px / 2))


def _lies_in(tuber: TrueTuber, piece: Polygon) -> bool:
    own = polygon(np.array(tuber.outline_px))
    return bool(own.intersection(piece).area > OWN_SHARE * own.area)


def _nearest(place: Point, shapes: list[Polygon]) -> int:
    return min(range(len(shapes)), key=lambda k: shapes[k].distance(place))
