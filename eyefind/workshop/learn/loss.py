"""What the network is told it got wrong."""

import torch
from torch import Tensor
from torch.nn import functional

from eyefind.model.network import PARTS
from eyefind.workshop.learn.crops import Batch
from eyefind.workshop.learn.network import split_answers

WEIGHTS = {"eye": 1.0, "neck": 0.5, "part": 1.0, "offset": 1.0, "eye_size": 0.2}
"""Share of each answer in the sum."""
RARE = {"neck": 2.0, "crown": 2.0, "stem": 2.0, "spent_parent": 2.0, "thin_root": 2.0}
RARE_MORE = {"soft": 4.0}
"""Weights of rare parts; the others count 1."""


def losses(output: Tensor, batch: Batch) -> dict[str, Tensor]:
    """Return the weighted losses by answer.

    Parameters
    ----------
    output : (N, 14, h, w) tensor
        The network's answers.
    batch : Batch
        What they should be.

    Returns
    -------
    dict of str to scalar tensor
        Their sum is to be made small.
    """
    answers = split_answers(output.float())
    inside = (batch.part >= 0).float()
    weight = torch.ones(len(PARTS), device=output.device)
    for name, times in {**RARE, **RARE_MORE}.items():
        weight[PARTS.index(name)] = times
    near_eye = (batch.eye > 0.5).float()
    size_off = (answers["eye_size"][:, 0] - batch.eye_size).abs() * near_eye
    offset_off = (answers["offset"] - batch.offset).abs().sum(dim=1)
    on_tuber = batch.on_tuber.float()
    raw = {
        "eye": _focal(answers["eye"][:, 0], batch.eye, inside),
        "neck": _focal(answers["neck"][:, 0], batch.neck, inside),
        "part": functional.cross_entropy(
            answers["part"], batch.part, weight, ignore_index=-1
        ),
        "offset": (offset_off * on_tuber).sum() / on_tuber.sum().clamp(min=1),
        "eye_size": size_off.sum() / near_eye.sum().clamp(min=1),
    }
    return {name: WEIGHTS[name] * value for name, value in raw.items()}


def _focal(logit: Tensor, target: Tensor, inside: Tensor) -> Tensor:
    """Penalty-reduced focal loss of "Objects as Points" (2019, from memory)."""
    chance = torch.sigmoid(logit).clamp(1e-5, 1 - 1e-5)
    hit = target > 0.999
    found = torch.where(hit, (1 - chance) ** 2 * torch.log(chance), 0.0)
    calm = (1 - target) ** 4 * chance**2 * torch.log(1 - chance)
    calm = torch.where(hit, 0.0, calm)
    return -((found + calm) * inside).sum() / hit.sum().clamp(min=1)
