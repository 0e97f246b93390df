"""Trains the finder for a given time and writes its weights."""

import copy
import math
import time
from pathlib import Path

import numpy as np
import torch
from torch import nn

from eyefind.workshop.learn.crops import Cropper
from eyefind.workshop.learn.loss import losses
from eyefind.workshop.learn.network import Finder
from eyefind.workshop.learn.pictures import Pictures
from eyefind.workshop.learn.recolour import recolour

CROP_PX = 640
BATCH = 24
TOP_RATE = 2e-3
"""Highest learning rate; warmed up to over the first 3 %, then a cosine to zero."""
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
    device = pictures.rgb.device
    net = Finder().to(device)
    net.to(memory_format=torch.channels_last)  # type: ignore[call-overload]
    if start is not None:
        load_weights(net, start)
    mean = copy.deepcopy(net).eval()
    optimiser = torch.optim.AdamW(net.parameters(), TOP_RATE, weight_decay=DECAY)
    cropper = Cropper(pictures, CROP_PX, seed)
    began, step = time.monotonic(), 0
    while (gone := (time.monotonic() - began) / seconds) < 1:
        for group in optimiser.param_groups:
            group["lr"] = TOP_RATE * _rate(gone)
        batch = cropper.batch(BATCH)
        pixels = recolour(batch).contiguous(memory_format=torch.channels_last)
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


def save_weights(net: Finder, path: Path) -> None:
    """Write the weights as plain arrays (.npz), to go on from later."""
    arrays = {
        name: value.detach().cpu().numpy() for name, value in net.state_dict().items()
    }
    np.savez_compressed(path, allow_pickle=False, **arrays)


def load_weights(net: Finder, path: Path) -> None:
    """Read weights that `save_weights` wrote."""
    with np.load(path, allow_pickle=False) as file:
        net.load_state_dict({name: torch.from_numpy(file[name]) for name in file})


def export(net: Finder, path: Path) -> None:
    """Write the network as ONNX; pictures of any size, in multiples of 32 px."""
    net = copy.deepcopy(net).cpu().float().eval()
    torch.onnx.export(
        net,
        (torch.zeros(1, 3, 256, 256),),
        str(path),
        input_names=["pixels"],
        output_names=["answers"],
        dynamic_axes={name: {2: "rows", 3: "cols"} for name in ("pixels", "answers")},
        opset_version=17,
        dynamo=False,
    )
