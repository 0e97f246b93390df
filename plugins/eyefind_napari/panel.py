"""The panel: pages of large buttons beside the photo, and all that belongs to it."""

import gc
from collections.abc import Callable
from pathlib import Path
from typing import Any
from weakref import proxy

from napari.utils.theme import available_themes, get_theme
from napari.viewer import Viewer
from qtpy.QtCore import QEvent, QObject, QTimer
from qtpy.QtWidgets import (
    QButtonGroup,
    QMainWindow,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from eyefind.desk.keys import keys_in_use
from eyefind_napari.answer_page import AnswerPage
from eyefind_napari.around import Around
from eyefind_napari.clicks import Clicks
from eyefind_napari.clumps_page import ClumpsPage
from eyefind_napari.control import Control
from eyefind_napari.keys import Hold, Keys
from eyefind_napari.lamp_page import LampPage
from eyefind_napari.lamp_part import LampPart
from eyefind_napari.looks_page import LooksPage
from eyefind_napari.magnifier import Magnifier
from eyefind_napari.marks import Marks
from eyefind_napari.mend_page import MendPage
from eyefind_napari.parts import Scrolled, button, dock_of, grid, label
from eyefind_napari.plan_page import PlanPage
from eyefind_napari.preferences import Preferences, has_preferences
from eyefind_napari.room import Room
from eyefind_napari.sample import own_sample
from eyefind_napari.theme import (
    PALETTES,
    TEXT_PT,
    style_sheet,
)

ASKING = {
    *("confirm", "reject", "not_sure", "back", "ahead", "undo", "redo", "add_eye"),
    *("accept_rest", "next_clump", "previous_clump"),
}
"""Actions that put another question."""


class ReviewPanel(QWidget):
    """Goes through clumps flag by flag; brings the magnifier along.

    Parameters
    ----------
    napari_viewer : napari.viewer.Viewer
        The viewer that it is docked to.
    settings_file : Path, optional
        File of the settings; the user's own when not given.
    """

    def __init__(
        self, napari_viewer: Viewer, settings_file: Path | None = None
    ) -> None:
        super().__init__()
        self.setObjectName("review_panel")
        # From its menus napari hands over a wrapper that nobody keeps.
        napari_viewer = getattr(napari_viewer, "__wrapped__", napari_viewer)
        # The viewer must be free to go when its window closes.
        self.viewer: Viewer = proxy(napari_viewer)
        self.control = Control(settings_file)
        self.clicks = Clicks()
        self.marks = Marks(napari_viewer, self.control, self.clicks)
        self.lamp = LampPart(self.control)
        self.magnifier = Magnifier(self.control, self.clicks, self.lamp)
        self.hold = Hold(self.hide_marks)
        self.message = label("Open photos on page Clumps.", "message")
        self.hide_button = hide = button(
            "Hide all marks", "hide", self.hold.toggle, checkable=True
        )
        self.answer_page = AnswerPage(self.control, hide)
        self.mend_page = MendPage(self.control, self.clicks)
        self.plan_page = PlanPage(self.control, self.clicks)
        self.clumps_page = ClumpsPage(self.control)
        self.looks_page = LooksPage(self.control, self.magnifier.shelf)
        self.lamp_page = LampPage(self.lamp)
        self.pages = QStackedWidget()
        self.page_buttons = QButtonGroup(self)
        tabs = []
        for name, text, page in (
            ("answer", "Answer", self.answer_page),
            ("mend", "Put right", self.mend_page),
            ("plan", "Plan", self.plan_page),
            ("clumps", "Clumps", self.clumps_page),
            ("looks", "Looks", self.looks_page),
            ("lamp", "Lamp", self.lamp_page),
        ):
            answers = page is self.answer_page  # It scrolls in part only.
            number = self.pages.addWidget(
                page if answers else Scrolled(page, f"area_{name}")
            )
            tab = button(text, f"page_{name}", self._shower(number), checkable=True)
            self.page_buttons.addButton(tab, number)
            tabs.append(tab)
        tabs[0].setChecked(True)
        layout = QVBoxLayout(self)
        layout.addWidget(grid(tabs, 3))
        layout.addWidget(self.message)
        layout.addWidget(self.pages, 1)
        self.keys: Keys | None = None
        self.around: Around | None = None
        self.room: Room | None = None
        self._canvas: QWidget | None = None
        self.control.said.connect(self.message.setText)
        self.control.settings_changed.connect(self.show_settings)
        # Python looks for garbage when it likes, else: some 30 ms amid an answer.
        self.control.rested.connect(lambda: gc.collect())
        self.clicks.task_changed.connect(self._show_task)
        self.show_settings()
        # Preferences know of one file of settings only.
        tied = settings_file is None and has_preferences()
        self.preferences = Preferences(self.control) if tied else None
        if self.control.complaint:
            self.message.setText(self.control.complaint)

    def show_settings(self) -> None:
        """Put settings into force: text, colours, keys."""
        settings = self.control.settings
        sheet = style_sheet(settings.scheme, settings.text_percent)
        for widget in (self, self.magnifier):
            widget.setStyleSheet(sheet)
        self.answer_page.bar.palette_in_use = PALETTES[settings.scheme]
        theme = f"eyefind-{settings.scheme}"
        known = theme in available_themes()
        if known:
            get_theme(theme).font_size = f"{TEXT_PT:.0f}pt"
        self.viewer.theme = theme if known else settings.scheme
        if self.around is not None:
            self.around.follow(settings.text_percent)
        if self.keys is not None:
            self._bind()
        self.magnifier.show_keys()
        if self.room is not None:
            self.room.follow(settings.text_percent)

    def work(self) -> dict[str, Callable[[], object]]:
        """Return what each action of `eyefind.desk.keys` does."""
        control, mend, lamp = self.control, self.mend_page, self.lamp
        work = {
            "confirm": lambda: control.answer("confirmed"),
            "reject": lambda: control.answer("rejected"),
            "not_sure": lambda: control.answer("not_sure"),
            "back": lambda: control.do(lambda session: session.step(-1)),
            "ahead": lambda: control.do(lambda session: session.step(1)),
            "undo": control.undo,
            "redo": control.redo,
            "hide": self.hold.press,
            "add_eye": mend.add_eye,
            "move": mend.move_flag,
            "smaller": mend.smaller,
            "larger": mend.larger,
            "nearer": lambda: self.magnifier.change_times(1),
            "farther": lambda: self.magnifier.change_times(-1),
            "view": self.magnifier.next_view,
            "undock": self.magnifier.undock,
            "fill": self.magnifier.fill,
            "accept_rest": control.accept_rest,
            "next_clump": control.next_clump,
            "previous_clump": control.previous_clump,
            "other_side": self.clumps_page.sides.match,
            "see_sides": self.clumps_page.sides.see,
            "lamp_left": lambda: lamp.turn(-1),
            "lamp_right": lambda: lamp.turn(1),
            "lamp_lower": lambda: lamp.lift(-1),
            "lamp_higher": lambda: lamp.lift(1),
            "all_lamps": lamp.show_all,
            "swing": lamp.swing,
            "slower": lambda: lamp.change_pace(-1),
            "faster": lambda: lamp.change_pace(1),
            "page": self.next_page,
            **self.plan_page.work,
        }
        return {n: self._asking(do) if n in ASKING else do for n, do in work.items()}

    def show_page(self, number: int) -> None:
        """Show a page of the panel."""
        self.pages.setCurrentIndex(number)
        self.page_buttons.button(number).setChecked(True)

    def next_page(self) -> None:
        """Show the next page of the panel, the first one after the last."""
        self.show_page((self.pages.currentIndex() + 1) % self.pages.count())

    def hide_marks(self, hidden: bool) -> None:
        """Hide all marks, in the photo and the magnifier, or show them again."""
        self.hide_button.setChecked(hidden)
        self.marks.set_hidden(hidden)
        self.magnifier.set_hidden(hidden)

    def showEvent(self, event: Any) -> None:
        """Dock the magnifier and bind the keys once the panel has its window."""
        super().showEvent(event)
        if self.keys is None:
            window = self.window()
            assert isinstance(window, QMainWindow)
            self.around = Around(window)
            self.around.follow(self.control.settings.text_percent)
            self.keys = Keys(window)
            self._bind()
            window.installEventFilter(self)
            self._canvas = window.centralWidget()
            self._canvas.installEventFilter(self)
            self.room = Room(self.viewer, self, self.magnifier)
            self.room.follow(self.control.settings.text_percent)
            self.open_layers()

    def open_layers(self) -> None:
        """Open what napari opened by itself: photos, records, the sample clump."""
        paths: dict[Path, None] = {}
        for layer in self.viewer.layers:
            sample = layer.source.sample == ("eyefind", "clump")
            if sample or (layer.source.reader_plugin == "eyefind"):
                paths[own_sample() if sample else Path(layer.source.path)] = None
                layer.visible = False  # The review shows it in layers of its own.
        if paths:
            self.control.open(paths)

    def eventFilter(self, source: QObject, event: QEvent) -> bool:
        """Stop the work when the window closes; fit the clump into a new room."""
        if event.type() == QEvent.Type.Close:
            self.stop()
        elif event.type() == QEvent.Type.Resize and source is self._canvas:
            # The view learns its new size only after this event.
            QTimer.singleShot(0, self.marks.look_at_clump)
        return False

    def event(self, event: QEvent) -> bool:
        """Stop the work when the panel is closed alone: napari takes it from its dock.

        Its keys would answer unseen otherwise, and stand in the way of a new panel's.
        """
        taken = event.type() == QEvent.Type.ParentChange and self.parentWidget() is None
        if taken and self.keys is not None:
            self.stop()
            dock = dock_of(self.magnifier)
            if dock is not None:
                self.viewer.window.remove_dock_widget(dock)
        return super().event(event)

    def closeEvent(self, event: Any) -> None:
        """Stop the background work."""
        self.stop()
        super().closeEvent(event)

    def stop(self) -> None:
        """Stop all work and give the keys back; answers are on disk already."""
        self.control.close()
        self.lamp.close()
        self.marks.close()
        if self.preferences is not None:
            self.preferences.close()
            self.preferences = None
        if self.keys is not None:
            self.keys.release()
        if self.around is not None:
            self.around.close()
            self.around = None
        if self.room is not None:
            self.room.close()
            self.room = None

    def _bind(self) -> None:
        assert self.keys is not None
        own = keys_in_use(self.control.settings.keys)
        self.keys.bind(own, self.work(), {"plan": self.plan_page})

    def _asking(self, do: Callable[[], object]) -> Callable[[], None]:
        """Return what a key does: whatever the page was scrolled to, it asks anew."""

        def work() -> None:
            do()
            self.answer_page.area.verticalScrollBar().setValue(0)

        return work

    def _shower(self, number: int) -> Callable[[], None]:
        return lambda: self.show_page(number)

    def _show_task(self) -> None:
        if self.clicks.still_wanted:
            self.message.setText(self.clicks.task)
            self.show_page(1 if self.pages.currentIndex() != 2 else 2)
