"""Benches: what the clump lies on."""

import math
from collections.abc import Callable

import numpy as np
import torch
from PIL import Image, ImageDraw, ImageFont
from torch import Tensor

from eyefind.workshop import surfaces
from eyefind.workshop.noise import Noise, smoothstep
from eyefind.workshop.surfaces import Bench, pick, plane, to_line, wild

MAT_COLOURS = (
    (0.20, 0.33, 0.27),
    (0.30, 0.34, 0.40),
    (0.18, 0.19, 0.21),
    (0.62, 0.62, 0.60),
    (0.24, 0.30, 0.45),
    (0.82, 0.81, 0.78),
)
WOODS = (
    (0.70, 0.54, 0.36),
    (0.55, 0.40, 0.26),
    (0.50, 0.46, 0.41),
    (0.78, 0.65, 0.47),
    (0.40, 0.27, 0.18),
    (0.62, 0.42, 0.27),
    (0.34, 0.31, 0.28),
    (0.83, 0.74, 0.58),
    (0.58, 0.34, 0.22),
)
PLASTICS = (
    (0.12, 0.12, 0.13),
    (0.25, 0.36, 0.28),
    (0.72, 0.72, 0.70),
    (0.30, 0.42, 0.55),
    (0.55, 0.22, 0.17),
    (0.15, 0.30, 0.20),
    (0.80, 0.72, 0.20),
    (0.60, 0.55, 0.48),
)
CLOTHS = (
    (0.62, 0.53, 0.40),
    (0.75, 0.73, 0.68),
    (0.35, 0.42, 0.50),
    (0.45, 0.36, 0.33),
    (0.60, 0.20, 0.18),
    (0.20, 0.35, 0.25),
    (0.85, 0.83, 0.78),
)
SOILS = ((0.27, 0.21, 0.15), (0.36, 0.27, 0.19), (0.17, 0.14, 0.12), (0.42, 0.33, 0.24))
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
    tone = 1 + 0.05 * noise.fbm(plane(x / 60, y / 60, 3), 3)
    colour = colour * tone[..., None]
    crumbs = torch.zeros_like(x)
    for size in (9.0, 3.0):
        share = float(rng.choice([0, rng.uniform(0, 0.08)], p=[0.4, 0.6]))
        if share > 0:
            crumbs = torch.maximum(crumbs, noise.spots(x / size, y / size, share))
    crumbs = smoothstep(0.3, 0.7, crumbs * (1 + 0.9 * noise.fbm(plane(x, y, 5), 2)))
    soil = pick(rng, SOILS, x.device)
    colour = torch.lerp(colour, soil.expand_as(colour), crumbs[..., None])
    return colour, relief + 0.8 * crumbs, gloss


