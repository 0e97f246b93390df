"""Opening the window from the command line and from napari's menu."""

import gc
from collections.abc import Sequence
from pathlib import Path

import napari
from qtpy.QtWidgets import QDockWidget

from eyefind_napari.panel import ReviewPanel


def review(paths: Sequence[Path], out: Path | None = None) -> None:
    """Open napari with the review in place and stay until it is closed.

    Parameters
    ----------
    paths : sequence of Path
        Photos, folders of photos or records.
    out : Path, optional
        Folder of the records.
    """
    viewer = napari.Viewer(title="eyefind")
    window = open_review(viewer, paths, out).window()
    # All of the screen: photo and magnifier cannot be too large. Not every system
    # knows how to maximise.
    window.setGeometry(window.screen().availableGeometry())
    window.showMaximized()
    # What the window is made of stays until it closes. To look through all of it for
    # garbage took 160 ms, now and then just when an answer was waiting.
    gc.freeze()
    napari.run()


def open_review(
    viewer: napari.Viewer,
    paths: Sequence[Path],
    out: Path | None = None,
    settings_file: Path | None = None,
) -> ReviewPanel:
    """Dock the review to a viewer and open clumps in it.

    napari's own lists are put away, since they take room from the photo: its menu
    Window brings them back.

    Parameters
    ----------
    viewer : napari.Viewer
        The viewer.
    paths : sequence of Path
        What to open; may be empty.
    out : Path, optional
        Folder of the records.
    settings_file : Path, optional
        File of the settings.

    Returns
    -------
    ReviewPanel
        The panel.
    """
    panel = ReviewPanel(viewer, settings_file)
    dock = viewer.window.add_dock_widget(
        panel, name="review", area="right", add_vertical_stretch=False
    )
    for other in dock.parentWidget().findChildren(QDockWidget):
        if other.isVisible() and other.objectName() in ("layer list", "layer controls"):
            other.hide()
    if paths:
        panel.control.open(paths, out)
    return panel
