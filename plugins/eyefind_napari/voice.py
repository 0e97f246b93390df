"""Reading flags aloud, where Qt's own speech library finds a voice."""

from typing import Any


def speech_library() -> Any:
    """Return Qt's speech library; None where it or its sound system is missing."""
    try:
        from qtpy import QtTextToSpeech
    except ImportError:
        return None
    return QtTextToSpeech


class Voice:
    """Says a text aloud; the next one cuts it short.

    Parameters
    ----------
    library : module or None
        Qt's speech library.
    """

    def __init__(self, library: Any) -> None:
        self._engine: Any = None
        self._library = library

    @property
    def can_speak(self) -> bool:
        """Whether the system has a voice."""
        if self._library is None:
            return False
        engines = self._library.QTextToSpeech.availableEngines()
        return any(engine != "mock" for engine in engines)

    def say(self, text: str) -> None:
        """Say a text; does nothing where there is no voice."""
        if not self.can_speak:
            return
        if self._engine is None:
            self._engine = self._library.QTextToSpeech()
        self._engine.stop()
        self._engine.say(text)
