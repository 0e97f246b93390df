"""Fit the model that tells body, crown, stem and gap apart, on rendered clumps."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from eyefind.data import Pixels
from eyefind.errors import PhotoError
from eyefind.look.clump import find_clump
from eyefind.look.frame import Frame, cut_out
from eyefind.look.parts import HELD, PARTS, PartModel, part_measures
from eyefind.model.network import PARTS as TRUE_PARTS
from eyefind.photo import find_card
from eyefind.workshop.gather import Label, read_truths, true_scale
from eyefind.workshop.truth import Truth

PIXELS_A_CLUMP = 2000
RIDGE = 1.0
"""Weight of the squared weights against the summed log loss."""
CLUMP_WEIGHT = 30.0
"""What all pixels of one clump count together: they are far from independent."""
SEEN_AS = {
    "bench": "gap",
    "body": "body",
    "neck": "body",
    "crown": "crown",
    "stem": "stem",
    "spent_parent": "body",
    "thin_root": "gap",
    "soft": "body",
    "tool_or_card": "gap",
}
"""What each part of the truth counts as."""

Values = NDArray[np.float64]


def fit_parts(folder: Path, seed: int = 0) -> PartModel:
    """Fit the model on all clumps of a set.

    Parameters
    ----------
    folder : Path
        Pictures with their truth.
    seed : int
        Of the draw of pixels.

    Returns
    -------
    PartModel
        Ready to be stored as ``parts.json``.
    """
    rng = np.random.default_rng(seed)
    tables, kinds = [], []
    names: list[str] = []
    for truth, rgb, label in read_truths(folder):
        clump = _clump(truth, rgb, label)
        if clump is None:
            continue
        frame, kind = clump
        measures = part_measures(frame)
        names = list(measures)
        inside = np.flatnonzero(frame.mask)
        drawn = rng.choice(inside, min(PIXELS_A_CLUMP, len(inside)), replace=False)
        tables.append(np.stack([measures[n].ravel()[drawn] for n in names], axis=1))
        kinds.append(kind.ravel()[drawn])
    return _fit(np.concatenate(tables), np.concatenate(kinds), names, len(kinds))


def _clump(
    truth: Truth, rgb: Pixels, label: Label
) -> tuple[Frame, NDArray[np.intp]] | None:
    """Cut one clump out as the product does; with the true part of each pixel."""
    card = find_card(rgb)
    try:
        mask = find_clump(rgb, None if card is None else card.outline_px)
    except PhotoError:
        return None
    frame = cut_out(rgb, mask, true_scale(truth))
    places = frame.to_photo(np.argwhere(np.ones(frame.mask.shape, bool)).astype(float))
    places = (places + 0.5) * (label.shape[0] / truth.height_px) - 0.5
    rows, cols = np.clip(np.rint(places).astype(int), 0, np.array(label.shape) - 1).T
    seen_as = np.array([PARTS.index(SEEN_AS[part]) for part in TRUE_PARTS])
    return frame, seen_as[label[rows, cols] // 100].reshape(frame.mask.shape)


def _fit(
    table: Values, kind: NDArray[np.intp], names: list[str], clumps: int
) -> PartModel:
    centre, spread = table.mean(axis=0), table.std(axis=0)
    held = np.clip((table - centre) / spread, -HELD, HELD)
    design = np.column_stack([held, np.ones(len(held))])
    # Rare parts count more, as the root of their rarity.
    weight = 1 / np.sqrt(np.bincount(kind, minlength=len(PARTS))[kind])
    weight *= CLUMP_WEIGHT * clumps / weight.sum()
    target = np.eye(len(PARTS))[kind]

    def loss(flat: Values) -> tuple[float, Values]:
        weights = flat.reshape(design.shape[1], len(PARTS))
        total = design @ weights
        total -= total.max(axis=1, keepdims=True)
        log_sum = np.log(np.exp(total).sum(axis=1, keepdims=True))
        chance = np.exp(total - log_sum)
        fit = -(weight[:, None] * target * (total - log_sum)).sum()
        slope = design.T @ (weight[:, None] * (chance - target))
        slope[:-1] += RIDGE * weights[:-1]
        return fit + RIDGE / 2 * float((weights[:-1] ** 2).sum()), slope.ravel()

    start = np.zeros(design.shape[1] * len(PARTS))
    best = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 400})
    weights = np.round(best.x.reshape(-1, len(PARTS)), 4)
    return PartModel(
        f"{clumps} rendered clumps",
        dict(zip(names, np.round(centre, 4).tolist(), strict=True)),
        dict(zip(names, np.round(spread, 4).tolist(), strict=True)),
        dict(zip(names, weights[:-1].tolist(), strict=True)),
        weights[-1].tolist(),
    )
