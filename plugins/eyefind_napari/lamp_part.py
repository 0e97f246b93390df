"""The lamp of the window: where it stands, and which frame of the set is shown."""

from concurrent.futures import Future

from qtpy.QtCore import QObject, Qt, QTimer, Signal

from eyefind.data import Pixels
from eyefind.desk.lamp import (
    BEING_READ,
    FRAMES_GONE,
    NO_CLUMP,
    RAISE_DEG,
    TURN_DEG,
    Lamp,
    LampFrames,
    all_lamps_shown,
    frame_shown,
    lamp_at,
    shaded,
    wait_ms,
    why_off,
)
from eyefind.desk.magnify import (
    ALL_LAMPS_VIEW,
    LAMP_VIEW,
    SET_VIEWS,
    VIEWS,
    Window,
)
from eyefind.desk.settings import LEAST_CHANGES_PER_S, MOST_CHANGES_PER_S
from eyefind.errors import EyefindError
from eyefind_napari.control import Control

PACE_STEP = 0.5
"""Changes a second that a swing gets faster or slower by."""


class LampPart(QObject):
    """Moves the lamp of clumps that have a lamp set.

    `eyefind.desk.ahead` reads the frames, before the clump is shown if it can.

    Parameters
    ----------
    control : Control
        What is shown, and the settings.

    Attributes
    ----------
    lamp : Lamp
        Where the lamp of the relief stands.
    lit : LampFrames or None
        The frames of the clump that is shown, once they are read.
    why : str
        Why the lamp cannot be moved; empty when it can.
    number : int
        Which frame is shown; 0 is the photo itself.
    swinging : bool
        Whether the frames are shown in turn now.
    """

    changed = Signal()
    """Something else is to be shown."""
    _read = Signal(object)

    def __init__(self, control: Control) -> None:
        super().__init__()
        self.control = control
        self.lamp = Lamp()
        self.lit: LampFrames | None = None
        self.why, self.number, self.swinging = NO_CLUMP, 0, False
        self._flag: str | None = None
        self._asked: Future[LampFrames | None] | None = None
        # The next wait starts when a change is drawn: a late one hurries none.
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self._next_frame)
        self._read.connect(self._take, Qt.ConnectionType.QueuedConnection)
        control.clump_changed.connect(self.follow_clump)
        control.flag_changed.connect(self.follow_flag)

    @property
    def view(self) -> str:
        """The enhanced view that can be shown: a clump without a set has no lamp."""
        view = self.control.settings.view
        return view if self.lit else SET_VIEWS.get(view, view)

    @property
    def views(self) -> list[str]:
        """The enhanced views of this clump."""
        return [view for view in VIEWS if self.lit or view not in SET_VIEWS]

    @property
    def title(self) -> str:
        """What natural and enhanced pane show, in words."""
        natural = "Natural"
        if self.lit and (self.swinging or self.number):
            natural = f"Frame {self.number + 1} of {len(self.lit.frames)}"
        return f"{natural} and {VIEWS[self.view]}"

    def frame(self, window: Window) -> Pixels | None:
        """Return what the natural pane shows; None for the photo itself."""
        session = self.control.session
        if session is None or self.lit is None or not self.number:
            return None
        return frame_shown(self.lit, session.ready, window, self.number)

    def enhanced(self, window: Window) -> Pixels | None:
        """Return what the enhanced pane shows; None for a view of the photo alone."""
        session = self.control.session
        if session is None or self.lit is None or self.view not in SET_VIEWS:
            return None
        if self.view == LAMP_VIEW:
            return shaded(self.lit, window, self.lamp)
        return all_lamps_shown(self.lit, session.ready, window)

    def turn(self, way: int) -> None:
        """Carry the lamp one step about the clump, clockwise for 1."""
        self._put(self.lamp.turned(way * TURN_DEG))

    def lift(self, way: int) -> None:
        """Lift the lamp one step, or lower it for -1."""
        self._put(self.lamp.raised(way * RAISE_DEG))

    def drag(self, x: float, y: float) -> None:
        """Put the lamp to (x, y) of the dial."""
        self._put(lamp_at(x, y))

    def show_all(self) -> None:
        """Show the clump under all lamps at once, or the relief again."""
        if self._can_move():
            on = self.control.settings.view == ALL_LAMPS_VIEW
            self.control.set_settings(view=LAMP_VIEW if on else ALL_LAMPS_VIEW)

    def swing(self) -> None:
        """Show the frames in turn, or pause."""
        if self._can_move():
            self._set_swinging(not self.swinging)
            self.changed.emit()

    def change_pace(self, way: int) -> None:
        """Swing one step faster, or slower for -1."""
        pace = self.control.settings.changes_per_s + way * PACE_STEP
        pace = min(max(pace, LEAST_CHANGES_PER_S), MOST_CHANGES_PER_S)
        self.control.set_settings(changes_per_s=pace)

    def follow_clump(self) -> None:
        """Stop for the former clump, and take the frames of the new one."""
        self._set_swinging(False)
        self.lit, self._asked, self.number = None, None, 0
        session = self.control.session
        self.why = why_off(session.record.frames) if session else NO_CLUMP
        frames = self.control.lamp_frames
        if not self.why:
            self.why, self._asked = (
                FRAMES_GONE if frames is None else BEING_READ,
                frames,
            )
        if self._asked is not None and self._asked.done():
            self._take(self._asked)
            return
        if self._asked is not None:
            self._asked.add_done_callback(self._read.emit)
        self.changed.emit()

    def follow_flag(self) -> None:
        """Show the photo itself for another flag, unless the lamp swings."""
        session = self.control.session
        flag = session.current.id if session and session.current else None
        if flag != self._flag and not self.swinging and self.number:
            self.number = 0
            self.changed.emit()
        self._flag = flag

    def close(self) -> None:
        """Swing no more."""
        self._set_swinging(False)

    def _can_move(self) -> bool:
        """Say why not if the lamp cannot be moved."""
        if self.why:
            self.control.said.emit(self.why)
        return not self.why

    def _put(self, lamp: Lamp) -> None:
        if not self._can_move():
            return
        self.lamp = lamp
        if self.control.settings.view != LAMP_VIEW:
            self.control.set_settings(view=LAMP_VIEW)
        self.changed.emit()

    def _set_swinging(self, on: bool) -> None:
        self.swinging = on
        self._timer.stop()
        if on:
            self._timer.start(wait_ms(self.control.settings.changes_per_s))

    def _next_frame(self) -> None:
        assert self.lit is not None
        self.number = (self.number + 1) % len(self.lit.frames)
        self.changed.emit()
        self._set_swinging(True)

    def _take(self, future: "Future[LampFrames | None]") -> None:
        if future is not self._asked or future.cancelled():
            return
        try:
            self.lit = future.result()
            self.why = "" if self.lit else FRAMES_GONE
        except EyefindError as error:
            self.why = f"Off: {error.what} {error.advice}"
        except Exception as error:
            self.why = f"Off: something inside eyefind went wrong: {error!r}."
        self.changed.emit()
