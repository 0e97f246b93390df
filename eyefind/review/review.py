"""The review of one clump, bound to its record on disk."""

from datetime import datetime
from pathlib import Path
from typing import get_args

from eyefind.data import Decision, Flag, Says
from eyefind.errors import UsageError
from eyefind.record import add_decision, hold, read_record
from eyefind.review.carry import nearest_tuber, next_id
from eyefind.review.fold import flags_in_force, standing, undoable

ADDED_LIKELIHOOD = 0.5
"""Chance of an added eye that its own finder is no longer sure of; a confirmed one is
certain whatever its likelihood."""


class Review:
    """Flags and the grower's word on them.

    Every method that takes a word returns only when the word is on the disk. The
    record is read again before each word, so words given in another window or on
    the command line are seen and kept.

    Parameters
    ----------
    path : Path
        The record.

    Attributes
    ----------
    path : Path
        The record.
    record : Record
        Its content, as it is on disk.

    Raises
    ------
    RecordError
        If the record cannot be read.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.record = read_record(path)

    @property
    def flags(self) -> list[Flag]:
        """The flags in force; rejected ones are among them."""
        return flags_in_force(self.record.flags, self.record.decisions)

    @property
    def standing(self) -> dict[str, Says]:
        """The word on each flag that has one."""
        return standing(self.record.flags, self.record.decisions)

    @property
    def undecided(self) -> list[Flag]:
        """The flags in force that have no word yet."""
        return [flag for flag in self.flags if flag.id not in self.standing]

    def say(self, flag_id: str, says: Says, by: str) -> Decision:
        """Take the grower's word on a flag.

        Parameters
        ----------
        flag_id : str
            The flag.
        says : str
            ``"confirmed"``, ``"rejected"`` or ``"not_sure"``.
        by : str
            Who says it.

        Returns
        -------
        Decision
            What was written.

        Raises
        ------
        UsageError
            If there is no such flag or word.
        RecordError, WriteError
            If the record cannot be read or written; no word is lost.
        """
        words = [word for word in get_args(Says) if word not in ("undo", "redo")]
        if says not in words:
            raise UsageError(
                f"'{says}' cannot be said of a flag.", f"Say {', '.join(words)}."
            )
        with hold(self.path):
            self.record = read_record(self.path)
            if flag_id not in {flag.id for flag in self.flags}:
                names = ", ".join(flag.id for flag in self.flags) or "none"
                raise UsageError(
                    f"{self.record.photo.file} has no flag {flag_id}.",
                    f"Its flags are: {names}.",
                )
            return self._write(flag_id, says, by)

    def add_eye(self, row_px: float, col_px: float, size_mm: float, by: str) -> Flag:
        """Add an eye that the grower sees, confirmed.

        Parameters
        ----------
        row_px, col_px : float
            Its place in the full upright photo.
        size_mm : float
            Its diameter.
        by : str
            Who sees it.

        Returns
        -------
        Flag
            The new flag, ``"G1"``, ``"G2"`` ...

        Raises
        ------
        UsageError
            If the place is outside the photo or the size not above zero.
        RecordError, WriteError
            If the record cannot be read or written; no word is lost.
        """
        with hold(self.path):
            self.record = read_record(self.path)
            photo, anatomy = self.record.photo, self.record.anatomy
            inside = 0 <= row_px < photo.height_px and 0 <= col_px < photo.width_px
            if not inside:
                raise UsageError(
                    f"Row {row_px:g}, column {col_px:g} lies outside {photo.file}.",
                    f"The photo has {photo.height_px} rows and {photo.width_px} "
                    "columns.",
                )
            if not size_mm > 0:
                raise UsageError(
                    f"An eye of {size_mm:g} mm cannot be.", "Give its diameter in mm."
                )
            taken = {flag.id for flag in self.record.flags}
            taken |= {word.flag for word in self.record.decisions}
            flag = Flag(
                next_id("G", taken),
                "eye",
                float(row_px),
                float(col_px),
                float(size_mm),
                ADDED_LIKELIHOOD,
                [f"pointed out by {by}"],
                nearest_tuber(anatomy, "eye", row_px, col_px),
                "added",
            )
            self._write(flag.id, "confirmed", by, flag)
            return self.record.flags[-1]

    def undo(self, by: str) -> Decision | None:
        """Take back the last word that stands; also the addition of an eye.

        Parameters
        ----------
        by : str
            Who takes it back.

        Returns
        -------
        Decision or None
            The word taken back; None when there is none, and nothing is written.

        Raises
        ------
        RecordError, WriteError
            If the record cannot be read or written; no word is lost.
        """
        with hold(self.path):
            self.record = read_record(self.path)
            last, _ = undoable(self.record.decisions)
            if last is not None:
                self._write("", "undo", by)
            return last

    def redo(self, by: str) -> Decision | None:
        """Bring back the last word taken back.

        Parameters
        ----------
        by : str
            Who brings it back.

        Returns
        -------
        Decision or None
            The word brought back; None when there is none, and nothing is written.

        Raises
        ------
        RecordError, WriteError
            If the record cannot be read or written; no word is lost.
        """
        with hold(self.path):
            self.record = read_record(self.path)
            _, undone = undoable(self.record.decisions)
            if undone is not None:
                self._write("", "redo", by)
            return undone

    def _write(
        self, flag_id: str, says: Says, by: str, flag: Flag | None = None
    ) -> Decision:
        at = datetime.now().astimezone().isoformat(timespec="milliseconds")
        decision = Decision(at, flag_id, says, by)
        self.record = add_decision(self.path, decision, flag)
        return decision
