"""What stands, folded from the list of decisions.

``undo`` takes back the last word that stands, with those that it was said in one go
with; ``redo`` brings back what was taken back last; a new word after an undo ends what
could be brought back.
"""

from collections.abc import Iterable
from dataclasses import replace

from eyefind.data import Change, Decision, Flag, Mend, Says, Side

ANSWERS: tuple[Says, ...] = ("confirmed", "rejected", "not_sure")
"""The words that answer a flag."""


def fold(decisions: Iterable[Decision]) -> tuple[list[Decision], list[Decision]]:
    """Fold the list of decisions.

    Parameters
    ----------
    decisions : iterable of Decision
        The whole list, oldest first.

    Returns
    -------
    done : list of Decision
        The words that stand, oldest first.
    undone : list of Decision
        The words that a redo would bring back, the next one last.
    """
    done: list[Decision] = []
    undone: list[Decision] = []
    for decision in decisions:
        if decision.says == "undo":
            while done:
                undone.append(done.pop())
                if not undone[-1].joined:
                    break
        elif decision.says == "redo":
            if undone:
                done.append(undone.pop())
            while undone and undone[-1].joined:
                done.append(undone.pop())
        else:
            done.append(decision)
            undone.clear()
    return done, undone


def standing(flags: Iterable[Flag], decisions: Iterable[Decision]) -> dict[str, Says]:
    """Say what the grower's word on each flag is.

    Parameters
    ----------
    flags : iterable of Flag
        The flags of the record.
    decisions : iterable of Decision
        The whole list, oldest first.

    Returns
    -------
    dict
        ``"confirmed"``, ``"rejected"`` or ``"not_sure"`` by flag id; a flag without a
        word is not in it.
    """
    known = {flag.id for flag in flags}
    done, _ = fold(decisions)
    return {
        word.flag: word.says
        for word in done
        if word.flag in known and word.says in ANSWERS
    }


def flags_in_force(flags: Iterable[Flag], decisions: Iterable[Decision]) -> list[Flag]:
    """Return the flags that exist as the list of decisions now stands.

    A flag that the grower added exists as long as an answer to it stands: taking back
    its addition takes it away. What the grower changed of a flag is changed.

    Parameters
    ----------
    flags : iterable of Flag
        The flags of the record.
    decisions : iterable of Decision
        The whole list, oldest first.

    Returns
    -------
    list of Flag
        In the order of the record.
    """
    flags = list(flags)
    decisions = list(decisions)
    words = standing(flags, decisions)
    there = {
        flag.id: flag for flag in flags if flag.origin == "found" or flag.id in words
    }
    for word in fold(decisions)[0]:
        if word.change is not None and word.flag in there:
            there[word.flag] = _changed(there[word.flag], word.change)
    return list(there.values())


def mends_in_force(decisions: Iterable[Decision]) -> list[Mend]:
    """Return how the anatomy is put right, as the list of decisions now stands."""
    return [word.mend for word in fold(decisions)[0] if word.mend is not None]


def sides_in_force(decisions: Iterable[Decision]) -> list[Side]:
    """Return the other sides of the clump, in the order in which they were matched.

    The last word on a photo is the one that stands.
    """
    words = [word.side for word in fold(decisions)[0] if word.side is not None]
    last = {side.sha256: side for side in words}
    return [side for side in last.values() if side.places_px]


def notes_in_force(decisions: Iterable[Decision]) -> dict[str, str]:
    """Return the grower's own words by flag id, as the list of decisions now stands."""
    notes: dict[str, str] = {}
    for word in fold(decisions)[0]:
        if word.change is not None and word.change.note is not None:
            notes[word.flag] = word.change.note
    return {flag: note for flag, note in notes.items() if note}


def undoable(decisions: Iterable[Decision]) -> tuple[Decision | None, Decision | None]:
    """Return the words that an undo would take back and a redo would bring back."""
    done, undone = fold(decisions)
    return (done[-1] if done else None, undone[-1] if undone else None)


def _changed(flag: Flag, change: Change) -> Flag:
    moved = change.row_px is not None and change.col_px is not None
    return replace(
        flag,
        row_px=change.row_px if change.row_px is not None else flag.row_px,
        col_px=change.col_px if change.col_px is not None else flag.col_px,
        size_mm=change.size_mm if change.size_mm is not None else flag.size_mm,
        belongs_to=change.belongs_to or flag.belongs_to,
        # The outline was that of the former place.
        outline_px=None if moved else flag.outline_px,
    )
