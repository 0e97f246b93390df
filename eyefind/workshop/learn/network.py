"""The network: a feature pyramid that answers at a quarter of the picture's size.

Convolutions, nearest enlargement and sums only, so that OpenCV's dnn runs it. Feature
pyramids: Lin and others, CVPR 2017; answering heat maps at stride 4: Zhou, Wang and
Krahenbuhl, "Objects as Points", 2019 (both from memory).
"""

import torch
from torch import Tensor, nn
from torch.nn import functional

from eyefind.model.network import INPUTS, PARTS

WIDTHS = (16, 32, 64, 112, 160)
"""Channels at strides 2, 4, 8, 16, 32."""
TOP, TOP4 = 64, 40
"""Channels on the way up, and at stride 4, where most of the time goes."""
ANSWERS = {"eye": 1, "neck": 1, "eye_size": 1, "offset": 2, "part": len(PARTS)}
"""Channels by name, in the order in which they lie in the output."""


class Block(nn.Module):
    """Two 3 x 3 convolutions around which the input is carried."""

    def __init__(self, channels: int):
        super().__init__()
        self.body = nn.Sequential(
            nn.Conv2d(channels, channels, 3, padding=1, bias=False),
            nn.BatchNorm2d(channels),
            nn.ReLU(inplace=True),
            nn.Conv2d(channels, channels, 3, padding=1, bias=False),
            nn.BatchNorm2d(channels),
        )

    def forward(self, x: Tensor) -> Tensor:
        """Keep the shape (N, C, H, W)."""
        return functional.relu(x + self.body(x))


def _down(before: int, after: int) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(before, after, 3, stride=2, padding=1, bias=False),
        nn.BatchNorm2d(after),
        nn.ReLU(inplace=True),
    )


class Finder(nn.Module):
    """Maps (N, 5, H, W) `INPUTS`, 0 to 1, to (N, 14, H/4, W/4) answers.

    H and W are multiples of 32. Heat maps and parts are logits.
    """

    def __init__(self) -> None:
        super().__init__()
        s2, s4, s8, s16, s32 = WIDTHS
        self.stem = _down(len(INPUTS), s2)
        self.down4 = nn.Sequential(_down(s2, s4), Block(s4))
        self.down8 = nn.Sequential(_down(s4, s8), Block(s8))
        self.down16 = nn.Sequential(_down(s8, s16), Block(s16))
        self.down32 = nn.Sequential(_down(s16, s32), Block(s32), Block(s32))
        self.side4 = nn.Conv2d(s4, TOP4, 1)
        self.side8 = nn.Conv2d(s8, TOP, 1)
        self.side16 = nn.Conv2d(s16, TOP, 1)
        self.side32 = nn.Conv2d(s32, TOP, 1)
        self.mix16, self.mix8, self.mix4 = Block(TOP), Block(TOP), Block(TOP4)
        self.narrow = nn.Conv2d(TOP, TOP4, 1)
        self.answer = nn.Conv2d(TOP4, sum(ANSWERS.values()), 1)
        rare = torch.zeros(sum(ANSWERS.values()))
        rare[:2] = -4.6
        self.answer.bias = nn.Parameter(rare)

    def forward(self, pixels: Tensor) -> Tensor:
        """Answer for (N, 5, H, W) `INPUTS`."""
        at4 = self.down4(self.stem(pixels * 4 - 2))
        at8 = self.down8(at4)
        at16 = self.down16(at8)
        at32 = self.down32(at16)
        up = self.mix16(self.side16(at16) + _twice(self.side32(at32)))
        up = self.mix8(self.side8(at8) + _twice(up))
        up = self.mix4(self.side4(at4) + _twice(self.narrow(up)))
        answers: Tensor = self.answer(up)
        return answers


def _twice(x: Tensor) -> Tensor:
    return functional.interpolate(x, scale_factor=2.0, mode="nearest")


def split_answers(output: Tensor) -> dict[str, Tensor]:
    """Split the output (N, 14, h, w) by name."""
    parts = torch.split(output, list(ANSWERS.values()), dim=1)
    return dict(zip(ANSWERS, parts, strict=True))