def _mat(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    base = pick(rng, MAT_COLOURS, x.device)
    grain = noise.fbm(plane(x / 0.8, y / 0.8, 1), 2)
    colour = base * (1 + 0.06 * grain)[..., None]
    if rng.random() < 0.3:
        near = torch.minimum(to_line(x, 10.0), to_line(y, 10.0))
        line = 1 - smoothstep(0.15, 0.4, near)
        colour = colour + 0.18 * line[..., None]
    return colour, 0.04 * grain, float(rng.uniform(0, 0.15))


def _wood(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    base = pick(rng, WOODS, x.device)
    plank_mm = float(rng.uniform(60, 160))
    plank = torch.floor(y / plank_mm)
    run = x + plank * 271.0
    warp = noise.fbm(plane(run / 120, y / 25, 1), 3)
    rings = torch.sin((y / float(rng.uniform(3, 7)) + 7 * warp) * 2)
    streaks = noise.fbm(plane(run / 60, y / 0.9, 7), 4, 0.65)
    pores = noise.ridged(plane(run / 25, y / 0.6, 11), 2)
    worn = float(rng.uniform(0, 1))
    figure, streaky = float(rng.uniform(0.03, 0.3)), float(rng.uniform(0.08, 0.4))
    tone = 1 + figure * rings + streaky * streaks - 0.2 * worn * (pores - 0.5)
    tone = tone * (1 + 0.12 * noise.at(plane(plank * 3.7, plank * 0, 0.5)))
    knots = noise.spots(run / 140, y / 60 + plank, 0.25, 1.4)
    eye = smoothstep(0.45, 0.95, knots) * (0.7 + 0.3 * torch.sin(30 * knots))
    tone = tone * (1 - 0.6 * eye)
    gap = to_line(y + plank_mm / 2, plank_mm)
    open_joint = 1 - smoothstep(0.5, 1.1, gap)
    tone = tone * (1 - 0.75 * open_joint)
    relief = 0.12 * streaks - 0.35 * worn * (pores - 0.5) - 2.5 * open_joint
    colour = base * tone[..., None]
    if rng.random() < 0.4:
        colour, relief = _nailed(rng, colour, relief, x, gap)
    return colour, relief, float(rng.uniform(0, 0.35))


def _nailed(
    rng: np.random.Generator, colour: Tensor, relief: Tensor, x: Tensor, gap: Tensor
) -> tuple[Tensor, Tensor]:
    """Drive nails along the joints of boards: heads, and rust around them."""
    away = torch.hypot(to_line(x, float(rng.uniform(70, 250))), gap - 8)
    head = 1 - smoothstep(1.8, 2.4, away)
    rust = (1 - smoothstep(2.0, 7.0, away)) * float(rng.uniform(0, 0.8))
    brown = torch.tensor([0.33, 0.19, 0.11], device=x.device)
    steel = brown + float(rng.uniform(0, 1)) * (0.55 - brown)
    colour = torch.lerp(colour, brown.expand_as(colour), rust[..., None])
    return torch.lerp(colour, steel.expand_as(colour), head[..., None]), relief + head


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
    folds = noise.fbm(plane(x / 45, y / 45, 2), 3)
    fibre = noise.fbm(plane(x / 0.7, y / 0.7, 4), 2)
    paper = torch.tensor([0.82, 0.79, 0.71], device=x.device)
    tone = (1 + 0.05 * fibre) * (0.22 + 0.78 * ink)
    damp = 1 - 0.22 * smoothstep(0.1, 0.25, noise.fbm(plane(x / 90, y / 90, 6), 3))
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
    base = pick(rng, PLASTICS, x.device)
    every = float(rng.uniform(14, 40))
    ribs = 1 - smoothstep(0.8, 2.2, to_line(x, every))
    if rng.random() < 0.5:
        ribs = torch.maximum(ribs, 1 - smoothstep(0.8, 2.2, to_line(y, every)))
    scratch = smoothstep(0.9, 0.99, noise.ridged(plane(x / 30, y / 1.5, 1), 1))
    colour = base * (1 + 0.1 * scratch + 0.03 * noise.at(plane(x, y, 2)))[..., None]
    relief = 0.9 * ribs
    if rng.random() < 0.6:
        across = x if rng.random() < 0.5 else y
        low, high = float(across.min()), float(across.max())
        edge = high - float(rng.uniform(0.05, 0.22)) * (high - low)
        rim = smoothstep(edge - 5, edge, across) - smoothstep(
            edge + 5, edge + 7, across
        )
        beyond = (across > edge + 6)[..., None]
        colour = torch.where(beyond, wild(rng, x.device), colour)
        relief = relief * ~beyond[..., 0] + float(rng.uniform(8, 25)) * rim
    return colour, relief, float(rng.uniform(0.1, 0.7))


def _plastic(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    base = wild(rng, x.device)
    dirt = smoothstep(-0.1, 0.5, noise.fbm(plane(x / 35, y / 35, 1), 4, 0.6))
    soil = pick(rng, SOILS, x.device)
    colour = torch.lerp(
        base.expand(*x.shape, 3), soil, float(rng.uniform(0, 0.5)) * dirt[..., None]
    )
    folds = noise.fbm(plane(x / 55, y / 30, 3), 3)
    return colour, float(rng.uniform(0, 3)) * folds, float(rng.uniform(0.1, 0.9))


def _soil(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    coarse = noise.fbm(plane(x / 14, y / 14, 1), 5, 0.6)
    crumbs = noise.spots(x / 5, y / 5, 0.8)
    fine = noise.spots(x / 2, y / 2, 0.7)
    relief = 3.5 * coarse + 1.8 * crumbs + 0.7 * fine
    base = pick(rng, SOILS, x.device)
    tone = 1 + 0.3 * coarse + 0.25 * crumbs + 0.2 * noise.at(plane(x, y, 9))
    return base * tone[..., None], relief, 0.0


def _cloth(rng: np.random.Generator, noise: Noise, x: Tensor, y: Tensor) -> Bench:
    base = pick(rng, CLOTHS, x.device)
    every = float(rng.uniform(1.1, 2.6))
    wobble = 0.35 * every * noise.fbm(plane(x / 6, y / 6, 1), 2)
    warp = torch.sin((x + wobble) * 2 * math.pi / every)
    weft = torch.sin((y + wobble) * 2 * math.pi / every)
    over = torch.sign(torch.sin((x + wobble) * math.pi / every)) * torch.sign(
        torch.sin((y + wobble) * math.pi / every)
    )
    weave = torch.where(over > 0, warp.abs(), weft.abs())
    folds = noise.fbm(plane(x / 70, y / 70, 3), 2)
    tone = 0.8 + 0.25 * weave + 0.1 * noise.fbm(plane(x / 4, y / 4, 5), 3)
    colour = base * tone[..., None]
    if rng.random() < 0.4:
        band = smoothstep(0.2, 0.0, to_line(y, float(rng.uniform(30, 70))) / 30)
        colour = colour * (1 - 0.45 * band[..., None])
    return colour, 0.25 * weave + 3.0 * folds, 0.0


_MAKERS: dict[str, Callable[[np.random.Generator, Noise, Tensor, Tensor], Bench]] = {
    "mat": _mat,
    "wood": _wood,
    "newsprint": _newsprint,
    "tray": _tray,
    "soil": _soil,
    "cloth": _cloth,
    "plastic": _plastic,
    "painted": surfaces.painted,
    "concrete": surfaces.concrete,
    "cardboard": surfaces.cardboard,
    "sacking": surfaces.sacking,
    "pattern": surfaces.pattern,
    "straw": surfaces.straw,
}
KINDS = (*_MAKERS, "wood", "wood")
"""What a clump may lie on; wood thrice as often as others."""
