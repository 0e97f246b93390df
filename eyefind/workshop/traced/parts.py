"""What a traced clump consists of (mm)."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from eyefind.workshop.traced.noise3 import Floats

TAIL_MM = 20.0
"""Thin ends longer than this are rat's tails (as in rules.toml)."""
RootKind = Literal["tuber", "spent_parent", "tuber_on_tuber", "rat_tail", "hair"]
Skin = Literal["brushed", "washed", "wet"]


@dataclass(eq=False)
class Root:
    """A tuber, a spent parent, a rat's tail or a hair root.

    Attributes
    ----------
    kind : str
        What it is.
    number : int
        Instance in the label image.
    attached_to : str
        ``"crown"`` or the id of a tuber.
    path : (N, 3) array
        Its middle from inside what it hangs on to its tip.
    along, radius : (N,) array
        Place along the path and radius there, without flattening.
    leaves, neck, shoulder, end : float
        Places along: where it leaves the crown, where the neck is narrowest, where
        the body begins and where it ends (a thin tail may follow).
    flat, lumps : float
        How oval the section is, how uneven the skin, as shares of the radius.
    broken, soft : bool
        State.
    """

    kind: RootKind
    number: int
    attached_to: str
    path: Floats
    along: Floats
    radius: Floats
    leaves: float = 0.0
    neck: float = 0.0
    shoulder: float = 0.0
    end: float = 0.0
    flat: float = 0.05
    lumps: float = 0.04
    broken: bool = False
    soft: bool = False

    def place(self, along: float) -> Floats:
        """Return the point of the path at a place along, (3,)."""
        return np.array([np.interp(along, self.along, p) for p in self.path.T])

    def thickness(self, along: float) -> float:
        """Return the radius at a place along."""
        return float(np.interp(along, self.along, self.radius))


@dataclass(frozen=True)
class Lump:
    """An ellipsoid of the crown: middle and half axes, (3,) each."""

    middle: Floats
    half: Floats


@dataclass(frozen=True)
class Stub:
    """A stem, living or long dead.

    Attributes
    ----------
    base, way : (3,) array
        Where it starts, and its direction.
    length, radius : float
        To the cut; outer radius.
    hollow : float
        Radius of the hole, 0 for none.
    slant : (3,) array
        Normal of the cut.
    green : float
        0 brown and dry to 1 green.
    """

    base: Floats
    way: Floats
    length: float
    radius: float
    hollow: float
    slant: Floats
    green: float


@dataclass(eq=False)
class Plan:
    """A whole clump: stem upwards, the crown's middle at the origin."""

    size: float
    lumps: list[Lump]
    stems: list[Stub]
    stumps: list[Stub]
    roots: list[Root]
    skin: Skin
    hue: Floats
    eye_habit: tuple[float, float] = (0.0, 0.0)
    hairs: list[Root] = field(default_factory=list)

    def tubers(self) -> list[Root]:
        """Return tubers of all three kinds."""
        kinds = ("tuber", "spent_parent", "tuber_on_tuber")
        return [root for root in self.roots if root.kind in kinds]
