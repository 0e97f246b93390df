"""Files that are whole or not there: atomic writing, holding, setting aside."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from eyefind.errors import WriteError

if sys.platform != "win32":
    import fcntl


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file so that it is either wholly new or wholly as before.

    The data go to a file beside it, are flushed to the disk and then take the old
    file's place in one step (POSIX ``rename``).

    Parameters
    ----------
    path : Path
        File to write; its folder is made when missing.
    data : bytes
        What it is to hold.

    Raises
    ------
    WriteError
        If the disk is full, the folder read-only or the name impossible.
    """
    part = path.with_name(f".{path.name}.eyefind-part-{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with part.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            part.replace(path)
        except BaseException:
            with suppress(OSError):
                part.unlink(missing_ok=True)
            raise
        _flush_folder(path.parent)
    except OSError as error:
        raise WriteError(
            f"{path} cannot be written: {error.strerror or error}.",
            "What was there before is unchanged. Make room on the disk, check that "
            "the folder may be written, or choose another one with --out.",
        ) from error


@contextmanager
def hold(path: Path) -> Iterator[None]:
    """Keep other eyefind programs from writing records in this file's folder.

    Waits for its turn. Where the system cannot lock a folder (Windows, some network
    drives) nothing is held, and of two programs that answer flags of one photo in
    the same instant one may lose a word.

    Parameters
    ----------
    path : Path
        A file in the folder.

    Yields
    ------
    None
        While the folder is held.
    """
    if sys.platform == "win32" or not path.parent.is_dir():
        yield
        return
    folder = None
    with suppress(OSError):
        folder = os.open(path.parent, os.O_RDONLY)
        fcntl.flock(folder, fcntl.LOCK_EX)
    try:
        yield
    finally:
        if folder is not None:
            os.close(folder)


def set_aside(path: Path) -> Path:
    """Keep a copy of a damaged file under the next free name.

    Parameters
    ----------
    path : Path
        The damaged file; it stays where it is.

    Returns
    -------
    Path
        ``NAME.damaged-1`` or the next free number; an existing copy with the same
        content is used again.

    Raises
    ------
    WriteError
        If the copy cannot be written.
    """
    data = path.read_bytes()
    number = 1
    while (copy := path.with_name(f"{path.name}.damaged-{number}")).exists():
        if copy.read_bytes() == data:
            return copy
        number += 1
    write_bytes(copy, data)
    return copy


def _flush_folder(folder: Path) -> None:
    """Make the new name last through a power cut, where the system can."""
    if sys.platform == "win32":
        return
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
