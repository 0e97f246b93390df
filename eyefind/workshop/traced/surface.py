"""Bark, skin and stem: relief of the crown and the colours of everything grown."""

from dataclasses import dataclass

import numpy as np

from eyefind.model.network import PARTS
from eyefind.workshop.traced.body import Skin
from eyefind.workshop.traced.crown import is_cut, near_roots
from eyefind.workshop.traced.mesh import Mesh
from eyefind.workshop.traced.noise3 import Floats, Noise, mix, smooth_step
from eyefind.workshop.traced.parts import Plan, Root, Stub
from eyefind.workshop.traced.pen import pen_strokes

SOIL = np.array([0.075, 0.05, 0.032])
FLESH = np.array([0.62, 0.52, 0.33])
CORK = np.array([0.33, 0.235, 0.15])
INKS = [(0.012, 0.012, 0.014), (0.02, 0.025, 0.16), (0.13, 0.02, 0.14)]
WRITTEN, PEN_MM = 0.05, (1.0, 2.0)
"""Share of the tubers with a word on them, and how broad the pen is."""
CROWN = 100 * PARTS.index("crown") + 1
NECK = 100 * PARTS.index("neck")


@dataclass(frozen=True)
class Coat:
    """How clean and how wet a clump is.

    Attributes
    ----------
    soil : float
        Share of the skin that is under a film of soil.
    crumbs : float
        Soil left in hollows.
    rough, clear : float
        Roughness of the skin, clear coat of water.
    shade : float
        Factor on reflectance; water darkens.
    soil_hue : (3,) array
        Colour of the soil.
    up : (3,) array
        Direction of the clump that points up on the bench.
    """

    soil: float
    crumbs: float
    rough: float
    clear: float
    shade: float
    soil_hue: Floats
    up: Floats


def draw_coat(rng: np.random.Generator, plan: Plan, up: Floats) -> Coat:
    """Draw how clean and wet a clump is."""
    hue = SOIL * rng.uniform(0.6, 1.9) * rng.uniform(0.9, 1.12, 3)
    if plan.skin == "brushed":
        return Coat(rng.uniform(0.15, 0.6), rng.uniform(0.4, 1), rng.uniform(0.7, 0.95),
                    0.0, 1.0, hue, up)  # fmt: skip
    soil, crumbs = rng.uniform(0, 0.12), rng.uniform(0.1, 0.5)
    if plan.skin == "washed":
        return Coat(soil, crumbs, rng.uniform(0.42, 0.68), rng.uniform(0, 0.15),
                    rng.uniform(0.9, 1), hue, up)  # fmt: skip
    return Coat(soil, crumbs, rng.uniform(0.28, 0.45), rng.uniform(0.4, 1),
                rng.uniform(0.68, 0.85), hue, up)  # fmt: skip


def dress_crown(mesh: Mesh, plan: Plan, coat: Coat, noise: Noise, bark: Floats) -> None:
    """Raise the bark and colour it, in place.

    Parameters
    ----------
    mesh : Mesh
        Bare crown.
    plan, coat, noise
        The clump, its coat, its noise.
    bark : (3,) array
        Colour of old bark.
    """
    place = mesh.vertices
    number, beyond = near_roots(plan, place)
    smooth = smooth_step(-3, 5, beyond)
    cut = is_cut(plan, place)
    knobs = noise.rough(place, 6.5, 3)
    grain = noise.at(place, np.array([1.7, 1.7, 9.0]))
    fine = noise.rough(place, 1.3, 2)
    crack = noise.creases(place, np.array([4.5, 4.5, 9.0]))
    relief = 0.75 * knobs + 0.3 * grain - 0.45 * crack + 0.09 * fine
    relief = relief * (1 - 0.75 * smooth) * (1 - 0.85 * cut)
    # Neck wrinkles run around it, much as a collar's do.
    relief += 0.08 * smooth * fine
    mesh.vertices = place + mesh.normals() * relief[:, None]
    old = smooth_step(-0.8, 1.1, noise.rough(place, 9.0, 3))
    colour = mix(bark * np.ones_like(place), plan.hue * 0.62, 0.25 + 0.6 * old)
    scaly = smooth_step(0.5, 1.4, noise.rough(place, 3.0, 3))
    colour = mix(colour, CORK, 0.5 * scaly)
    colour = mix(colour, plan.hue * 0.86, 0.85 * smooth)
    colour *= (1 + 0.13 * fine + 0.12 * grain * (1 - smooth))[:, None]
    colour = mix(colour, bark * 0.3, 0.75 * crack * (1 - smooth))
    rings = 0.5 + 0.5 * noise.rough(place, 2.0, 3)
    stale = smooth_step(-0.5, 1.0, noise.at(place, 40.0))
    face = mix(FLESH * 0.7 * np.ones_like(place), bark, 0.35 * rings + 0.55 * stale)
    colour = mix(colour, face, cut)
    _finish(mesh, colour, relief, coat, noise)
    label = np.where(beyond > 1.0, NECK + number, CROWN)
    mesh.label = np.median(label[mesh.faces], axis=1).astype(np.int64)


