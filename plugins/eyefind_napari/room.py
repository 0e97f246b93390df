"""Where panel and magnifier stand, so that the photo between them stays large."""

from typing import Final
from weakref import proxy

from napari.viewer import Viewer
from qtpy.QtCore import QEvent, QObject, Qt, QTimer
from qtpy.QtWidgets import QDockWidget, QMainWindow, QWidget

from eyefind_napari.magnifier import Magnifier
from eyefind_napari.parts import dock_of
from eyefind_napari.theme import NAPARI_TITLE_PX, title_px

MAGNIFIER_SHARE: Final = 0.27
"""Part of the window's width that the magnifier takes beside the photo."""
PHOTO_SHARE: Final = 0.4
"""Where less of the width were left to the photo, the magnifier goes below it."""
BELOW_SHARE: Final = 0.38
"""Part of the window's height that the magnifier takes below the photo."""
MARGIN_PX: Final = 4
SETTLE_MS: Final = 100
"""Text that wraps knows its height only after some rounds of Qt's layout."""

_Area = Qt.DockWidgetArea
LEFT, BELOW = _Area.LeftDockWidgetArea, _Area.BottomDockWidgetArea
FLAT: Final = (_Area.TopDockWidgetArea, _Area.BottomDockWidgetArea)
"""Here a dock is wider than high, and has its title at the left."""
CORNERS: Final = {
    Qt.Corner.BottomLeftCorner: LEFT,
    Qt.Corner.BottomRightCorner: _Area.RightDockWidgetArea,
}
"""Docks at the sides reach down to the status line."""


class Room(QObject):
    """Gives the panel what it must have, the magnifier its share, the photo the rest.

    It docks the magnifier. A dock that the grower moved or floats stays where it is.

    Parameters
    ----------
    viewer : napari.viewer.Viewer
        The viewer; the panel keeps it free to go when its window closes.
    panel : QWidget
        The panel, docked to it.
    magnifier : Magnifier
        Is docked.
    """

    def __init__(self, viewer: Viewer, panel: QWidget, magnifier: Magnifier) -> None:
        super().__init__()
        window = panel.window()
        assert isinstance(window, QMainWindow)
        self.viewer = viewer
        # The window must be free to go when it closes.
        self.window: QMainWindow = proxy(window)
        self.panel, self.magnifier = panel, magnifier
        self.percent = 100
        self._put = LEFT
        self._settled = QTimer(self)
        self._settled.setSingleShot(True)
        self._settled.setInterval(SETTLE_MS)
        self._settled.timeout.connect(self.arrange)
        self._corners = {corner: window.corner(corner) for corner in CORNERS}
        for corner, area in CORNERS.items():
            window.setCorner(corner, area)
        window.installEventFilter(self)
        magnifier.wants_dock.connect(self.dock)
        self._listen(dock_of(panel))
        self.dock()

    def dock(self) -> None:
        """Dock the magnifier, at first or after its dock was closed."""
        self._put = LEFT
        self.viewer.window.add_dock_widget(
            self.magnifier, name="magnifier", area="left", add_vertical_stretch=False
        )
        self.magnifier.show()
        self._listen(dock_of(self.magnifier))
        self._later()

    def close(self) -> None:
        """Leave napari's window as it was."""
        self._settled.stop()
        self._settled.timeout.disconnect(self.arrange)
        self.magnifier.wants_dock.disconnect(self.dock)
        self.window.removeEventFilter(self)
        for corner, area in self._corners.items():
            self.window.setCorner(corner, area)

    def follow(self, percent: int) -> None:
        """Take the size of the text, percent of the least size."""
        self.percent = percent
        self.arrange()
        self._later()

    def eventFilter(self, source: QObject, event: QEvent) -> bool:
        """See whether the window's new width asks for another place."""
        if event.type() == QEvent.Type.Resize:
            self._choose_place()
        return False

    def arrange(self) -> None:
        """Give panel and magnifier their places and sizes."""
        self._choose_place()
        area = self._area_of(self.magnifier)
        if area is not None:
            self.magnifier.lay_out(area in FLAT, area in FLAT and self._is_tight)
        for widget in (self.panel, self.magnifier):
            self._leave_title(widget)
            self._let_shrink(widget)
        self._resize(self.panel, self._panel_px, Qt.Orientation.Horizontal)
        if area == self._put == BELOW:
            height = round(BELOW_SHARE * self.window.height())
            self._resize(self.magnifier, height, Qt.Orientation.Vertical)
        elif area == self._put:
            self._resize(self.magnifier, self._beside_px, Qt.Orientation.Horizontal)

    @property
    def _panel_px(self) -> int:
        return self.panel.minimumSizeHint().width()

    @property
    def _beside_px(self) -> int:
        share = round(MAGNIFIER_SHARE * self.window.width())
        return max(share, self.magnifier.least_width)

    @property
    def _is_tight(self) -> bool:
        """Whether the magnifier's buttons find no room beside its panes."""
        titles = title_px(self.percent) + 4 * MARGIN_PX
        width = self.window.width() - self._panel_px - titles
        return width < self.magnifier.least_wide_width

    def _choose_place(self) -> None:
        """Put the magnifier beside the photo if that leaves enough of it, or below."""
        width = self.window.width()
        photo_px = width - self._panel_px - self._beside_px
        wanted = LEFT if photo_px >= PHOTO_SHARE * width else BELOW
        dock = dock_of(self.magnifier)
        # Where it is not as it was put, the grower moved it.
        as_put = self._area_of(self.magnifier) == self._put
        if dock is not None and as_put and wanted != self._put:
            self._put = wanted
            # First the shape: in the other one it might not fit into the window.
            self.magnifier.lay_out(wanted == BELOW, wanted == BELOW and self._is_tight)
            self.window.addDockWidget(wanted, dock)
            self._later()

    def _area_of(self, widget: QWidget) -> Qt.DockWidgetArea | None:
        """Return where a widget is docked; None if it floats, or has no dock."""
        dock = dock_of(widget)
        if dock is None or dock.isFloating():
            return None
        return self.window.dockWidgetArea(dock)

    def _let_shrink(self, widget: QWidget) -> None:
        """Let a dock be as small as what is in it now allows.

        napari gives docks a least size, and Qt then keeps the largest that ever was.
        """
        dock = dock_of(widget)
        if dock is not None:
            widget.layout().activate()
            dock.setMinimumSize(1, 1)
            dock.layout().activate()

    def _resize(self, widget: QWidget, px: int, way: Qt.Orientation) -> None:
        dock = dock_of(widget)
        if dock is not None:
            self.window.resizeDocks([dock], [px], way)

    def _leave_title(self, widget: QWidget) -> None:
        """Leave room for a dock's title, which napari lays over the widget in it."""
        room = title_px(self.percent) - NAPARI_TITLE_PX
        flat = self._area_of(widget) in FLAT
        left, top = (room, MARGIN_PX) if flat else (MARGIN_PX, room)
        widget.layout().setContentsMargins(left, top, MARGIN_PX, MARGIN_PX)

    def _listen(self, dock: QDockWidget | None) -> None:
        if dock is not None:
            dock.topLevelChanged.connect(self._moved)
            dock.dockLocationChanged.connect(self._moved)

    def _moved(self, *_: object) -> None:
        """Follow a dock to its new place: its title may stand elsewhere there."""
        for widget in (self.panel, self.magnifier):
            self._leave_title(widget)
        self._later()

    def _later(self) -> None:
        self._settled.start()
