"""Small widgets that the pages are made of."""

from collections.abc import Callable, Sequence

from qtpy.QtCore import QRectF, Qt
from qtpy.QtGui import QColor, QPainter, QPaintEvent, QPen
from qtpy.QtWidgets import (
    QGridLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from eyefind_napari.theme import Palette


def label(text: str, name: str, heading: bool = False) -> QLabel:
    """Return a text that wraps and that a screen reader finds by `name`."""
    made = QLabel(text)
    made.setObjectName(name)
    made.setWordWrap(True)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setProperty("heading", heading)
    return made


def button(
    text: str,
    name: str,
    do: Callable[[], object],
    answer: bool = False,
    checkable: bool = False,
) -> QPushButton:
    """Return a button, large enough to hit, with an accessible name."""
    made = QPushButton(text)
    made.setObjectName(name)
    made.setAccessibleName(text)
    made.setProperty("answer", answer)
    made.setCheckable(checkable)
    made.setAutoDefault(False)
    made.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    made.setSizePolicy(QSizePolicy.Policy.MinimumExpanding, QSizePolicy.Policy.Minimum)
    made.clicked.connect(lambda _=False: do())
    return made


def column(*widgets: QWidget) -> QWidget:
    """Return widgets one below the other."""
    made = QWidget()
    layout = QVBoxLayout(made)
    layout.setContentsMargins(4, 4, 4, 4)
    for widget in widgets:
        layout.addWidget(widget)
    return made


def grid(widgets: Sequence[QWidget], columns: int) -> QWidget:
    """Return widgets in rows of `columns`."""
    made = QWidget()
    layout = QGridLayout(made)
    layout.setContentsMargins(0, 0, 0, 0)
    for place, widget in enumerate(widgets):
        layout.addWidget(widget, place // columns, place % columns)
    return made


def scrolled(page: QWidget, name: str) -> QScrollArea:
    """Return a page that scrolls up and down when it is taller than its room."""
    area = QScrollArea()
    area.setObjectName(name)
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
    page.layout().addStretch(1)
    area.setWidget(page)
    return area


class ChanceBar(QWidget):
    """A likelihood as a bar with a mark at every tenth."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("chance_bar")
        self.setMinimumHeight(28)
        self.chance = 0.0
        self.palette_in_use: Palette | None = None

    def show_chance(self, chance: float) -> None:
        """Show a likelihood, 0 to 1."""
        self.chance = chance
        self.setAccessibleName(f"Likelihood {round(100 * chance)} percent")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        if self.palette_in_use is None:
            return
        colours = self.palette_in_use
        painter = QPainter(self)
        frame = QRectF(self.rect()).adjusted(2, 2, -2, -2)
        painter.setPen(QPen(QColor(*colours.edge), 2))
        painter.setBrush(QColor(*colours.ground))
        painter.drawRect(frame)
        filled = QRectF(frame)
        filled.setWidth(frame.width() * self.chance)
        painter.fillRect(filled.adjusted(2, 2, -2, -2), QColor(*colours.bar))
        for tenth in range(1, 10):
            x = frame.left() + frame.width() * tenth / 10
            painter.drawLine(
                int(x), int(frame.bottom()) - 7, int(x), int(frame.bottom())
            )
        painter.end()
