"""Lamp sets of the painted clump: the same picture, shaded under lamps moved about."""

import cv2
import numpy as np
from lamplit import lamp, to_srgb
from PIL import Image
from records import the_painted_clump

from eyefind.data import FrameFacts, PhotoFacts, Record
from eyefind.photo import read_photo
from eyefind.photo.register import corners_of
from eyefind.photo.sharpness import LINEAR
from eyefind.record import write_record
from eyefind.relief.round_shape import round_normals

HEIGHT_DEG = 25
THREE = (80, 260, 350)


def painted_under(azimuths_deg):
    """Return the painted clump as a lamp on each of these sides shows it."""
    rgb = the_painted_clump().rgb
    outline = the_painted_clump().anatomy.clump_outline_px[:, ::-1]
    mask = np.zeros(rgb.shape[:2], np.uint8)
    cv2.fillPoly(mask, [outline.round().astype(np.int32)], 1)
    small = cv2.resize(mask, (200, 200), interpolation=cv2.INTER_NEAREST) > 0
    normals = cv2.resize(round_normals(small), rgb.shape[1::-1])
    normals[mask == 0] = (0, 0, 1)

    def under(azimuth_deg):
        shade = np.maximum(normals @ lamp(azimuth_deg, HEIGHT_DEG), 0) + 0.15
        return to_srgb(LINEAR[rgb] * shade[..., None])

    return {azimuth: under(azimuth) for azimuth in azimuths_deg}


def write_lamp_set(folder, name, azimuths_deg=THREE, left_out=""):
    """Write a set and its unanswered record; return the main frame's path."""
    painted = the_painted_clump()
    facts = []
    for number, rgb in enumerate(painted_under(azimuths_deg).values(), start=1):
        path = folder / (f"{name}-lamp{number}.png" if number > 1 else f"{name}.png")
        Image.fromarray(rgb).save(path)
        photo = read_photo(path)
        facts.append(PhotoFacts(photo.file, photo.sha256, *rgb.shape[:2]))
    corners_px = corners_of(np.eye(3), painted.rgb.shape)
    frames = [FrameFacts(fact, corners_px, left_out) for fact in facts[1:]]
    record = Record(
        facts[0], painted.scale, [], painted.anatomy, painted.flags, frames=frames
    )
    write_record(record, folder / f"{name}.eyefind.json")
    return folder / f"{name}.png"
