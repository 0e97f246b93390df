"""What can go wrong, said in the grower's words."""

from enum import IntEnum


class ExitCode(IntEnum):
    """Exit codes of the command line (documented in docs/command-line.md)."""

    DONE = 0
    BROKEN = 1
    """An error of ours; please report it."""
    USAGE = 2
    """The command was not understood."""
    BAD_PHOTO = 3
    """A photo cannot be used; its message says why."""
    BAD_RECORD = 4
    """A record cannot be used: damaged, of a newer version, of another photo."""
    CANNOT_WRITE = 5
    """A file or folder cannot be written (full disk, read-only, no such folder)."""
    SOME_FAILED = 6
    """In a run over several photos some failed; the list at the end says which."""
    STOPPED = 130
    """Stopped by Ctrl-C (128 + signal 2, as shells have it); what was done is kept."""


class EyefindError(Exception):
    """Base of all errors a grower may see.

    Parameters
    ----------
    what : str
        What is wrong, naming the file or the value.
    advice : str
        What to do next.
    """

    exit_code = ExitCode.BROKEN

    def __init__(self, what: str, advice: str) -> None:
        super().__init__(f"{what} {advice}")
        self.what = what
        self.advice = advice

    def __reduce__(self) -> tuple[type["EyefindError"], tuple[str, str]]:
        """Travel whole from one process to another."""
        return type(self), (self.what, self.advice)


class PhotoError(EyefindError):
    """The photo cannot be read or used."""

    exit_code = ExitCode.BAD_PHOTO


class RecordError(EyefindError):
    """The record cannot be read or used."""

    exit_code = ExitCode.BAD_RECORD


class WriteError(EyefindError):
    """A file cannot be written."""

    exit_code = ExitCode.CANNOT_WRITE


class UsageError(EyefindError):
    """The request makes no sense (unknown flag, unknown style, bad rules file)."""

    exit_code = ExitCode.USAGE
