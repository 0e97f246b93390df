"""Saying what went wrong: an exception that leaves a slot would end the program."""

from collections.abc import Iterator
from contextlib import contextmanager

from qtpy.QtCore import QObject, Signal

from eyefind.errors import EyefindError


class Telling(QObject):
    """Says by `said` what it does and what went wrong."""

    said = Signal(str)

    @contextmanager
    def telling(self) -> Iterator[None]:
        """Say what goes wrong instead of raising it."""
        try:
            yield
        except EyefindError as error:
            self.said.emit(f"{error.what} {error.advice}")
        except Exception as error:
            self.said.emit(
                f"Something inside eyefind went wrong: {error!r}. "
                "Your answers are on disk."
            )
