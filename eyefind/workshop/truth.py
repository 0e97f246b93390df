"""The truth of a rendered clump, as it lies beside its picture.

``NAME.truth.json`` holds a `Truth`; ``NAME.truth.png`` holds the label image at the
size `label_shape`: 16-bit, value ``100 * part + instance``, where part is an index into
`eyefind.model.network.PARTS` and instances count from 1. The further frames of a set
with the lamp moved lie beside it as ``NAME-lamp2.jpg`` and so on.
"""

from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True)
class TrueEye:
    """One eye that the camera sees, at least in part.

    Attributes
    ----------
    id, belongs_to : str
        Own id, id of the tuber on whose collar it sits.
    row_px, col_px : float
        Its middle in the photo.
    size_mm : float
        Diameter.
    visible_fraction : float
        Share of its surface that the camera sees.
    colour : str
        ``"skin"``, ``"pale"``, ``"pink"``, ``"red"`` or ``"green"``.
    delta_e : float
        CIEDE2000 difference between the eye and the ring around it, in the picture.
    sprouting : bool
        Whether it has begun to grow.
    """

    id: str
    row_px: float
    col_px: float
    size_mm: float
    belongs_to: str
    visible_fraction: float
    colour: Literal["skin", "pale", "pink", "red", "green"]
    delta_e: float
    sprouting: bool


@dataclass(frozen=True)
class TrueTuber:
    """One tuber, rat's tail excepted.

    Attributes
    ----------
    id : str
        Also its instance number in the label image: ``"T3"`` is instance 3.
    kind : str
        ``"tuber"``, ``"spent_parent"`` or ``"tuber_on_tuber"``.
    attached_to : str
        ``"crown"`` or the id of a tuber.
    outline_px : list of (row, col)
        Largest visible part, neck included; empty if hidden.
    neck_rc_px : (row, col)
        Middle of the neck, projected whether hidden or not.
    neck_width_mm, length_mm, max_diameter_mm, volume_ml : float
        True measures in space.
    neck_visible, broken_neck, soft : bool
        State.
    """

    id: str
    kind: Literal["tuber", "spent_parent", "tuber_on_tuber"]
    attached_to: str
    outline_px: list[tuple[float, float]]
    neck_rc_px: tuple[float, float]
    neck_width_mm: float
    length_mm: float
    max_diameter_mm: float
    volume_ml: float
    neck_visible: bool
    broken_neck: bool
    soft: bool


@dataclass(frozen=True)
class TrueStem:
    """One stem: its outline, its axis from crown to cut end, its diameter."""

    id: str
    outline_px: list[tuple[float, float]]
    axis_px: list[tuple[float, float]]
    diameter_mm: float


@dataclass(frozen=True)
class TruePatch:
    """A rat's tail or a soft patch: where it is and what it belongs to."""

    id: str
    kind: Literal["rat_tail", "soft"]
    belongs_to: str
    outline_px: list[tuple[float, float]]


@dataclass(frozen=True)
class TrueFrame:
    """One frame of a set with the lamp moved.

    Attributes
    ----------
    file : str
        Name of its picture.
    toward : (float, float, float)
        Unit vector towards the lamp: row, col, up to the camera.
    motion_px : (float, float)
        How far things at the crown lie from where the main frame has them.
    """

    file: str
    toward: tuple[float, float, float]
    motion_px: tuple[float, float]


def frame_file(name: str, number: int) -> str:
    """Name the file of a frame of a set; the main frame is number 1."""
    return f"{name}.jpg" if number == 1 else f"{name}-lamp{number}.jpg"


@dataclass(frozen=True)
class Truth:
    """Everything that is so, in px of the full upright picture unless in mm.

    Attributes
    ----------
    format, version : str, int
        ``"eyefind-truth"``, 1.
    file : str
        Name of the picture.
    seed, family : int, str
        What made it.
    height_px, width_px : int
        Size of the picture.
    label_shape : (int, int)
        Height and width of the label image (may be smaller than the picture).
    px_per_mm : float
        At the crown.
    card : bool
        Whether the bench card lies in view.
    view, light, skin, bench : str
        How it was taken, in a word each.
    clump_outline_px, crown_outline_px : list of (row, col)
        Visible outlines.
    eyes, tubers, stems, patches : list
        The parts. Eyes that the camera cannot see are left out.
    spoilt : list of str
        What is deliberately wrong with the picture (``"blur"``, ``"dark"`` ...).
    frames : list of TrueFrame
        Those of a set, the main one, `file`, first; none of a single picture.
    """

    format: str
    version: int
    file: str
    seed: int
    family: str
    height_px: int
    width_px: int
    label_shape: tuple[int, int]
    px_per_mm: float
    card: bool
    view: str
    light: str
    skin: str
    bench: str
    clump_outline_px: list[tuple[float, float]]
    crown_outline_px: list[tuple[float, float]]
    eyes: list[TrueEye]
    tubers: list[TrueTuber]
    stems: list[TrueStem]
    patches: list[TruePatch]
    spoilt: list[str]
    frames: list[TrueFrame] = field(default_factory=list)
