"""The cautions and the step that each stands beside."""

import tomllib
from dataclasses import dataclass
from importlib.resources import files
from typing import Final

import numpy as np
from shapely import LineString, Polygon, make_valid

from eyefind.data import Cut, Record

# A cut this near to a spent parent's outline is taken to be a cut at it.
PARENT_REACH_MM: Final = 3.0


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


def first_cuts(record: Record) -> dict[int, list[str]]:
    """Return, by number of cut, the steps of ``cautions.toml`` that begin with it."""
    parents = _parent_regions(record)
    reach_px = PARENT_REACH_MM * record.scale.px_per_mm
    begun: set[str] = set()
    beginning: dict[int, list[str]] = {}
    for cut in record.plan.cuts if record.plan else []:
        here = [str(cut.tool)]
        if any(_distance_px(cut, parent) <= reach_px for parent in parents):
            here.append("spent_parent")
        beginning[cut.number] = [step for step in here if step not in begun]
        begun.update(here)
    return beginning


def _parent_regions(record: Record) -> list[Polygon]:
    """Return the outlines of the discards that are spent parents."""
    names = {
        name
        for flag in record.flags
        if flag.kind == "spent_parent"
        for name in (flag.id, flag.belongs_to)
    }
    return [
        make_valid(Polygon(discard.outline_px))
        for discard in (record.plan.discards if record.plan else [])
        if discard.belongs_to in names and len(discard.outline_px) > 2
    ]


def _distance_px(cut: Cut, region: Polygon) -> float:
    path = np.reshape(cut.path_px, (-1, 2))
    if len(path) < 2:
        return np.inf
    return float(LineString(path).distance(region))
