"""Write the relief of rendered lamp sets, made as the product makes it."""

from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2

from eyefind.look.clump import find_clump
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
