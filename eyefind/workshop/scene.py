"""One picture from a seed: draws all that varies and renders it."""

import math
from dataclasses import dataclass, replace
from dataclasses import field as dataclass_field

import numpy as np
import torch
from numpy.typing import NDArray

from eyefind.workshop import bench as benches
from eyefind.workshop.card import SIZE_MM, lay_card
from eyefind.workshop.clutter import strew
from eyefind.workshop.coat import Coat
from eyefind.workshop.field import Camera, Field, fill
from eyefind.workshop.grow import Wishes, grow
from eyefind.workshop.light import Lamp, shade
from eyefind.workshop.noise import Noise
from eyefind.workshop.optics import Phone, draw_phone, take
from eyefind.workshop.pose import Posed, View, pose
from eyefind.workshop.skin import dress
from eyefind.workshop.stamp import SeenEye, stamp
from eyefind.workshop.truth import PARTS

LIGHTS = {"raking": (10, 24), "slanting": (25, 50), "frontal": (58, 80)}
"""Elevation of the lamp above the picture's plane, degrees."""


@dataclass(frozen=True)
class Setting:
    """How a clump is photographed; None leaves it to chance."""

    view: View | None = None
    light: str | None = None
    bench: str | None = None
    card: bool | None = None
    clutter: bool | None = None
    spoilt: tuple[str, ...] = ()
    wishes: Wishes = dataclass_field(default_factory=Wishes)


@dataclass(frozen=True, eq=False)
class Picture:
    """A rendered clump and what is known of it.

    Attributes
    ----------
    rgb : (H, W, 3) uint8 array
        The picture.
    field : Field
        Parts and heights, at `oversample` times the picture's resolution.
    posed : Posed
        The clump in the camera frame.
    eyes : list of SeenEye
        In px of the field.
    eye_at : (h, w) int tensor
        Index of the eye at each pixel of the field.
    phone : Phone
        How it was taken.
    view, light, bench : str
        In a word each.
    card : bool
        Whether the card lies in view.
    oversample : float
        Field px per picture px.
    """

    rgb: NDArray[np.uint8]
    field: Field
    posed: Posed
    eyes: list[SeenEye]
    eye_at: torch.Tensor
    phone: Phone
    view: View
    light: str
    bench: str
    card: bool
    oversample: float


def render(
    seed: int,
    width_px: int,
    device: str = "cpu",
    oversample: float = 1.0,
    setting: Setting | None = None,
) -> Picture:
    """Render the clump of a seed.

    Parameters
    ----------
    seed : int
        Decides everything that `setting` leaves open.
    width_px : int
        Width of the picture.
    device : str
        Where torch works.
    oversample : float
        Field px per picture px; 2 gives the cleanest edges.
    setting : Setting, optional
        What is asked for.

    Returns
    -------
    Picture
        Picture and truth's ingredients.
    """
    setting = setting or Setting()
    streams = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(6)]
    of_clump, of_pose, of_noise, of_bench, of_light, of_phone = streams
    view = _draw(of_pose, setting.view, ("above", "oblique", "side"), (0.4, 0.35, 0.25))
    tilt = float(
        of_pose.uniform(12, 30) if view == "oblique" else of_pose.uniform(0, 9)
    )
    posed = pose(of_pose, grow(of_clump, setting.wishes), view, tilt)
    card = bool(_draw(of_pose, setting.card, (True, False), (0.5, 0.5)))
    camera, card_at = _frame(of_pose, posed, card, width_px, oversample, device)
    field = Field(camera, posed.slope)
    noise = Noise(of_noise, device)
    fill(field, posed, noise)
    shape = (camera.height, camera.width)
    coat = Coat(
        torch.zeros((*shape, 3), device=device), torch.zeros(shape, device=device)
    )
    dress(field, posed, coat, noise)
    seen, eye_at = stamp(field, posed, coat, noise)
    kind = str(_draw(of_bench, setting.bench, benches.KINDS, None))
    _lay_bench(of_bench, field, posed, coat, noise, kind)
    if card:
        lay_card(field, coat, card_at[:2], card_at[2])
    if setting.clutter or (setting.clutter is None and of_bench.random() < 0.5):
        box = _box_of(camera)
        strew(of_bench, field, coat, len(posed.clump.tubes), box)
    light = str(_draw(of_light, setting.light, tuple(LIGHTS), (0.4, 0.35, 0.25)))
    lamps, ambient = _lamps(of_light, light)
    thin = field.part == PARTS.index("thin_root")
    linear = shade(field.z, thin, coat, camera.px_per_mm, lamps, ambient)
    phone = _spoil(draw_phone(of_phone), setting.spoilt)
    clump = (field.part > 0) & (field.tube < len(posed.clump.tubes))
    size = (round(camera.height / oversample), width_px)
    rgb = take(linear, field.z, clump, phone, camera.px_per_mm, size, of_phone)
    return Picture(
        rgb, field, posed, seen, eye_at, phone, view, light, kind, card, oversample
    )


