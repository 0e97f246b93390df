"""The page that puts right: flags, tubers, anatomy and scale, all by clicks or keys."""

from collections.abc import Callable
from typing import Final, Literal

import numpy as np
from qtpy.QtWidgets import (
    QButtonGroup,
    QGridLayout,
    QLineEdit,
    QRadioButton,
    QSpinBox,
    QWidget,
)

from eyefind.data import Mending
from eyefind.desk.overlay import parts_of
from eyefind.desk.session import Session
from eyefind.job import TwoPoints, TypedWidth
from eyefind_napari.clicks import Clicks, Place
from eyefind_napari.control import Control
from eyefind_napari.parts import button, column, grid, label, write_keys

MENDS: Final[dict[Mending, tuple[str, str, int]]] = {
    "stem": ("This is a stem", "Click on the stem.", 1),
    "merge": ("Two are one tuber", "Click on both parts of the tuber.", 2),
    "split": ("One is two tubers", "Click on both ends of the line between them.", 2),
    "attach": ("Grows from", "Click on the tuber, then on what it grows from.", 2),
}
"""Text of the button, what to click on, and how often."""
CHOICES_A_ROW: Final = 3


class MendPage(QWidget):
    """Everything that corrects what was found.

    Parameters
    ----------
    control : Control
        What is shown.
    clicks : Clicks
        Pointer and clicks.
    """

    def __init__(self, control: Control, clicks: Clicks) -> None:
        super().__init__()
        self.control, self.clicks = control, clicks
        self.task = label("", "task", heading=True)
        self.give_up = button("Do not click", "give_up", clicks.give_up)
        self.note = QLineEdit()
        self.note.setObjectName("note")
        self.note.setAccessibleName("Note on this flag")
        self.note.setPlaceholderText("Note on this flag, then Enter")
        self.note.returnPressed.connect(self._keep_note)
        self.tubers = QWidget()
        self.rows = QGridLayout(self.tubers)
        self.rows.setContentsMargins(0, 0, 0, 0)
        self.choices: list[QRadioButton] = []
        """One for each tuber and stem; what is over waits for a larger clump."""
        self.group = QButtonGroup(self)
        self.ruler = self._spin("length_mm", "Length on the ruler, mm", 100)
        self.widest = self._spin("width_mm", "Longest side of the clump, mm", 250)
        self.keyed = {
            "add_eye": button("Eye at the pointer", "add_eye", self.add_eye),
            "move": button("Move flag to the pointer", "move", self.move_flag),
            "smaller": button("Flag smaller", "smaller", self.smaller),
            "larger": button("Flag larger", "larger", self.larger),
        }
        self._texts = {name: made.text() for name, made in self.keyed.items()}
        click_eye = button("Click on an eye", "click_eye", self.ask_eye)
        click_move = button("Click a new place", "click_move", self.ask_move)
        marks = [
            button(text, name, do)
            for text, name, do in (
                ("Flag belongs to it", "tie", self._for_part(Session.tie)),
                ("Spent parent", "mark_parent", self._mark("spent_parent")),
                ("Soft", "mark_soft", self._mark("soft")),
                ("No eye on it", "mark_blind", self._for_part(Session.mark_blind)),
            )
        ]
        mends = [
            button(text, f"mend_{what}", self._mend(what))
            for what, (text, _, _) in MENDS.items()
        ]
        page = column(
            self.task,
            self.give_up,
            label("This flag", "head_flag", heading=True),
            grid([*self.keyed.values(), click_eye, click_move], 1),
            self.note,
            label("Tuber or stem", "head_part", heading=True),
            self.tubers,
            grid(marks, 1),
            label("How it hangs together", "head_mend", heading=True),
            grid(mends, 1),
            label("Scale", "head_scale", heading=True),
            label("Length between two clicks on a ruler, mm:", "length_label"),
            self.ruler,
            button("Two clicks on a ruler", "click_ruler", self.ask_ruler),
            label("Or the clump's longest side, mm:", "width_label"),
            self.widest,
            button("Take this width", "take_width", self.take_width),
        )
        self.setLayout(page.layout())
        clicks.task_changed.connect(self.show_task)
        control.settled.connect(self.show_flag)
        control.clump_changed.connect(self.show_parts)
        control.settings_changed.connect(self.show_keys)
        self.show_keys()
        self.show_task()

    def show_keys(self) -> None:
        """Write the keys on the buttons."""
        write_keys(self.keyed, self._texts, self.control.settings.keys)

    def show_task(self) -> None:
        """Say what is to be clicked on."""
        left = self.clicks.still_wanted
        self.task.setVisible(left > 0)
        self.give_up.setVisible(left > 0)
        more = f" {left} more." if left > 1 else ""
        self.task.setText(f"{self.clicks.task}{more}" if left else "")

    def show_flag(self) -> None:
        """Show the note of the flag and choose its tuber."""
        session = self.control.session
        flag = session.current if session else None
        self.note.setEnabled(flag is not None)
        if session is None or flag is None:
            return
        if not self.note.hasFocus():
            self.note.setText(session.note_on(flag.id))
        parts = part_names(session)
        if [made.text() for made in self.group.buttons()] != parts:
            self.show_parts()
        for made in self.group.buttons():
            made.setChecked(made.text() == flag.belongs_to)

    def show_parts(self) -> None:
        """Offer the tubers and stems of the clump."""
        session = self.control.session
        names = part_names(session) if session else []
        self.group.setExclusive(False)  # Else one of them would stay chosen.
        for made in self.choices:
            made.setChecked(False)
            self.group.removeButton(made)
        self.group.setExclusive(True)
        for place in range(len(self.choices), len(names)):
            self.choices.append(QRadioButton())
            row, column = divmod(place, CHOICES_A_ROW)
            self.rows.addWidget(self.choices[place], row, column)
        for place, made in enumerate(self.choices):
            name = names[place] if place < len(names) else ""
            made.setText(name)
            made.setAccessibleName(name)
            made.setObjectName(f"part_{name}" if name else "")
            made.setVisible(bool(name))
            if name:
                self.group.addButton(made)

    def at_pointer(self) -> Place | None:
        """Return where the pointer is; says so if it is nowhere."""
        if self.clicks.pointer is None:
            self.control.said.emit(
                "Point at the place with the mouse, or go to the magnifier and use "
                "the arrow keys."
            )
        return self.clicks.pointer

    def add_eye(self) -> None:
        """Add an eye at the pointer; or, while clicks are wanted, click there."""
        place = self.at_pointer()
        if place is not None and not self.clicks.click(place):
            self.control.do(lambda session: session.add_eye(*place))

    def move_flag(self) -> None:
        """Move the flag that is shown to the pointer."""
        place = self.at_pointer()
        if place is not None:
            self.control.do(lambda session: session.move(*place))

    def smaller(self) -> None:
        """Make the flag smaller."""
        self.control.do(lambda session: session.resize(grow=False))

    def larger(self) -> None:
        """Make the flag larger."""
        self.control.do(lambda session: session.resize(grow=True))

    def ask_eye(self) -> None:
        """Ask for a click on an eye."""
        self.clicks.ask(
            "Click on the eye.",
            1,
            lambda at: self.control.do(lambda session: session.add_eye(*at[0])),
        )

    def ask_move(self) -> None:
        """Ask for a click on the flag's new place."""
        self.clicks.ask(
            "Click where this flag belongs.",
            1,
            lambda at: self.control.do(lambda session: session.move(*at[0])),
        )

    def ask_ruler(self) -> None:
        """Ask for two clicks on a ruler."""
        length = self.ruler.value()
        self.clicks.ask(
            f"Click on two marks of the ruler that are {length} mm apart.",
            2,
            lambda at: self.control.set_scale(
                TwoPoints(np.array(at[0]), np.array(at[1]), float(length))
            ),
        )

    def take_width(self) -> None:
        """Take the typed width of the clump as the scale."""
        self.control.set_scale(TypedWidth(float(self.widest.value())))

    def chosen_part(self) -> str | None:
        """Return the tuber or stem that is chosen; says so if none is."""
        made = self.group.checkedButton()
        if made is None:
            self.control.said.emit("Choose a tuber or a stem first.")
        return None if made is None else made.text()

    def _for_part(self, work: Callable[[Session, str], object]) -> Callable[[], None]:
        def do() -> None:
            part = self.chosen_part()
            if part is not None:
                self.control.do(lambda session: work(session, part))

        return do

    def _mark(self, kind: Literal["spent_parent", "soft"]) -> Callable[[], None]:
        return self._for_part(lambda session, part: session.mark(part, kind))

    def _mend(self, what: Mending) -> Callable[[], None]:
        _, task, count = MENDS[what]
        return lambda: self.clicks.ask(
            task,
            count,
            lambda at: self.control.do(lambda session: session.mend(what, at)),
        )

    def _keep_note(self) -> None:
        text = self.note.text()
        self.note.clearFocus()
        self.control.do(lambda session: session.note(text))

    @staticmethod
    def _spin(name: str, words: str, value: int) -> QSpinBox:
        made = QSpinBox()
        made.setObjectName(name)
        made.setAccessibleName(words)
        made.setRange(1, 2000)
        made.setSuffix(" mm")
        made.setValue(value)
        return made


def part_names(session: Session) -> list[str]:
    """Return the ids of a clump's tubers and stems."""
    return [part.id for part in parts_of(session.record.anatomy)]
