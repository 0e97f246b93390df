"""Judge what a lamp set adds: the same clumps with one, two and four frames."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from rich.progress import track

from eyefind.data import Pixels
from eyefind.errors import EyefindError
from eyefind.look.seen import see_whole
from eyefind.photo.card import find_card
from eyefind.photo.lamp_set import lay_together
from eyefind.photo.reading import read_photo
from eyefind.rules import load_rules
from eyefind.workshop.gather import (
    found_parts,
    judge,
    read_truth,
    true_scale,
    truth_files,
)
from eyefind.workshop.scores import average_precision, recall_at, with_interval
from eyefind.workshop.tables import FALSE_PER_CLUMP, FoundEyes, rank

SHIFT_PX = 2.0
"""Misregistration tried, px in rows and in columns."""
BRIGHTER = 1.2
"""Jump of exposure tried, in linear light."""
BAD_SIGMA_MM = 1.5
"""Blur of the one bad frame."""
STILL_SHIFT_PX = 1.0
"""How far hand and phone shake between frames under a lamp that hardly moved."""
NOISE_LEVELS = 3.0
"""Standard deviation of a phone's noise in such frames, of 255 levels."""
GAMMA = 2.2


def judge_lamp_sets(folder: Path) -> str:
    """Judge the flagged eyes with one, two and four frames, and with spoilt ones.

    Parameters
    ----------
    folder : Path
        Clumps rendered with ``--lamps 4``.

    Returns
    -------
    str
        A table in Markdown; 95 % intervals by drawing clumps.

    Raises
    ------
    EyefindError
        If the folder holds no lamp set.
    """
    found: dict[str, list[FoundEyes]] = {}
    left_out = 0
    for path in track(truth_files(folder), folder.name):
        truth, rgb, _ = read_truth(path)
        if len(truth.frames) < 2:
            continue
        rules, scale = load_rules(), true_scale(truth)
        seen = see_whole(rgb, truth.px_per_mm)
        clump, anatomy = found_parts(rgb, scale, rules, seen)
        others = [folder / frame.file for frame in truth.frames[1:]]
        photo = read_photo(folder / truth.file)
        laid = lay_together(
            photo, others, clump, find_card(rgb), truth.px_per_mm, rules
        )
        left_out += sum(bool(facts.left_out) for facts in laid.facts)
        for name, further in _variants(laid.frames, truth.px_per_mm).items():
            judged = judge(truth, rgb, clump, anatomy, rules, seen, further)
            found.setdefault(name, []).append((truth, judged.eyes))
    if not found:
        raise EyefindError(
            f"{folder} holds no lamp set.",
            "Render one: python -m eyefind.workshop render --lamps 4 --out DIR",
        )
    return "\n".join([*_rows(found), "", f"{left_out} frames were left out."])


def _variants(frames: Sequence[Pixels], px_per_mm: float) -> dict[str, list[Pixels]]:
    """Name the sets of further frames that are tried; the main frame comes first."""
    main, *good = frames
    sigma = BAD_SIGMA_MM * px_per_mm
    return {
        "one frame": [],
        "two frames": good[:1],
        "four frames": good,
        f"four, further ones {SHIFT_PX:g} px off": [
            _shifted(one, SHIFT_PX) for one in good
        ],
        f"four, the second {BRIGHTER - 1:.0%} brighter": [
            *map(_brighter, good[:1]),
            *good[1:],
        ],
        "four, the last one blurred": [
            *good[:-1],
            *(_blurred(one, sigma) for one in good[-1:]),
        ],
        "four, the lamp hardly moved": [_still(main, seed) for seed in range(3)],
    }


def _still(main: Pixels, seed: int) -> Pixels:
    """Return the main frame once more: other noise, a slight shake, the same light.

    Such frames are left out by the check of a set; here they are kept all the same.
    """
    noise = np.random.default_rng(seed).normal(0, NOISE_LEVELS, main.shape)
    noisy = np.clip(_shifted(main, STILL_SHIFT_PX) + noise, 0, 255)
    return noisy.round().astype(np.uint8)


def _shifted(rgb: Pixels, by_px: float) -> Pixels:
    move = np.array([[1.0, 0.0, by_px], [0.0, 1.0, by_px]])
    moved = cv2.warpAffine(rgb, move, rgb.shape[1::-1], borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(moved, np.uint8)


def _blurred(rgb: Pixels, sigma_px: float) -> Pixels:
    return np.asarray(cv2.GaussianBlur(rgb, (0, 0), sigma_px), np.uint8)


def _brighter(rgb: Pixels) -> Pixels:
    levels = np.arange(256) * BRIGHTER ** (1 / GAMMA)
    return np.asarray(cv2.LUT(rgb, np.clip(levels, 0, 255).astype(np.uint8)))


def _rows(found: dict[str, list[FoundEyes]]) -> list[str]:
    truths = [truth for truth, _ in next(iter(found.values()))]
    eyes = sum(len(truth.eyes) for truth in truths)
    points = [f"at {false:g}" for false in FALSE_PER_CLUMP]
    head = [f"{len(truths)} clumps, {eyes} visible eyes", *points, "average precision"]
    rows = [_row(head), _row(["---"] * len(head))]
    for name, some in found.items():
        ranked = [rank(one, lambda _: True) for one in some]
        cells = [
            str(with_interval(partial(recall_at, false_per_clump=n), ranked, eyes))
            for n in FALSE_PER_CLUMP
        ]
        cells.append(str(with_interval(average_precision, ranked, eyes)))
        rows.append(_row([name, *cells]))
    return rows


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"
