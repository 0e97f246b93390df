"""A photograph, the photos of its lamp set, its scale and what is to be said of it."""

from dataclasses import dataclass
from typing import Literal

from eyefind.data.arrays import Pixels, Points

ScaleSource = Literal["card", "two_points", "typed_width", "looks", "guess"]


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
