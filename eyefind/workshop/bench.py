"""Benches: what the clump lies on."""

import math
from collections.abc import Callable

import numpy as np
import torch
from PIL import Image, ImageDraw, ImageFont
from torch import Tensor

from eyefind.workshop.noise import Noise, smoothstep

Bench = tuple[Tensor, Tensor, float]
"""Colour (H, W, 3) sRGB, relief (H, W) mm, gloss."""
MAT_COLOURS = (
    (0.20, 0.33, 0.27),
    (0.30, 0.34, 0.40),
    (0.18, 0.19, 0.21),
    (0.62, 0.62, 0.60),
    (0.24, 0.30, 0.45),
    (0.82, 0.81, 0.78),
)
WOODS = ((0.70, 0.54, 0.36), (0.55, 0.40, 0.26), (0.50, 0.46, 0.41), (0.78, 0.65, 0.47))
PLASTICS = (
    (0.12, 0.12, 0.13),
    (0.25, 0.36, 0.28),
    (0.72, 0.72, 0.70),
    (0.30, 0.42, 0.55),
    (0.55, 0.22, 0.17),
)
CLOTHS = (
    (0.62, 0.53, 0.40),
    (0.75, 0.73, 0.68),
    (0.35, 0.42, 0.50),
    (0.45, 0.36, 0.33),
)
PRINT = (
    "garden beds frost mulch seed market autumn dry store label path water lamp "
    "spade row compost wall glass string shed bench orchard pear quince apple "
    "meadow gate rain wind early late flower cutting knife basket barrow tool"
)
"""Words of the invented newspaper."""


def lay(
    kind: str, rng: np.random.Generator, noise: Noise, x_mm: Tensor, y_mm: Tensor
) -> Bench:
    """Make a bench.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    rng : numpy.random.Generator
        Source of chance.
    noise : Noise
        Source of texture.
    x_mm, y_mm : (H, W) tensors
        Place on the bench, mm.

    Returns
    -------
    colour, relief, gloss
        As `Bench` says.
    """
    angle = rng.uniform(0, math.pi)
    x = x_mm * math.cos(angle) + y_mm * math.sin(angle) + rng.uniform(0, 400)
    y = -x_mm * math.sin(angle) + y_mm * math.cos(angle) + rng.uniform(0, 400)
    colour, relief, gloss = _MAKERS[kind](rng, noise, x, y)
    tone = 1 + 0.05 * noise.fbm(_plane(x / 60, y / 60, 3), 3)
    colour = colour * tone[..., None]
    crumbs = noise.spots(x / 9, y / 9, float(rng.choice([0, rng.uniform(0, 0.06)])))
    crumbs = torch.maximum(
        crumbs, noise.spots(x / 3, y / 3, float(rng.choice([0, rng.uniform(0, 0.06)])))
    )
    crumbs = smoothstep(0.3, 0.7, crumbs * (1 + 0.9 * noise.fbm(_plane(x, y, 5), 2)))
    soil = torch.tensor([0.27, 0.21, 0.15], device=x.device)
    colour = colour * (1 - crumbs[..., None]) + soil * crumbs[..., None]
    return colour, relief + 0.8 * crumbs, gloss


def _plane(x: Tensor, y: Tensor, z: float) -> Tensor:
    return torch.stack([x, y, torch.full_like(x, z)], dim=-1)


def _pick(rng: np.random.Generator, choices: tuple[tuple[float, ...], ...]) -> Tensor:
    chosen = np.array(choices[rng.integers(len(choices))])
    mixed = chosen * rng.uniform(0.8, 1.15) + rng.normal(0, 0.02, 3)
    return torch.tensor(np.clip(mixed, 0.03, 0.95), dtype=torch.float32)


