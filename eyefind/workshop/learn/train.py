"""Trains the finder for a given time and writes its weights."""

import copy
import math
import time
from pathlib import Path

import torch
from torch import nn

from eyefind.workshop.learn.crops import Cropper
from eyefind.workshop.learn.keep import load_weights
from eyefind.workshop.learn.loss import losses
from eyefind.workshop.learn.network import Finder
from eyefind.workshop.learn.pictures import Pictures
from eyefind.workshop.learn.recolour import recolour

CROP_PX = 640
BATCH = 24
TOP_RATE, LATER_RATE = 2e-3, 8e-4
"""Highest learning rate, and that of weights gone on from; warmed up to over the first
3 %, then a cosine to zero."""
DECAY = 1e-4
KEEP = 0.998
"""The weights that are kept are a running mean with this memory."""


def train(pictures: Pictures, seconds: float, seed: int, start: Path | None) -> Finder:
    """Train on pictures.

    Parameters
    ----------
    pictures : Pictures
        On the device to train on.
    seconds : float
        How long.
    seed : int
        Of crops and first weights.
    start : Path, optional
        Weights to go on from.

    Returns
    -------
    Finder
        The running mean, ready to answer.
    """
    torch.manual_seed(seed)
    device = pictures.rgb[0].device
    net = Finder().to(device)
    net.to(memory_format=torch.channels_last)  # type: ignore[call-overload]
    top_rate = TOP_RATE if start is None else LATER_RATE
    if start is not None:
        load_weights(net, start)
    mean = copy.deepcopy(net).eval()
    optimiser = torch.optim.AdamW(net.parameters(), top_rate, weight_decay=DECAY)
    cropper = Cropper(pictures, CROP_PX, seed)
    began, step = time.monotonic(), 0
    while (gone := (time.monotonic() - began) / seconds) < 1:
        for group in optimiser.param_groups:
            group["lr"] = top_rate * _rate(gone)
        batch = cropper.batch(BATCH)
        pixels = torch.cat([recolour(batch), batch.relief], dim=1)
        pixels = pixels.contiguous(memory_format=torch.channels_last)
        with torch.autocast(device.type, torch.bfloat16):
            output = net(pixels)
        parts = losses(output, batch)
        optimiser.zero_grad(set_to_none=True)
        torch.stack(list(parts.values())).sum().backward()  # type: ignore[no-untyped-call]
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        _blend(mean, net, min(KEEP, 1 - 1 / (step / 10 + 1)))
        if step % 200 == 0:
            told = " ".join(f"{name} {v.item():.3f}" for name, v in parts.items())
            print(f"step {step}, {gone:.0%}: {told}", flush=True)
        step += 1
    print(f"{step} steps of {BATCH} crops in {time.monotonic() - began:.0f} s")
    return mean


def _rate(gone: float) -> float:
    return min(gone / 0.03, 0.5 * (1 + math.cos(math.pi * gone)))


@torch.no_grad()
def _blend(mean: Finder, net: Finder, keep: float) -> None:
    for kept, new in zip(
        mean.state_dict().values(), net.state_dict().values(), strict=True
    ):
        if kept.dtype.is_floating_point:
            kept.lerp_(new, 1 - keep)
        else:
            kept.copy_(new)
