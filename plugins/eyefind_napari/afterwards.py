"""Work that waits until the window is painted."""

from collections.abc import Callable
from typing import Final

from qtpy.QtCore import QCoreApplication, QEvent, QObject

BEHIND_PAINTING: Final = -2
"""Qt paints at `LowEventPriority`, -1; what is posted below that comes after it."""


class Afterwards(QObject):
    """Does its work once, after all that was changed until then is on the screen.

    Parameters
    ----------
    work : callable
        The work; it must not raise.
    """

    def __init__(self, work: Callable[[], object]) -> None:
        super().__init__()
        self._work = work
        self.due = False

    def ask(self) -> None:
        """Have the work done; asked twice in between it is done once."""
        if not self.due:
            self.due = True
            event = QEvent(QEvent.Type.User)
            QCoreApplication.postEvent(self, event, BEHIND_PAINTING)

    def drop(self) -> None:
        """Leave undone what was asked for."""
        QCoreApplication.removePostedEvents(self)
        self.due = False

    def customEvent(self, event: QEvent) -> None:
        """Do it."""
        self.due = False
        self._work()
