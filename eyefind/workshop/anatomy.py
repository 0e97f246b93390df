"""What a clump is made of: tubes, crown balls and marks, in millimetres.

Clump frame: z runs up along the main stem, the crown's middle is the origin.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]
TubeKind = Literal[
    "tuber",
    "spent_parent",
    "tuber_on_tuber",
    "rat_tail",
    "root",
    "stem",
    "old_stem",
    "sprout",
    "grain",
    "tool",
]
MarkKind = Literal[
    "eye", "bump", "knob", "pit", "scar", "clod", "nick", "soft", "flake", "drop"
]
WART_MM = 3.0
"""Crown balls up to this radius are warts: nothing grows on them."""
EyeColour = Literal["skin", "pale", "pink", "red", "green"]


@dataclass(eq=False)
class Tube:
    """A sphere swept along a curve with changing radius.

    Attributes
    ----------
    kind, id : str
        What it is, its name in the truth (empty where the truth has none).
    points : (N, 3) array
        Middle of the sphere, mm, from its base outwards.
    radius : (N,) array
        Radius there, mm.
    attached_to : str
        ``"crown"`` or the id of a tuber.
    neck, neck_end, tail : int
        Points of the narrowest place, of the body's begin, of the tail's begin.
    cut : bool
        Whether the far end is cut flat.
    hollow : float
        Share of the radius that is hollow at the cut face.
    colour : (3,) array
        sRGB, 0 to 1.
    flesh : (3,) array
        Colour of the cut face, sRGB.
    wrinkles, shrivel, lenticels, blotches, mould, wet : float
        Strength of the skin's features, 0 to 1.
    broken : bool
        Whether the neck is cracked.
    """

    kind: TubeKind
    id: str
    points: Vector
    radius: Vector
    attached_to: str = "crown"
    neck: int = 0
    neck_end: int = 0
    tail: int = -1
    cut: bool = False
    hollow: float = 0.0
    colour: Vector = field(default_factory=lambda: np.array([0.6, 0.5, 0.4]))
    flesh: Vector = field(default_factory=lambda: np.array([0.7, 0.67, 0.48]))
    wrinkles: float = 0.3
    shrivel: float = 0.0
    lenticels: float = 0.4
    blotches: float = 0.4
    mould: float = 0.0
    wet: float = 0.0
    broken: bool = False

    @property
    def along(self) -> Vector:
        """Length along the curve up to each point, mm."""
        steps = np.linalg.norm(np.diff(self.points, axis=0), axis=1)
        return np.concatenate([[0.0], np.cumsum(steps)])

    @property
    def end(self) -> int:
        """Index of the last point of neck and body."""
        return self.tail if self.tail >= 0 else len(self.points) - 1

    @property
    def volume_ml(self) -> float:
        """Volume of the body, from the neck to the tail, ml."""
        part = slice(self.neck, self.end + 1)
        area = np.pi * self.radius[part] ** 2
        return float(np.trapezoid(area, self.along[part]) / 1000)


@dataclass(eq=False)
class Mark:
    """A small thing on the surface: an eye or something that looks like one.

    Attributes
    ----------
    kind : str
        What it is.
    place, normal : (3,) arrays
        Where it sits (mm) and which way the surface faces there.
    radius, height : float
        mm; a negative height is a hollow.
    colour : (3,) array
        sRGB, 0 to 1.
    tint : float
        How strongly the colour covers the skin.
    on : str
        ``"crown"`` or the id of the tube it sits on.
    belongs_to : str
        Of an eye: the tuber whose collar it sits on.
    eye_colour : str
        Of an eye: its colour in a word.
    ring : float
        Strength of the ring and the scale leaves of an eye or bump, 0 to 1.
    sprout : bool
        Of an eye: whether it has begun to grow.
    """

    kind: MarkKind
    place: Vector
    normal: Vector
    radius: float
    height: float
    colour: Vector
    tint: float
    on: str = "crown"
    belongs_to: str = ""
    eye_colour: EyeColour = "skin"
    ring: float = 0.0
    sprout: bool = False


@dataclass(eq=False)
class Clump:
    """One clump in its own frame.

    Attributes
    ----------
    ball_places, ball_radii : (B, 3), (B,) arrays
        Balls that blend into the crown, mm.
    tubes, marks : list
        Everything else.
    skin : str
        ``"washed"`` or ``"brushed"``.
    bark : (3,) array
        Colour of the crown, sRGB 0 to 1.
    dust : float
        How much soil is left in the hollows, 0 to 1.
    rough : float
        How coarse the bark is, 1 on average.
    caked : float
        Share under a crust of soil, roughly.
    """

    ball_places: Vector
    ball_radii: Vector
    tubes: list[Tube]
    marks: list[Mark]
    skin: str
    bark: Vector
    dust: float
    rough: float = 1.0
    caked: float = 0.0

    def exit_of(self, direction: Vector) -> tuple[Vector, Vector]:
        """Find where a ray from the origin leaves the crown.

        Parameters
        ----------
        direction : (3,) array
            Unit vector.

        Returns
        -------
        place, normal : (3,) arrays
            The point, mm, and the way the surface faces there.
        """
        firm = self.ball_radii > WART_MM
        places, radii = self.ball_places[firm], self.ball_radii[firm]
        along = places @ direction
        gap = np.sum(places**2, axis=1) - along**2
        inside = radii**2 - gap
        reach = np.where(inside > 0, along + np.sqrt(np.maximum(inside, 0)), 0.0)
        ball = int(np.argmax(reach))
        place = direction * float(reach[ball])
        return place, (place - places[ball]) / radii[ball]
