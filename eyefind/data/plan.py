"""What to cut, what comes of it and what leaves."""

from dataclasses import dataclass, field
from typing import Literal

from eyefind.data.arrays import Points

Style = Literal["whole", "stems", "singles", "least"]
Tool = Literal["fine-point snips", "knife", "secateurs"]


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
    moved : bool
        Whether the grower moved it.
    """

    number: int
    purpose: str
    path_px: Points
    tool: Tool
    why: str
    hold: str = ""
    enter: str = ""
    stop: str = ""
    moved: bool = False


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
