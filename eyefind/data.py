"""The data that the steps hand to each other: frozen dataclasses, numpy inside.

Field names are those of the record on disk (docs/record.schema.json).

Frame: every place is (row, col) in px of the full upright photo, 0-indexed, an
integer being a pixel's centre. Names end in ``_rc`` or ``_px`` for pixels and in
``_mm`` or ``_ml`` for what derives from them through the scale.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
"""(N, 2) float64 array of (row, col) px."""
Mask = NDArray[np.bool_]
"""(H, W) bool array."""
Pixels = NDArray[np.uint8]
"""(H, W, 3) uint8 array, sRGB."""

ScaleSource = Literal["card", "two_points", "typed_width", "looks", "guess"]
Kind = Literal[
    "eye", "spent_parent", "soft", "tuber_on_tuber", "rat_tail", "broken_neck"
]
Origin = Literal["found", "added"]
Says = Literal[
    "confirmed",
    "rejected",
    "not_sure",
    "changed",
    "mended",
    "matched",
    "undo",
    "redo",
]
Mending = Literal["stem", "merge", "split", "attach"]
Style = Literal["whole", "stems", "singles", "least"]
Tool = Literal["fine-point snips", "knife", "secateurs"]


@dataclass(frozen=True, eq=False)
class Photo:
    """A photograph, upright.

    Attributes
    ----------
    rgb : (H, W, 3) uint8 array
        sRGB pixels after orientation and colour profile were applied.
    file : str
        File name without folders.
    sha256 : str
        Hash of the file's bytes, hexadecimal.
    taken_at : str or None
        Capture time from the file, ISO 8601 local time.
    """

    rgb: Pixels
    file: str
    sha256: str
    taken_at: str | None = None


@dataclass(frozen=True)
class PhotoFacts:
    """What the record keeps of a photo.

    Attributes
    ----------
    file, sha256 : str
        File name without folders, and hash of the file's bytes.
    height_px, width_px : int
        Size of the upright photo.
    taken_at : str or None
        Capture time from the file, ISO 8601 local time.
    card_code : str or None
        What the code of a numbered bench card in view says, ``"EYE-0017"``.
    """

    file: str
    sha256: str
    height_px: int
    width_px: int
    taken_at: str | None = None
    card_code: str | None = None


@dataclass(frozen=True, eq=False)
class FrameFacts:
    """A further photo of the same view, with the lamp elsewhere.

    Attributes
    ----------
    photo : PhotoFacts
        The photo.
    corners_px : (4, 2) array
        Where its corner pixels (top-left, top-right, bottom-right, bottom-left) lie in
        the main photo: that lays it over the main photo by a homography.
    left_out : str
        Code of the remark that says why it was not used; empty if it was.
    """

    photo: PhotoFacts
    corners_px: Points
    left_out: str = ""


@dataclass(frozen=True)
class Scale:
    """Pixels per millimetre at the crown, and how far to trust it.

    Attributes
    ----------
    px_per_mm : float
        Pixels of the full upright photo in one millimetre.
    source : str
        Where it came from; ``"looks"`` and ``"guess"`` make every millimetre unsure.
    relative_sd : float
        Standard deviation divided by the value.
    """

    px_per_mm: float
    source: ScaleSource
    relative_sd: float

    @property
    def is_unsure(self) -> bool:
        """Whether nothing of known length was in the photo."""
        return self.source in ("looks", "guess")


@dataclass(frozen=True)
class Remark:
    """Something the check has to say about the photo, and what to do about it."""

    code: str
    text: str
    advice: str


@dataclass(frozen=True, eq=False)
class Stem:
    """A stem stub.

    Attributes
    ----------
    id : str
        ``"S1"``, ``"S2"`` ...
    outline_px : (N, 2) array
        Closed outline, last point not repeated.
    axis_px : (2, 2) array
        From the crown to the cut end.
    diameter_mm : float
        Median width across the axis.
    """

    id: str
    outline_px: Points
    axis_px: Points
    diameter_mm: float


@dataclass(frozen=True, eq=False)
class Tuber:
    """One tuber, its neck and what it hangs on.

    Attributes
    ----------
    id : str
        ``"T1"``, ``"T2"`` ... clockwise around the crown from the top.
    outline_px : (N, 2) array
        Closed outline of the visible part, neck included, last point not repeated.
    axis_px : (M, 2) array
        Medial axis from the crown end to the tip.
    width_mm : (M,) array
        Width across the axis at each of its points.
    neck_rc_px : (2,) array
        Centre of the narrowest place between crown and body.
    neck_width_mm : float
        Width there.
    length_mm : float
        Length of the axis from the neck to the tip.
    max_diameter_mm : float
        Greatest width of the body.
    volume_ml : float
        Volume of the body as a solid of revolution about the axis.
    volume_relative_sd : float
        Its standard deviation divided by its value.
    attached_to : str
        ``"crown"``, a stem's id or another tuber's id; ``"none"`` in place of
        ``"crown"`` when no crown was made out.
    """

    id: str
    outline_px: Points
    axis_px: Points
    width_mm: NDArray[np.float64]
    neck_rc_px: Points
    neck_width_mm: float
    length_mm: float
    max_diameter_mm: float
    volume_ml: float
    volume_relative_sd: float
    attached_to: str


@dataclass(frozen=True, eq=False)
class Anatomy:
    """The parts of one clump and how they hang together.

    Attributes
    ----------
    clump_outline_px : (N, 2) array
        Outline of everything that belongs to the clump.
    crown_outline_px : (N, 2) array
        Outline of the crown; (0, 2) when no crown was made out.
    stems, tubers : list
        The other parts.
    """

    clump_outline_px: Points
    crown_outline_px: Points
    stems: list[Stem]
    tubers: list[Tuber]


@dataclass(frozen=True, eq=False)
class Flag:
    """One thing we point at.

    Attributes
    ----------
    id : str
        ``"E1"`` for eyes, ``"F1"`` for the other kinds, ``"G1"`` for those that the
        grower added.
    kind : str
        What it is taken for.
    row_px, col_px : float
        Its place in the full upright photo.
    size_mm : float
        Diameter of an eye, length of anything else.
    likelihood : float
        Calibrated chance that it is what its kind says, 0 to 1.
    reasons : list of str
        Named measures in plain words.
    belongs_to : str or None
        Id of the tuber or stem.
    origin : str
        ``"found"`` by us or ``"added"`` by the grower.
    outline_px : (N, 2) array or None
        Outline, where the thing has one.
    side : int
        0 on the record's own photo; 2, 3 ... when it was seen on a photo of another
        side of the clump. Records hold only their own flags.
    """

    id: str
    kind: Kind
    row_px: float
    col_px: float
    size_mm: float
    likelihood: float
    reasons: list[str]
    belongs_to: str | None = None
    origin: Origin = "found"
    outline_px: Points | None = None
    side: int = 0


@dataclass(frozen=True)
class Change:
    """What the grower changed of a flag; what is None stays as it was.

    Attributes
    ----------
    row_px, col_px : float or None
        Its new place.
    size_mm : float or None
        Its new size.
    belongs_to : str or None
        Id of the tuber or stem that it belongs to instead.
    note : str or None
        The grower's own words on it.
    """

    row_px: float | None = None
    col_px: float | None = None
    size_mm: float | None = None
    belongs_to: str | None = None
    note: str | None = None


@dataclass(frozen=True)
class Mend:
    """How the grower put the anatomy right, by clicks.

    Places instead of ids: they still mean the same when the photo is looked at again.

    Attributes
    ----------
    what : str
        ``"stem"``: what lies there is a stem. ``"merge"``: the two tubers there are
        one. ``"split"``: the line between the places parts the tuber that it crosses.
        ``"attach"``: the tuber at the first place grows from what lies at the second.
    places_px : list of (row, col)
        The clicks: one for ``"stem"``, two for the others.
    """

    what: Mending
    places_px: list[tuple[float, float]]


@dataclass(frozen=True)
class Side:
    """Another photo of the same clump, and which tuber there is which one here.

    Places instead of ids, as in `Mend`.

    Attributes
    ----------
    file, sha256 : str
        File name without folders of that photo, and hash of the file's bytes.
    record : str
        File name of its record, which lies beside this one.
    places_px : list of (row, col, row, col)
        A tuber each: its place on this photo, then its place on the other one. Empty:
        it is no side of this clump after all.
    """

    file: str
    sha256: str
    record: str
    places_px: list[tuple[float, float, float, float]]


@dataclass(frozen=True)
class Decision:
    """What the grower said of a flag, and when.

    The list only ever grows: taking back is a decision too (``"undo"``).

    Attributes
    ----------
    at : str
        ISO 8601 time with offset.
    flag : str
        Id of the flag; empty where the word is about no flag.
    says : str
        The word.
    by : str
        Who said it.
    change : Change or None
        What is changed of the flag, for ``"changed"``.
    mend : Mend or None
        How the anatomy is put right, for ``"mended"``.
    side : Side or None
        Another photo of the same clump, for ``"matched"``.
    joined : bool
        Whether it was said in one go with the word before it: one undo takes back
        both.
    """

    at: str
    flag: str
    says: Says
    by: str
    change: Change | None = None
    mend: Mend | None = None
    side: Side | None = None
    joined: bool = False


@dataclass(frozen=True, eq=False)
class Piece:
    """What is stored as one.

    Attributes
    ----------
    letter : str
        ``"A"``, ``"B"`` ... ``"Z"``, ``"AA"`` ...
    tubers, stems, eyes : list of str
        Ids of its tubers, its stems and its eye flags.
    confirmed_eyes : int
        How many of its eyes the grower confirmed.
    eye_chance : float
        Chance of at least one eye, ``1 - prod(1 - likelihood)``.
    outline_px : (N, 2) array
        Outline in the photo.
    volume_ml : float
        Sum over its tubers.
    note : str
        What to know about it, ``""`` if nothing.
    far_eyes : int
        How many of its eyes were seen on photos of other sides only.
    """

    letter: str
    tubers: list[str]
    stems: list[str]
    eyes: list[str]
    confirmed_eyes: int
    eye_chance: float
    outline_px: Points
    volume_ml: float
    note: str = ""
    far_eyes: int = 0


@dataclass(frozen=True, eq=False)
class Cut:
    """One cut: where, with what and why.

    Attributes
    ----------
    number : int
        Place in the order of work, from 1.
    purpose : str
        Two or three words, such as ``"shorten the stem"``.
    path_px : (N, 2) array
        The stroke, from where the blade enters.
    tool : str
        Class of tool.
    why : str
        The reason, in a sentence.
    hold, enter, stop : str
        What to hold, where the blade enters and where it stops, in words.
    """

    number: int
    purpose: str
    path_px: Points
    tool: Tool
    why: str
    hold: str = ""
    enter: str = ""
    stop: str = ""


@dataclass(frozen=True, eq=False)
class Discard:
    """Something that is not stored.

    Attributes
    ----------
    what : str
        In words, with the id of the part.
    why : str
        The reason.
    belongs_to : str
        Id of the tuber, stem or flag.
    outline_px : (N, 2) array
        Outline in the photo.
    """

    what: str
    why: str
    belongs_to: str
    outline_px: Points


@dataclass(frozen=True)
class Choice:
    """The best way to divide a clump into a number of safe pieces.

    Attributes
    ----------
    pieces : int
        The number.
    cuts : int
        Cuts that divide, cleaning not counted.
    length_mm : float
        Their length in all.
    worth : float
        Plants to expect in spring, less what the cutting costs.
    """

    pieces: int
    cuts: int
    length_mm: float
    worth: float


@dataclass(frozen=True, eq=False)
class Plan:
    """Pieces, cuts in the order of work, and what leaves.

    Attributes
    ----------
    style : str
        ``"whole"``: clean only; ``"stems"``: one piece a stem; ``"singles"``: as many
        safe pieces as possible; ``"least"``: the fewest cuts that give a second one.
    reviewed : bool
        Whether the grower has answered every flag.
    pieces, cuts, discards : list
        The plan itself.
    warnings : list of str
        What the grower must know before cutting.
    most_pieces : int or None
        No more pieces were wanted than this.
    room_l : float or None
        Room left in the store, litres.
    reason : str
        Why this plan was picked.
    choices : list of Choice
        What could be picked: ascending numbers of pieces.
    alternative : Plan or None
        Another plan that is nearly as good.
    """

    style: Style
    reviewed: bool
    pieces: list[Piece]
    cuts: list[Cut]
    discards: list[Discard]
    warnings: list[str]
    most_pieces: int | None = None
    room_l: float | None = None
    reason: str = ""
    choices: list[Choice] = field(default_factory=list)
    alternative: "Plan | None" = None


@dataclass(frozen=True, eq=False)
class Record:
    """Everything known of one clump: the content of ``NAME.eyefind.json``.

    All places are those of `photo`; `frames` are the further photos of its lamp set.
    """

    photo: PhotoFacts
    scale: Scale
    remarks: list[Remark]
    anatomy: Anatomy
    flags: list[Flag]
    decisions: list[Decision] = field(default_factory=list)
    plan: Plan | None = None
    frames: list[FrameFacts] = field(default_factory=list)
