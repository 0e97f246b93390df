"""The page with the queue of clumps."""

from pathlib import Path

from qtpy.QtCore import Qt
from qtpy.QtWidgets import QFileDialog, QListView, QListWidget, QListWidgetItem, QWidget

from eyefind_napari.control import Control
from eyefind_napari.parts import button, column, label, write_keys
from eyefind_napari.sides_part import SidesPart


class ClumpsPage(QWidget):
    """What is done, open and refused; opens more.

    Parameters
    ----------
    control : Control
        The queue.
    """

    def __init__(self, control: Control) -> None:
        super().__init__()
        self.control = control
        self.progress = label("No clump is open.", "progress")
        self.list = QListWidget()
        self.list.setObjectName("clumps")
        self.list.setAccessibleName("Clumps")
        self.list.setMinimumHeight(240)
        self.list.setWordWrap(True)
        self.list.setSpacing(4)
        self.list.setResizeMode(QListView.ResizeMode.Adjust)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.itemActivated.connect(self._chosen)
        self.list.itemClicked.connect(self._chosen)
        self.message = label("", "clump_message")
        self.next = button("Next clump", "queue_next", control.next_clump)
        self.previous = button("Clump before", "queue_previous", control.previous_clump)
        self.stop = button("Stop reading ahead", "stop_reading", control.cancel)
        self.go_on = button("Read on", "read_on", control.go_on)
        self.sides = SidesPart(control)
        photo = button("Open photos", "open_photos", self._open_photos)
        folder = button("Open a folder", "open_folder", self._open_folder)
        page = column(
            self.progress,
            self.list,
            self.message,
            self.next,
            self.previous,
            photo,
            folder,
            self.stop,
            self.go_on,
            self.sides,
        )
        self.setLayout(page.layout())
        control.queue_changed.connect(self.show_queue)
        control.clump_changed.connect(self.show_queue)
        control.settings_changed.connect(self.show_keys)
        self.show_keys()

    def show_keys(self) -> None:
        """Write the keys on the buttons."""
        write_keys(
            {"next_clump": self.next, "previous_clump": self.previous},
            {"next_clump": "Next clump", "previous_clump": "Clump before"},
            self.control.settings.keys,
        )

    def show_queue(self) -> None:
        """Show the states of all clumps."""
        entries = self.control.entries
        if self.list.count() != len(entries):
            self.list.clear()
            for _ in entries:
                self.list.addItem(QListWidgetItem())
        for row, entry in enumerate(entries):
            text = f"{entry.photo_path.stem}: {entry.words}"
            if self.list.item(row).text() != text:
                self.list.item(row).setText(text)
        if 0 <= self.control.index < len(entries):
            self.list.setCurrentRow(self.control.index)
            self.message.setText(entries[self.control.index].message)
        done = sum(entry.state == "done" for entry in entries)
        self.progress.setText(
            f"{len(entries)} clumps: {done} done, {self.control.looked_at} read."
        )

    def _chosen(self, item: QListWidgetItem) -> None:
        self.control.go_to_clump(self.list.row(item))

    def _open_photos(self) -> None:
        names, _ = QFileDialog.getOpenFileNames(self, "Open photos or records")
        if names:
            self.control.open([Path(name) for name in names])

    def _open_folder(self) -> None:
        name = QFileDialog.getExistingDirectory(self, "Open a folder of photos")
        if name:
            self.control.open([Path(name)])
