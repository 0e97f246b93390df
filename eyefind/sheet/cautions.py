"""The cautions and the step that each stands beside."""

import tomllib
from dataclasses import dataclass
from importlib.resources import files

from eyefind.data import Record
from eyefind.sheet.leaving import Leaving


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
    short : str
        The same for the first page, ``""`` if it does not stand there.
    """

    beside: str
    text: str
    source: str
    short: str = ""


def load_cautions() -> dict[str, Caution]:
    """Return all cautions by name, in their order of print."""
    text = files("eyefind.sheet").joinpath("cautions.toml").read_text("utf-8")
    return {name: Caution(**entry) for name, entry in tomllib.loads(text).items()}


def texts_beside(step: str) -> list[str]:
    """Return the texts of the cautions that stand beside `step`."""
    return [
        caution.text for caution in load_cautions().values() if caution.beside == step
    ]


def short_beside(step: str) -> str:
    """Return in short the cautions that stand beside `step`."""
    cautions = load_cautions().values()
    return " ".join(c.short for c in cautions if c.beside == step and c.short)


def first_cuts(record: Record, leaving: Leaving) -> dict[int, list[str]]:
    """Return, by number of cut, the steps of ``cautions.toml`` that begin with it."""
    parents = [flag.id for flag in record.flags if flag.kind == "spent_parent"]
    gone = {leaving.flags.get(flag_id) for flag_id in parents}
    at_parents = {cut for discard, cut in leaving.cuts.items() if discard in gone}
    begun: set[str] = set()
    beginning: dict[int, list[str]] = {}
    for cut in record.plan.cuts if record.plan else []:
        here = [str(cut.tool)] + ["spent_parent"] * (cut.number in at_parents)
        beginning[cut.number] = [step for step in here if step not in begun]
        begun.update(here)
    return beginning
