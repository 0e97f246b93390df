"""Run the finder on rendered clumps and set what it finds against the truth."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray
from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

from eyefind.data import Anatomy, Flag, Kind, Mask, Pixels, Points, Scale
from eyefind.errors import PhotoError
from eyefind.look.anatomy import read_anatomy
from eyefind.look.clump import find_clump
from eyefind.look.flags import weigh_flags, worth_showing
from eyefind.look.outline import filled
from eyefind.model import Answers
from eyefind.photo.card import find_card
from eyefind.photo.reading import read_photo
from eyefind.rules import Rules
from eyefind.workshop.match import match_points, match_regions, match_within
from eyefind.workshop.truth import TrueEye, TrueTuber, Truth

EYE_REACH_MM = 3.0
"""A flag within this of an eye has found it."""
NECK_REACH_MM = 5.0
"""A neck within this of a true one has found it."""
STEM_REACH_MM = 5.0
"""A stem, the middle of whose axis lies within this of what is seen of a true one (0 on
it), has found it. Its foot would not do: tubers begin beside it, too."""
OTHER_REACH_MM: dict[Kind, float] = {
    "spent_parent": 1.0,
    "tuber_on_tuber": 1.0,
    "soft": 3.0,
    "rat_tail": 5.0,
    "broken_neck": 8.0,
}
"""A flag of another kind within this of such a thing (0 on it) has found it."""
SAME_TUBER_IOU = 0.3
"""Found and true tubers that overlap by this much are the same tuber."""
LEAST_IN_VIEW = 0.25
"""Share of a tuber's side view, an ellipse as long and thick as it is, from which on it
is told apart; the same share of an eye that must be seen."""
GRID_PX_PER_MM = 1.0
"""Grid on which tubers are compared."""


@dataclass(frozen=True, eq=False)
class Places:
    """Places with a likelihood (or an answer), the greatest first."""

    place_rc: Points
    likelihood: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Judged:
    """One clump: truth and findings, reduced to what scores need.

    Attributes
    ----------
    truth : Truth
        The truth.
    eyes : Places
        Eye flags, however unlikely.
    shown : Places
        Eye flags that the grower would see.
    found, false, missed : dict of kind to int
        Shown flags of the other kinds that found something, that did not, and things
        that no flag found.
    parent_score : (N,) array
        Likelihood of every tuber that the camera sees to be a spent parent; nan for one
        that was not found.
    is_parent, is_flagged : (N,) bool array
        Whether it is one, and whether a shown flag lies on it and says so.
    overlap : (N,) array
        Its intersection over union with the found tuber that it is; 0 without one.
    in_view : (N,) bool array
        Whether at least `LEAST_IN_VIEW` of it is seen.
    tubers_found, necks_found, necks_true : int
        Counts; necks that the camera sees.
    stems_found, stems_right, stems_true : int
        Counts; those of the found ones that are one, and those that the camera sees.
    """

    truth: Truth
    eyes: Places
    shown: Places
    found: dict[Kind, int]
    false: dict[Kind, int]
    missed: dict[Kind, int]
    parent_score: NDArray[np.float64]
    is_parent: NDArray[np.bool_]
    is_flagged: NDArray[np.bool_]
    overlap: NDArray[np.float64]
    in_view: NDArray[np.bool_]
    tubers_found: int
    necks_found: int
    necks_true: int
    stems_found: int
    stems_right: int
    stems_true: int


Label = NDArray[np.uint16]


def read_truths(folder: Path) -> Iterator[tuple[Truth, Pixels, Label]]:
    """Read every clump of a folder as `read_truth` does, in order of name."""
    return map(read_truth, truth_files(folder))


def truth_files(folder: Path) -> list[Path]:
    """Return every ``NAME.truth.json`` of a folder, in order of name."""
    return sorted(folder.glob("*.truth.json"))


def read_truth(path: Path) -> tuple[Truth, Pixels, Label]:
    """Read a ``NAME.truth.json`` with its pictures.

    Returns
    -------
    truth : Truth
        The truth.
    rgb : (H, W, 3) uint8 array
        The picture.
    label : (h, w) uint16 array
        The label image (see `eyefind.workshop.truth`).
    """
    truth = msgspec.json.decode(path.read_bytes(), type=Truth)
    label = cv2.imread(str(path.with_suffix(".png")), cv2.IMREAD_UNCHANGED)
    return truth, read_photo(path.parent / truth.file).rgb, np.asarray(label)


def found_parts(
    rgb: Pixels, scale: Scale, rules: Rules, seen: Answers | None
) -> tuple[Mask, Anatomy]:
    """Find mask and anatomy as the product does; both are empty if it refuses."""
    card = find_card(rgb)
    try:
        clump = find_clump(rgb, None if card is None else card.outline_px, seen)
        return clump, read_anatomy(rgb, clump, scale, rules, seen)
    except PhotoError:
        nothing = np.zeros((0, 2))
        return np.zeros(rgb.shape[:2], bool), Anatomy(nothing, nothing, [], [])


def true_scale(truth: Truth) -> Scale:
    """Return the scale as the truth has it: its finding is judged elsewhere."""
    return Scale(truth.px_per_mm, "card", 0.0)


def judge(
    truth: Truth,
    rgb: Pixels,
    clump: Mask,
    anatomy: Anatomy,
    rules: Rules,
    seen: Answers | None,
    further: Sequence[Pixels] = (),
) -> Judged:
    """Find flags with the given mask and anatomy and compare them with the truth."""
    scale = true_scale(truth)
    weighed = weigh_flags(rgb, clump, anatomy, scale, rules, seen, further)
    shown = worth_showing(weighed, rules)
    found: dict[Kind, int] = {}
    false: dict[Kind, int] = {}
    missed: dict[Kind, int] = {}
    for kind, reach_mm in OTHER_REACH_MM.items():
        of_kind = [flag for flag in shown if flag.kind == kind]
        there = things(truth, kind)
        far = distances_px(_place_rc(of_kind), there)
        pairs = match_within(far, reach_mm * truth.px_per_mm)
        found[kind] = len(pairs)
        false[kind] = len(of_kind) - len(pairs)
        missed[kind] = len(there) - len(pairs)
    tubers = _tubers_seen(truth)
    necks_found, necks_true = _necks(truth, anatomy)
    return Judged(
        truth,
        _places(weighed),
        _places(shown),
        found,
        false,
        missed,
        _parent_scores(truth, anatomy, weighed),
        np.array([tuber.kind == "spent_parent" for tuber in tubers], bool),
        _flagged(shown, truth),
        _overlaps(truth, anatomy),
        np.array(
            [_share_seen(tuber, truth) >= LEAST_IN_VIEW for tuber in tubers], bool
        ),
        len(anatomy.tubers),
        necks_found,
        necks_true,
        len(anatomy.stems),
        *_stems(truth, anatomy),
    )


def eye_places(eyes: list[TrueEye]) -> Points:
    """Return the eyes' places, (N, 2) px."""
    return np.array([(eye.row_px, eye.col_px) for eye in eyes]).reshape(-1, 2)