def _mat(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    base = _pick(rng, MAT_COLOURS).to(x.device)
    grain = noise.fbm(_plane(x / 0.8, y / 0.8, 1), 2)
    colour = base * (1 + 0.06 * grain)[..., None]
    if rng.random() < 0.3:
        near = torch.minimum(_to_line(x, 10.0), _to_line(y, 10.0))
        line = 1 - smoothstep(0.15, 0.4, near)
        colour = colour + 0.18 * line[..., None]
    return colour, 0.04 * grain, float(rng.uniform(0, 0.15))


def _to_line(place: Tensor, every: float) -> Tensor:
    return ((place / every + 0.5).remainder(1) - 0.5).abs() * every


def _wood(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    base = _pick(rng, WOODS).to(x.device)
    plank_mm = float(rng.uniform(60, 160))
    plank = torch.floor(y / plank_mm)
    run = x + plank * 271.0
    warp = noise.fbm(_plane(run / 120, y / 25, 1), 3)
    rings = torch.sin((y / float(rng.uniform(3, 7)) + 7 * warp) * 2)
    streaks = noise.fbm(_plane(run / 60, y / 0.9, 7), 4, 0.65)
    pores = noise.ridged(_plane(run / 25, y / 0.6, 11), 2)
    worn = float(rng.uniform(0, 1))
    tone = 1 + 0.13 * rings + 0.25 * streaks - 0.2 * worn * (pores - 0.5)
    tone = tone * (1 + 0.12 * noise.at(_plane(plank * 3.7, plank * 0, 0.5)))
    knots = noise.spots(run / 140, y / 60 + plank, 0.25, 1.4)
    tone = tone * (1 - 0.55 * smoothstep(0.5, 0.95, knots))
    gap = _to_line(y + plank_mm / 2, plank_mm)
    open_joint = 1 - smoothstep(0.5, 1.1, gap)
    tone = tone * (1 - 0.75 * open_joint)
    relief = 0.12 * streaks - 0.35 * worn * (pores - 0.5) - 2.5 * open_joint
    return base * tone[..., None], relief, float(rng.uniform(0, 0.3))


def _newsprint(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    page = torch.from_numpy(_page(rng)).to(x.device)
    per_mm = 4.0
    rows = (y * per_mm).remainder(page.shape[0]).clamp(max=page.shape[0] - 1.001)
    cols = (x * per_mm).remainder(page.shape[1]).clamp(max=page.shape[1] - 1.001)
    grid = torch.stack(
        [cols * 2 / (page.shape[1] - 1) - 1, rows * 2 / (page.shape[0] - 1) - 1], dim=-1
    )
    ink = torch.nn.functional.grid_sample(
        page[None, None], grid[None], align_corners=True
    )[0, 0]
    folds = noise.fbm(_plane(x / 45, y / 45, 2), 3)
    fibre = noise.fbm(_plane(x / 0.7, y / 0.7, 4), 2)
    paper = torch.tensor([0.82, 0.79, 0.71], device=x.device)
    tone = (1 + 0.05 * fibre) * (0.22 + 0.78 * ink)
    damp = 1 - 0.22 * smoothstep(0.1, 0.25, noise.fbm(_plane(x / 90, y / 90, 6), 3))
    return paper * (tone * damp)[..., None], 1.5 * folds, 0.0


def _page(rng: np.random.Generator) -> np.ndarray:
    """Draw a page of invented print, float32 0 to 1, 4 px a mm."""
    page = Image.new("L", (1120, 1480), 255)
    draw = ImageDraw.Draw(page)
    for column in range(4):
        left, top = 30 + column * 272, 30
        while top < 1440:
            if rng.random() < 0.06:
                top = _picture(rng, draw, left, top)
            big = rng.random() < 0.05
            size = int(rng.integers(24, 44)) if big else 12
            font = ImageFont.load_default(size)
            text = " ".join(rng.choice(PRINT.split(), 3 if big else 9))
            draw.text((left, top), text[: 14 if big else 42], fill=25, font=font)
            top += int(size * 1.35)
    return np.asarray(page, np.float32) / 255


def _picture(
    rng: np.random.Generator, draw: ImageDraw.ImageDraw, left: int, top: int
) -> int:
    tall = int(rng.integers(80, 200))
    draw.rectangle((left, top, left + 250, top + tall), fill=int(rng.integers(90, 190)))
    for _ in range(9):
        x0, y0 = left + int(rng.integers(0, 190)), top + int(rng.integers(0, tall - 30))
        box = (x0, y0, x0 + int(rng.integers(10, 60)), y0 + int(rng.integers(10, 30)))
        draw.ellipse(box, fill=int(rng.integers(40, 230)))
    return top + tall + 10


def _tray(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    base = _pick(rng, PLASTICS).to(x.device)
    every = float(rng.uniform(14, 40))
    ribs = 1 - smoothstep(0.8, 2.2, _to_line(x, every))
    if rng.random() < 0.5:
        ribs = torch.maximum(ribs, 1 - smoothstep(0.8, 2.2, _to_line(y, every)))
    scratch = smoothstep(0.9, 0.99, noise.ridged(_plane(x / 30, y / 1.5, 1), 1))
    colour = base * (1 + 0.1 * scratch + 0.03 * noise.at(_plane(x, y, 2)))[..., None]
    return colour, 0.9 * ribs, float(rng.uniform(0.25, 0.7))


def _soil(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    coarse = noise.fbm(_plane(x / 14, y / 14, 1), 5, 0.6)
    crumbs = noise.spots(x / 5, y / 5, 0.8)
    fine = noise.spots(x / 2, y / 2, 0.7)
    relief = 3.5 * coarse + 1.8 * crumbs + 0.7 * fine
    base = torch.tensor([0.25, 0.20, 0.155], device=x.device)
    base = base * float(rng.uniform(0.6, 1.25))
    tone = 1 + 0.3 * coarse + 0.25 * crumbs + 0.2 * noise.at(_plane(x, y, 9))
    return base * tone[..., None], relief, 0.0


def _cloth(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    base = _pick(rng, CLOTHS).to(x.device)
    every = float(rng.uniform(1.1, 2.6))
    wobble = 0.35 * every * noise.fbm(_plane(x / 6, y / 6, 1), 2)
    warp = torch.sin((x + wobble) * 2 * math.pi / every)
    weft = torch.sin((y + wobble) * 2 * math.pi / every)
    over = torch.sign(torch.sin((x + wobble) * math.pi / every)) * torch.sign(
        torch.sin((y + wobble) * math.pi / every)
    )
    weave = torch.where(over > 0, warp.abs(), weft.abs())
    folds = noise.fbm(_plane(x / 70, y / 70, 3), 2)
    tone = 0.8 + 0.25 * weave + 0.1 * noise.fbm(_plane(x / 4, y / 4, 5), 3)
    colour = base * tone[..., None]
    if rng.random() < 0.4:
        band = smoothstep(0.2, 0.0, _to_line(y, float(rng.uniform(30, 70))) / 30)
        colour = colour * (1 - 0.45 * band[..., None])
    return colour, 0.25 * weave + 3.0 * folds, 0.0


_MAKERS: dict[str, Callable[[np.random.Generator, Noise, Tensor, Tensor], Bench]] = {
    "mat": _mat,
    "wood": _wood,
    "newsprint": _newsprint,
    "tray": _tray,
    "soil": _soil,
    "cloth": _cloth,
}
KINDS = tuple(_MAKERS)
"""What a clump may lie on."""
