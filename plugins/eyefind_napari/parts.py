"""Small widgets that the pages are made of."""

from collections.abc import Callable, Mapping, Sequence

from qtpy.QtCore import QRectF, QSize, Qt
from qtpy.QtGui import QColor, QPainter, QPaintEvent, QPen
from qtpy.QtWidgets import (
    QDockWidget,
    QGridLayout,
    QLabel,
    QPushButton,
    QRadioButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from eyefind.desk.keys import key_words, keys_in_use
from eyefind_napari.theme import Palette


def label(text: str, name: str, heading: bool = False) -> QLabel:
    """Return a text that wraps and that a screen reader finds by `name`."""
    made = QLabel(text)
    made.setObjectName(name)
    made.setWordWrap(True)
    made.setTextFormat(Qt.TextFormat.PlainText)
    # Qt would indent by a letter, and count it as lost on the other side as well.
    made.setIndent(0)
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
    made.setSizePolicy(QSizePolicy.Policy.MinimumExpanding, QSizePolicy.Policy.Fixed)
    made.clicked.connect(lambda _=False: do())
    return made


def radios(name: str, texts: Mapping[str, str]) -> dict[str, QRadioButton]:
    """Return radio buttons by value, called ``NAME_VALUE``."""
    made = {}
    for value, text in texts.items():
        made[value] = QRadioButton(text)
        made[value].setObjectName(f"{name}_{value}")
        made[value].setAccessibleName(text)
    return made


def write_keys(
    buttons: Mapping[str, QPushButton],
    texts: Mapping[str, str],
    own_keys: Mapping[str, list[str]],
    between: str = ", ",
) -> None:
    """Write texts on buttons, each with the keys of the action that it is called by.

    Parameters
    ----------
    buttons : mapping
        Buttons by name of the action.
    texts : mapping
        Their texts without keys.
    own_keys : mapping
        The grower's own keys, as the settings have them.
    between : str
        Stands between two keys.
    """
    keys = keys_in_use(own_keys)
    for name, made in buttons.items():
        said = texts[name].replace("\n", " ")
        made.setText(f"{texts[name]}\n{key_words(keys[name], between)}")
        made.setAccessibleName(f"{said}, key {key_words(keys[name], ' or ')}")


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


def dock_of(widget: QWidget) -> QDockWidget | None:
    """Return the dock that holds a widget."""
    holder = widget.parentWidget()
    while holder is not None and not isinstance(holder, QDockWidget):
        holder = holder.parentWidget()
    return holder


class Scrolled(QScrollArea):
    """A page that scrolls up and down, never sideways: it is as wide as it must be."""

    def __init__(self, page: QWidget, name: str) -> None:
        super().__init__()
        self.setObjectName(name)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        page.layout().addStretch(1)
        self.setWidget(page)

    def minimumSizeHint(self) -> QSize:
        """Return a width that clips nothing."""
        width = self.widget().minimumSizeHint().width()
        bar = self.verticalScrollBar().sizeHint().width()
        return QSize(width + bar + 2 * self.frameWidth(), 100)


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
