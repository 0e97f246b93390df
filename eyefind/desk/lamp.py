"""The lamp in the grower's hand: relief from any side, and a set's frames in turn."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import cv2
import numpy as np

from eyefind.data import FrameFacts, Mask, Pixels
from eyefind.desk.magnify import Window, draw, natural
from eyefind.desk.prepare import Ready, clump_mask
from eyefind.desk.settings import LEAST_CHANGES_PER_S, MOST_CHANGES_PER_S
from eyefind.photo import frames_again, read_photo
from eyefind.photo.matching import matching_gains
from eyefind.photo.sharpness import LINEAR
from eyefind.record import check_same_photo, read_record
from eyefind.reduce import window_of
from eyefind.relief import Relief, even_colour, make_relief, shade
from eyefind.relief.uses import known_axes

TURN_DEG: Final = 15.0
"""A key turns the lamp so far about the clump."""
RAISE_DEG: Final = 5.0
AROUND_MM: Final = 20.0
"""Bench around the clump that is kept of every frame."""
SIDES: Final = (
    "above",
    "above right",
    "right",
    "below right",
    "below",
    "below left",
    "left",
    "above left",
)

NO_CLUMP: Final = "No clump is shown yet."
BEING_READ: Final = "The frames of the lamp set are being read ..."
NO_SET: Final = (
    "Off: this clump has one photograph. The lamp moves when it has a lamp set, two to "
    "four photographs with the lamp on another side each time."
)
NO_GOOD_FRAME: Final = (
    "Off: no further frame of this lamp set was good. The record's remarks say why."
)
FRAMES_GONE: Final = (
    "Off: the further frames of this lamp set are gone from the folder or were changed."
)


@dataclass(frozen=True)
class Lamp:
    """Where the lamp stands that shades the relief.

    Attributes
    ----------
    azimuth_deg : float
        Its side: 0 above the picture's top edge, 90 right of it.
    height_deg : float
        Its height above the bench, 0 to 90.
    """

    azimuth_deg: float = 315.0
    height_deg: float = 20.0

    def turned(self, by_deg: float) -> "Lamp":
        """Return it carried about the clump, clockwise for more than 0."""
        return replace(self, azimuth_deg=(self.azimuth_deg + by_deg) % 360.0)

    def raised(self, by_deg: float) -> "Lamp":
        """Return it higher, or lower for less than 0; from bench to overhead."""
        return replace(self, height_deg=min(max(self.height_deg + by_deg, 0.0), 90.0))

    @property
    def on_dial(self) -> tuple[float, float]:
        """(x, y) on a dial of radius 1: overhead in its middle, the bench its rim."""
        azimuth, reach = math.radians(self.azimuth_deg), 1 - self.height_deg / 90
        return reach * math.sin(azimuth), -reach * math.cos(azimuth)

    @property
    def words(self) -> str:
        """Where it stands: ``"above left, 20 degrees high"``."""
        side = SIDES[round(self.azimuth_deg / 45) % len(SIDES)]
        return f"{side}, {self.height_deg:.0f} degrees high"


def lamp_at(x: float, y: float) -> Lamp:
    """Return the lamp that stands at (x, y) of a dial, see `Lamp.on_dial`."""
    height_deg = 90 * (1 - min(math.hypot(x, y), 1.0))
    return Lamp(math.degrees(math.atan2(x, -y)) % 360.0, height_deg)


def wait_ms(changes_per_s: float) -> int:
    """Return how long a frame stays, ms: never shorter than the pace limit allows."""
    pace = min(max(changes_per_s, LEAST_CHANGES_PER_S), MOST_CHANGES_PER_S)
    return math.ceil(1000 / pace)


@dataclass(frozen=True, eq=False)
class LampFrames:
    """A clump under all lamps of its set.

    Attributes
    ----------
    frames : list of (h, w, 3) uint8 arrays
        The frames about the clump, laid on the main one, which is the first, and made
        as bright and of the same white as it.
    colour : (h, w, 3) uint8 array
        The same place under all lamps at once, glare left out.
    relief : Relief
        The lie of the surface there, on a grid of its own.
    corner_rc : (row, col)
        Where the frames' first pixel lies in the main frame.
    """

    frames: list[Pixels]
    colour: Pixels
    relief: Relief
    corner_rc: tuple[int, int]

    @property
    def note(self) -> str:
        """What the relief does not tell; empty if it tells all."""
        if known_axes(self.relief.lamps) == 2:
            return ""
        return "These lamps tell the relief only along the line between them."


def why_off(facts: Sequence[FrameFacts]) -> str:
    """Say why a clump with these further frames has no lamp to move; empty if it has.

    Parameters
    ----------
    facts : sequence of FrameFacts
        The record's.

    Returns
    -------
    str
        The reason in words.
    """
    if not facts:
        return NO_SET
    return NO_GOOD_FRAME if all(fact.left_out for fact in facts) else ""


def read_frames(photo_path: Path, record_path: Path) -> LampFrames | None:
    """Read the frames of a lamp set and make their relief; slow work.

    Parameters
    ----------
    photo_path : Path
        The main frame.
    record_path : Path
        Its record; the further frames lie beside the photo.

    Returns
    -------
    LampFrames or None
        None if no further frame is left.

    Raises
    ------
    EyefindError
        If photo or record cannot be used, or do not belong together.
    """
    record, photo = read_record(record_path), read_photo(photo_path)
    check_same_photo(record.photo, record_path, photo_path, photo.sha256)
    clump = clump_mask(record)
    px_per_mm = record.scale.px_per_mm
    whole = frames_again(photo, record.frames, photo_path.parent)
    if len(whole) < 2:
        return None
    relief = make_relief(whole, clump, px_per_mm)
    box = window_of(clump, round(AROUND_MM * px_per_mm))
    frames = [np.ascontiguousarray(frame[box]) for frame in whole]
    inside = np.ascontiguousarray(clump[box])
    colour, evened = even_colour(frames, inside), _evened(frames, inside)
    return LampFrames(evened, colour, relief, (box[0].start, box[1].start))


def frame_shown(lit: LampFrames, ready: Ready, window: Window, number: int) -> Pixels:
    """Return one frame in the window; beyond its edges the photo stands still.

    Parameters
    ----------
    lit : LampFrames
        The frames.
    ready : Ready
        The clump.
    window : Window
        What is shown.
    number : int
        Which frame.

    Returns
    -------
    (height, width, 3) uint8 array
        The picture.
    """
    return _over_photo(lit.frames[number], lit, ready, window)


def all_lamps_shown(lit: LampFrames, ready: Ready, window: Window) -> Pixels:
    """Return the picture under all lamps, without glare; takes what `frame_shown` does.

    Parameters
    ----------
    lit, ready, window
        As for `frame_shown`.

    Returns
    -------
    (height, width, 3) uint8 array
        The picture; beyond its edges the photo.
    """
    return _over_photo(lit.colour, lit, ready, window)


def shaded(lit: LampFrames, window: Window, lamp: Lamp) -> Pixels:
    """Return the relief in the window as a lamp would shade it.

    Parameters
    ----------
    lit : LampFrames
        The clump.
    window : Window
        What is shown.
    lamp : Lamp
        Where the lamp stands.

    Returns
    -------
    (height, width, 3) uint8 array
        Grey; black beyond the frames' edges.
    """
    relief, corner = lit.relief, np.array(lit.relief.corner_rc)
    limit = np.array(relief.valid.shape)
    ends = ((0.0, 0.0), (window.width, window.height))
    first, last = (
        (window.to_photo(*end) - corner + 0.5) * relief.step - 0.5 for end in ends
    )
    # A few pixels more than are seen: drawing looks at the neighbours.
    low = np.clip(np.floor(first) - 3, 0, limit - 1).astype(int)
    high = np.clip(np.ceil(last) + 4, low + 1, limit).astype(int)
    box = slice(low[0], high[0]), slice(low[1], high[1])
    piece = replace(relief, slope=relief.slope[box], valid=relief.valid[box])
    grey = shade(piece, lamp.azimuth_deg, lamp.height_deg)
    rgb = np.repeat(grey[..., None], 3, axis=2)
    top, left = corner + low / relief.step
    return draw(rgb, window, (float(top), float(left)), relief.step)


def _over_photo(
    picture: Pixels, lit: LampFrames, ready: Ready, window: Window
) -> Pixels:
    shown = natural(ready, window)
    top, left = lit.corner_rc
    corners = (
        window.to_screen(top, left),
        window.to_screen(top + picture.shape[0] - 1, left + picture.shape[1] - 1),
    )
    (x0, y0), (x1, y1) = np.clip(np.round(corners), 0, (window.width, window.height))
    box = slice(int(y0), int(y1)), slice(int(x0), int(x1))
    shown[box] = draw(picture, window, lit.corner_rc, 1.0)[box]
    return shown


def _evened(frames: Sequence[Pixels], clump: Mask) -> list[Pixels]:
    """Give all frames the first one's exposure and white balance, so none flashes."""
    levels = np.arange(256)
    evened = [frames[0]]
    gains = matching_gains(frames, clump)
    for frame, gain in zip(frames[1:], gains[1:], strict=True):
        tables = [np.interp(LINEAR * one, LINEAR, levels) for one in gain]
        table = np.stack(tables, axis=1).round().astype(np.uint8)
        evened.append(np.asarray(cv2.LUT(frame, table[None]), np.uint8))
    return evened
