"""One picture from a seed: draws all that varies and renders it."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from dataclasses import field as dataclass_field
from functools import partial
from typing import TypeVar

import numpy as np
import torch
from numpy.typing import NDArray

from eyefind.model.network import PARTS
from eyefind.workshop import bench as benches
from eyefind.workshop.anatomy import Clump
from eyefind.workshop.card import lay_card
from eyefind.workshop.clutter import strew
from eyefind.workshop.coat import Coat
from eyefind.workshop.field import Field, fill
from eyefind.workshop.frame import box_of, frame
from eyefind.workshop.grow import Wishes, grow
from eyefind.workshop.lamps import LIGHTS, Colour, draw_lamps
from eyefind.workshop.light import Lamp, shade
from eyefind.workshop.nearness import draw_distance, seen_from_near
from eyefind.workshop.noise import Noise
from eyefind.workshop.optics import Phone, draw_phone, take
from eyefind.workshop.pose import Posed, View, pose
from eyefind.workshop.skin import dress
from eyefind.workshop.stamp import SeenEye, stamp, uncovered
from eyefind.workshop.twins import Frame, draw_shakes, move_lamp, moved
from eyefind.workshop.writing import write_on_skin

MOVED = "moved"
"""The light of a set, in a word."""


@dataclass(frozen=True)
class Setting:
    """How a clump is photographed; None leaves it to chance.

    Attributes
    ----------
    view, light, bench : str or None
        In a word each, as the truth has them.
    card, clutter : bool or None
        Whether the bench card and other things lie about.
    aspect : float or None
        Width over height of the picture.
    close : bool
        Show the crown only.
    lamps : int
        How many frames are taken, each with the lamp on another side.
    spoilt : tuple of str
        Faults of the picture: ``"blur"``, ``"dark"``, ``"glare"``.
    wishes : Wishes
        What the clump must have.
    """

    view: View | None = None
    light: str | None = None
    bench: str | None = None
    card: bool | None = None
    clutter: bool | None = None
    aspect: float | None = None
    close: bool = False
    lamps: int = 1
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
    real : Clump
        The clump in the camera frame, true to size.
    posed : Posed
        The same as drawn: larger where it is nearer to the camera.
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
    frames : list of Frame
        Those of a set with the lamp moved, `rgb` first; none of a single picture.
    """

    rgb: NDArray[np.uint8]
    field: Field
    real: Clump
    posed: Posed
    eyes: list[SeenEye]
    eye_at: torch.Tensor
    phone: Phone
    view: View
    light: str
    bench: str
    card: bool
    oversample: float
    frames: list[Frame]


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
    streams = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(7)]
    of_clump, of_pose, of_noise, of_bench, of_light, of_phone, of_ink = streams
    real, view = _pose(of_pose, grow(of_clump, setting.wishes), setting)
    posed = seen_from_near(real, draw_distance(of_pose))
    card = _draw(of_pose, setting.card, (True, False))
    camera, card_at = frame(
        of_pose,
        posed,
        card,
        width_px,
        oversample,
        setting.aspect,
        device,
        setting.close,
    )
    field, noise = Field(camera, posed.slope), Noise(of_noise, device)
    coat = Coat(torch.zeros_like(field.tex), torch.zeros_like(field.z))
    fill(field, posed, noise)
    dress(field, posed, coat, noise)
    seen, eye_at = stamp(field, posed, coat, noise)
    write_on_skin(of_ink, field, coat, posed.clump)
    bench = _draw(of_bench, setting.bench, benches.KINDS)
    _lay_bench(of_bench, field, posed, coat, noise, bench)
    if card:
        lay_card(field, coat, card_at[:2], card_at[2])
    if _draw(of_bench, setting.clutter, (True, False)):
        strew(of_bench, field, coat, len(posed.clump.tubes), box_of(camera))
        seen = uncovered(field, seen, eye_at)
    light = _draw(of_light, setting.light, tuple(LIGHTS), (0.4, 0.35, 0.25))
    lighting = draw_lamps(of_light, light)
    phone = _spoil(draw_phone(of_phone), setting.spoilt)
    exact = camera.width / width_px
    size = (round(camera.height / exact), width_px)
    show = partial(_show, field, coat, phone, size, of_phone)
    if setting.lamps == 1:
        rgb, frames = show(lighting, (0.0, 0.0)), []
    else:
        frames = _take_set(of_light, lighting, posed, setting.lamps, exact, show)
        rgb, light = frames[0].rgb, MOVED
    return Picture(
        rgb,
        field,
        real.clump,
        posed,
        seen,
        eye_at,
        phone,
        view,
        light,
        bench,
        card,
        exact,
        frames,
    )


Lighting = tuple[list[Lamp], Colour]
Motion = tuple[float, float]


def _show(
    field: Field,
    coat: Coat,
    phone: Phone,
    size: tuple[int, int],
    rng: np.random.Generator,
    lighting: Lighting,
    motion: Motion,
) -> NDArray[np.uint8]:
    """Light the scene and take it, shifted by `motion` px of the field."""
    thin = field.part == PARTS.index("thin_root")
    px_per_mm = field.camera.px_per_mm
    linear = shade(field.z, thin, coat, px_per_mm, *lighting)
    planes = moved(torch.cat([linear, field.z[..., None]], dim=-1), motion)
    clump = (field.part > 0) & (field.part != PARTS.index("tool_or_card"))
    return take(planes[..., :3], planes[..., 3], clump, phone, px_per_mm, size, rng)


def _take_set(
    rng: np.random.Generator,
    lighting: Lighting,
    posed: Posed,
    count: int,
    exact: float,
    show: Callable[[Lighting, Motion], NDArray[np.uint8]],
) -> list[Frame]:
    """Take a clump `count` times with its brightest lamp moved, the others put out."""
    (lamp, *_), ambient = lighting
    lamps = move_lamp(rng, lamp, count, posed.slope)
    frames = []
    for one, motion in zip(lamps, draw_shakes(rng, count), strict=True):
        col, row, up = (float(part) for part in one.toward(torch.device("cpu")))
        down, right = motion
        rgb = show(([one], ambient), (down * exact, right * exact))
        frames.append(Frame(rgb, (row, col, up), motion))
    return frames


Choice = TypeVar("Choice")


def _draw(
    rng: np.random.Generator,
    wish: Choice | None,
    choices: tuple[Choice, ...],
    shares: tuple[float, ...] | None = None,
) -> Choice:
    """Draw one of the choices, unless there is a wish; chance moves on either way."""
    chance = choices[rng.choice(len(choices), p=shares)]
    return chance if wish is None else wish


def _pose(
    rng: np.random.Generator, clump: Clump, setting: Setting
) -> tuple[Posed, View]:
    views: tuple[View, ...] = ("above", "oblique", "side")
    view = _draw(rng, setting.view, views, (0.4, 0.35, 0.25))
    tilt_deg = rng.uniform(12, 30) if view == "oblique" else rng.uniform(0, 9)
    return pose(rng, clump, view, float(tilt_deg)), view


def _spoil(phone: Phone, spoilt: tuple[str, ...]) -> Phone:
    if "blur" in spoilt:
        phone = replace(phone, blur_mm=1.1, motion_mm=0.0, sharpen=0.2)
    if "dark" in spoilt:
        phone = replace(phone, exposure=0.05, noise=0.05)
    if "glare" in spoilt:
        phone = replace(phone, exposure=4.0)
    return phone


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
