"""What was flagged, and the grower's word on it."""

from dataclasses import dataclass
from typing import Literal

from eyefind.data.arrays import Points

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
