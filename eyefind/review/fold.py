"""What stands, folded from the list of decisions.

``undo`` takes back the last word that stands, ``redo`` brings back the last one taken
back; a new word after an undo ends what could be brought back.
"""

from collections.abc import Iterable

from eyefind.data import Decision, Flag, Says


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
            if done:
                undone.append(done.pop())
        elif decision.says == "redo":
            if undone:
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
    return {word.flag: word.says for word in done if word.flag in known}


def flags_in_force(flags: Iterable[Flag], decisions: Iterable[Decision]) -> list[Flag]:
    """Return the flags that exist as the list of decisions now stands.

    A flag that the grower added exists as long as a word on it stands: taking back
    its addition takes it away.

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
    words = standing(flags, decisions)
    return [flag for flag in flags if flag.origin == "found" or flag.id in words]


def undoable(decisions: Iterable[Decision]) -> tuple[Decision | None, Decision | None]:
    """Return the words that an undo would take back and a redo would bring back."""
    done, undone = fold(decisions)
    return (done[-1] if done else None, undone[-1] if undone else None)
