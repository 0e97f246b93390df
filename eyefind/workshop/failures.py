"""A picture of what the finder gets wrong: clear eyes missed, and false flags."""

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from eyefind.data import Pixels
from eyefind.look.flags import weigh_flags
from eyefind.look.seen import see_whole
from eyefind.rules import load_rules
from eyefind.workshop.gather import (
    EYE_REACH_MM,
    eye_places,
    found_parts,
    read_truths,
    true_scale,
)
from eyefind.workshop.tables import SEEN_SIZE_MM, is_clear

A_ROW = 6
SIDE_PX, HALF_MM = 200, 12.0
"""Edge of one tile, and what it shows around its middle."""
UNSEEN, SURE = 0.1, 0.4
"""A clear eye is missed below this likelihood; a false flag is worth a look above."""

Tile = tuple[float, Pixels]


def failures(folder: Path) -> tuple[list[Tile], list[Tile]]:
    """Find the worst failures on a rendered set.

    Parameters
    ----------
    folder : Path
        Pictures with their truth.

    Returns
    -------
    missed, false : list of (float, (SIDE_PX, SIDE_PX, 3) uint8 array)
        Clear eyes with their colour difference, false flags with their likelihood, each
        the worst first.
    """
    rules = load_rules()
    missed: list[Tile] = []
    false: list[Tile] = []
    for truth, rgb, _ in read_truths(folder):
        scale, seen = true_scale(truth), see_whole(rgb, truth.px_per_mm)
        clump, anatomy = found_parts(rgb, scale, rules, seen)
        if not clump.any():
            continue
        weighed = weigh_flags(rgb, clump, anatomy, scale, rules, seen)
        flags = [flag for flag in weighed if flag.kind == "eye"]
        places = np.array([(f.row_px, f.col_px) for f in flags]).reshape(-1, 2)
        chance = np.array([flag.likelihood for flag in flags])
        far = np.linalg.norm(places[:, None] - eye_places(truth.eyes)[None], axis=2)
        near = far < EYE_REACH_MM * truth.px_per_mm
        for index, eye in enumerate(truth.eyes):
            clear = is_clear(eye) and eye.size_mm >= SEEN_SIZE_MM
            if clear and chance[near[:, index]].max(initial=0) < UNSEEN:
                tile = _tile(rgb, (eye.row_px, eye.col_px), truth.px_per_mm)
                missed.append((eye.delta_e, tile))
        for index in np.flatnonzero((chance > SURE) & ~near.any(axis=1)).tolist():
            tile = _tile(rgb, tuple(places[index]), truth.px_per_mm)
            false.append((float(chance[index]), tile))
    worst = (sorted(tiles, key=lambda tile: -tile[0]) for tiles in (missed, false))
    first, second = worst
    return first, second


def write_failures(folders: Sequence[Path], out: Path) -> None:
    """Write two rows of tiles a folder: clear eyes missed, then false flags."""
    rows = [_row(tiles) for folder in folders for tiles in failures(folder)]
    cv2.imwrite(str(out), np.vstack(rows)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 85])


def _row(tiles: list[Tile]) -> Pixels:
    blank = np.full((SIDE_PX, SIDE_PX, 3), 255, np.uint8)
    shown = [tile for _, tile in tiles[:A_ROW]]
    return np.hstack([*shown, *[blank] * (A_ROW - len(shown))])


def _tile(rgb: Pixels, place_rc: tuple[float, float], px_per_mm: float) -> Pixels:
    half = round(HALF_MM * px_per_mm)
    wide = cv2.copyMakeBorder(rgb, half, half, half, half, cv2.BORDER_REFLECT)
    row, col = round(place_rc[0]), round(place_rc[1])
    cut = wide[row : row + 2 * half, col : col + 2 * half]
    tile = cv2.resize(cut, (SIDE_PX, SIDE_PX), interpolation=cv2.INTER_AREA)
    middle, radius = (SIDE_PX // 2, SIDE_PX // 2), round(0.18 * SIDE_PX)
    cv2.circle(tile, middle, radius, (0, 0, 0), 3)
    cv2.circle(tile, middle, radius, (255, 255, 255), 1)
    return np.asarray(tile, np.uint8)
