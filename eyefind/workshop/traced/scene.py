"""From seed to picture: clump, bench, clutter, light and camera in one scene."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import mitsuba as mi
import numpy as np
from numpy.typing import NDArray

from eyefind.workshop.traced.bench import (
    BENCHES,
    PAINTED,
    ROUGH,
    SHARES,
    TILE_MM,
    TOOL,
    crumbs,
    ground,
    rim,
)
from eyefind.workshop.traced.build import Clump, build_clump
from eyefind.workshop.traced.camera import Camera, draw_camera, hits, shaken
from eyefind.workshop.traced.card import lay_card
from eyefind.workshop.traced.clutter import things
from eyefind.workshop.traced.light import draw_lights, move_lamp
from eyefind.workshop.traced.mesh import Mesh, joined
from eyefind.workshop.traced.noise3 import Floats, Noise
from eyefind.workshop.traced.phone import Phone, Rgb, develop, draw_phone

PASS_SAMPLES = 4
"""Samples a pixel at a time: memory grows with them."""
DEPTH = 5
BRIGHTEST = 60.0
"""Brightest that one pass may find a pixel, in medians."""
CARD_ODDS = 0.35
"""Share of the clumps with the bench card beside them."""
CARD_NEAR = 1.2
"""It lies no farther away, in the clump's own reach."""
UNDER_SKIN = 0.5
"""How far light seems to travel under a surface (`flatness` of the principled BSDF)."""
STREAMS = ("grow", "skin", "bench", "light", "camera", "phone")
Streams = dict[str, np.random.Generator]


@dataclass(frozen=True)
class Twin:
    """One frame of a set with the lamp moved.

    Attributes
    ----------
    rgb : (H, W, 3) uint8 array
        Pixels of the file.
    data : bytes
        The file.
    toward : (float, float, float)
        Unit vector towards the lamp: row, col, up to the camera.
    motion_px : (float, float)
        How far the crown lies from where the main frame has it.
    """

    rgb: Rgb
    data: bytes
    toward: tuple[float, float, float]
    motion_px: tuple[float, float]


@dataclass
class Shot:
    """A picture and all that is needed to tell the truth about it.

    Attributes
    ----------
    clump : Clump
        On the bench.
    camera : Camera
        That took it.
    mesh : Mesh
        Everything but a flat bench.
    faces : (H, W) int array
        Triangle of `mesh` that each pixel shows, -1 for none.
    ids : mitsuba.Scene
        `mesh` alone, for rays.
    rgb : (H, W, 3) uint8 array
        Pixels of the file.
    data : bytes
        The file.
    bench, light : str
        In a word each.
    card : bool
        Whether the bench card lies in the picture, whole.
    twins : list of Twin
        The frames of a set, that of `rgb` first; none of a single picture.
    """

    clump: Clump
    camera: Camera
    mesh: Mesh
    faces: NDArray[np.int64]
    ids: Any
    rgb: Rgb
    data: bytes
    bench: str
    light: str
    card: bool
    twins: list[Twin]


@dataclass(frozen=True)
class _Laid:
    """A clump and what lies about it, as Mitsuba has them."""

    clump: Clump
    mesh: Mesh
    ids: Any
    things: dict[str, Any]
    bench: str
    card: Mesh | None

    def shot(
        self, camera: Camera, faces: NDArray[np.int64], rgb: Rgb, data: bytes,
        light: str, twins: list[Twin],
    ) -> Shot:  # fmt: skip
        seen = self.card is not None and camera.frames(self.card.vertices)
        return Shot(
            self.clump, camera, self.mesh, faces, self.ids, rgb, data, self.bench,
            light, seen, twins,
        )  # fmt: skip