def _draw(rng, wish, choices, shares):  # type: ignore[no-untyped-def]
    chance = choices[rng.choice(len(choices), p=shares)]
    return chance if wish is None else wish


def _spoil(phone: Phone, spoilt: tuple[str, ...]) -> Phone:
    worse = {
        "blur": {"blur_mm": 1.1, "sharpen": 0.2},
        "dark": {"exposure": 0.05, "noise": 0.05},
        "glare": {"exposure": 4.0},
    }
    for fault in spoilt:
        phone = replace(phone, **worse[fault])
    return phone


def _extent(posed: Posed) -> NDArray[np.float64]:
    """Box around the clump, mm: low x, high x, low y, high y; thin roots left out."""
    clump = posed.clump
    thick = [tube for tube in clump.tubes if tube.kind != "root"]
    places = [clump.ball_places[:, :2]] + [tube.points[:, :2] for tube in thick]
    radii = [clump.ball_radii] + [tube.radius for tube in thick]
    flat, reach = np.concatenate(places), np.concatenate(radii)[:, None]
    low, high = (flat - reach).min(axis=0), (flat + reach).max(axis=0)
    return np.array([low[0], high[0], low[1], high[1]])


def _frame(
    rng: np.random.Generator,
    posed: Posed,
    card: bool,
    width_px: int,
    oversample: float,
    device: str,
) -> tuple[Camera, tuple[float, float, float]]:
    """Choose where the card lies and what the picture shows."""
    box = _extent(posed)
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
    aspect = float(rng.choice([4 / 3, 3 / 4, 16 / 9, 1.0], p=[0.55, 0.3, 0.1, 0.05]))
    wide, tall = box[1] - box[0], box[3] - box[2]
    if (wide < tall) != (aspect < 1) and aspect != 1:
        aspect = 1 / aspect
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


def _box_of(camera: Camera) -> NDArray[np.float64]:
    wide, tall = camera.width / camera.px_per_mm, camera.height / camera.px_per_mm
    left, top = camera.left_mm, camera.top_mm
    return np.array([left, left + wide, top, top + tall])


def _lay_bench(
    rng: np.random.Generator,
    field: Field,
    posed: Posed,
    coat: Coat,
    noise: Noise,
    kind: str,
) -> None:
    stretch = math.sqrt(1 + float(posed.slope @ posed.slope))
    y, x = torch.meshgrid(field.y_mm, field.x_mm, indexing="ij")
    colour, relief, gloss = benches.lay(kind, rng, noise, x, y * stretch)
    empty = field.part == 0
    coat.colour[empty] = colour[empty].clamp(0.01, 1)
    coat.gloss[empty] = gloss
    field.z[empty] += relief[empty]


def _lamps(
    rng: np.random.Generator, light: str
) -> tuple[list[Lamp], tuple[float, float, float]]:
    warm = rng.uniform(-0.12, 0.3)
    soft = float(rng.choice([0.02, 0.07, 0.16], p=[0.4, 0.35, 0.25]))
    elevation = math.radians(rng.uniform(*LIGHTS[light]))
    azimuth = float(rng.uniform(0, 2 * math.pi))
    lamps = [Lamp(azimuth, elevation, (1 + warm, 1.0, 1 - warm), soft)]
    if rng.random() < 0.3:
        share = float(rng.uniform(0.15, 0.5))
        colour = (share * 0.95, share, share * 1.1)
        second = math.radians(rng.uniform(20, 70))
        lamps.append(Lamp(azimuth + float(rng.uniform(1.5, 4.5)), second, colour, 0.1))
    room = float(rng.uniform(0.25, 0.6)) * (0.7 if light == "raking" else 1.0)
    blue = rng.uniform(-0.02, 0.1)
    return lamps, (room * (1 - blue), room, room * (1 + blue))
