"""What each flag counts for once the grower's word is taken."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from shapely import Point

from eyefind.data import Flag, Says, Scale
from eyefind.rules import Rules

Standing = Mapping[str, Says]
"""Flag id -> the word that stands; flags that are missing are undecided."""
Verdict = Literal["cut", "keep", "look_first"]

ANSWERS = ("confirmed", "rejected", "not_sure")


@dataclass(frozen=True, eq=False)
class Eye:
    """An eye that counts (rejected ones do not).

    Attributes
    ----------
    id : str
        Id of its flag.
    place : Point
        Its middle, px.
    guard_px : float
        No cut comes nearer to its middle: half its size and the rule's clearance.
    chance : float
        1 if confirmed, else its likelihood.
    confirmed : bool
        Whether the grower vouches for it.
    belongs_to : str or None
        Id of a tuber or stem.
    found : float
        Its likelihood, whatever the grower said.
    side : int
        0 if it was seen on the main photo. Else its place is not known: it goes with
        its tuber, and no cut can be asked to keep clear of it.
    also : tuple of str
        Ids of flags on photos of other sides that are taken for the same eye.
    """

    id: str
    place: Point
    guard_px: float
    chance: float
    confirmed: bool
    belongs_to: str | None
    found: float = 0.0
    side: int = 0
    also: tuple[str, ...] = ()


def likelihood(flag: Flag) -> float:
    """Return the likelihood as a chance; 0 if it is no number."""
    value = float(flag.likelihood)
    return min(max(value, 0.0), 1.0) if math.isfinite(value) else 0.0


def placed(flag: Flag) -> bool:
    """Whether the flag has a place."""
    return math.isfinite(flag.row_px) and math.isfinite(flag.col_px)


def standing_eyes(
    flags: Sequence[Flag], standing: Standing, scale: Scale, rules: Rules
) -> list[Eye]:
    """Return the eyes that count, in the order of their flags."""
    size = rules["eye_diameter_mm"]
    eyes = []
    for flag in flags:
        if flag.kind != "eye" or standing.get(flag.id) == "rejected":
            continue
        if not placed(flag):
            continue
        sure = standing.get(flag.id) == "confirmed"
        size_mm = flag.size_mm if math.isfinite(flag.size_mm) else size.value
        # A size outside the trade's range is a slip of the finder, not a huge eye.
        size_mm = min(max(size_mm, size.low), size.high)
        guard_mm = size_mm / 2 + rules.value("eye_clearance_mm")
        eyes.append(
            Eye(
                flag.id,
                Point(flag.row_px, flag.col_px),
                guard_mm * scale.px_per_mm,
                1.0 if sure else likelihood(flag),
                sure,
                flag.belongs_to,
                likelihood(flag),
                flag.side,
            )
        )
    return eyes


def chance_of_an_eye(eyes: Sequence[Eye]) -> float:
    """Return the chance of at least one eye: ``1 - prod(1 - chance)``."""
    return 1.0 - math.prod(1.0 - eye.chance for eye in eyes)


def verdict(flag: Flag, standing: Standing, rules: Rules) -> Verdict:
    """Say whether the part that a flag of removal points at is planned to come off.

    A confirmed part comes off, a rejected one stays. One that the grower is not sure
    of is looked at first. One that no one answered comes off from the rule's
    likelihood on; such a plan is stamped as not yet reviewed anyway.
    """
    says = standing.get(flag.id)
    if says == "confirmed":
        return "cut"
    if says == "rejected":
        return "keep"
    if says == "not_sure":
        return "look_first"
    sure = likelihood(flag) >= rules.value("removal_likelihood")
    return "cut" if sure else "look_first"


def is_reviewed(flags: Sequence[Flag], standing: Standing) -> bool:
    """Whether every flag that we found has an answer."""
    return all(
        standing.get(flag.id) in ANSWERS for flag in flags if flag.origin == "found"
    )
