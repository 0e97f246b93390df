"""Making a clump ready for the window, ahead of time."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from eyefind.data import Mask, Photo, Record, Style
from eyefind.desk.foresight import deciding_flags
from eyefind.job import FIRST_STYLE, Job
from eyefind.look.outline import filled
from eyefind.look.views import lamp_direction
from eyefind.photo import lacks_frames, read_photo
from eyefind.record import (
    DamagedRecordError,
    check_same_photo,
    read_record,
    record_path,
)
from eyefind.sides import read_far


@dataclass(frozen=True, eq=False)
class Prepared:
    """What the slow work found out about a clump.

    Attributes
    ----------
    record_path : Path
        Its record, which is on disk.
    style : str
        Style of its plan.
    deciding : list of str
        The flags that change the plan.
    has_set : bool
        Whether good further frames of a lamp set belong to it.
    """

    record_path: Path
    style: Style
    deciding: list[str]
    has_set: bool = False


@dataclass(frozen=True, eq=False)
class Ready:
    """All that the window needs to show a clump at once.

    Attributes
    ----------
    photo : Photo
        The photo.
    prepared : Prepared
        The slow work.
    clump : (H, W) bool array
        Pixels of the clump.
    lamp_deg : float
        Where the lamp stands, for the relief.
    """

    photo: Photo
    prepared: Prepared
    clump: Mask
    lamp_deg: float


def prepare(photo_path: Path, job: Job, frames: Sequence[Path] = ()) -> Prepared:
    """Look at a photo unless that was done, and find the flags that decide its plan.

    Parameters
    ----------
    photo_path : Path
        The photo.
    job : Job
        The settings. With a ruler the photo is looked at again.
    frames : sequence of Path
        Further photos of its lamp set; it is looked at again for one that its record
        does not name.

    Returns
    -------
    Prepared
        What was found out.

    Raises
    ------
    EyefindError
        If the photo or its record cannot be used.
    """
    path = record_path(photo_path, job.out)
    record = None
    if path.exists() and job.ruler is None:
        try:
            record = read_record(path)
        except DamagedRecordError:
            record = None
    if record is None or lacks_frames(record.frames, frames):
        done = job.look(photo_path, frames)
        path, record = done.record_path, done.record
    style = job.style or (record.plan.style if record.plan else FIRST_STYLE)
    far = read_far(record, path.parent)
    deciding = deciding_flags(record, style, job.rules, far)
    has_set = not all(frame.left_out for frame in record.frames)
    return Prepared(path, style, deciding, has_set)


def load(photo_path: Path, prepared: Prepared) -> Ready:
    """Read the photo and what the magnifier needs of it.

    Parameters
    ----------
    photo_path : Path
        The photo.
    prepared : Prepared
        The slow work.

    Returns
    -------
    Ready
        All that is shown.

    Raises
    ------
    EyefindError
        If the photo cannot be read or is not the record's.
    """
    photo = read_photo(photo_path)
    record = read_record(prepared.record_path)
    check_same_photo(record.photo, prepared.record_path, photo_path, photo.sha256)
    clump = clump_mask(record)
    lamp_deg = lamp_direction(photo.rgb, clump, record.scale.px_per_mm)
    return Ready(photo, prepared, clump, lamp_deg)


def clump_mask(record: Record) -> Mask:
    """Return which pixels of the photo belong to the clump, (H, W) bool."""
    size = record.photo.height_px, record.photo.width_px
    return filled(record.anatomy.clump_outline_px, size)
