"""The page for the window's looks and keys."""

from qtpy.QtCore import Qt
from qtpy.QtGui import QKeySequence
from qtpy.QtWidgets import (
    QButtonGroup,
    QKeySequenceEdit,
    QListView,
    QListWidget,
    QRadioButton,
    QWidget,
)

from eyefind.desk.keys import ACTIONS, key_words, keys_in_use
from eyefind.desk.magnify import VIEWS
from eyefind.desk.settings import LEAST_PERCENT, MOST_PERCENT
from eyefind_napari.control import Control
from eyefind_napari.parts import button, column, grid, label, radios
from eyefind_napari.theme import TEXT_PT

STEP_PERCENT = 25


class LooksPage(QWidget):
    """Size of text, dark or light, enhanced view, spoken flags and keys.

    Parameters
    ----------
    control : Control
        Holds the settings.
    shelf : QWidget
        Where the magnifier's buttons go when there is no room at the magnifier.
    """

    def __init__(self, control: Control, shelf: QWidget) -> None:
        super().__init__()
        self.control = control
        self.text_size = label("", "text_size")
        self.accept = label("", "accept_label")
        self.schemes = self._radios("scheme", {"dark": "Dark", "light": "Light"})
        self.views = self._radios(
            "view", {view: text.capitalize() for view, text in VIEWS.items()}
        )
        self.aloud = button(
            "Read flags aloud", "aloud", self._turn_aloud, checkable=True
        )
        self.list = QListWidget()
        self.list.setObjectName("key_list")
        self.list.setAccessibleName("Keys")
        self.list.setMinimumHeight(240)
        self.list.setWordWrap(True)
        self.list.setResizeMode(QListView.ResizeMode.Adjust)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.new_key = QKeySequenceEdit()
        self.new_key.setObjectName("new_key")
        self.new_key.setAccessibleName("New key for the chosen action")
        self.new_key.setMaximumSequenceLength(1)
        self.new_key.setMinimumHeight(44)
        page = column(
            shelf,
            label("Text", "head_text", heading=True),
            self.text_size,
            grid(
                [
                    button("Smaller", "text_smaller", lambda: self._resize(-1)),
                    button("Larger", "text_larger", lambda: self._resize(1)),
                ],
                2,
            ),
            *self.schemes.values(),
            label("Enhanced view", "head_view", heading=True),
            *self.views.values(),
            label("Accept all the rest", "head_accept", heading=True),
            self.accept,
            grid(
                [
                    button("Lower", "accept_lower", lambda: self._accept(-5)),
                    button("Higher", "accept_higher", lambda: self._accept(5)),
                ],
                2,
            ),
            self.aloud,
            label("Keys", "head_keys", heading=True),
            self.list,
            label("Choose an action above, press its new key here:", "key_label"),
            self.new_key,
            button("Use this key", "use_key", self.use_key),
            button("All keys as at first", "first_keys", self.first_keys),
        )
        self.setLayout(page.layout())
        control.settings_changed.connect(self.show_settings)
        self.show_settings()

    def show_settings(self) -> None:
        """Show the settings as they are."""
        settings = self.control.settings
        self.text_size.setText(
            f"Text at {settings.text_percent} %, {self._points():.0f} pt"
        )
        self.accept.setText(f"From {settings.accept_from} % likelihood on.")
        for group, value in (
            (self.schemes, settings.scheme),
            (self.views, settings.view),
        ):
            group[value].setChecked(True)
        self.aloud.setChecked(settings.aloud)
        keys = keys_in_use(settings.keys)
        row = max(self.list.currentRow(), 0)
        self.list.clear()
        for action in ACTIONS:
            self.list.addItem(f"{action.words}: {key_words(keys[action.name])}")
        self.list.setCurrentRow(row)

    def use_key(self) -> None:
        """Give the chosen action the key that was pressed."""
        key = self.new_key.keySequence().toString(
            QKeySequence.SequenceFormat.PortableText
        )
        row = self.list.currentRow()
        if not key or row < 0:
            self.control.said.emit("Choose an action and press a key first.")
            return
        action = ACTIONS[row]
        own = {
            name: [other for other in keys if other != key]
            for name, keys in self.control.settings.keys.items()
        }
        own[action.name] = [key]
        self.control.set_settings(keys=own)
        self.new_key.clear()

    def first_keys(self) -> None:
        """Give all actions their first keys again."""
        self.control.set_settings(keys={})

    def _points(self) -> float:
        return TEXT_PT * self.control.settings.text_percent / 100

    def _resize(self, way: int) -> None:
        percent = self.control.settings.text_percent + way * STEP_PERCENT
        percent = max(LEAST_PERCENT, min(percent, MOST_PERCENT))
        self.control.set_settings(text_percent=percent)

    def _accept(self, by: int) -> None:
        percent = max(5, min(self.control.settings.accept_from + by, 100))
        self.control.set_settings(accept_from=percent)

    def _turn_aloud(self) -> None:
        self.control.set_settings(aloud=self.aloud.isChecked())

    def _radios(self, setting: str, values: dict[str, str]) -> dict[str, QRadioButton]:
        made = radios(setting, values)
        group = QButtonGroup(self)
        for value, radio in made.items():
            group.addButton(radio)
            radio.clicked.connect(
                lambda _=False, v=value: self.control.set_settings(**{setting: v})
            )
        return made
