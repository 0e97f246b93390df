"""Keys of the window: Qt shortcuts, taken away again when the panel goes."""

from collections.abc import Callable, Mapping
from time import monotonic

from qtpy.QtCore import QEvent, QObject, Qt
from qtpy.QtGui import QKeyEvent, QKeySequence, QShortcut
from qtpy.QtWidgets import QApplication, QWidget

from eyefind.desk.keys import BY_NAME

REPEATED = {
    "smaller",
    "larger",
    "lamp_left",
    "lamp_right",
    "lamp_lower",
    "lamp_higher",
}
"""Actions that go on while their key is held."""
HELD_S = 0.35
"""A key that is down longer than this is held, not tapped."""


class Keys(QObject):
    """Shortcuts of one window.

    Text fields keep their letters: Qt asks them first.

    Parameters
    ----------
    window : QWidget
        The keys work while this window or one floating over it is active.
    """

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._shortcuts: list[QShortcut] = []

    def bind(
        self,
        keys: Mapping[str, tuple[str, ...]],
        work: Mapping[str, Callable[[], object]],
        pages: Mapping[str, QWidget],
    ) -> None:
        """Bind the keys of every action anew.

        Parameters
        ----------
        keys : mapping
            Keys by action.
        work : mapping
            What each action does.
        pages : mapping
            Pages by name: Qt leaves a key alone while what it belongs to is not shown.
        """
        self.release()
        for action, own in keys.items():
            page = BY_NAME[action].page
            for key in own:
                place = pages[page] if page else self.parent()
                shortcut = QShortcut(QKeySequence(key), place)
                shortcut.setAutoRepeat(action in REPEATED)
                shortcut.activated.connect(work[action])
                self._shortcuts.append(shortcut)

    def release(self) -> None:
        """Give all keys back."""
        for shortcut in self._shortcuts:
            shortcut.setEnabled(False)
            shortcut.setParent(None)
            shortcut.deleteLater()
        self._shortcuts = []


class Hold(QObject):
    """A key that works while it is held, and switches over when it is tapped.

    Parameters
    ----------
    switch : callable
        Is given True and False in turn.
    """

    def __init__(self, switch: Callable[[bool], object]) -> None:
        super().__init__()
        self._switch = switch
        self.on = False
        self._since = 0.0

    def press(self) -> None:
        """Take the press of the key; its release is waited for."""
        if self.on:
            self._set(False)
            return
        self._set(True)
        self._since = monotonic()
        QApplication.instance().installEventFilter(self)

    def toggle(self) -> None:
        """Switch over, as a button does."""
        self._set(not self.on)

    def eventFilter(self, source: QObject, event: QEvent) -> bool:
        """See the release of the key, wherever it goes."""
        if (
            event.type() == QEvent.Type.KeyRelease
            and isinstance(event, QKeyEvent)
            and not event.isAutoRepeat()
            and event.key() not in (Qt.Key.Key_Shift, Qt.Key.Key_Control)
        ):
            QApplication.instance().removeEventFilter(self)
            if monotonic() - self._since > HELD_S:
                self._set(False)
        return False

    def _set(self, on: bool) -> None:
        self.on = on
        self._switch(on)
