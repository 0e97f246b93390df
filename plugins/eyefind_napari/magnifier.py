"""The magnifier: natural and enhanced side by side, always at the flag or pointer."""

from typing import Any

from qtpy.QtCore import QSize, Qt, QTimer, Signal
from qtpy.QtGui import QKeyEvent
from qtpy.QtWidgets import (
    QBoxLayout,
    QDockWidget,
    QGridLayout,
    QVBoxLayout,
    QWidget,
)

from eyefind.data import Pixels, Points
from eyefind.desk.magnify import (
    LAMP_VIEW,
    SET_VIEWS,
    Window,
    enhanced,
    natural,
    window_at,
)
from eyefind.desk.session import Session
from eyefind.desk.settings import LEAST_TIMES, MOST_TIMES
from eyefind.plan.nudge import has_cut
from eyefind_napari.clicks import Clicks, Place
from eyefind_napari.control import Control
from eyefind_napari.lamp_part import LampPart
from eyefind_napari.pane import LEAST_PANE_PX, NO_PATH, Pane
from eyefind_napari.parts import button, column, dock_of, label, write_keys

STEP_MM = 1.0
"""An arrow key moves the pointer so far; with Shift a fifth of it."""
GOOD_PANE_PX = 200
"""Before the buttons make panes narrower than this, they go elsewhere."""
NARROW_ROWS = (("nearer", "farther", "view"), ("undock", "fill"))
WIDE_ROWS = (("nearer", "farther"), ("view", "undock"), ("fill",))
SHELF_ROWS = (("nearer",), ("farther",), ("view",), ("undock",), ("fill",))
"""Names of the buttons from above, in either shape and on the shelf."""
COLUMNS = 6
KEPT = 6
"""So many pictures are kept: those shown last and those of the next flag."""


