"""One picture of the magnifier, with what is marked on it."""

import numpy as np
from qtpy.QtCore import QPointF, Qt, Signal
from qtpy.QtGui import (
    QColor,
    QImage,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from qtpy.QtWidgets import QWidget

from eyefind.data import Flag, Pixels, Points
from eyefind.desk.magnify import Window
from eyefind_napari.clicks import Place

LEAST_PANE_PX = 150
NO_PATH: Points = np.empty((0, 2))
BLACK, WHITE = QColor(0, 0, 0), QColor(255, 255, 255)


class Pane(QWidget):
    """One picture of the magnifier.

    Parameters
    ----------
    name : str
        Its object name.
    """

    pointed = Signal(float, float)
    clicked = Signal(float, float)
    dragged = Signal(float, float)
    """A drag is at (x, y): 0 in the middle of the pane, 1 at its nearer edge."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setObjectName(name)
        self.setMinimumSize(LEAST_PANE_PX, LEAST_PANE_PX)
        self.setMouseTracking(True)
        self.setCursor(Qt.CursorShape.CrossCursor)
        self.window_shown: Window | None = None
        self._image: QImage | None = None
        self.flag: Flag | None = None
        self.side_px = 0.0
        self.pointer: Place | None = None
        self.path: Points = NO_PATH

    def show_pixels(self, pixels: Pixels | None, window: Window | None) -> None:
        """Show a picture."""
        self.window_shown = window
        self._image = None if pixels is None else self.image_of(pixels)
        self.update()

    @staticmethod
    def image_of(pixels: Pixels) -> QImage:
        """Return an (H, W, 3) picture as Qt draws it."""
        height, width = pixels.shape[:2]
        form = QImage.Format.Format_RGB888
        return QImage(pixels.tobytes(), width, height, 3 * width, form)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw picture, ring around the flag, pointer and the cut that is moved."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), BLACK)
        if self._image is None or self.window_shown is None:
            return
        painter.drawImage(0, 0, self._image)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for colour, width in ((BLACK, 7.0), (WHITE, 3.0)):
            painter.setPen(QPen(colour, width))
            if self.flag is not None:
                x, y = self.window_shown.to_screen(self.flag.row_px, self.flag.col_px)
                radius = 0.75 * self.flag_side()
                painter.drawEllipse(QPointF(x, y), radius, radius)
            if self.pointer is not None:
                self._draw_cross(painter, *self.window_shown.to_screen(*self.pointer))
            places = [QPointF(*self.window_shown.to_screen(*at)) for at in self.path]
            painter.drawPolyline(QPolygonF(places))
        painter.end()

    def flag_side(self) -> float:
        """Return how large the flag is on the screen, px; never tiny."""
        assert self.flag is not None
        return max(48.0, self.side_px)

    @staticmethod
    def _draw_cross(painter: QPainter, x: float, y: float) -> None:
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            near, far = (
                QPointF(x + 8 * dx, y + 8 * dy),
                QPointF(x + 22 * dx, y + 22 * dy),
            )
            painter.drawLine(near, far)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Say where the pointer is."""
        if self.window_shown is not None:
            at = event.position()
            self.pointed.emit(*self.window_shown.to_photo(at.x(), at.y()))
            if event.buttons() & Qt.MouseButton.LeftButton:
                half = min(self.width(), self.height()) / 2
                off = (at - QPointF(self.width() / 2, self.height() / 2)) / half
                self.dragged.emit(off.x(), off.y())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Say where a click was."""
        if self.window_shown is not None:
            at = event.position()
            self.clicked.emit(*self.window_shown.to_photo(at.x(), at.y()))
