"""The page that moves the lamp: a dial, and large buttons."""

from typing import Any

from qtpy.QtCore import QPointF, Qt, Signal
from qtpy.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from qtpy.QtWidgets import QSizePolicy, QWidget

from eyefind.desk.lamp import Lamp
from eyefind.desk.magnify import ALL_LAMPS_VIEW
from eyefind.desk.settings import LEAST_CHANGES_PER_S, MOST_CHANGES_PER_S
from eyefind_napari.lamp_part import LampPart
from eyefind_napari.parts import button, column, grid, label, write_keys
from eyefind_napari.theme import EDGE_PX, FOCUS_PX, PALETTES, Palette

DIAL_PX = 240
KNOB_PX = 22.0
"""Radius of the lamp on the dial."""
CHECKED = ("swing", ALL_LAMPS_VIEW)
"""Buttons that stay pressed while what they do is on."""


class Dial(QWidget):
    """The bench from above: the lamp is dragged about, the middle is overhead."""

    dragged = Signal(float, float)
    keyed = Signal(int, int)
    """Steps right about the clump, and steps higher."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("dial")
        self.setMinimumSize(DIAL_PX, DIAL_PX)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.palette_in_use: Palette = PALETTES["dark"]
        self.lamp = Lamp()

    def show_lamp(self, lamp: Lamp) -> None:
        """Show where the lamp stands."""
        self.lamp = lamp
        self.setAccessibleName(f"Lamp {lamp.words}. Arrow keys move it.")
        self.update()

    @property
    def radius(self) -> float:
        """Of the circle on which the lamp lies on the bench, px."""
        return min(self.width(), self.height()) / 2 - KNOB_PX - FOCUS_PX

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw rim, middle and lamp; the rim is the focus ring too."""
        colours, middle = self.palette_in_use, QPointF(self.rect().center())
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        # Switched off it is dashed, as buttons are.
        line = Qt.PenStyle.SolidLine if self.isEnabled() else Qt.PenStyle.DashLine
        painter.setPen(QPen(QColor(*colours.edge), EDGE_PX, line))
        if self.hasFocus():
            painter.setPen(QPen(QColor(*colours.focus), FOCUS_PX))
        painter.setBrush(QColor(*colours.ground))
        painter.drawEllipse(middle, self.radius, self.radius)
        if self.isEnabled():
            x, y = self.lamp.on_dial
            knob = middle + QPointF(x, y) * self.radius
            painter.setPen(QPen(QColor(*colours.ink), EDGE_PX))
            painter.drawLine(knob, middle)
            painter.setBrush(QColor(*colours.chosen))
            painter.drawEllipse(knob, KNOB_PX, KNOB_PX)
        painter.end()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Put the lamp where the mouse is."""
        self._drag(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Carry the lamp along; Qt tells moves only while a button is held."""
        self._drag(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move the lamp with the arrow keys."""
        ways: dict[int, tuple[int, int]] = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Down: (0, -1),
            Qt.Key.Key_Up: (0, 1),
        }
        if event.key() in ways:
            self.keyed.emit(*ways[event.key()])
        else:
            super().keyPressEvent(event)

    def changeEvent(self, event: Any) -> None:
        """Draw it anew when it is switched on or off."""
        super().changeEvent(event)
        self.update()

    def _drag(self, event: QMouseEvent) -> None:
        off = (event.position() - QPointF(self.rect().center())) / self.radius
        self.dragged.emit(off.x(), off.y())


class LampPage(QWidget):
    """Turns, lifts and swings the lamp.

    Parameters
    ----------
    part : LampPart
        The lamp.
    """

    def __init__(self, part: LampPart) -> None:
        super().__init__()
        self.part = part
        self.state = label("", "lamp_state")
        self.place = label("", "lamp_place")
        self.pace = label("", "pace")
        self.dial = Dial()
        self.dial.dragged.connect(part.drag)
        self.dial.keyed.connect(self._key)
        self.buttons = {
            name: button(text, name, do, checkable=name in CHECKED)
            for name, text, do in (
                ("lamp_left", "Turn left", lambda: part.turn(-1)),
                ("lamp_right", "Turn right", lambda: part.turn(1)),
                ("lamp_lower", "Lower", lambda: part.lift(-1)),
                ("lamp_higher", "Higher", lambda: part.lift(1)),
                (ALL_LAMPS_VIEW, "All lamps, no glare", part.show_all),
                ("swing", "Swing the lamp", part.swing),
                ("slower", "Slower", lambda: part.change_pace(-1)),
                ("faster", "Faster", lambda: part.change_pace(1)),
            )
        }
        self._texts = {name: made.text() for name, made in self.buttons.items()}
        moves = [self.buttons[n] for n in self.buttons if n.startswith("lamp_")]
        page = column(
            self.state,
            label("Relief by your lamp", "head_lamp", heading=True),
            self.place,
            self.dial,
            grid(moves, 2),
            self.buttons[ALL_LAMPS_VIEW],
            label("Swing the lamp", "head_swing", heading=True),
            self.pace,
            self.buttons["swing"],
            grid([self.buttons["slower"], self.buttons["faster"]], 2),
        )
        self.setLayout(page.layout())
        part.changed.connect(self.show_lamp)
        part.control.settings_changed.connect(self.show_lamp)
        self.show_lamp()

    def show_lamp(self) -> None:
        """Show where the lamp stands, how it swings, and why it may be off."""
        part, settings = self.part, self.part.control.settings
        pace, on = settings.changes_per_s, not part.why
        self.state.setText(part.why or self._what_is_there())
        self.place.setText(f"The lamp stands {part.lamp.words}.")
        changes = "change" if pace == 1 else "changes"
        self.pace.setText(f"{pace:g} {changes} a second.")
        self.dial.palette_in_use = PALETTES[settings.scheme]
        self.dial.show_lamp(part.lamp)
        swing = "Pause" if part.swinging else "Swing the lamp"
        write_keys(self.buttons, {**self._texts, "swing": swing}, settings.keys)
        able = {
            "slower": pace > LEAST_CHANGES_PER_S,
            "faster": pace < MOST_CHANGES_PER_S,
        }
        self.dial.setEnabled(on)
        for name, made in self.buttons.items():
            made.setEnabled(on and able.get(name, True))
            made.setToolTip(part.why)
            made.setAccessibleDescription(part.why)
        self.buttons["swing"].setChecked(part.swinging)
        self.buttons[ALL_LAMPS_VIEW].setChecked(part.view == ALL_LAMPS_VIEW)

    def _what_is_there(self) -> str:
        assert self.part.lit is not None
        count = len(self.part.lit.frames)
        return f"A lamp set of {count} frames. {self.part.lit.note}".strip()

    def _key(self, right: int, higher: int) -> None:
        if right:
            self.part.turn(right)
        if higher:
            self.part.lift(higher)