class Magnifier(QWidget):
    """Natural and enhanced piece of the photo around the flag, or the pointer.

    Parameters
    ----------
    control : Control
        What is shown.
    clicks : Clicks
        Pointer and clicks.
    lamp : LampPart
        The lamp of clumps with a lamp set.

    Attributes
    ----------
    shelf : QWidget
        Takes the buttons where there is no room for them; it stands elsewhere.
    """

    wants_dock = Signal()
    """Its dock was closed, and it is wanted again."""

    def __init__(self, control: Control, clicks: Clicks, lamp: LampPart) -> None:
        super().__init__()
        self.setObjectName("magnifier")
        self.setAccessibleName("Magnifier. Arrow keys move the pointer.")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.control, self.clicks, self.lamp = control, clicks, lamp
        self.hide_marks = False
        self.centre: Place | None = None
        self.path: Points = NO_PATH
        self.panes = [Pane("natural"), Pane("enhanced")]
        self.title = label("", "magnifier_title")
        self.buttons = {
            name: button(text, name, do)
            for name, text, do in (
                ("nearer", "Nearer", lambda: self.change_times(1)),
                ("farther", "Farther", lambda: self.change_times(-1)),
                ("view", "Next view", self.next_view),
                ("undock", "Own window", self.undock),
                ("fill", "Fill the screen", self.fill),
            )
        }
        self.pictures = QBoxLayout(QBoxLayout.Direction.TopToBottom)
        self.pictures.setContentsMargins(0, 0, 0, 0)
        for pane in self.panes:
            self.pictures.addWidget(pane, 1)
            pane.pointed.connect(lambda r, c: self.clicks.point((r, c)))
            pane.clicked.connect(self._clicked)
        self.panes[1].dragged.connect(self._dragged)
        self.shelf = column(label("Magnifier", "head_magnifier", heading=True))
        self.tools = QWidget()
        self.rows = QGridLayout(self.tools)
        self.rows.setContentsMargins(0, 0, 0, 0)
        seen = QVBoxLayout()
        seen.addWidget(self.title)
        seen.addLayout(self.pictures, 1)
        self.halves = QBoxLayout(QBoxLayout.Direction.TopToBottom, self)
        self.halves.addLayout(seen, 1)
        self._texts = {name: made.text() for name, made in self.buttons.items()}
        self.wide = False
        self.lay_out(False)
        self._made: dict[tuple[Window, str], Pixels] = {}
        control.clump_changed.connect(self._made.clear)
        control.clump_changed.connect(self.follow)
        control.flag_changed.connect(self.follow)
        control.settings_changed.connect(self.redraw)
        control.pointed.connect(self.look_at)
        control.rested.connect(self.look_ahead)
        control.plan_changed.connect(self._drop_path)
        lamp.changed.connect(self.redraw)
        clicks.pointer_changed.connect(self._pointer_moved)

    def show_keys(self) -> None:
        """Write the keys on the buttons."""
        own = self.control.settings.keys
        between = ", " if self.wide else "\n"
        write_keys(self.buttons, self._texts, own, between)

    def lay_out(self, wide: bool, away: bool = False) -> None:
        """Lay out panes and buttons side by side, or one below the other.

        Parameters
        ----------
        wide : bool
            Whether it is wider than high.
        away : bool
            Whether the buttons go to the shelf, to leave their room to the panes.
        """
        way = QBoxLayout.Direction
        self.wide = wide
        for box in (self.halves, self.pictures):
            box.setDirection(way.LeftToRight if wide else way.TopToBottom)
        rows = SHELF_ROWS if away else WIDE_ROWS if wide else NARROW_ROWS
        for row, names in enumerate(rows):
            span = COLUMNS // len(names)
            for place, name in enumerate(names):
                self.rows.addWidget(self.buttons[name], row, place * span, 1, span)
        if away:
            self.shelf.layout().addWidget(self.tools)
        else:
            self.halves.addWidget(self.tools, 0, Qt.AlignmentFlag.AlignTop)
        self.shelf.setVisible(away)
        self.show_keys()
        QTimer.singleShot(0, self.redraw)

    def minimumSizeHint(self) -> QSize:
        """Leave the buttons out while it is wide: where they do not fit they go."""
        least = super().minimumSizeHint()
        if self.wide and self.shelf.isHidden():
            title = self.title.minimumSizeHint().height()
            least = QSize(2 * LEAST_PANE_PX, LEAST_PANE_PX + title)
        return least

    @property
    def least_width(self) -> int:
        """How narrow it can be while it is not wide, px."""
        return self._width_of(NARROW_ROWS[0])

    @property
    def least_wide_width(self) -> int:
        """How narrow it can well be with its buttons while it is wide, px."""
        widest = max(self._width_of((name,)) for row in WIDE_ROWS[:2] for name in row)
        return 2 * (GOOD_PANE_PX + widest + self.halves.spacing())

    def _width_of(self, names: tuple[str, ...]) -> int:
        return sum(
            self.buttons[name].minimumSizeHint().width() + self.rows.spacing()
            for name in names
        )

    def follow(self) -> None:
        """Go to the flag that is shown."""
        session = self.control.session
        flag = session.current if session else None
        if flag is not None:
            self.centre = (flag.row_px, flag.col_px)
        elif session is not None:
            rows, cols = session.ready.photo.rgb.shape[:2]
            self.centre = (rows / 2, cols / 2)
        self.path = NO_PATH
        self.redraw()

    def look_at(self, place: Place, path: Points) -> None:
        """Go to a place of the photo, at the end of a cut."""
        self.centre, self.path = place, path
        self.redraw()

    def redraw(self) -> None:
        """Draw both panes anew."""
        session = self.control.session
        settings = self.control.settings
        self.title.setText(f"{settings.times} times. {self.lamp.title}:")
        for number, pane in enumerate(self.panes):
            if session is None or self.centre is None:
                pane.show_pixels(None, None)
                continue
            scale = session.record.scale.px_per_mm
            window = self._window(session, pane, self.centre)
            pixels = (self.lamp.enhanced if number else self.lamp.frame)(window)
            if pixels is None:
                pixels = self._pixels(session, number, window)
            flag = None if self.hide_marks else session.current
            pane.flag = flag
            pane.pointer = None if self.hide_marks else self.clicks.pointer
            pane.path = NO_PATH if self.hide_marks else self.path
            eye_mm = flag.size_mm if flag and flag.kind == "eye" else 0.0
            pane.side_px = eye_mm * scale * window.zoom
            pane.show_pixels(pixels, window)

    def look_ahead(self) -> None:
        """Make the pictures of the next flag ready, so that its answer is quick."""
        session = self.control.session
        flag = session.upcoming if session else None
        if session is not None and flag is not None:
            for number, pane in enumerate(self.panes):
                window = self._window(session, pane, (flag.row_px, flag.col_px))
                if not number or self.lamp.view not in SET_VIEWS:
                    self._pixels(session, number, window)

    def _window(self, session: Session, pane: Pane, centre: Place) -> Window:
        size = (max(pane.height(), 2), max(pane.width(), 2))
        times, scale = self.control.settings.times, session.record.scale.px_per_mm
        return window_at(centre, times, scale, size)

    def _pixels(self, session: Session, number: int, window: Window) -> Pixels:
        """Return what a pane shows of a single photo, made before or now."""
        view = self.lamp.view if number else ""
        if (window, view) not in self._made:
            if len(self._made) == KEPT:
                del self._made[next(iter(self._made))]
            scale = session.record.scale.px_per_mm
            self._made[window, view] = (
                enhanced(session.ready, window, view, scale)
                if number
                else natural(session.ready, window)
            )
        return self._made[window, view]

    def set_hidden(self, hidden: bool) -> None:
        """Hide or show the ring and the pointer."""
        self.hide_marks = hidden
        self.redraw()

    def change_times(self, step: int) -> None:
        """Magnify one step more or less."""
        times = self.control.settings.times + 2 * step
        self.control.set_settings(times=max(LEAST_TIMES, min(times, MOST_TIMES)))

    def next_view(self) -> None:
        """Show the next enhanced view."""
        names = self.lamp.views
        place = names.index(self.lamp.view) + 1
        self.control.set_settings(view=names[place % len(names)])

    def undock(self) -> None:
        """Put the magnifier into a window of its own, or back."""
        dock = self._shown_dock()
        if dock is not None:
            dock.setFloating(not dock.isFloating())

    def fill(self) -> None:
        """Make the magnifier fill the screen, or put it back."""
        dock = self._shown_dock()
        if dock is None:
            return
        room = self.screen().availableGeometry()
        filled = dock.isFloating() and dock.geometry().contains(room)
        dock.setFloating(not filled)
        if not filled:
            # Not maximised: that needs the system's help, and not every one gives it.
            dock.setGeometry(room)

    def _shown_dock(self) -> QDockWidget | None:
        """Return the dock, hidden or not; ask for one if it was closed."""
        dock = dock_of(self)
        if dock is None:
            self.wants_dock.emit()
            return None
        dock.show()
        return dock

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move the pointer with the arrow keys."""
        ways: dict[int, tuple[int, int]] = {
            Qt.Key.Key_Up: (-1, 0),
            Qt.Key.Key_Down: (1, 0),
            Qt.Key.Key_Left: (0, -1),
            Qt.Key.Key_Right: (0, 1),
        }
        session = self.control.session
        way = ways.get(event.key())
        if way is None or session is None or self.centre is None:
            super().keyPressEvent(event)
            return
        fine = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        step = STEP_MM * session.record.scale.px_per_mm / (5 if fine else 1)
        start = self.clicks.pointer or self.centre
        self.centre = (start[0] + way[0] * step, start[1] + way[1] * step)
        self.clicks.point(self.centre)
        self.redraw()

    def resizeEvent(self, event: Any) -> None:
        """Follow the shape of a window of its own, and draw all in the new size."""
        super().resizeEvent(event)
        dock = dock_of(self)
        if dock is not None and dock.isFloating():
            self.lay_out(self.width() > self.height())
        QTimer.singleShot(0, self.redraw)

    def _clicked(self, row_px: float, col_px: float) -> None:
        self.clicks.point((row_px, col_px))
        self.clicks.click((row_px, col_px))

    def _dragged(self, x: float, y: float) -> None:
        if self.lamp.view == LAMP_VIEW and not self.clicks.still_wanted:
            self.lamp.drag(x, y)

    def _drop_path(self) -> None:
        """Show no cut of a plan that is another one now."""
        plan = self.control.plan
        if len(self.path) and (plan is None or not has_cut(plan, self.path)):
            self.path = NO_PATH
            self.redraw()

    def _pointer_moved(self) -> None:
        for pane in self.panes:
            pane.pointer = None if self.hide_marks else self.clicks.pointer
            pane.update()