def _places(flags: list[Flag]) -> Places:
    eyes = sorted((f for f in flags if f.kind == "eye"), key=lambda f: -f.likelihood)
    return Places(_place_rc(eyes), np.array([f.likelihood for f in eyes]))


def _place_rc(flags: list[Flag]) -> Points:
    return np.array([(f.row_px, f.col_px) for f in flags], float).reshape(-1, 2)


def things(truth: Truth, kind: Kind) -> list[BaseGeometry]:
    """Return where in the picture there is something of a kind."""
    if kind in ("soft", "rat_tail"):
        outlines = [p.outline_px for p in truth.patches if p.kind == kind]
    elif kind == "broken_neck":
        seen = [t for t in truth.tubers if t.broken_neck and t.neck_visible]
        return [Point(tuber.neck_rc_px) for tuber in seen]
    else:
        outlines = [t.outline_px for t in truth.tubers if t.kind == kind]
    return _seen(outlines)


def _seen(outlines: list[list[tuple[float, float]]]) -> list[BaseGeometry]:
    return [Polygon(outline).buffer(0) for outline in outlines if len(outline) > 2]


def distances_px(place_rc: Points, there: list[BaseGeometry]) -> NDArray[np.float64]:
    """Return distances of places (rows) and things (columns), px; 0 inside."""
    return np.array(
        [[thing.distance(Point(place)) for thing in there] for place in place_rc], float
    ).reshape(len(place_rc), len(there))


