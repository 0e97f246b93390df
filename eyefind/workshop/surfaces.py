"""More benches: painted boards, concrete, board, sacking, patterns, straw."""

import math

import numpy as np
import torch
from torch import Tensor

from eyefind.workshop.noise import Noise, smoothstep

Bench = tuple[Tensor, Tensor, float]
"""Colour (H, W, 3) sRGB, relief (H, W) mm, gloss."""
PAINTS = (
    (0.75, 0.74, 0.70),
    (0.35, 0.48, 0.42),
    (0.30, 0.40, 0.55),
    (0.55, 0.25, 0.20),
    (0.80, 0.70, 0.35),
    (0.20, 0.24, 0.22),
)
STONES = (
    (0.56, 0.55, 0.53),
    (0.42, 0.41, 0.40),
    (0.66, 0.61, 0.53),
    (0.50, 0.38, 0.33),
)
BOARDS = ((0.68, 0.54, 0.38), (0.60, 0.47, 0.33), (0.80, 0.74, 0.64))
SACKS = ((0.62, 0.50, 0.33), (0.50, 0.40, 0.27), (0.72, 0.64, 0.50))


def plane(x: Tensor, y: Tensor, z: float) -> Tensor:
    """Return places (..., 3) in a slice of the noise."""
    return torch.stack([x, y, torch.full_like(x, z)], dim=-1)


def to_line(place: Tensor, every: float) -> Tensor:
    """Distance to the nearest of lines `every` mm apart."""
    return ((place / every + 0.5).remainder(1) - 0.5).abs() * every


def pick(
    rng: np.random.Generator,
    choices: tuple[tuple[float, ...], ...],
    device: torch.device,
) -> Tensor:
    """Draw one of some colours and vary it: (3,) sRGB."""
    chosen = np.array(choices[rng.integers(len(choices))])
    mixed = chosen * rng.uniform(0.7, 1.2) + rng.normal(0, 0.03, 3)
    return torch.tensor(np.clip(mixed, 0.03, 0.95), dtype=torch.float32, device=device)


def wild(rng: np.random.Generator, device: torch.device) -> Tensor:
    """Draw any colour at all: (3,) sRGB."""
    return torch.tensor(rng.uniform(0.05, 0.92, 3), dtype=torch.float32, device=device)


