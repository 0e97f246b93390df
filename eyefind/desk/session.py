"""One clump under review: which flag is shown, and what each key does to it."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from eyefind.data import Change, Decision, Flag, Mend, Mending, Plan, Record, Says
from eyefind.desk.prepare import Ready
from eyefind.errors import UsageError
from eyefind.job import Job
from eyefind.record import hold, put_plan
from eyefind.review import Review, notes_in_force
from eyefind.sheet import write_sheet
from eyefind.sheet.pages import Paper

Answer = Literal["confirmed", "rejected", "not_sure"]
GROW = 1.25
"""A flag is made larger or smaller by this factor."""


class Session:
    """The review of one clump, one flag at a time.

    Every word is on the disk when a method returns (see `Review`).

    Parameters
    ----------
    ready : Ready
        The clump.
    job : Job
        The settings.
    by : str
        Who answers.

    Attributes
    ----------
    ready, job, by
        As given.
    review : Review
        Its record and the words.
    place : int
        Which flag of `flags` is shown.
    """

    def __init__(self, ready: Ready, job: Job, by: str = "grower") -> None:
        self.ready, self.job, self.by = ready, job, by
        self.review = Review(ready.prepared.record_path)
        self.style = ready.prepared.style
        plan = self.review.record.plan
        self.most_pieces = plan.most_pieces if plan else None
        self.deciding = set(ready.prepared.deciding)
        self.place = 0
        self._refresh()
        self._to_open(0)

    def _refresh(self) -> None:
        """Fold the record anew; called after every word."""
        self.record: Record = self.review.in_force
        self.flags: list[Flag] = in_order(self.record.flags, self.deciding)
        self.words: dict[str, Says] = self.review.standing
        self.place = max(0, min(self.place, len(self.flags) - 1))

    @property
    def current(self) -> Flag | None:
        """The flag that is shown; None when there is none at all."""
        return self.flags[self.place] if self.flags else None

    @property
    def upcoming(self) -> Flag | None:
        """The flag that an answer to the shown one leads to; None if it is the last."""
        place = self._open_from(self.place + 1, len(self.flags) - 1)
        return None if place is None else self.flags[place]

    @property
    def open_flags(self) -> list[Flag]:
        """The flags without an answer."""
        return [flag for flag in self.flags if flag.id not in self.words]

    @property
    def left_to_plan(self) -> int:
        """How many flags that change the plan have no answer yet."""
        return sum(flag.id in self.deciding for flag in self.open_flags)

    def note_on(self, flag_id: str) -> str:
        """Return the grower's note on a flag, empty if there is none."""
        return notes_in_force(self.review.record.decisions).get(flag_id, "")

    def answer(self, says: Answer) -> None:
        """Answer the flag that is shown and go to the next open one."""
        flag = self._needed()
        self.review.say(flag.id, says, self.by)
        self._refresh()
        self._to_open(self.place + 1)

    def step(self, by: int) -> None:
        """Go `by` flags ahead, or back if negative; stops at both ends."""
        self.place = max(0, min(self.place + by, len(self.flags) - 1))

    def go_to(self, flag_id: str) -> None:
        """Show a flag by its id; stays where it is if there is none."""
        for place, flag in enumerate(self.flags):
            if flag.id == flag_id:
                self.place = place

    def undo(self) -> bool:
        """Take back the last word and show its flag; False if there is none."""
        return self._turned(self.review.undo(self.by))

    def redo(self) -> bool:
        """Bring back the word taken back last and show its flag."""
        return self._turned(self.review.redo(self.by))

    def rest_above(self, chance: float) -> list[Flag]:
        """Return the open flags that are at least as likely as `chance`."""
        return [flag for flag in self.open_flags if flag.likelihood >= chance]

    def accept_rest(self, chance: float) -> int:
        """Confirm all open flags from `chance` on, in one go; return how many."""
        rest = self.rest_above(chance)
        if rest:
            self.review.say_all({flag.id: "confirmed" for flag in rest}, self.by)
            self._refresh()
            self._to_open(self.place)
        return len(rest)

    def reject(self, flag_ids: Sequence[str]) -> None:
        """Reject flags in one go: they were deleted in a layer."""
        self.review.say_all(dict.fromkeys(flag_ids, "rejected"), self.by)
        self._refresh()

    def add_eye(self, row_px: float, col_px: float) -> Flag:
        """Add an eye that the grower sees there, and show it."""
        size_mm = self.job.rules.value("eye_diameter_mm")
        flag = self.review.add_eye(row_px, col_px, size_mm, self.by)
        self._refresh()
        self.go_to(flag.id)
        return flag

    def mark(self, tuber_id: str, kind: Literal["spent_parent", "soft"]) -> None:
        """Mark a tuber as spent parent or soft.

        A flag of that kind which it has already is confirmed; otherwise one is added
        at the middle of the tuber.
        """
        for flag in self.flags:
            if flag.kind == kind and flag.belongs_to == tuber_id:
                self.review.say(flag.id, "confirmed", self.by)
                break
        else:
            tuber = {tuber.id: tuber for tuber in self.record.anatomy.tubers}[tuber_id]
            row, col = tuber.axis_px[len(tuber.axis_px) // 2]
            self.review.add(kind, row, col, max(tuber.length_mm, 1.0), self.by)
        self._refresh()

    def mark_blind(self, tuber_id: str) -> None:
        """Take the word that a tuber has no eye."""
        self.review.mark_blind(tuber_id, self.by)
        self._refresh()

    def move(self, row_px: float, col_px: float, flag_id: str | None = None) -> None:
        """Move the flag that is shown, or another one, to a place."""
        flag_id = flag_id or self._needed().id
        self._change(flag_id, Change(row_px=float(row_px), col_px=float(col_px)))

    def resize(self, grow: bool) -> None:
        """Make the flag that is shown one step larger or smaller."""
        flag = self._needed()
        factor = GROW if grow else 1 / GROW
        self._change(flag.id, Change(size_mm=flag.size_mm * factor))

    def tie(self, part_id: str) -> None:
        """Tie the flag that is shown to another tuber or stem."""
        self._change(self._needed().id, Change(belongs_to=part_id))

    def note(self, text: str) -> None:
        """Put a note on the flag that is shown; an empty one takes it away."""
        self._change(self._needed().id, Change(note=text.strip()))

    def mend(self, what: Mending, places_px: list[tuple[float, float]]) -> None:
        """Put the anatomy right by clicks."""
        places = [(float(row), float(col)) for row, col in places_px]
        self.review.mend(Mend(what, places), self.by)
        self._refresh()

    def keep_plan(self, plan: Plan, decisions: list[Decision]) -> bool:
        """Put a plan into the record; False if it was answered in the meantime."""
        if decisions != self.review.record.decisions:
            return False
        with hold(self.review.path):
            self.review.record = put_plan(self.review.path, plan, decisions)
        self._refresh()
        return True

    def save_sheet(self, paper: Paper = "A4") -> list[Path]:
        """Write the sheet of the plan that is in the record; return its files."""
        return write_sheet(
            self.ready.photo,
            self.record,
            self.words,
            self.review.path.parent,
            self.job.rules,
            paper,
        )

    def _change(self, flag_id: str, change: Change) -> None:
        self.review.change(flag_id, change, self.by)
        self._refresh()

    def _turned(self, word: Decision | None) -> bool:
        self._refresh()
        if word is not None:
            self.go_to(word.flag)
        return word is not None

    def _needed(self) -> Flag:
        if self.current is None:
            raise UsageError(
                "This clump has no flag.", "Point at an eye to add one, if you see it."
            )
        return self.current

    def _to_open(self, start: int) -> None:
        """Show the first open flag from `start` on, around the end; else stay."""
        place = self._open_from(start, len(self.flags))
        if place is not None:
            self.place = place

    def _open_from(self, start: int, count: int) -> int | None:
        """Return the place of the first open one of `count` flags from `start` on."""
        for place in range(start, start + count):
            if self.flags[place % len(self.flags)].id not in self.words:
                return place % len(self.flags)
        return None


def in_order(flags: Sequence[Flag], deciding: set[str]) -> list[Flag]:
    """Put flags in the order in which they are asked.

    Parameters
    ----------
    flags : sequence of Flag
        The flags in force.
    deciding : set of str
        Ids of those that change the plan.

    Returns
    -------
    list of Flag
        Those that change the plan first, then the others, the likeliest first; what
        the grower added comes last, in the order in which it was added.
    """
    found = [flag for flag in flags if flag.origin == "found"]
    added = [flag for flag in flags if flag.origin == "added"]
    found.sort(key=lambda flag: (flag.id not in deciding, -flag.likelihood))
    return [*found, *added]