def dress_root(
    mesh: Mesh, skin: Skin, root: Root, plan: Plan, coat: Coat, noise: Noise,
    rng: np.random.Generator, bark: Floats,
) -> None:  # fmt: skip
    """Colour the skin of a tuber, in place."""
    own = plan.hue * rng.uniform(0.85, 1.15) * rng.uniform(0.94, 1.06, 3)
    black = rng.uniform(0, 1)
    place = skin.straight + rng.uniform(0, 300, 3)
    blotch = noise.rough(place, 22.0, 3)
    scurf = smooth_step(0.7, 1.5, noise.rough(place, 6.0, 4))
    stain = smooth_step(0.9, 1.6, noise.rough(place, 11.0, 3))
    lines = noise.at(place, np.array([14.0, 1.0, 1.0]))
    rings = noise.at(place, np.array([1.0, 8.0, 8.0]))
    fine = noise.rough(place, 1.0, 2)
    tone = 1 + 0.12 * blotch + 0.05 * lines + 0.05 * rings + 0.07 * fine
    colour = own * tone[:, None]
    colour = mix(colour, CORK * 0.9, 0.4 * scurf)
    colour = mix(colour, own * 0.45, 0.4 * stain)
    beyond = skin.along - root.leaves
    old = (1 - smooth_step(0, 14, beyond + 3 * blotch)) * 0.55
    colour = mix(colour, mix(bark * np.ones_like(colour), plan.hue * 0.7,
                             0.5 + 0.3 * blotch), old)  # fmt: skip
    tip = smooth_step(-12, 5, skin.along - root.end)
    colour = mix(colour, own * 0.6, 0.6 * tip)
    pale = np.array([0.46, 0.34, 0.21]) if black < 0.6 else own * 0.45
    colour = mix(colour, pale, 0.65 * skin.lenticel)
    colour = mix(colour, own * 0.22, 0.8 * skin.scar)
    if root.kind == "spent_parent":
        dark = mix(own * 0.55 * np.ones_like(colour), np.array([0.022, 0.017, 0.013]),
                   black + 0.25 * blotch)  # fmt: skip
        hollow = smooth_step(0.1, -0.6, skin.relief)
        colour = mix(dark * (1 + 0.2 * fine)[:, None], SOIL * 0.5, 0.6 * hollow)
    rot = np.array([0.055, 0.032, 0.018]) * (1 + 0.3 * blotch)[:, None]
    colour = mix(colour, rot, 0.9 * skin.soft)
    torn = np.where((skin.straight[:, 1] > 0)[:, None], FLESH * 0.75, SOIL * 0.6)
    colour = mix(colour, torn, skin.crack)
    # A stream of its own: what was drawn before the pen came stays as it was.
    pen = rng.spawn(1)[0]
    if root.kind == "tuber" and pen.random() < WRITTEN:
        ink = np.array(INKS[pen.integers(3)])
        strokes = pen_strokes(pen, skin.straight, pen.uniform(*PEN_MM))
        colour = mix(colour, ink, 0.92 * strokes)
    _finish(mesh, colour, skin.relief - 0.4 * skin.scar, coat, noise)
    mesh.rough = np.clip(mesh.rough - 0.25 * skin.soft, 0.2, 1)
    mesh.coat = np.maximum(mesh.coat, 0.5 * skin.soft)


