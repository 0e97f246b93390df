"""The page of the season: what waits by bed and variety, how far it is, what is short.

It only shows `eyefind.season.board` and stands alone: who makes it gives the ledger and
a way to open a photo.
"""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from qtpy.QtCore import Qt
from qtpy.QtGui import QShowEvent
from qtpy.QtWidgets import (
    QFileDialog,
    QLabel,
    QLineEdit,
    QListView,
    QListWidget,
    QListWidgetItem,
    QMainWindow,
    QProgressBar,
    QPushButton,
    QTabBar,
    QVBoxLayout,
    QWidget,
)

from eyefind.desk.settings import Settings, read_settings, settings_path
from eyefind.errors import EyefindError, UsageError
from eyefind.rules import Rules, load_rules
from eyefind.season.binding import refresh
from eyefind.season.board import (
    Board,
    count_words,
    group_words,
    read_board,
    state_words,
    waiting_words,
)
from eyefind.season.garden import find_clump, find_season, set_clumps
from eyefind.season.ledger import Ledger
from eyefind.season.progress import Waiting
from eyefind_napari.panel import ReviewPanel
from eyefind_napari.parts import Scrolled, column, dock_of
from eyefind_napari.room import MARGIN_PX
from eyefind_napari.theme import NAPARI_TITLE_PX, style_sheet, title_px

if TYPE_CHECKING:
    from napari import Viewer

WAITING = Qt.ItemDataRole.UserRole
QUEUE_PX, SHORT_PX = 360, 240
"""Least heights of the lists; the page scrolls where the window is lower."""


def season_dock(viewer: "Viewer") -> "SeasonPage":
    """Return the page of a ledger; photos open in the review, else in `viewer`.

    The ledger is that of the environment's ``EYEFIND_LEDGER``, as for the command line;
    without one the grower is asked.

    Parameters
    ----------
    viewer : napari.Viewer
        The window.

    Returns
    -------
    SeasonPage
        The page.

    Raises
    ------
    UsageError
        If no ledger is chosen, or it is not there.
    """
    chosen = (
        os.environ.get("EYEFIND_LEDGER")
        or QFileDialog.getOpenFileName(
            None, "The ledger of the season", "", "Ledgers (*.db);;All files (*)"
        )[0]
    )
    if not Path(chosen).is_file():
        raise UsageError(
            f"There is no ledger {chosen}." if chosen else "No ledger was chosen.",
            "Start one with: eyefind season start GARDEN --year YEAR",
        )

    def open_photo(path: Path) -> None:
        panel = page.review()
        if panel is not None:
            panel.control.open([path])
            dock = dock_of(panel)
            if dock is not None:
                dock.raise_()
        else:
            viewer.open(str(path), plugin="eyefind")

    page = SeasonPage(Ledger(Path(chosen)), load_rules(), open_photo)
    page.dress(read_settings(settings_path())[0])
    return page


