"""Keeps weights: to go on training from, and to ship."""

import copy
import lzma
from hashlib import sha256
from pathlib import Path

import msgspec
import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional
from torch.nn.utils.fusion import fuse_conv_bn_eval

from eyefind.model.network import INPUTS, Facts
from eyefind.workshop.learn.network import Finder

FIRST = "stem.0.weight"
DROPPED_BITS = 14
"""Bits of each number that are rounded away: 10 are left, about half precision, and
the files shrink to half their size."""


def save_weights(net: Finder, path: Path) -> None:
    """Write the weights as plain arrays (.npz), to go on from later."""
    arrays = {name: _rounded(value) for name, value in net.state_dict().items()}
    np.savez_compressed(path, allow_pickle=False, **arrays)


def load_weights(net: Finder, path: Path) -> None:
    """Read weights that `save_weights` wrote.

    Those of a network that saw colours alone heed no further channel at first.
    """
    with np.load(path, allow_pickle=False) as file:
        state = {name: torch.from_numpy(file[name]) for name in file}
    first = state[FIRST]
    missing = len(INPUTS) - first.shape[1]
    state[FIRST] = functional.pad(first, (0, 0, 0, 0, 0, missing))
    net.load_state_dict(state)


def ship(net: Finder, made_from: str, folder: Path) -> None:
    """Write what `eyefind.model` reads: ``network.onnx.xz`` and ``network.json``.

    Parameters
    ----------
    net : Finder
        The trained network.
    made_from : str
        What it was trained on, and how.
    folder : Path
        Where the two files go.
    """
    plain = folder / "network.onnx"
    export(net, plain)
    packed = lzma.compress(plain.read_bytes())
    plain.unlink()
    (folder / "network.onnx.xz").write_bytes(packed)
    facts = Facts(sha256(packed).hexdigest(), made_from)
    text = msgspec.json.format(msgspec.json.encode(facts), indent=2)
    (folder / "network.json").write_bytes(text + b"\n")


def export(net: Finder, path: Path) -> None:
    """Write the network as ONNX; pictures of any size, in multiples of 32 px."""
    net = copy.deepcopy(net).cpu().float().eval()
    for part in [part for part in net.modules() if isinstance(part, nn.Sequential)]:
        _fuse(part)
    with torch.no_grad():
        for value in net.parameters():
            value.copy_(torch.from_numpy(_rounded(value)))
    torch.onnx.export(
        net,
        (torch.zeros(1, len(INPUTS), 256, 256),),
        str(path),
        input_names=["pixels"],
        output_names=["answers"],
        dynamic_axes={name: {2: "rows", 3: "cols"} for name in ("pixels", "answers")},
        opset_version=17,
        dynamo=False,
    )


def _fuse(steps: nn.Sequential) -> None:
    """Put each batch normalisation into the convolution before it."""
    for index in range(len(steps) - 1):
        convolution, norm = steps[index], steps[index + 1]
        if isinstance(convolution, nn.Conv2d) and isinstance(norm, nn.BatchNorm2d):
            steps[index] = fuse_conv_bn_eval(convolution, norm)
            steps[index + 1] = nn.Identity()


def _rounded(value: Tensor) -> NDArray[np.generic]:
    array = value.detach().cpu().numpy().copy()
    if array.dtype != np.float32:
        return array
    bits = array.view(np.uint32) + np.uint32(1 << (DROPPED_BITS - 1))
    bits &= ~np.uint32((1 << DROPPED_BITS) - 1)
    return bits.view(np.float32)