def take(
    seed: int,
    width_px: int,
    samples: int,
    lamps: int = 1,
    views: int = 1,
    close: bool = False,
) -> Iterator[Shot]:
    """Render a clump from some sides; Mitsuba's variant must have been set.

    Parameters
    ----------
    seed : int
        One seed, one clump.
    width_px : int
        Width of the picture.
    samples : int
        Rays a pixel.
    lamps : int
        How many frames a view has, each with the lamp on another side.
    views : int
        How often the clump is photographed as it lies, each time in another light and
        with another phone: raising it takes longer than looking at it.
    close : bool
        Show the crown only.

    Yields
    ------
    Shot
        A picture.
    """
    seeds = np.random.SeedSequence([seed, 20_607]).spawn(len(STREAMS))
    rng = {n: np.random.default_rng(s) for n, s in zip(STREAMS, seeds, strict=True)}
    edge = float(np.clip((150 if close else 500) / width_px, 0.35, 0.8))
    clump = build_clump(rng["grow"], rng["skin"], edge)
    bench = str(rng["bench"].choice(BENCHES, p=SHARES))
    loose, flat = _bench(rng["bench"], bench, clump)
    card = _card(rng["bench"].spawn(1)[0], clump, loose)
    if card is not None:
        loose.append(card[0])
        flat["print"] = card[1]
    mesh = joined([clump.mesh, *loose])
    ids = mi.load_dict({"type": "scene", "all": as_mitsuba(mesh, plain=True)})
    things = {"all": as_mitsuba(mesh), **flat}
    scene = _Laid(clump, mesh, ids, things, bench, None if card is None else card[0])
    for view in range(views):
        camera = draw_camera(rng["camera"], clump, width_px, close)
        yield _shot(scene, camera, rng, samples, lamps, seed + 101 * view)


