"""Frames the picture: clump and card with some room around them."""

import numpy as np
from numpy.typing import NDArray

from eyefind.workshop.card import SIZE_MM
from eyefind.workshop.field import Camera
from eyefind.workshop.pose import Posed


def _extent(posed: Posed) -> NDArray[np.float64]:
    """Box around the clump, mm: low x, high x, low y, high y; thin roots left out."""
    clump = posed.clump
    thick = [tube for tube in clump.tubes if tube.kind != "root"]
    places = [clump.ball_places[:, :2]] + [tube.points[:, :2] for tube in thick]
    radii = [clump.ball_radii] + [tube.radius for tube in thick]
    flat, reach = np.concatenate(places), np.concatenate(radii)[:, None]
    low, high = (flat - reach).min(axis=0), (flat + reach).max(axis=0)
    return np.array([low[0], high[0], low[1], high[1]])


def _crown(posed: Posed) -> NDArray[np.float64]:
    """Box around the crown's balls, mm: low x, high x, low y, high y."""
    places, reach = posed.clump.ball_places[:, :2], posed.clump.ball_radii[:, None]
    low, high = (places - reach).min(axis=0), (places + reach).max(axis=0)
    return np.array([low[0], high[0], low[1], high[1]])


def frame(
    rng: np.random.Generator,
    posed: Posed,
    card: bool,
    width_px: int,
    oversample: float,
    aspect: float | None,
    device: str,
    close: bool = False,
) -> tuple[Camera, tuple[float, float, float]]:
    """Choose where the card lies and what the picture shows.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    posed : Posed
        The clump in the camera frame.
    card : bool
        Whether the card must be in view.
    width_px : int
        Width of the picture.
    oversample : float
        Field px per picture px.
    aspect : float or None
        Width over height; None fits it to the clump.
    device : str
        Where torch works.
    close : bool
        Show the crown only, with the collar around it.

    Returns
    -------
    camera : Camera
        What the field shows.
    card_at : (float, float, float)
        x and y of the card's middle, mm; how it is turned, rad.
    """
    box = _crown(posed) if close else _extent(posed)
    turn = float(rng.choice([0, 0.5, 1, 1.5]) * np.pi + rng.normal(0, 0.25))
    half = 0.5 * (
        np.abs(np.cos(turn)) * np.array(SIZE_MM)
        + np.abs(np.sin(turn)) * np.array(SIZE_MM[::-1])
    )
    place = _beside(rng, box, half)
    if card:
        low, high = place - half, place + half
        box[::2] = np.minimum(box[::2], low)
        box[1::2] = np.maximum(box[1::2], high)
    margin = rng.uniform(6, 26, 4)
    box = box + margin * [-1, 1, -1, 1]
    wide, tall = box[1] - box[0], box[3] - box[2]
    drawn = float(rng.choice([4 / 3, 3 / 4, 16 / 9, 1.0], p=[0.55, 0.3, 0.1, 0.05]))
    if (wide < tall) != (drawn < 1) and drawn != 1:
        drawn = 1 / drawn
    aspect = aspect or drawn
    if wide < tall * aspect:
        box[:2] += (tall * aspect - wide) * np.array([-0.5, 0.5])
    else:
        box[2:] += (wide / aspect - tall) * np.array([-0.5, 0.5])
    height_px = round(width_px / aspect)
    cols, rows = round(width_px * oversample), round(height_px * oversample)
    px_per_mm = cols / float(box[1] - box[0])
    camera = Camera(px_per_mm, float(box[0]), float(box[2]), rows, cols, device)
    return camera, (float(place[0]), float(place[1]), turn)


def _beside(
    rng: np.random.Generator, box: NDArray[np.float64], half: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Draw a place beside the clump for something of this half size."""
    middle = np.array([box[0] + box[1], box[2] + box[3]]) / 2
    reach = np.array([box[1] - box[0], box[3] - box[2]]) / 2
    axis, sign = int(rng.integers(2)), float(rng.choice([-1, 1]))
    place = middle + rng.uniform(-0.6, 0.6, 2) * reach
    place[axis] = middle[axis] + sign * (reach[axis] + half[axis] + 4)
    return np.asarray(place)


def box_of(camera: Camera) -> NDArray[np.float64]:
    """Return the picture's box in mm: low x, high x, low y, high y."""
    wide, tall = camera.width / camera.px_per_mm, camera.height / camera.px_per_mm
    left, top = camera.left_mm, camera.top_mm
    return np.array([left, left + wide, top, top + tall])