class SeasonPage(QWidget):
    """The season at a glance.

    Parameters
    ----------
    ledger : Ledger
        The ledger; the latest season is shown.
    rules : Rules
        The rules of the trade.
    open_photo : callable
        Is given the photo of a clump that was chosen.
    """

    def __init__(
        self, ledger: Ledger, rules: Rules, open_photo: Callable[[Path], object]
    ) -> None:
        super().__init__()
        self.ledger, self.rules, self.open_photo = ledger, rules, open_photo
        self.followed: ReviewPanel | None = None
        self.progress = QProgressBar()
        self.state, self.message = QLabel(), QLabel()
        self.queue, self.short = QListWidget(), QListWidget()
        self.note = QLineEdit()
        self.again = QPushButton("Look again")
        named = {
            self.state: "Clumps by what they wait for",
            self.progress: "Share of the clumps that is done",
            self.queue: "Clumps by bed and variety",
            self.note: "Note on the chosen clump",
            self.again: "Look again",
            self.short: "Varieties that are short",
            self.message: "What went wrong",
        }
        for widget, name in named.items():
            widget.setAccessibleName(name)
        outer = QVBoxLayout(self)
        outer.addWidget(Scrolled(column(*named), "area_season"))
        for text in (self.state, self.message):
            text.setWordWrap(True)
            text.setTextFormat(Qt.TextFormat.PlainText)
            text.setIndent(0)
        for listed, least_px in ((self.queue, QUEUE_PX), (self.short, SHORT_PX)):
            listed.setMinimumHeight(least_px)
            listed.setWordWrap(True)
            listed.setSpacing(4)
            listed.setResizeMode(QListView.ResizeMode.Adjust)
            listed.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.progress.setTextVisible(False)  # the words above it tell
        self.note.setPlaceholderText("A note; Enter keeps it")
        self.again.clicked.connect(lambda: self.renew())
        self.queue.itemActivated.connect(self._open)
        self.queue.currentItemChanged.connect(lambda *_: self._show_note())
        self.note.textEdited.connect(self._keep_draft)
        self.note.returnPressed.connect(self._keep_note)
        self.renew()

    def showEvent(self, event: QShowEvent | None) -> None:
        """Show the season as it now is, in the type of the review beside it."""
        super().showEvent(event)
        panel = self.review()
        if panel is not None and panel is not self.followed:
            panel.control.settings_changed.connect(self.restyle)
            self.followed = panel
            self._lie_behind(panel)
            self.restyle()
        self.renew()

    def review(self) -> ReviewPanel | None:
        """Return the review in the same window, if there is one."""
        window = self.window()
        return window.findChild(ReviewPanel) if window is not None else None

    def restyle(self) -> None:
        """Take over the colours and the text size of the review."""
        panel = self.review()
        if panel is not None:
            self.dress(panel.control.settings)
            self.renew()

    def dress(self, settings: Settings) -> None:
        """Take colours and size of the text; leave a dock's title its room."""
        self.setStyleSheet(style_sheet(settings.scheme, settings.text_percent))
        room = title_px(settings.text_percent) - NAPARI_TITLE_PX
        self.layout().setContentsMargins(MARGIN_PX, room, MARGIN_PX, MARGIN_PX)

    def _lie_behind(self, panel: ReviewPanel) -> None:
        """Share one place with the review, as tabs: below it both would be squeezed."""
        window, own, other = self.window(), dock_of(self), dock_of(panel)
        if isinstance(window, QMainWindow) and own is not None and other is not None:
            window.tabifyDockWidget(other, own)
            own.raise_()
            for tabs in window.findChildren(QTabBar):
                tabs.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def renew(self) -> None:
        """Take over what changed in records and ledger, and show it."""
        self.message.clear()
        with self._telling():
            self.season = find_season(self.ledger)
            refresh(self.ledger, self.season, self.rules)
            self._show(read_board(self.ledger, self.season, self.rules))

    @contextmanager
    def _telling(self) -> Iterator[None]:
        """Say in the page what went wrong."""
        try:
            yield
        except EyefindError as error:
            self.message.setText(str(error))

    def _show(self, board: Board) -> None:
        chosen = self._chosen()
        self.state.setText(state_words(board))
        self.progress.setRange(0, max(len(board.queue), 1))
        self.progress.setValue(board.done)
        self.short.clear()
        self._head(self.short, "Short:" if board.short else "None is short.")
        for count in board.short:
            self.short.addItem(count_words(count))
        self.queue.clear()
        for group, clumps in groupby(board.queue, group_words):
            self._head(self.queue, group)
            for clump in clumps:
                self._add(clump, chosen is not None and clump.clump == chosen.clump)

    def _head(self, listed: QListWidget, text: str) -> None:
        heading = QListWidgetItem(text)
        # Not to be chosen; disabled, it would be grey on grey.
        heading.setFlags(Qt.ItemFlag.ItemIsEnabled)
        font = listed.font()
        font.setBold(True)
        heading.setFont(font)
        listed.addItem(heading)

    def _add(self, clump: Waiting, is_chosen: bool) -> None:
        item = QListWidgetItem(waiting_words(clump))
        item.setData(WAITING, clump)
        self.queue.addItem(item)
        if is_chosen:
            self.queue.setCurrentItem(item)

    def _chosen(self) -> Waiting | None:
        item = self.queue.currentItem()
        found = item.data(WAITING) if item is not None else None
        return found if isinstance(found, Waiting) else None

    def _open(self, item: QListWidgetItem) -> None:
        clump = item.data(WAITING)
        if isinstance(clump, Waiting) and clump.photo:
            self.open_photo(Path(clump.photo))

    def _show_note(self) -> None:
        """Show what is being typed on the chosen clump, else what was typed before."""
        clump = self._chosen()
        self.note.setEnabled(clump is not None)
        if clump is None:
            self.note.clear()
            return
        with self._telling():
            kept = find_clump(self.ledger, self.season, clump.clump).note
            self.note.setText(self.ledger.draft(self._draft_key(clump)) or kept)

    def _keep_draft(self, text: str) -> None:
        clump = self._chosen()
        if clump is not None:
            with self._telling():
                self.ledger.keep_draft(self._draft_key(clump), text)

    def _keep_note(self) -> None:
        clump = self._chosen()
        if clump is None:
            return
        values = {"note": self.note.text()}
        with self._telling():
            set_clumps(self.ledger, self.season, [clump.clump], values, self.rules)
            self.ledger.keep_draft(self._draft_key(clump), "")

    def _draft_key(self, clump: Waiting) -> str:
        # Cards are used again every year: a clump's name alone tells too little.
        return f"note of {clump.clump} in season {self.season.id}"
