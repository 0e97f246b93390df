"""The grower's own settings of the window: a small text file."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import msgspec
from platformdirs import user_config_path

from eyefind.desk.keys import keys_in_use
from eyefind.errors import EyefindError, UsageError
from eyefind.record import write_bytes

Scheme = Literal["dark", "light"]
LEAST_PERCENT, MOST_PERCENT = 100, 200
LEAST_TIMES, MOST_TIMES = 4, 16
LEAST_CHANGES_PER_S, MOST_CHANGES_PER_S = 0.5, 3.0
"""Frames of a lamp set are never shown faster. WCAG 2.2, 2.3.1 allows three flashes a
second; a flash is a change and its opposite, so this is half of that."""


@dataclass(frozen=True)
class Settings:
    """Settings of the window.

    Attributes
    ----------
    scheme : str
        ``"dark"`` or ``"light"``.
    text_percent : int
        Size of all text, 100 to 200 % of 16 pt.
    times : int
        Magnification, 4 to 16 times life size.
    view : str
        The enhanced view, a key of `eyefind.desk.magnify.VIEWS`.
    accept_from : int
        Chance, percent, from which on "accept all the rest" accepts.
    changes_per_s : float
        Pace at which the frames of a lamp set are shown in turn, 0.5 to 3 a second.
    aloud : bool
        Whether every new flag is read aloud.
    keys : dict
        Keys by action, where they differ from ours (`eyefind.desk.keys`).
    """

    scheme: Scheme = "dark"
    text_percent: int = LEAST_PERCENT
    times: int = 8
    view: str = "even_light"
    accept_from: int = 80
    changes_per_s: float = 1.0
    aloud: bool = False
    keys: dict[str, list[str]] = field(default_factory=dict)


def settings_path() -> Path:
    """Return where the settings lie: ``review.json`` in the user's own folder."""
    return user_config_path("eyefind", appauthor=False) / "review.json"


def read_settings(path: Path) -> tuple[Settings, str]:
    """Read the settings.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    settings : Settings
        Those of the file; ours if there is none or it cannot be used.
    complaint : str
        Why the file could not be used, else empty.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Settings(), ""
    except OSError as error:
        return Settings(), f"The settings {path} cannot be opened: {error}."
    try:
        settings = msgspec.json.decode(data, type=Settings)
        check(settings)
    except (msgspec.MsgspecError, UnicodeDecodeError, EyefindError) as error:
        return Settings(), f"The settings {path} cannot be used: {error}"
    return settings, ""


def check(settings: Settings) -> None:
    """Make sure that settings make sense.

    Parameters
    ----------
    settings : Settings
        The settings.

    Raises
    ------
    UsageError
        If a value is out of its range or keys do not fit together.
    """
    for name, low, high in (
        ("text_percent", LEAST_PERCENT, MOST_PERCENT),
        ("times", LEAST_TIMES, MOST_TIMES),
        ("accept_from", 1, 100),
        ("changes_per_s", LEAST_CHANGES_PER_S, MOST_CHANGES_PER_S),
    ):
        value = getattr(settings, name)
        if not low <= value <= high:
            raise UsageError(f"{name} is {value}.", f"It may be {low} to {high}.")
    keys_in_use(settings.keys)


def write_settings(settings: Settings, path: Path) -> None:
    """Write the settings in one step.

    Parameters
    ----------
    settings : Settings
        The settings.
    path : Path
        The file; its folder is made when missing.

    Raises
    ------
    WriteError
        If it cannot be written.
    """
    text = msgspec.json.format(msgspec.json.encode(settings), indent=2)
    write_bytes(path, text + b"\n")
