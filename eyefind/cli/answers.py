"""Answers to flags, from options and from a file."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from eyefind.cli.ruler import read_numbers
from eyefind.errors import UsageError
from eyefind.review import Review
from eyefind.rules import Rules

Answer = Literal["confirmed", "rejected", "not_sure"]
ANSWERS: dict[str, Answer] = {
    "confirmed": "confirmed",
    "rejected": "rejected",
    "not_sure": "not_sure",
    "not sure": "not_sure",
}


def gather(
    confirm: list[str] | None,
    reject: list[str] | None,
    not_sure: list[str] | None,
    from_file: Path | None,
) -> dict[str, Answer]:
    """Gather the answers: those of the file, then those of the options.

    Parameters
    ----------
    confirm, reject, not_sure : list of str or None
        Ids of flags.
    from_file : Path or None
        File of answers, see `read_answers`.

    Returns
    -------
    dict
        Answer by flag id.

    Raises
    ------
    UsageError
        If the file cannot be read or a flag is given two answers.
    """
    given = [] if from_file is None else read_answers(from_file)
    given += [(flag, "confirmed") for flag in confirm or []]
    given += [(flag, "rejected") for flag in reject or []]
    given += [(flag, "not_sure") for flag in not_sure or []]
    answers: dict[str, Answer] = {}
    for flag, says in given:
        if answers.setdefault(flag, says) != says:
            raise UsageError(
                f"{flag} is given two answers: {answers[flag]} and {says}.",
                "Nothing was written. Give one.",
            )
    return answers


def read_answers(path: Path) -> list[tuple[str, Answer]]:
    """Read a file of answers.

    Parameters
    ----------
    path : Path
        Text in UTF-8, one answer a line: the flag, then ``confirmed``, ``rejected``
        or ``not sure``. Empty lines and what follows a ``#`` do not count.

    Returns
    -------
    list of (str, str)
        Flag id and answer.

    Raises
    ------
    UsageError
        If it cannot be read or a line is not understood; the line is named.
    """
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(
            f"The file of answers {path} cannot be read: {error}.",
            "It must be plain text, one answer a line, such as: E1 confirmed",
        ) from error
    given = []
    for number, line in enumerate(lines, 1):
        flag, _, word = line.partition("#")[0].strip().partition(" ")
        if not flag:
            continue
        says = ANSWERS.get(word.strip().lower())
        if says is None:
            raise UsageError(
                f"Line {number} of {path} is not understood: {line.strip()}",
                "Nothing was written. A line reads for example: E1 confirmed "
                "(or rejected, or not sure).",
            )
        given.append((flag, says))
    return given


@dataclass(frozen=True)
class Answers:
    """What one command says.

    Attributes
    ----------
    words : dict
        Answer by flag id.
    eyes : list of str
        ``"ROW,COL"`` of eyes that the grower sees.
    undo, redo : bool
        Take back, or bring back, one answer instead.
    by : str
        Who says it.
    """

    words: dict[str, Answer]
    eyes: list[str]
    undo: bool
    redo: bool
    by: str

    def say(self, review: Review, rules: Rules) -> None:
        """Say it; nothing is written when a flag is unknown or words do not fit.

        Parameters
        ----------
        review : Review
            Takes the words.
        rules : Rules
            ``eye_diameter_mm`` is the size of an added eye.

        Raises
        ------
        UsageError
            If there is no such flag, nothing to take back, or too much is asked.
        """
        if self.undo or self.redo:
            self._turn(review)
            return
        known = {flag.id for flag in review.flags}
        if unknown := [flag for flag in self.words if flag not in known]:
            raise UsageError(
                f"{review.record.photo.file} has no flag {', '.join(unknown)}.",
                f"Nothing was written. Its flags are: "
                f"{', '.join(sorted(known)) or 'none'}.",
            )
        size_mm = rules.value("eye_diameter_mm")
        for row, col in [
            read_numbers(eye, 2, "--add-eye", "812,1033") for eye in self.eyes
        ]:
            review.add_eye(row, col, size_mm, self.by)
        for flag, says in self.words.items():
            review.say(flag, says, self.by)

    def _turn(self, review: Review) -> None:
        if self.words or self.eyes or (self.undo and self.redo):
            raise UsageError(
                "--undo and --redo stand alone.",
                "Nothing was written. Give the other answers in a command of their "
                "own.",
            )
        turned = review.undo(self.by) if self.undo else review.redo(self.by)
        if turned is None:
            what = "take back" if self.undo else "bring back"
            raise UsageError(f"There is no answer to {what}.", "Nothing was written.")
