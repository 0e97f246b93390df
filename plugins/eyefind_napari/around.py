"""napari's own menus, titles and status line, in the size of our text."""

from weakref import proxy

from qtpy.QtCore import QEvent, QObject
from qtpy.QtWidgets import QApplication, QLabel, QMainWindow

from eyefind_napari.theme import frame_sheet


class Around(QObject):
    """Lays a style sheet of ours behind napari's own on its window.

    napari sets its own anew with every change of its theme; ours then follows again,
    until `close` takes it away.

    Parameters
    ----------
    window : QMainWindow
        napari's window.
    """

    def __init__(self, window: QMainWindow) -> None:
        super().__init__()
        # The window must be free to go when it closes.
        self.window: QMainWindow = proxy(window)
        self._ours = ""
        window.installEventFilter(self)

    def follow(self, percent: int) -> None:
        """Take the size of the text, percent of the least size."""
        self._lay(frame_sheet(percent))

    def close(self) -> None:
        """Leave napari as it was."""
        self.window.removeEventFilter(self)
        self._lay("")

    def eventFilter(self, source: QObject, event: QEvent) -> bool:
        """Follow napari when it sets its own style sheet."""
        if event.type() == QEvent.Type.StyleChange:
            self._lay(self._ours)
        return False

    def _lay(self, ours: str) -> None:
        whole = self.window.styleSheet()
        wanted = whole.removesuffix(self._ours) + ours
        self._ours = ours
        if wanted != whole:
            self.window.setStyleSheet(wanted)
            self._fit_status_line()

    def _fit_status_line(self) -> None:
        """Make napari give its status line all the room that the text takes."""
        for text in self.window.statusBar().findChildren(QLabel):
            # napari measures the ink alone; for the blank at its end the text would be
            # cut to dots. A margin counts, but takes from the height too.
            margin = text.fontMetrics().averageCharWidth() // 8 if self._ours else 0
            text.setMargin(margin)
            QApplication.postEvent(
                text.parentWidget(), QEvent(QEvent.Type.LayoutRequest)
            )