def painted(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    """Painted boards whose paint has chipped off the wood."""
    paint = pick(rng, PAINTS, x.device)
    wood = pick(rng, BOARDS, x.device)
    streaks = noise.fbm(plane(x / 50, y / 1.2, 3), 3, 0.6)
    chips = noise.fbm(plane(x / 24, y / 9, 8), 4, 0.6) + 0.2 * streaks
    bare = smoothstep(0.0, 0.04, chips + float(rng.uniform(-0.55, 0.1)))
    width = float(rng.uniform(50, 150))
    joint = 1 - smoothstep(0.4, 1.2, to_line(y, width))
    colour = torch.lerp(
        paint * (1 + 0.06 * streaks)[..., None],
        wood * (1 + 0.3 * streaks)[..., None],
        bare[..., None],
    )
    colour = colour * (1 - 0.75 * joint[..., None])
    return colour, 0.1 * streaks - 0.2 * bare - 2 * joint, float(rng.uniform(0, 0.4))


def concrete(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    """Concrete, stone or tiles, stained, pitted and perhaps cracked."""
    base = pick(rng, STONES, x.device)
    cloud = noise.fbm(plane(x / 40, y / 40, 2), 4, 0.6)
    grit = noise.fbm(plane(x / 1.1, y / 1.1, 5), 2)
    tone = 1 + float(rng.uniform(0.1, 0.4)) * cloud + float(rng.uniform(0, 0.3)) * grit
    relief = float(rng.uniform(0.02, 0.3)) * grit
    if rng.random() < 0.4:
        every = float(rng.uniform(60, 200))
        joint = torch.minimum(to_line(x, every), to_line(y, every))
        gap = 1 - smoothstep(1.0, 2.5, joint)
        tone, relief = tone * (1 - 0.4 * gap), relief - 1.5 * gap
    if rng.random() < 0.4:
        crack = noise.fbm(plane(x / 60, y / 60, 9), 4).abs()
        crack = 1 - smoothstep(0.003, 0.015, crack)
        tone, relief = tone * (1 - 0.6 * crack), relief - 0.8 * crack
    return base * tone[..., None], relief, float(rng.uniform(0, 0.15))


def cardboard(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    """Corrugated board, creased and water-stained."""
    base = pick(rng, BOARDS, x.device)
    flute = torch.sin(x * (2 * math.pi / float(rng.uniform(3, 8))))
    fibre = noise.fbm(plane(x / 0.6, y / 2.5, 1), 2)
    damp = smoothstep(0.1, 0.2, noise.fbm(plane(x / 70, y / 70, 4), 3))
    crease = 1 - smoothstep(0.5, 2.0, to_line(y, float(rng.uniform(120, 300))))
    strength = float(rng.uniform(0.01, 0.06))
    tone = 1 + strength * flute + 0.06 * fibre - 0.2 * damp - 0.15 * crease
    return base * tone[..., None], 0.06 * flute - 0.5 * crease, 0.0


def sacking(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    """Coarse sacking with thick and thin threads."""
    base = pick(rng, SACKS, x.device)
    every = float(rng.uniform(2.0, 4.5))
    x = x + every * noise.fbm(plane(x / 18, y / 18, 1), 2)
    y = y + every * noise.fbm(plane(x / 18, y / 18, 2), 2)
    thick = noise.at(plane(torch.floor(x / every) * 1.7, y / 30, 3))
    thin = noise.at(plane(x / 30, torch.floor(y / every) * 1.7, 5))
    warp = (x * math.pi / every).sin().abs() * (1 + 0.4 * thick)
    weft = (y * math.pi / every).sin().abs() * (1 + 0.4 * thin)
    over = (torch.floor(x / every) + torch.floor(y / every)).remainder(2) > 0.5
    weave = torch.where(over, warp, weft) * torch.minimum(warp, weft).clamp(max=0.3)
    tone = 0.45 + 1.7 * weave + 0.12 * noise.fbm(plane(x / 1.0, y / 1.0, 7), 2)
    folds = noise.fbm(plane(x / 80, y / 80, 6), 2)
    return base * tone[..., None], 2.0 * weave + 4.0 * folds, 0.0


def pattern(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    """Strong patterns in any colours: oilcloth, stripes, checks, dots, marbling."""
    one, other, third = (wild(rng, x.device) for _ in range(3))
    every = float(np.exp(rng.uniform(np.log(3), np.log(60))))
    warped = every * noise.fbm(plane(x / (3 * every), y / (3 * every), 1), 3)
    warped = warped * float(rng.choice([0, rng.uniform(0.2, 3)]))
    kind = int(rng.integers(4))
    if kind == 0:
        share = smoothstep(-0.2, 0.2, torch.sin((x + warped) * 2 * math.pi / every))
    elif kind == 1:
        across = torch.floor((x + warped) / every) + torch.floor(y / every)
        share = across.remainder(2)
    elif kind == 2:
        share = smoothstep(0.3, 0.5, noise.spots(x / every, y / every, 0.8))
    else:
        share = noise.ridged(plane((x + warped) / every, y / every, 4), 3)
    colour = torch.lerp(one.expand(*x.shape, 3), other, share[..., None])
    veins = noise.fbm(plane(x / (every * 0.8), y / (every * 0.8), 7), 4, 0.65)
    colour = torch.lerp(colour, third, smoothstep(0.0, 0.5, veins)[..., None] * 0.6)
    return colour, float(rng.uniform(0, 0.6)) * veins, float(rng.choice([0, 0.2, 0.6]))


def straw(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    """Straw, grass or wood wool: long strands in every direction."""
    base = pick(
        rng, ((0.66, 0.56, 0.34), (0.32, 0.42, 0.18), (0.52, 0.44, 0.32)), x.device
    )
    height = torch.full_like(x, -1.0)
    tone = torch.zeros_like(x)
    for layer in range(4):
        angle = float(rng.uniform(0, math.pi))
        run = x * math.cos(angle) + y * math.sin(angle)
        across = y * math.cos(angle) - x * math.sin(angle)
        strand = noise.ridged(plane(run / 38, across / 2.8, 3.0 * layer), 1)
        lies = 0.8 * smoothstep(0.55, 1.0, strand) + 0.08 * layer
        shade = 0.55 + 0.5 * strand + 0.25 * noise.at(plane(run / 30, across / 3, 9))
        tone = torch.where(lies > height, shade * (0.7 + 0.1 * layer), tone)
        height = torch.maximum(height, lies)
    return base * tone[..., None], 3.0 * height, 0.05
