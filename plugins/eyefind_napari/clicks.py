"""Places that the grower points at: by a click, or by the pointer and a key."""

from collections.abc import Callable

from qtpy.QtCore import QObject, Signal

Place = tuple[float, float]
"""(row, col) px of the photo."""


class Clicks(QObject):
    """Where the pointer is, and what the next clicks on the photo are for.

    Without a task a click does nothing of ours, so napari works as always.
    """

    pointer_changed = Signal()
    task_changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.pointer: Place | None = None
        self.task = ""
        self._wanted = 0
        self._places: list[Place] = []
        self._then: Callable[[list[Place]], object] | None = None

    def point(self, place: Place) -> None:
        """Take where the pointer is now."""
        self.pointer = place
        self.pointer_changed.emit()

    def ask(self, task: str, count: int, then: Callable[[list[Place]], object]) -> None:
        """Ask for clicks on the photo.

        Parameters
        ----------
        task : str
            What to click on, in words.
        count : int
            How many clicks.
        then : callable
            Is given the places.
        """
        self.task, self._wanted, self._places, self._then = task, count, [], then
        self.task_changed.emit()

    def give_up(self) -> None:
        """Ask for no more clicks."""
        self.task, self._then, self._places = "", None, []
        self.task_changed.emit()

    @property
    def still_wanted(self) -> int:
        """How many clicks are missing."""
        return self._wanted - len(self._places) if self._then else 0

    def click(self, place: Place) -> bool:
        """Take a click; False if none was asked for."""
        if self._then is None:
            return False
        self._places.append(place)
        if len(self._places) < self._wanted:
            self.task_changed.emit()
            return True
        then, places = self._then, self._places
        self.give_up()
        then(places)
        return True
