"""From named measures to a calibrated likelihood: one small logistic model a kind.

The weights lie beside this module, with where they came from: ``weights_learned.json``
for candidates on which the network had its say (the measure ``network``),
``weights.json`` for those of the classical finder alone. ``python -m eyefind.workshop
fit-eyes DIR`` and ``fit-others DIR`` make them again.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import msgspec
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Kind

NETWORK = "network"
"""Name of the measure by which the network has its say on a candidate."""
Measures = Mapping[str, NDArray[np.float64]]
"""Name of a measure to its (N,) values, one for each candidate."""


@dataclass(frozen=True)
class Term:
    """One measure's part in the sum.

    Attributes
    ----------
    low, high : float
        The measure is held within, so that a freak value cannot decide alone.
    centre, spread : float
        The held value enters as ``(value - centre) / spread``.
    weight : float
        What it is multiplied with.
    """

    low: float
    high: float
    centre: float
    spread: float
    weight: float


@dataclass(frozen=True)
class Model:
    """A logistic model of one kind of flag.

    Attributes
    ----------
    made_from : str
        Data, count and command that gave the weights.
    terms : dict of str to Term
        By name of the measure.
    bias : float
        The constant of the sum.
    platt_slope, platt_offset : float
        Platt's calibration of the sum (Platt 1999, from memory), fitted on flags of
        clumps that were held out when the weights were fitted.
    """

    made_from: str
    terms: dict[str, Term]
    bias: float
    platt_slope: float
    platt_offset: float


def likelihood(kind: Kind, measures: Measures) -> NDArray[np.float64]:
    """Weigh candidates of one kind.

    Parameters
    ----------
    kind : str
        Kind of flag.
    measures : mapping of str to (N,) array
        At least the measures that the kind's model names; further ones are ignored.

    Returns
    -------
    (N,) float64 array
        Calibrated chance of each that it is what its kind says.
    """
    model = load_models(NETWORK in measures)[kind]
    total = weighted_sum(model, measures)
    return 1.0 / (1.0 + np.exp(-(model.platt_slope * total + model.platt_offset)))


def weighted_sum(model: Model, measures: Measures) -> NDArray[np.float64]:
    """Return the model's sum before calibration, an (N,) float64 array."""
    total = np.full(len(next(iter(measures.values()))), model.bias)
    for name, term in model.terms.items():
        held = np.clip(measures[name], term.low, term.high)
        total = total + term.weight * (held - term.centre) / term.spread
    return total


@cache
def load_models(learned: bool = False) -> dict[str, Model]:
    """Read the models of all kinds, once.

    Parameters
    ----------
    learned : bool
        Whether those for candidates on which the network had its say.

    Returns
    -------
    dict of str to Model
        By kind.
    """
    name = "weights_learned.json" if learned else "weights.json"
    text = files("eyefind.look").joinpath(name).read_bytes()
    return msgspec.json.decode(text, type=dict[str, Model])
