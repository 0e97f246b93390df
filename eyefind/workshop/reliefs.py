"""Write the relief of rendered lamp sets, made as the product makes it."""

from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np

from eyefind.errors import PhotoError
from eyefind.look.clump import find_clump
from eyefind.look.seen import see_whole
from eyefind.photo.card import find_card
from eyefind.photo.lamp_set import lay_together
from eyefind.photo.reading import read_photo
from eyefind.relief import in_bytes, make_relief
from eyefind.rules import load_rules
from eyefind.workshop.gather import read_truth, truth_files
from eyefind.workshop.learn.pictures import relief_file


def write_reliefs(folder: Path) -> int:
    """Write ``NAME.relief.png`` beside each lamp set; return how many were made."""
    with ProcessPoolExecutor() as pool:
        return sum(pool.map(_write, truth_files(folder)))


def _write(path: Path) -> bool:
    truth, rgb, _ = read_truth(path)
    if len(truth.frames) < 2:
        return False
    card, rules = find_card(rgb), load_rules()
    outline = None if card is None else card.outline_px
    try:
        clump = find_clump(rgb, outline, see_whole(rgb, truth.px_per_mm))
    except PhotoError:
        return False
    photo = read_photo(path.parent / truth.file)
    others = [path.parent / frame.file for frame in truth.frames[1:]]
    laid = lay_together(photo, others, clump, card, truth.px_per_mm, rules)
    if len(laid.frames) < 2:
        return False
    relief = make_relief(laid.frames, clump, truth.px_per_mm)
    told = in_bytes(relief, np.zeros(2), 1.0, clump.shape)
    return bool(cv2.imwrite(str(relief_file(path)), told))