def dress_stem(
    mesh: Mesh, depth: Floats, stem: Stub, coat: Coat, noise: Noise,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Colour a stem: skin, cut, hollow; in place."""
    green = np.array([0.14, 0.2, 0.05]) * rng.uniform(0.7, 1.4)
    straw = np.array([0.4, 0.29, 0.14]) * rng.uniform(0.6, 1.1)
    brown = np.array([0.13, 0.08, 0.045])
    place = mesh.vertices
    arm = place - stem.base
    height = arm @ stem.way
    turned = arm - height[:, None] * stem.way
    streaky = np.stack([turned[:, 0], turned[:, 1], height * 0.12], -1)
    streak = noise.rough(streaky + 70, 2.4, 3)
    share = height / stem.length
    fresh = stem.green * smooth_step(0.1, 0.8, share + 0.15 * streak) * 1.1
    colour = mix(straw * np.ones_like(place), green, fresh)
    colour = mix(colour, brown, (0.75 - 0.5 * stem.green) * smooth_step(
        0.85, 0.1, share + 0.2 * streak))  # fmt: skip
    colour *= (1 + 0.16 * streak)[:, None]
    spots = smooth_step(1.3, 1.9, noise.rough(place, 3.0, 3))
    colour = mix(colour, brown * 0.7, 0.6 * spots)
    dried = smooth_step(3.5, 0.5, (1 - share) * stem.length)
    colour = mix(colour, brown, 0.5 * dried)
    wall = stem.radius - stem.hollow
    old = 0.35 + 0.4 * (1 - stem.green) + 0.25 * noise.rough(place, 1.4, 3)
    rim = mix(np.array([0.5, 0.48, 0.27]) * np.ones_like(place), brown * 1.3, old)
    colour = mix(colour, rim, ((depth >= 0) & (depth <= wall)).astype(float))
    pith = np.array([0.2, 0.15, 0.08]) * (1 + 0.2 * streak)[:, None]
    colour = mix(colour, pith, (depth > wall).astype(float))
    _finish(mesh, colour, np.zeros(len(place)), coat, noise, 0.3)


def _finish(
    mesh: Mesh, colour: Floats, relief: Floats, coat: Coat, noise: Noise,
    dirty: float = 1.0,
) -> None:  # fmt: skip
    """Put soil on, make wet, and set roughness; in place."""
    place, normal = mesh.vertices, mesh.normals()
    film = noise.rough(place + 200, 25.0, 4) + 0.5 * noise.rough(place, 3.0, 2)
    lies = 0.35 * (normal @ coat.up)
    level = 2.4 * (0.5 - coat.soil) + 0.4
    film = dirty * smooth_step(level - 1.3, level + 1.3, film + lies)
    pits = smooth_step(-0.03, -0.35, relief) * coat.crumbs * dirty
    grit = smooth_step(1.4, 2.0, noise.rough(place + 90, 1.6, 2)) * coat.crumbs * dirty
    soil = np.clip(0.75 * film + 0.7 * pits + 0.6 * grit, 0, 0.95)
    hue = coat.soil_hue * (1 + 0.15 * noise.rough(place, 2.0, 2))[:, None]
    mesh.colour = np.clip(mix(colour, hue, soil) * coat.shade, 0.004, 0.85)
    spread = 0.07 * noise.rough(place + 40, 8.0, 3)
    mesh.rough = np.clip(coat.rough + spread + 0.3 * soil, 0.18, 1)
    drying = smooth_step(-0.6, 0.5, noise.rough(place + 400, 30.0, 2))
    mesh.coat = np.clip(coat.clear * (1 - 0.8 * soil) * (0.35 + 0.65 * drying), 0, 1)
