"""Candidates on rendered clumps, labelled by the truth, to fit weights on."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from eyefind.data import Anatomy, Kind, Mask, Pixels
from eyefind.look.candidates import Candidates, Values
from eyefind.look.collar import cut_out_collar
from eyefind.look.eyes import apart, eye_candidates
from eyefind.look.flags import other_candidates
from eyefind.look.likelihood import NETWORK, Model, load_models
from eyefind.look.seen import see_whole
from eyefind.look.views import lamp_direction
from eyefind.model import Answers, ModelError
from eyefind.rules import Rules
from eyefind.workshop.fit import FOLDS, Sample, fit_model
from eyefind.workshop.gather import (
    EYE_REACH_MM,
    OTHER_REACH_MM,
    distances_px,
    eye_places,
    found_parts,
    read_truths,
    things,
    true_scale,
)
from eyefind.workshop.match import hits_by_rank, match_within
from eyefind.workshop.truth import Truth

ON_EYE_MM = 1.5
"""A candidate this near to an eye's middle is taken for right when weights are fitted;
between here and `EYE_REACH_MM` it counts neither way."""

LEAST_RIGHT = 15
"""With fewer right candidates a kind keeps the weights it has."""


def eye_sample(
    number: int,
    truth: Truth,
    rgb: Pixels,
    clump: Mask,
    anatomy: Anatomy,
    rules: Rules,
    seen: Answers | None,
) -> Sample | None:
    """Label the eye candidates of one clump.

    Parameters
    ----------
    number : int
        Number of the clump; sets the fold.
    truth, rgb, clump, anatomy, rules, seen
        As for `gather.judge`.

    Returns
    -------
    Sample or None
        The candidates of one eye together count as one. None without candidates.
    """
    scale = true_scale(truth)
    collar = cut_out_collar(rgb, clump, anatomy, scale, rules, seen)
    if collar is None:
        return None
    lamp_deg = lamp_direction(rgb, clump, scale.px_per_mm)
    found = eye_candidates(collar, lamp_deg)
    eyes = eye_places(truth.eyes)
    far = np.full((len(found), max(len(eyes), 1)), np.inf)
    if len(eyes):
        far = cdist(found.place_rc, eyes) / truth.px_per_mm
    nearest, away = far.argmin(axis=1), far.min(axis=1)
    right = away <= ON_EYE_MM
    weight = np.where(away > EYE_REACH_MM, 1.0, 0.0)
    sharing = np.bincount(nearest[right], minlength=far.shape[1])
    weight[right] = 1.0 / sharing[nearest[right]]

    def outcome(sums: Values) -> tuple[Values, NDArray[np.bool_]]:
        kept = apart(found.place_rc, sums, truth.px_per_mm)
        reach = EYE_REACH_MM * truth.px_per_mm
        return sums[kept], hits_by_rank(found.place_rc[kept], eyes, reach)

    return Sample(number % FOLDS, found.measures, right, weight, outcome)


def fit_eyes(folder: Path, rules: Rules) -> Model:
    """Fit the learned finder's weights of the eyes on a rendered set.

    Parameters
    ----------
    folder : Path
        Pictures with their truth; none that the network was trained on.
    rules : Rules
        Rules of the trade.

    Returns
    -------
    Model
        Weights of all measures of an eye, calibrated on clumps held out.
    """
    samples = []
    for number, (truth, rgb, clump, anatomy, seen) in enumerate(_looked(folder, rules)):
        sample = eye_sample(number, truth, rgb, clump, anatomy, rules, seen)
        if sample is not None and len(sample.right):
            samples.append(sample)
    made_from = f"{len(samples)} rendered clumps, anatomy as found with the network"
    return fit_model(samples, list(samples[0].measures), made_from)


def fit_others(folder: Path, rules: Rules) -> dict[str, Model]:
    """Fit the learned finder's weights of all other kinds on a rendered set.

    Parameters
    ----------
    folder : Path
        Pictures with their truth; none that the network was trained on.
    rules : Rules
        Rules of the trade.

    Returns
    -------
    dict of str to Model
        By kind; only kinds with `LEAST_RIGHT` right candidates. The measures that
        enter are those of the classical model and the network's.
    """
    samples: dict[Kind, list[Sample]] = {}
    count = 0
    for number, (truth, rgb, clump, anatomy, seen) in enumerate(_looked(folder, rules)):
        count += 1
        for kind, sample in other_samples(
            number, truth, rgb, clump, anatomy, rules, seen
        ).items():
            samples.setdefault(kind, []).append(sample)
    made_from = f"{count} rendered clumps, anatomy as found with the network"
    return {
        kind: fit_model(some, [*load_models()[kind].terms, NETWORK], made_from)
        for kind, some in samples.items()
        if sum(int(sample.right.sum()) for sample in some) >= LEAST_RIGHT
    }


def _looked(
    folder: Path, rules: Rules
) -> Iterator[tuple[Truth, Pixels, Mask, Anatomy, Answers]]:
    """Read a set and find mask and anatomy; what is refused is left out."""
    for truth, rgb, _ in read_truths(folder):
        seen = see_whole(rgb, truth.px_per_mm)
        if seen is None:
            raise ModelError("The network's weights are needed.")
        clump, anatomy = found_parts(rgb, true_scale(truth), rules, seen)
        if clump.any():
            yield truth, rgb, clump, anatomy, seen


def other_samples(
    number: int,
    truth: Truth,
    rgb: Pixels,
    clump: Mask,
    anatomy: Anatomy,
    rules: Rules,
    seen: Answers,
) -> dict[Kind, Sample]:
    """Label the candidates of all other kinds of one clump, by kind."""
    scale = true_scale(truth)
    return {
        found.kind: _labelled(number, truth, found)
        for found in other_candidates(rgb, clump, anatomy, scale, rules, seen)
        if len(found)
    }


def _labelled(number: int, truth: Truth, found: Candidates) -> Sample:
    far = distances_px(found.place_rc, things(truth, found.kind))
    reach = OTHER_REACH_MM[found.kind] * truth.px_per_mm
    right = np.zeros(len(found), bool)
    right[[row for row, _ in match_within(far, reach)]] = True
    return Sample(
        number % FOLDS,
        found.measures,
        right,
        np.ones(len(found)),
        lambda sums: (sums, right),
    )
