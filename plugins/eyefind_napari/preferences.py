"""Our settings in napari's own Preferences.

Our file is the one home of the settings. napari keeps a copy in a file of its own and
changes it even while no clump is under review; so does another napari on the same
machine. When the review opens, what was chosen in Preferences since our file was
written is taken over, and from then on a change in either place is a change in both.
"""

from dataclasses import fields
from pathlib import Path
from typing import Any, Final

from napari.settings import get_plugin_settings

from eyefind.desk.settings import Settings
from eyefind_napari.control import Control

OFFERED: Final = tuple(one.name for one in fields(Settings) if one.name != "keys")
"""All but the keys: Preferences have no field in which a key could be pressed."""


class Preferences:
    """Keeps Preferences and our settings alike until it is closed.

    Parameters
    ----------
    control : Control
        Holds the settings.
    """

    def __init__(self, control: Control) -> None:
        self.control = control
        copy = get_plugin_settings("eyefind")
        self.offered = copy.review
        if _written_at(copy.config_path) > _written_at(control.settings_file):
            # napari leaves first values out of its file: that one of them stands there
            # does not say that it was chosen.
            first = Settings()
            self._take_over(
                {
                    name: value
                    for name, value in self.values.items()
                    if value != getattr(first, name)
                }
            )
        self._hand_over()
        self.offered.events.connect(self._changed)
        control.settings_changed.connect(self._hand_over)

    @property
    def values(self) -> dict[str, Any]:
        """What stands in Preferences."""
        return {name: getattr(self.offered, name) for name in OFFERED}

    def close(self) -> None:
        """Leave Preferences to napari."""
        self.offered.events.disconnect(self._changed)
        self.control.settings_changed.disconnect(self._hand_over)

    def _changed(self, _event: object) -> None:
        self._take_over(self.values)

    def _take_over(self, values: dict[str, Any]) -> None:
        settings = self.control.settings
        if any(getattr(settings, name) != value for name, value in values.items()):
            self.control.set_settings(**values)

    def _hand_over(self) -> None:
        # One by one, since an open dialog follows only single values.
        with self.offered.events.blocker(self._changed):
            for name in OFFERED:
                setattr(self.offered, name, getattr(self.control.settings, name))


def has_preferences() -> bool:
    """Return whether napari offers our settings: not if eyefind is switched off."""
    return "eyefind" in get_plugin_settings()


def _written_at(path: Path | None) -> int:
    """Return when a file was written, ns; 0 if there is none."""
    return path.stat().st_mtime_ns if path is not None and path.exists() else 0