def _shot(
    laid: _Laid, camera: Camera, rng: Streams, samples: int, lamps: int, rays: int
) -> Shot:
    """Photograph what is laid on the bench."""
    faces = _faces(laid.ids, camera)
    grown = (faces >= 0) & (laid.mesh.label[np.maximum(faces, 0)] // 100 > 0)
    phone: Phone = draw_phone(rng["phone"])

    def shoot(lights: dict[str, Any], camera: Camera, rays: int) -> tuple[bytes, Rgb]:
        radiance = _radiance(_lit(camera, laid.things, lights), samples, rays)
        return develop(radiance, grown, phone, rng["phone"])

    if lamps == 1:
        light, lights = draw_lights(rng["light"])
        data, rgb = shoot(lights, camera, rays)
        return laid.shot(camera, faces, rgb, data, light, [])
    twins: list[Twin] = []
    for way, lights in move_lamp(rng["light"], camera.axes, lamps):
        beside, motion_px = camera, (0.0, 0.0)
        if twins:
            beside, motion_px = shaken(
                rng["camera"], camera, laid.clump.on_bench(np.zeros(3))
            )
        data, pixels = shoot(lights, beside, rays + 7 * len(twins))
        right, down, ahead = (float(part) for part in camera.axes @ way)
        twins.append(Twin(pixels, data, (down, right, -ahead), motion_px))
    return laid.shot(camera, faces, twins[0].rgb, twins[0].data, "moved", twins)


def _lit(camera: Camera, things: dict[str, Any], lights: dict[str, Any]) -> Any:
    path = {"type": "path", "max_depth": DEPTH}
    sensor = _sensor(camera)
    return mi.load_dict(
        {"type": "scene", "integrator": path, "sensor": sensor, **things, **lights}
    )


def _radiance(scene: Any, samples: int, seed: int) -> Floats:
    passes = max(1, round(samples / PASS_SAMPLES))
    total: Floats | None = None
    for index in range(passes):
        own: Any = (seed * 1009 + index) % 2**31
        part = mi.render(scene, spp=PASS_SAMPLES, seed=own)
        image = np.array(part, np.float64)[..., :3]
        # A ray in many millions fails; a few find a lamp by luck and shine too much.
        image = np.where(np.isfinite(image).all(axis=-1, keepdims=True), image, 0)
        image = np.minimum(image, BRIGHTEST * np.median(image[image > 0]))
        total = image if total is None else total + image
    assert total is not None
    return total / passes


def _bench(
    rng: np.random.Generator, bench: str, clump: Clump
) -> tuple[list[Mesh], dict[str, Any]]:
    """Return loose meshes on the bench, and the flat bench as Mitsuba has it."""
    noise = Noise(rng)
    places = clump.mesh.vertices
    reach = float(np.abs(places[:, :2]).max()) + 25
    loose = [crumbs(rng, noise, reach)]
    flat: dict[str, Any] = {}
    low = clump.mesh.vertices[clump.mesh.vertices[:, 2] < 40]
    loose += things(rng, noise, low[::20, :2], reach)
    if bench == "soil":
        loose.append(ground(rng, noise, reach + 190))
        flat["below"] = _plane([0.07, 0.048, 0.032], -9.0)
        return loose, flat
    if bench == "tray":
        loose.append(rim(rng, reach + 40))
    image = PAINTED[bench](rng).astype(np.float32)
    turn = float(rng.uniform(0, 360))
    grow = mi.ScalarTransform4f().rotate([0, 0, 1], turn).scale([TILE_MM, TILE_MM, 1])
    flat["bench"] = {
        "type": "rectangle",
        "to_world": grow,
        "bsdf": {
            "type": "twosided",
            "bsdf": {
                "type": "principled",
                "base_color": {
                    "type": "bitmap",
                    "bitmap": mi.Bitmap(image),
                    "raw": True,
                    "to_uv": mi.ScalarTransform3f().scale([2, 2]),
                },
                "roughness": ROUGH[bench],
                "specular": 0.4,
            },
        },
    }
    flat["below"] = _plane([0.12, 0.11, 0.1], -4.0)
    return loose, flat


def _card(
    rng: np.random.Generator, clump: Clump, loose: list[Mesh]
) -> tuple[Mesh, dict[str, Any]] | None:
    """Lay the bench card, now and then, where neither clump nor thing lies."""
    if rng.random() >= CARD_ODDS:
        return None
    low = clump.mesh.vertices[clump.mesh.vertices[:, 2] < 40][::20]
    tools = [m.vertices for m in loose if m.label.size and m.label[0] == TOOL]
    taken = np.concatenate([low, *tools])[:, :2]
    return lay_card(rng, taken, CARD_NEAR * float(np.abs(clump.mesh.vertices).max()))


def _plane(hue: list[float], height: float) -> dict[str, Any]:
    up = mi.ScalarTransform4f().translate([0, 0, height]).scale([3000, 3000, 1])
    reflectance = {"type": "rgb", "value": hue}
    return {"type": "rectangle", "to_world": up,
            "bsdf": {"type": "diffuse", "reflectance": reflectance}}  # fmt: skip


def _sensor(camera: Camera) -> dict[str, Any]:
    target = camera.eye + camera.axes[2]
    up = -camera.axes[1]
    return {
        "type": "thinlens",
        "to_world": mi.ScalarTransform4f().look_at(
            camera.eye.tolist(), target.tolist(), up.tolist()
        ),
        "fov": float(np.degrees(2 * np.arctan(camera.width / 2 / camera.focal_px))),
        "fov_axis": "x",
        "aperture_radius": camera.lens_mm,
        "focus_distance": camera.focus_mm,
        "near_clip": 5.0,
        "film": {
            "type": "hdrfilm",
            "width": camera.width,
            "height": camera.height,
            "rfilter": {"type": "gaussian"},
            "pixel_format": "rgb",
        },
        "sampler": {"type": "independent"},
    }


def as_mitsuba(mesh: Mesh, plain: bool = False) -> Any:
    """Return a mesh as Mitsuba has it, with its colours unless plain."""
    props = mi.Properties()
    if not plain:
        props["bsdf"] = mi.load_dict(_skin_bsdf())
    shape = mi.Mesh(
        "grown", len(mesh.vertices), len(mesh.faces), props=props,
        has_vertex_normals=not plain, has_vertex_texcoords=False,
    )  # fmt: skip
    if not plain:
        hue: Any = mesh.colour.astype(np.float32).ravel()
        shape.add_attribute("vertex_hue", 3, hue)
        for name in ("rough", "metal", "coat"):
            values = getattr(mesh, name).astype(np.float32)
            shape.add_attribute(f"vertex_{name}", 1, values)
    values = mi.traverse(shape)
    values["vertex_positions"] = mesh.vertices.astype(np.float32).ravel()
    values["faces"] = mesh.faces.astype(np.uint32).ravel()
    if not plain:
        values["vertex_normals"] = mesh.normals().astype(np.float32).ravel()
    values.update()
    return shape


def _skin_bsdf() -> dict[str, Any]:
    def of(name: str) -> dict[str, str]:
        return {"type": "mesh_attribute", "name": f"vertex_{name}"}

    return {
        "type": "twosided",
        "bsdf": {
            "type": "principled",
            "base_color": of("hue"),
            "roughness": of("rough"),
            "metallic": of("metal"),
            "clearcoat": of("coat"),
            "clearcoat_gloss": 0.93,
            "specular": 0.45,
            "flatness": UNDER_SKIN,
        },
    }


def _faces(ids: Any, camera: Camera) -> NDArray[np.int64]:
    rows, cols = np.mgrid[0 : camera.height, 0 : camera.width].astype(np.float64)
    found = hits(ids, camera, rows.ravel(), cols.ravel())
    return found.reshape(camera.height, camera.width)
