"""Opening the review on the screen; the only place that reaches for the window."""

from collections.abc import Sequence
from pathlib import Path

from eyefind.desk.queue import photos_named
from eyefind.errors import UsageError


def open_window(paths: Sequence[Path], out: Path | None) -> None:
    """Open the review in napari and stay until it is closed.

    Parameters
    ----------
    paths : sequence of Path
        Photos, folders of photos, or records; may be empty.
    out : Path or None
        Folder of the records.

    Raises
    ------
    EyefindError
        If a path cannot be opened, or napari is not installed.
    """
    for path in paths:
        photos_named(path)
    try:
        from eyefind_napari.start import review
    except ImportError as error:
        raise UsageError(
            f"The window needs napari, which is not installed ({error}).",
            "Install it with: pip install 'eyefind[app]'",
        ) from error
    review(paths, out)
