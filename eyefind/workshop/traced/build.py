"""From seed to a painted clump that lies on the bench."""

from dataclasses import dataclass

import numpy as np

from eyefind.model.network import PARTS
from eyefind.workshop.traced.body import hair_mesh, root_skin
from eyefind.workshop.traced.buds import Bud, grow_buds, look_alikes
from eyefind.workshop.traced.crown import crown_mesh, stem_mesh
from eyefind.workshop.traced.mesh import Mesh, joined, unit
from eyefind.workshop.traced.noise3 import Floats, Noise
from eyefind.workshop.traced.parts import Plan
from eyefind.workshop.traced.settle import laid_down, push_apart
from eyefind.workshop.traced.shape import plan_clump
from eyefind.workshop.traced.surface import (
    Coat,
    draw_coat,
    dress_crown,
    dress_root,
    dress_stem,
)

STEM = 100 * PARTS.index("stem")
BARK = np.array([0.15, 0.095, 0.055])


@dataclass
class Clump:
    """A clump on the bench, z upwards, mm.

    Attributes
    ----------
    plan : Plan
        In its own frame.
    mesh : Mesh
        Painted and labelled, on the bench.
    buds : list of Bud
        Its eyes, in the plan's frame; their numbers are those in `mesh.eye`.
    turn, shift : (3, 3), (3,) array
        From the plan's frame to the bench.
    lying : bool
        Whether the stem points sideways.
    """

    plan: Plan
    mesh: Mesh
    buds: list[Bud]
    turn: Floats
    shift: Floats
    lying: bool

    def on_bench(self, place: Floats) -> Floats:
        """Return a place, (..., 3), of the plan's frame on the bench."""
        return place @ self.turn.T + self.shift


def build_clump(
    grow_rng: np.random.Generator, skin_rng: np.random.Generator, edge_mm: float
) -> Clump:
    """Draw a clump and raise all its skins.

    Parameters
    ----------
    grow_rng, skin_rng : numpy.random.Generator
        For the plan, and for marks and colours.
    edge_mm : float
        Distance of the vertices of bodies.

    Returns
    -------
    Clump
        On the bench.
    """
    plan = plan_clump(grow_rng)
    push_apart(plan)
    lying = bool(grow_rng.random() < 0.35)
    wish = np.array([grow_rng.normal(0, 0.25), grow_rng.normal(0, 0.25), 1.0])
    if lying:
        angle = grow_rng.uniform(0, 2 * np.pi)
        wish = np.array([np.cos(angle), np.sin(angle), grow_rng.normal(0.2, 0.25)])
    turn, shift = laid_down(plan, unit(wish))
    noise = Noise(skin_rng)
    coat = draw_coat(skin_rng, plan, turn.T @ np.array([0, 0, 1.0]))
    bark = BARK * skin_rng.uniform(0.7, 1.5) * skin_rng.uniform(0.92, 1.08, 3)
    crown = crown_mesh(plan, noise)
    dress_crown(crown, plan, coat, noise, bark)
    bodies = _bodies(plan, coat, noise, skin_rng, bark, edge_mm)
    stems = _stems(plan, coat, noise, skin_rng, edge_mm)
    buds, eyes = grow_buds(plan, crown, coat, skin_rng, noise)
    false = look_alikes(bodies, crown, buds, coat, skin_rng, noise)
    hairs = _hairs(plan, coat, skin_rng)
    mesh = joined([crown, *bodies, *stems, *eyes, *false, *hairs]).moved(turn, shift)
    mesh.vertices[:, 2] = np.maximum(mesh.vertices[:, 2], 0.02)
    return Clump(plan, mesh, buds, turn, shift, lying)


def _bodies(
    plan: Plan, coat: Coat, noise: Noise, rng: np.random.Generator, bark: Floats,
    edge_mm: float,
) -> list[Mesh]:  # fmt: skip
    meshes = []
    for root in plan.tubers():
        mesh, skin = root_skin(root, rng, noise, edge_mm)
        dress_root(mesh, skin, root, plan, coat, noise, rng, bark)
        meshes.append(mesh)
    return meshes


def _stems(
    plan: Plan, coat: Coat, noise: Noise, rng: np.random.Generator, edge_mm: float
) -> list[Mesh]:
    meshes = []
    for number, stem in enumerate(plan.stems, start=1):
        mesh, depth = stem_mesh(stem, plan.size, noise, edge_mm)
        dress_stem(mesh, depth, stem, coat, noise, rng)
        meshes.append(mesh.labelled(STEM + number))
    return meshes


def _hairs(plan: Plan, coat: Coat, rng: np.random.Generator) -> list[Mesh]:
    meshes = []
    tails = 0
    for root in plan.hairs:
        tails += root.kind == "rat_tail"
        hue = plan.hue * rng.uniform(0.35, 0.95)
        meshes.append(hair_mesh(root, tails).painted(hue * coat.shade, 0.8))
    return meshes
