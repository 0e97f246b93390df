"""The cautions and the step that each stands beside."""

import tomllib
from dataclasses import dataclass
from importlib.resources import files

from eyefind.data import Plan
from eyefind.plan.words import TAKE_OFF


@dataclass(frozen=True)
class Caution:
    """One caution.

    Attributes
    ----------
    beside : str
        The step it belongs to (see ``cautions.toml``).
    text : str
        What is printed.
    source : str
        Where it comes from.
    """

    beside: str
    text: str
    source: str


def load_cautions() -> dict[str, Caution]:
    """Return all cautions by name, in their order of print."""
    text = files("eyefind.sheet").joinpath("cautions.toml").read_text("utf-8")
    return {name: Caution(**entry) for name, entry in tomllib.loads(text).items()}


def texts_beside(step: str) -> list[str]:
    """Return the texts of the cautions that stand beside `step`."""
    return [
        caution.text for caution in load_cautions().values() if caution.beside == step
    ]


def first_cuts(plan: Plan | None) -> dict[int, list[str]]:
    """Return, by number of cut, the steps of ``cautions.toml`` that begin with it.

    The spent parent's is told by what the cut is for: its flag may lie on another part
    that comes off, or on the photo of another side.
    """
    begun: set[str] = set()
    beginning: dict[int, list[str]] = {}
    for cut in plan.cuts if plan else []:
        parent = cut.purpose == TAKE_OFF["spent_parent"]
        here = [str(cut.tool)] + ["spent_parent"] * parent
        beginning[cut.number] = [step for step in here if step not in begun]
        begun.update(here)
    return beginning
