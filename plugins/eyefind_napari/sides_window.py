"""The window with the photos of two sides, to see whether they show one clump."""

from collections.abc import Callable, Iterable

from PIL import Image
from qtpy.QtCore import QPoint, QRect, Qt
from qtpy.QtGui import QImage, QKeySequence, QPainter, QPaintEvent, QShortcut
from qtpy.QtWidgets import QDialog, QGridLayout, QLineEdit, QSizePolicy, QWidget

from eyefind_napari.parts import button, label

SHARE = 0.9
"""Part of the screen that it takes at first."""


class Picture(QWidget):
    """A picture as large as its room allows."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setObjectName(name)
        self.setMinimumSize(300, 150)
        expanding = QSizePolicy.Policy.Expanding
        self.setSizePolicy(expanding, expanding)
        self._image: QImage | None = None

    def show_image(self, image: Image.Image, words: str) -> None:
        """Show a picture; `words` tell a screen reader what it shows."""
        rgb = image.convert("RGB")
        width, height = rgb.size
        self._image = QImage(
            rgb.tobytes(), width, height, 3 * width, QImage.Format.Format_RGB888
        ).copy()
        self.setAccessibleName(words)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it in the middle."""
        if self._image is None:
            return
        size = self._image.size().scaled(
            self.size(), Qt.AspectRatioMode.KeepAspectRatio
        )
        room = QRect(QPoint(), size)
        room.moveCenter(self.rect().center())
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(room, self._image)
        painter.end()


class SidesWindow(QDialog):
    """Both photos with their tubers named, the question, and the answer's buttons.

    Parameters
    ----------
    parent : QWidget
        Its style sheet holds here too.
    pairs : QLineEdit
        The pairs on the page: the field here always reads the same.
    keep : callable
        Takes the pairs.
    """

    def __init__(
        self, parent: QWidget, pairs: QLineEdit, keep: Callable[[], None]
    ) -> None:
        super().__init__(parent)
        self.setObjectName("sides_window")
        self.setWindowTitle("Both sides")
        self._keep = keep
        self.asked = label("", "sides_asked", heading=True)
        self.names = [label("", "side_before"), label("", "side_here")]
        self.picture = Picture("both_sides")
        self.said = label("", "sides_said")
        self.pairs = QLineEdit()
        self.pairs.setObjectName("pairs_here")
        self.pairs.setAccessibleName(pairs.accessibleName())
        self.pairs.setMinimumHeight(44)
        self.pairs.textChanged.connect(pairs.setText)
        self.pairs.returnPressed.connect(keep)
        pairs.textChanged.connect(self.pairs.setText)
        self.yes = button("Yes, keep these pairs", "keep_pairs", keep, answer=True)
        self.no = button("Keep nothing (Esc)", "keep_nothing", self.reject)
        layout = QGridLayout(self)
        layout.addWidget(self.asked, 0, 0, 1, 2)
        for column, name in enumerate(self.names):
            layout.addWidget(name, 1, column)
        layout.addWidget(self.picture, 2, 0, 1, 2)
        layout.setRowStretch(2, 1)
        layout.addWidget(self.said, 3, 0, 1, 2)
        layout.addWidget(self.pairs, 4, 0, 1, 2)
        layout.addWidget(self.yes, 5, 0)
        layout.addWidget(self.no, 5, 1)
        self._shortcuts: list[QShortcut] = []

    def bind(self, keys: Iterable[str]) -> None:
        """Let keys keep the pairs here as they do in the main window."""
        for shortcut in self._shortcuts:
            shortcut.setEnabled(False)
            shortcut.deleteLater()
        self._shortcuts = [QShortcut(QKeySequence(key), self) for key in keys]
        for shortcut in self._shortcuts:
            shortcut.activated.connect(self._keep)

    def show_both(self, image: Image.Image, before: str, here: str, asked: str) -> None:
        """Show two photos.

        Parameters
        ----------
        image : PIL.Image.Image
            Both, that of the clump before at the left.
        before, here : str
            Names of the photos.
        asked : str
            The question.
        """
        self.asked.setText(asked)
        self.said.setText("")
        self.names[0].setText(f"Left: {before}, the clump before")
        self.names[1].setText(f"Right: {here}, shown now")
        words = f"{before} at the left and {here} at the right, their tubers named"
        self.picture.show_image(image, words)
        if not self.isVisible():
            self.resize(self.screen().availableGeometry().size() * SHARE)
        self.show()
        self.raise_()
        self.activateWindow()
        self.yes.setFocus()
