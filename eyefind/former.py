"""What an earlier record of a photo hands on to a new look."""

from dataclasses import dataclass, field
from pathlib import Path

from eyefind.data import Decision, Flag, FrameFacts, Remark, Scale, Style
from eyefind.record import (
    DamagedRecordError,
    check_same_photo,
    read_record,
    salvage,
    set_aside,
)


@dataclass(frozen=True, eq=False)
class Former:
    """What an earlier record hands on to a new look."""

    flags: list[Flag] = field(default_factory=list)
    decisions: list[Decision] = field(default_factory=list)
    scale: Scale | None = None
    style: Style | None = None
    frames: list[FrameFacts] = field(default_factory=list)
    damaged: bool = False


def read_former(path: Path, photo_path: Path, sha256: str) -> Former:
    """Read what an earlier record, whole or damaged, hands on.

    Parameters
    ----------
    path, photo_path : Path
        The record, whether it exists or not, and the photo.
    sha256 : str
        Hash of the photo's bytes.

    Returns
    -------
    Former
        Empty without a record.

    Raises
    ------
    RecordError
        If the record belongs to another picture or a newer eyefind.
    """
    if not path.exists():
        return Former()
    try:
        record = read_record(path)
    except DamagedRecordError:
        saved = salvage(path)
        if saved.photo is not None:
            check_same_photo(saved.photo, path, photo_path, sha256)
        return Former(saved.flags, saved.decisions, saved.scale, damaged=True)
    check_same_photo(record.photo, path, photo_path, sha256)
    style = None if record.plan is None else record.plan.style
    return Former(record.flags, record.decisions, record.scale, style, record.frames)


def damage_remark(path: Path, former: Former, flags: list[Flag]) -> Remark:
    """Set a damaged record aside and say what of it could be read again.

    Parameters
    ----------
    path : Path
        The damaged record.
    former : Former
        What it handed on.
    flags : list of Flag
        The flags of the new record.
    """
    aside = set_aside(path)
    words = [word for word in former.decisions if word.flag]
    lost = {word.flag for word in words} - {flag.id for flag in flags}
    text = (
        f"The record was damaged; {len(words)} answers could be read again. The "
        f"damaged file is kept as {aside.name}."
    )
    if lost:
        text += (
            f" Where {', '.join(sorted(lost))} were cannot be read any more: their "
            "answers count for nothing."
        )
    return Remark("record_damaged", text, "Go through all answers before you cut.")