def _regions(outlines: list[Points], truth: Truth) -> list[NDArray[np.bool_]]:
    step = GRID_PX_PER_MM / truth.px_per_mm
    shape = (round(truth.height_px * step) + 1, round(truth.width_px * step) + 1)
    return [filled(np.asarray(outline, float) * step, shape) for outline in outlines]


def _tubers_seen(truth: Truth) -> list[TrueTuber]:
    return [tuber for tuber in truth.tubers if len(tuber.outline_px) > 2]


def _share_seen(tuber: TrueTuber, truth: Truth) -> float:
    seen_mm2 = float(Polygon(tuber.outline_px).buffer(0).area) / truth.px_per_mm**2
    return seen_mm2 / (np.pi / 4 * tuber.length_mm * tuber.max_diameter_mm)


def _parent_scores(
    truth: Truth, anatomy: Anatomy, weighed: list[Flag]
) -> NDArray[np.float64]:
    same = _same_tubers(truth, anatomy)
    likelihood = {
        same[flag.belongs_to]: flag.likelihood
        for flag in weighed
        if flag.kind == "spent_parent" and flag.belongs_to in same
    }
    return np.array([likelihood.get(t.id, np.nan) for t in _tubers_seen(truth)])


def _flagged(shown: list[Flag], truth: Truth) -> NDArray[np.bool_]:
    """Say which tubers in view a shown flag calls the spent parent."""
    places = _place_rc([flag for flag in shown if flag.kind == "spent_parent"])
    tubers = _seen([tuber.outline_px for tuber in _tubers_seen(truth)])
    reach_px = OTHER_REACH_MM["spent_parent"] * truth.px_per_mm
    return np.asarray((distances_px(places, tubers) <= reach_px).any(axis=0))


def _same_tubers(truth: Truth, anatomy: Anatomy) -> dict[str | None, str]:
    """Id of a found tuber to the id of the true one that it is."""
    seen = _tubers_seen(truth)
    pairs = match_regions(
        _regions([t.outline_px for t in anatomy.tubers], truth),
        _regions([np.array(t.outline_px) for t in seen], truth),
        SAME_TUBER_IOU,
    )
    return {anatomy.tubers[found].id: seen[true].id for found, true, _ in pairs}


def _overlaps(truth: Truth, anatomy: Anatomy) -> NDArray[np.float64]:
    seen = [np.array(tuber.outline_px) for tuber in _tubers_seen(truth)]
    found = _regions([tuber.outline_px for tuber in anatomy.tubers], truth)
    overlap = np.zeros(len(seen))
    for _, true, iou in match_regions(found, _regions(seen, truth), 0.5):
        overlap[true] = iou
    return overlap


def _necks(truth: Truth, anatomy: Anatomy) -> tuple[int, int]:
    true = [t.neck_rc_px for t in truth.tubers if t.neck_visible]
    found = [t.neck_rc_px for t in anatomy.tubers]
    pairs = match_points(
        np.array(found).reshape(-1, 2),
        np.array(true).reshape(-1, 2),
        NECK_REACH_MM * truth.px_per_mm,
    )
    return len(pairs), len(true)


def _stems(truth: Truth, anatomy: Anatomy) -> tuple[int, int]:
    true = _seen([stem.outline_px for stem in truth.stems])
    middles = np.array([stem.axis_px.mean(axis=0) for stem in anatomy.stems])
    far = distances_px(middles, true)
    return len(match_within(far, STEM_REACH_MM * truth.px_per_mm)), len(true)
