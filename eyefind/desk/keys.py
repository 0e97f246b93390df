"""What can be done by key, and by which keys.

The letters are those that napari and its layers leave free (G H J K N Q U W, with and
without Shift), and so are the function keys, so nothing of napari is taken over. The
number pad does the same work for one hand, and foot pedals send what key they are told
to.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from eyefind.errors import UsageError


@dataclass(frozen=True)
class Action:
    """Something that can be done by key.

    Attributes
    ----------
    name : str
        Its name in the settings file.
    words : str
        What it does, for lists and screen readers.
    keys : tuple of str
        Its keys as Qt writes them: ``"J"``, ``"Shift+U"``, ``"Num+1"``.
    page : str
        The page of the panel that must be shown for them; empty if any may be.
    """

    name: str
    words: str
    keys: tuple[str, ...]
    page: str = ""


ACTIONS: Final[tuple[Action, ...]] = (
    Action("confirm", "Yes", ("J", "Num+1")),
    Action("reject", "No", ("K", "Num+2")),
    Action("not_sure", "Not sure", ("N", "Num+3")),
    Action("back", "Flag before", ("G", "Num+4")),
    Action("ahead", "Flag after", ("H", "Num+6")),
    Action("undo", "Take back", ("U", "Num+0")),
    Action("redo", "Bring back", ("Shift+U", "Num+.")),
    Action("hide", "Hide all marks", ("Q", "Num+5")),
    Action("add_eye", "Eye at the pointer", ("W", "Num+8")),
    Action("move", "Move flag to the pointer", ("Shift+W", "Num+/")),
    Action("smaller", "Flag smaller", ("Shift+N", "Num+7")),
    Action("larger", "Flag larger", ("Shift+J", "Num+9")),
    Action("nearer", "Magnify more", ("Shift+H", "Num++")),
    Action("farther", "Magnify less", ("Shift+G", "Num+-")),
    Action("view", "Other enhanced view", ("Shift+Q", "Num+*")),
    Action("undock", "Magnifier in its own window", ("F2",)),
    Action("fill", "Magnifier fills the screen", ("F3",)),
    Action("accept_rest", "Accept all the rest", ("F4", "Shift+K")),
    Action("next_clump", "Next clump", ("F8", "Ctrl+J", "Num+Enter")),
    Action("previous_clump", "Clump before", ("F7", "Ctrl+H")),
    Action("other_side", "Other side of the clump before", ("F5",)),
    Action("see_sides", "See both sides", ("Shift+F5",)),
    Action("save_sheet", "Save the sheet", ("F9",)),
    Action("cut_before", "Plan: cut before", ("Shift+PgUp",), "plan"),
    Action("cut_after", "Plan: cut after", ("Shift+PgDown",), "plan"),
    Action("other_end", "Plan: other end of the cut", ("Shift+End",), "plan"),
    Action("nudge_up", "Plan: cut end up", ("PgUp",), "plan"),
    Action("nudge_down", "Plan: cut end down", ("PgDown",), "plan"),
    Action("nudge_left", "Plan: cut end left", ("Home",), "plan"),
    Action("nudge_right", "Plan: cut end right", ("End",), "plan"),
    Action("click_end", "Plan: click the end's place", ("Shift+Home",), "plan"),
    Action("lamp_left", "Turn the lamp left", ("F11",)),
    Action("lamp_right", "Turn the lamp right", ("F12",)),
    Action("lamp_lower", "Lamp lower", ("Shift+F11",)),
    Action("lamp_higher", "Lamp higher", ("Shift+F12",)),
    Action("all_lamps", "All lamps, no glare", ("Shift+F9",)),
    Action("swing", "Swing the lamp, or pause", ("F10",)),
    Action("slower", "Swing slower", ("Shift+F7",)),
    Action("faster", "Swing faster", ("Shift+F8",)),
    Action("page", "Next page of the panel", ("F6",)),
)
"""In the order in which they are listed."""

BY_NAME: Final[dict[str, Action]] = {action.name: action for action in ACTIONS}


def keys_in_use(own: Mapping[str, list[str]]) -> dict[str, tuple[str, ...]]:
    """Return the keys of every action, the grower's own in place of ours.

    Parameters
    ----------
    own : mapping
        Keys by action name, as the settings file has them.

    Returns
    -------
    dict
        Keys by action name. A key that the grower gave to one action is taken from
        the action that had it.

    Raises
    ------
    UsageError
        If an action is unknown or one key is given to two actions.
    """
    taken: dict[str, str] = {}
    for name, keys in own.items():
        if name not in BY_NAME:
            raise UsageError(
                f"There is no action '{name}'.", f"There are: {', '.join(BY_NAME)}."
            )
        for key in keys:
            if taken.setdefault(key, name) != name:
                raise UsageError(
                    f"{key} is given to two actions: {taken[key]} and {name}.",
                    "Give it to one.",
                )
    return {
        action.name: tuple(own[action.name])
        if action.name in own
        else tuple(key for key in action.keys if key not in taken)
        for action in ACTIONS
    }


def key_words(keys: tuple[str, ...], between: str = " or ") -> str:
    """Return keys as they are told to the grower: ``"J or pad 1"``."""
    return between.join(
        f"pad {key[4:]}" if key.startswith("Num+") else key for key in keys
    )
