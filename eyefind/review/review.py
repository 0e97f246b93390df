"""The review of one clump, bound to its record on disk."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Final

from eyefind.data import Change, Decision, Flag, Kind, Mend, Record, Says
from eyefind.errors import UsageError
from eyefind.look.mend import mend_once
from eyefind.record import Stored, add_decisions, hold, open_record, read_record
from eyefind.review.carry import nearest_tuber, next_id
from eyefind.review.fold import ANSWERS, flags_in_force, standing, undoable
from eyefind.review.force import in_force

ADDED_LIKELIHOOD: Final = 0.5
"""Chance of an added thing that its own finder is no longer sure of; a confirmed one
is certain whatever its likelihood."""


class Review:
    """Flags and the grower's word on them.

    Every method that takes a word returns only when the word is on the disk. The
    record is read again before each word, so words given in another window or on
    the command line are seen and kept.

    Every such method raises `UsageError` if what is asked makes no sense, and
    `RecordError` or `WriteError` if the record cannot be read or written; no word is
    lost then.

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

    @property
    def in_force(self) -> Record:
        """The record with flags and anatomy as the grower's words have them."""
        return in_force(self.record)

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
        """
        return self.say_all({flag_id: says}, by)[0]

    def say_all(self, words: dict[str, Says], by: str) -> list[Decision]:
        """Take the grower's word on several flags in one go: one undo for all.

        Parameters
        ----------
        words : dict
            Word by flag id, as for `say`; not empty.
        by : str
            Who says it.

        Returns
        -------
        list of Decision
            What was written.

        Raises
        ------
        UsageError
            If there is no such flag or word; nothing is written then.
        """
        for says in words.values():
            if says not in ANSWERS:
                raise UsageError(
                    f"'{says}' cannot be said of a flag.", f"Say {', '.join(ANSWERS)}."
                )
        with self._held() as stored:
            self._check_known(words)
            return self._write(
                stored, [new_word(flag, says, by) for flag, says in words.items()]
            )

    def change(self, flag_id: str, change: Change, by: str) -> Decision:
        """Move or resize a flag, tie it to another tuber, or put a note on it.

        Parameters
        ----------
        flag_id : str
            The flag.
        change : Change
            What changes.
        by : str
            Who says it.

        Returns
        -------
        Decision
            What was written.

        Raises
        ------
        UsageError
            If there is no such flag or tuber, the place is outside the photo or the
            size not above zero.
        """
        with self._held() as stored:
            self._check_known([flag_id])
            if change.row_px is not None and change.col_px is not None:
                self._check_place(change.row_px, change.col_px)
            if change.size_mm is not None:
                _check_size(change.size_mm)
            word = replace(new_word(flag_id, "changed", by), change=change)
            return self._write(stored, [word])[0]

    def mend(self, mend: Mend, by: str) -> Decision:
        """Put the anatomy right.

        Parameters
        ----------
        mend : Mend
            How.
        by : str
            Who says it.

        Returns
        -------
        Decision
            What was written.

        Raises
        ------
        UsageError
            If it does nothing here: there is no tuber to merge, to split or to tie.
        """
        with self._held() as stored:
            if mend_once(self.in_force.anatomy, mend, self.record.scale) is None:
                raise UsageError(
                    f"Nothing to {mend.what} was made out there.",
                    "Click on the tubers or the stem themselves.",
                )
            return self._write(
                stored, [replace(new_word("", "mended", by), mend=mend)]
            )[0]

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
        """
        return self.add("eye", row_px, col_px, size_mm, by)

    def add(
        self, kind: Kind, row_px: float, col_px: float, size_mm: float, by: str
    ) -> Flag:
        """Add a flag of any kind, confirmed; takes what `add_eye` takes.

        Parameters
        ----------
        kind : str
            What is seen there.
        row_px, col_px : float
            Its place in the full upright photo.
        size_mm : float
            Its size: diameter of an eye, length of anything else.
        by : str
            Who sees it.

        Returns
        -------
        Flag
            The new flag.

        Raises
        ------
        UsageError
            If the place is outside the photo or the size not above zero.
        """
        with self._held() as stored:
            flag = self._new_flag(kind, row_px, col_px, size_mm, by)
            self._write(stored, [new_word(flag.id, "confirmed", by)], [flag])
            return self.record.flags[-1]

    def mark_blind(self, tuber_id: str, by: str) -> list[Decision]:
        """Take the grower's word that a tuber has no eye: all its eyes are rejected.

        One more, at its neck, is rejected with them, so that the word is kept even
        where we flagged none.

        Parameters
        ----------
        tuber_id : str
            The tuber.
        by : str
            Who says it.

        Returns
        -------
        list of Decision
            What was written, in one go.

        Raises
        ------
        UsageError
            If there is no such tuber.
        """
        with self._held() as stored:
            tubers = {tuber.id: tuber for tuber in self.in_force.anatomy.tubers}
            if tuber_id not in tubers:
                raise UsageError(
                    f"There is no tuber {tuber_id}.", f"There are {', '.join(tubers)}."
                )
            neck = tubers[tuber_id].neck_rc_px
            looked = replace(
                self._new_flag("eye", float(neck[0]), float(neck[1]), 1.0, by),
                belongs_to=tuber_id,
                reasons=[f"{tuber_id} has no eye, says {by}"],
            )
            words = [new_word(looked.id, "rejected", by)]
            for flag in self.flags:
                if flag.kind == "eye" and flag.belongs_to == tuber_id:
                    words.append(new_word(flag.id, "rejected", by))
            return self._write(stored, words, [looked])

    def undo(self, by: str) -> Decision | None:
        """Take back the last word that stands, with those said in one go with it.

        Parameters
        ----------
        by : str
            Who takes it back.

        Returns
        -------
        Decision or None
            The word taken back; None when there is none, and nothing is written.
        """
        with self._held() as stored:
            last, _ = undoable(self.record.decisions)
            if last is not None:
                self._write(stored, [new_word("", "undo", by)])
            return last

    def redo(self, by: str) -> Decision | None:
        """Bring back the last word taken back, with those said in one go with it.

        Parameters
        ----------
        by : str
            Who brings it back.

        Returns
        -------
        Decision or None
            The word brought back; None when there is none, and nothing is written.
        """
        with self._held() as stored:
            _, undone = undoable(self.record.decisions)
            if undone is not None:
                self._write(stored, [new_word("", "redo", by)])
            return undone

    def _new_flag(
        self, kind: Kind, row_px: float, col_px: float, size_mm: float, by: str
    ) -> Flag:
        self._check_place(row_px, col_px)
        _check_size(size_mm)
        taken = {flag.id for flag in self.record.flags}
        taken |= {word.flag for word in self.record.decisions}
        return Flag(
            next_id("G", taken),
            kind,
            float(row_px),
            float(col_px),
            float(size_mm),
            ADDED_LIKELIHOOD,
            [f"pointed out by {by}"],
            nearest_tuber(self.in_force.anatomy, kind, row_px, col_px),
            "added",
        )

    def _check_known(self, flag_ids: Iterable[str]) -> None:
        known = [flag.id for flag in self.flags]
        for flag_id in flag_ids:
            if flag_id not in known:
                raise UsageError(
                    f"{self.record.photo.file} has no flag {flag_id}.",
                    f"Its flags are: {', '.join(known) or 'none'}.",
                )

    def _check_place(self, row_px: float, col_px: float) -> None:
        photo = self.record.photo
        if not (0 <= row_px < photo.height_px and 0 <= col_px < photo.width_px):
            raise UsageError(
                f"Row {row_px:g}, column {col_px:g} lies outside {photo.file}.",
                f"The photo has {photo.height_px} rows and {photo.width_px} columns.",
            )

    @contextmanager
    def _held(self) -> Iterator[Stored]:
        """Keep others from writing, and read the record as they left it."""
        with hold(self.path):
            stored = open_record(self.path)
            self.record = stored.record
            yield stored

    def _write(
        self, stored: Stored, words: list[Decision], flags: Iterable[Flag] = ()
    ) -> list[Decision]:
        """Write words that were said in one go."""
        joined = [replace(word, joined=n > 0) for n, word in enumerate(words)]
        self.record = add_decisions(stored, joined, list(flags))
        return joined


def new_word(flag_id: str, says: Says, by: str) -> Decision:
    """Return a word that is said now."""
    at = datetime.now().astimezone().isoformat(timespec="milliseconds")
    return Decision(at, flag_id, says, by)


def _check_size(size_mm: float) -> None:
    if not size_mm > 0:
        raise UsageError(
            f"An eye of {size_mm:g} mm cannot be.", "Give its diameter in mm."
        )
