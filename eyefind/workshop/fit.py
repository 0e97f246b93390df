"""Fit the small logistic models that weigh candidates, on rendered clumps.

Weights are fitted on all clumps; the calibration on flags of clumps held out in turn
(cross-validation by clump), so that it does not flatter.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from eyefind.look.likelihood import Model, Term, weighted_sum

FOLDS = 8
"""Parts into which the clumps are dealt for cross-validation."""
RIDGE = 1.0
"""Weight of the squared weights against the summed log loss."""
HELD = (1.0, 99.0)
"""Percentiles of a measure between which it is held."""

Values = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Sample:
    """Candidates of one kind on one clump with the truth about each.

    Attributes
    ----------
    fold : int
        Which fold holds it out; all samples of one clump share it.
    measures : dict of str to (N,) array
        By name.
    right : (N,) bool array
        Whether the candidate is what its kind says.
    weight : (N,) array
        How much it counts; 0 for those that are neither right nor wrong.
    outcome : callable
        Takes the candidates' sums, gives the sums of those that would become flags
        and whether each flag is right.
    """

    fold: int
    measures: dict[str, Values]
    right: Bools
    weight: Values
    outcome: Callable[[Values], tuple[Values, Bools]]


def fit_model(samples: Sequence[Sample], names: Sequence[str], made_from: str) -> Model:
    """Fit weights and calibration.

    Parameters
    ----------
    samples : sequence of Sample
        One a clump.
    names : sequence of str
        Measures that enter.
    made_from : str
        Provenance.

    Returns
    -------
    Model
        Ready to be stored.
    """
    model = fit_weights(samples, names, made_from)
    sums, right = held_out_flags(samples, names)
    slope, offset = _logistic(sums[:, None], right, np.ones(len(sums)), 1e-6)
    return replace(model, platt_slope=float(slope), platt_offset=float(offset))


def held_out_flags(
    samples: Sequence[Sample], names: Sequence[str]
) -> tuple[Values, Bools]:
    """Weigh each clump by a model that never saw it.

    Parameters
    ----------
    samples : sequence of Sample
        One or more a clump.
    names : sequence of str
        Measures that enter.

    Returns
    -------
    sums : (N,) array
        Sums of the flags, before calibration.
    right : (N,) bool array
        Whether each is right.
    """
    outcomes = []
    for fold in range(FOLDS):
        model = fit_weights([s for s in samples if s.fold != fold], names, "")
        outcomes += [
            sample.outcome(weighted_sum(model, sample.measures))
            for sample in samples
            if sample.fold == fold
        ]
    sums, right = zip(*outcomes, strict=True)
    return np.concatenate(sums), np.concatenate(right)


def fit_weights(
    samples: Sequence[Sample], names: Sequence[str], made_from: str
) -> Model:
    """Fit the weights alone; the calibration stays neutral."""
    right = np.concatenate([sample.right for sample in samples])
    weight = np.concatenate([sample.weight for sample in samples])
    terms, columns = {}, []
    for name in names:
        values = np.concatenate([sample.measures[name] for sample in samples])
        low, high = np.percentile(values[weight > 0], HELD)
        held = np.clip(values, low, high)
        centre, spread = held[weight > 0].mean(), held[weight > 0].std() or 1.0
        terms[name] = Term(*map(float, (low, high, centre, spread, 0.0)))
        columns.append((held - centre) / spread)
    found = _logistic(np.stack(columns, axis=1), right, weight, RIDGE)
    terms = {
        name: replace(term, weight=float(w))
        for (name, term), w in zip(terms.items(), found[:-1], strict=True)
    }
    return Model(made_from, terms, float(found[-1]), 1.0, 0.0)


def _logistic(columns: Values, right: Bools, weight: Values, ridge: float) -> Values:
    """Weights of the columns and the constant (last) with least regularised log loss.

    The constant is not held back by the ridge.
    """
    design = np.column_stack([columns, np.ones(len(columns))])
    sign = np.where(right, 1.0, -1.0)

    def loss(at: Values) -> tuple[float, Values]:
        margin = sign * (design @ at)
        value = weight @ np.logaddexp(0.0, -margin) + ridge / 2 * at[:-1] @ at[:-1]
        slope = -(weight * sign / (1.0 + np.exp(margin))) @ design
        slope[:-1] += ridge * at[:-1]
        return float(value), slope

    start = np.zeros(design.shape[1])
    return np.asarray(minimize(loss, start, jac=True, method="L-BFGS-B").x)


def rounded(model: Model, digits: int = 4) -> Model:
    """Round every number, so that the file can be read and compared."""
    terms = {
        name: Term(*(round(v, digits) for v in vars(term).values()))
        for name, term in model.terms.items()
    }
    return Model(
        model.made_from,
        terms,
        round(model.bias, digits),
        round(model.platt_slope, digits),
        round(model.platt_offset, digits),
    )


def write_models(models: dict[str, Model], path: Path) -> None:
    """Write the models as JSON, one measure a line's block."""
    numbers = msgspec.json.encode({k: rounded(m) for k, m in models.items()})
    path.write_bytes(msgspec.json.format(numbers, indent=2) + b"\n")
