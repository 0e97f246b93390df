"""The height field: what the camera sees at each pixel, and how high it lies."""

from dataclasses import dataclass, replace

import numpy as np
import torch
from scipy.interpolate import CubicSpline
from torch import Tensor

from eyefind.model.network import PARTS
from eyefind.workshop.anatomy import WART_MM, Tube, Vector
from eyefind.workshop.noise import Noise
from eyefind.workshop.pose import Posed

BLENDS = {
    "stem": 6.0,
    "old_stem": 2.5,
    "root": 0.5,
    "sprout": 0.5,
    "grain": 0.3,
    "tool": 0.05,
}
"""Over how many mm of height tubes of these kinds blend into what they meet."""
FAR = -1.0e4
"""Height where nothing is."""
BLEND_MM = 2.2
"""Over this height crown balls blend into each other."""
CREASE_MM = 0.5
"""Over this height a wart blends into the crown."""
NEVER_MM = 1.0e3
"""Farther away than anything on a crown."""
RAT_TAILS_FROM = 60
"""Instances of free rat's tails start behind this; a tuber's tail has its number."""
STEP_RADII = 0.4
"""Neighbouring spheres of a tube of 1 mm are this many radii apart; thicker ones
are sampled finer, because their ribs would show."""
PART_OF = {
    "tuber": "body",
    "tuber_on_tuber": "body",
    "spent_parent": "spent_parent",
    "rat_tail": "thin_root",
    "root": "thin_root",
    "stem": "stem",
    "old_stem": "crown",
    "sprout": "crown",
    "grain": "crown",
    "tool": "tool_or_card",
}


@dataclass(frozen=True)
class Camera:
    """Where the picture's pixels lie in the camera frame.

    Attributes
    ----------
    px_per_mm : float
        Scale.
    left_mm, top_mm : float
        x and y of the picture's corner.
    height, width : int
        Size, px.
    device : str
        Where the tensors live.
    """

    px_per_mm: float
    left_mm: float
    top_mm: float
    height: int
    width: int
    device: str

    def to_px(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Return (row, col) of a place; an integer is a pixel's centre."""
        return (
            (y_mm - self.top_mm) * self.px_per_mm - 0.5,
            (x_mm - self.left_mm) * self.px_per_mm - 0.5,
        )

    def axes_mm(self) -> tuple[Tensor, Tensor]:
        """Return y of every row and x of every column, mm."""
        rows = torch.arange(self.height, device=self.device, dtype=torch.float32)
        cols = torch.arange(self.width, device=self.device, dtype=torch.float32)
        return (
            (rows + 0.5) / self.px_per_mm + self.top_mm,
            (cols + 0.5) / self.px_per_mm + self.left_mm,
        )


class Field:
    """Buffers of one picture, all (H, W) on the camera's device.

    Attributes
    ----------
    z : float tensor
        Height, mm.
    part, instance, tube : int tensors
        Index into PARTS; instance; index of the tube, -1 for crown, -2 for bench.
    tex : (H, W, 3) float tensor
        Place on the skin, mm: around (two), along; for the crown its own frame.
    along, thick : float tensors
        Length along the tube; its radius there, mm.
    face : float tensor
        On a cut face the distance from its middle over the radius, else -1.
    """

    def __init__(self, camera: Camera, slope: Vector) -> None:
        self.camera = camera
        self.y_mm, self.x_mm = camera.axes_mm()
        shape = (camera.height, camera.width)
        self.z = (
            float(slope[0]) * self.x_mm[None, :] + float(slope[1]) * self.y_mm[:, None]
        ).contiguous()
        self.bench_z = self.z.clone()
        device = camera.device
        self.part = torch.zeros(shape, dtype=torch.int32, device=device)
        self.instance = torch.zeros(shape, dtype=torch.int32, device=device)
        self.tube = torch.full(shape, -2, dtype=torch.int32, device=device)
        self.tex = torch.zeros((*shape, 3), device=device)
        self.along = torch.zeros(shape, device=device)
        self.thick = torch.ones(shape, device=device)
        self.face = torch.full(shape, -1.0, device=device)

    def window(
        self, low_x: float, high_x: float, low_y: float, high_y: float
    ) -> tuple[slice, slice]:
        """Rows and columns that cover a box in mm, clipped to the picture."""
        cam = self.camera
        row0 = int(np.floor((low_y - cam.top_mm) * cam.px_per_mm)) - 1
        row1 = int(np.ceil((high_y - cam.top_mm) * cam.px_per_mm)) + 1
        col0 = int(np.floor((low_x - cam.left_mm) * cam.px_per_mm)) - 1
        col1 = int(np.ceil((high_x - cam.left_mm) * cam.px_per_mm)) + 1
        return (
            slice(min(max(row0, 0), cam.height), min(max(row1, 0), cam.height)),
            slice(min(max(col0, 0), cam.width), min(max(col1, 0), cam.width)),
        )

    def put(
        self,
        box: tuple[slice, slice],
        z: Tensor,
        values: dict[str, Tensor],
        blend_mm: float | Tensor,
    ) -> None:
        """Lay a surface over what is there, blending where heights are close."""
        old = self.z[box]
        wins = z > old
        clump = (self.part[box] > 0) & (z > FAR / 2)
        near = (blend_mm - (z - old).abs()).clamp(min=0) * clump
        self.z[box] = torch.maximum(z, old) + near * near / (4 * blend_mm)
        for name, value in values.items():
            buffer = getattr(self, name)
            keep = wins[..., None] if value.dim() == 3 else wins
            buffer[box] = torch.where(keep, value.to(buffer.dtype), buffer[box])


def fill(field: Field, posed: Posed, noise: Noise) -> None:
    """Lay the crown and all tubes of a clump into the field.

    Parameters
    ----------
    field : Field
        Changed in place.
    posed : Posed
        The clump in the camera frame.
    noise : Noise
        Makes the crown lumpy.
    """
    _put_crown(field, posed, noise)
    tubes = posed.clump.tubes
    for number, tube in enumerate(tubes):
        put_tube(field, tube, number, instance_of(tube))


def instance_of(tube: Tube) -> int:
    """Instance of a tube in the label image: T3 is 3, S1 is 1, R1 is 61, roots 0."""
    if tube.kind in ("root", "sprout", "grain", "old_stem", "tool"):
        return 0
    return int(tube.id[1:]) + (RAT_TAILS_FROM if tube.id[0] == "R" else 0)


def _put_crown(field: Field, posed: Posed, noise: Noise) -> None:
    clump, device = posed.clump, field.camera.device
    places = torch.tensor(clump.ball_places, dtype=torch.float32, device=device)
    radii = torch.tensor(clump.ball_radii, dtype=torch.float32, device=device)
    low = (clump.ball_places - clump.ball_radii[:, None]).min(axis=0) - 3
    high = (clump.ball_places + clump.ball_radii[:, None]).max(axis=0) + 3
    box = field.window(low[0], high[0], low[1], high[1])
    y, x = torch.meshgrid(field.y_mm[box[0]], field.x_mm[box[1]], indexing="ij")
    back = torch.tensor(posed.turn, dtype=torch.float32, device=device)
    flat = torch.stack([x.reshape(-1), y.reshape(-1)], dim=1)
    heights, texes = [], []
    for piece in torch.split(flat, 120_000):
        z = torch.full((len(piece),), float(high[2]), device=device)
        for _ in range(36):
            point = torch.cat([piece, z[:, None]], dim=1)
            gap = _crown_gap(point, places, radii)
            gap = gap - 1.1 * noise.at(point @ back / 6.5)
            z = z - 0.8 * gap
        point = torch.cat([piece, z[:, None]], dim=1)
        miss = (gap.abs() > 0.5) | (z < float(low[2]))
        heights.append(torch.where(miss, torch.full_like(z, FAR), z))
        texes.append(point @ back)
    z = torch.cat(heights).reshape(x.shape)
    ones = torch.ones_like(z)
    values = {
        "part": ones * PARTS.index("crown"),
        "instance": ones,
        "tube": -ones,
        "tex": torch.cat(texes).reshape(*x.shape, 3),
    }
    field.put(box, z, values, BLEND_MM)


def _crown_gap(point: Tensor, places: Tensor, radii: Tensor) -> Tensor:
    """Signed distance to the blended balls, mm."""
    gaps = torch.cdist(point, places) - radii
    warts = radii <= WART_MM
    large = torch.where(warts, NEVER_MM, gaps)
    gap = -BLEND_MM * torch.logsumexp(-large / BLEND_MM, dim=1) + 0.8 * BLEND_MM
    # A wart keeps its shape and meets the rest in a narrow crease.
    wart = torch.where(warts, gaps, NEVER_MM).min(dim=1).values
    near = (CREASE_MM - (gap - wart).abs()).clamp(min=0)
    return torch.minimum(gap, wart) - near * near / (4 * CREASE_MM)


def put_tube(field: Field, tube: Tube, number: int, instance: int) -> None:
    """Lay one tube into the field.

    Parameters
    ----------
    field : Field
        Changed in place.
    tube : Tube
        In the camera frame.
    number, instance : int
        Its index and its instance in the label image.
    """
    whole = tube
    tube, along = _dense(tube)
    rows = field.window(
        float((tube.points[:, 0] - tube.radius).min()),
        float((tube.points[:, 0] + tube.radius).max()),
        float((tube.points[:, 1] - tube.radius).min()),
        float((tube.points[:, 1] + tube.radius).max()),
    )[0]
    tall = max(24, int(tube.radius.max() * field.camera.px_per_mm))
    for top in range(rows.start, rows.stop, tall):
        bottom = min(top + tall, rows.stop)
        low_y, high_y = float(field.y_mm[top]), float(field.y_mm[bottom - 1])
        touch = np.flatnonzero(
            (tube.points[:, 1] + tube.radius >= low_y)
            & (tube.points[:, 1] - tube.radius <= high_y)
        )
        if len(touch) == 0:
            continue
        first = max(int(touch[0]) - 1, 0)
        last = min(int(touch[-1]) + 2, len(tube.points))
        low_x = (tube.points[first:last, 0] - tube.radius[first:last]).min()
        high_x = (tube.points[first:last, 0] + tube.radius[first:last]).max()
        cols = field.window(float(low_x), float(high_x), low_y, high_y)[1]
        box = (slice(top, bottom), cols)
        stretch = slice(first, last)
        z, values = _stretch(field, box, tube, along, stretch)
        part = _parts_along(whole, values["along"])
        crown = part == PARTS.index("crown")
        values |= {"part": part, "tube": torch.full_like(part, number)}
        values["instance"] = torch.where(crown, 1, instance)
        blend: float | Tensor = BLENDS.get(tube.kind, 1.2)
        if tube.kind in ("tuber", "spent_parent"):
            # A neck grows out of the crown; it is not stuck into it.
            blend = blend + 3.0 * torch.exp(-values["along"] / 7)
        field.put(box, z, values, blend)


def _dense(tube: Tube) -> tuple[Tube, Vector]:
    """Add spheres until neighbours overlap by far, so that no beads show.

    Returns the tube and the length along the given one at each sphere.
    """
    along = tube.along
    thick = np.maximum((tube.radius[1:] + tube.radius[:-1]) / 2, 0.15)
    step = np.clip(STEP_RADII / thick**0.5, 0.15, 0.45) * thick
    wanted = np.concatenate([[0.0], np.cumsum(np.maximum(np.diff(along) / step, 1.0))])
    fine = np.linspace(0, wanted[-1], min(round(wanted[-1]) + 1, 900))
    columns = np.column_stack([tube.points, tube.radius, along])
    place = CubicSpline(wanted, columns)(fine)
    radius = np.clip(place[:, 3], tube.radius.min() * 0.9, tube.radius.max())
    return replace(tube, points=place[:, :3], radius=radius), place[:, 4]


def _stretch(
    field: Field,
    box: tuple[slice, slice],
    tube: Tube,
    along_mm: Vector,
    stretch: slice,
) -> tuple[Tensor, dict[str, Tensor]]:
    """Heights of a few neighbouring spheres of a tube, and what the buffers get."""
    device = field.camera.device
    points = torch.tensor(tube.points[stretch], dtype=torch.float32, device=device)
    radii = torch.tensor(tube.radius[stretch], dtype=torch.float32, device=device)
    along = torch.tensor(along_mm[stretch], dtype=torch.float32, device=device)
    y, x = field.y_mm[box[0]][:, None], field.x_mm[box[1]][None, :]
    dx = x[None] - points[:, 0, None, None]
    dy = y[None] - points[:, 1, None, None]
    room = radii[:, None, None] ** 2 - dx * dx - dy * dy
    heights = torch.where(
        room > 0,
        points[:, 2, None, None] + room.clamp(min=0).sqrt(),
        torch.full_like(room, FAR),
    )
    z, best = heights.max(dim=0)
    step, z = _between(heights, best, z)
    place = best + step
    low = place.floor().clamp(0, len(points) - 1).long()
    high = (low + 1).clamp(max=len(points) - 1)
    part = (place - low)[..., None]
    axis = points[low] * (1 - part) + points[high] * part
    thick = radii[low] * (1 - part[..., 0]) + radii[high] * part[..., 0]
    length = along[low] * (1 - part[..., 0]) + along[high] * part[..., 0]
    way = torch.nn.functional.normalize(points[high] - points[low] + 1e-6, dim=-1)
    out = torch.stack([x - axis[..., 0], y - axis[..., 1], z - axis[..., 2]], dim=-1)
    up = torch.zeros_like(way)
    up[..., 2] = 1
    up = torch.nn.functional.normalize(up - way * way[..., 2:] + 1e-5, dim=-1)
    side = torch.cross(way, up, dim=-1)
    wide = 0.75 * float(tube.radius.max())
    round_up = torch.nn.functional.normalize(
        torch.stack([(out * up).sum(-1), (out * side).sum(-1)], dim=-1), dim=-1
    )
    # On a swelling body the nearest sphere lags behind the place on the skin.
    skin_length = length + (out * way).sum(-1)
    tex = torch.cat([round_up * wide, skin_length[..., None]], dim=-1)
    face = torch.full_like(z, -1.0)
    if tube.cut:
        z, face = _cut_flat(tube, z, face, x, y)
        flat = torch.stack([x + 0 * z, y + 0 * z, 0 * z], dim=-1)
        tex = torch.where((face >= 0)[..., None], flat, tex)
    return z, {"tex": tex, "along": length, "thick": thick, "face": face}


def _between(heights: Tensor, best: Tensor, z: Tensor) -> tuple[Tensor, Tensor]:
    """Refine the highest sphere to a place between spheres (parabola)."""
    count = len(heights)
    before = heights.gather(0, (best - 1).clamp(min=0)[None])[0]
    after = heights.gather(0, (best + 1).clamp(max=count - 1)[None])[0]
    fits = (best > 0) & (best < count - 1) & (before > FAR / 2) & (after > FAR / 2)
    bend = (before - 2 * z + after).clamp(max=-1e-6)
    step = (0.5 * (before - after) / bend).clamp(-0.5, 0.5) * fits
    return step, torch.where(fits, z - 0.25 * (before - after) * step, z)


def _parts_along(tube: Tube, length: Tensor) -> Tensor:
    """Part of each place along a tube: neck, body, tail."""
    on_body = tube.kind == "grain" and tube.attached_to != "crown"
    whole = PARTS.index("body" if on_body else PART_OF[tube.kind])
    part = torch.full(length.shape, whole, dtype=torch.int32, device=length.device)
    if tube.kind in ("tuber", "tuber_on_tuber"):
        part[length < float(tube.along[tube.neck_end])] = PARTS.index("neck")
    if tube.kind in ("tuber", "tuber_on_tuber", "spent_parent") and tube.tail > 0:
        part[length > float(tube.along[tube.tail])] = PARTS.index("thin_root")
    return part


def _cut_flat(
    tube: Tube, z: Tensor, face: Tensor, x: Tensor, y: Tensor
) -> tuple[Tensor, Tensor]:
    """Cut the far end flat; a hollow stem is hollow there."""
    radius = float(tube.radius[-1])
    way = tube.points[-1] - tube.points[-3]
    way = way / np.linalg.norm(way)
    middle = tube.points[-1] - way * radius * 0.3
    nx, ny, nz = (float(v) for v in way)
    px, py, pz = (float(v) for v in middle)
    beyond = (x - px) * nx + (y - py) * ny + (z - pz) * nz > 0
    gone = torch.full_like(z, FAR)
    if nz < 0.05:
        return torch.where(beyond, gone, z), face
    flat = pz - (nx * (x - px) + ny * (y - py)) / nz
    dz = flat - pz
    ring = ((x - px) ** 2 + (y - py) ** 2 + dz * dz).sqrt() / radius
    on_face = beyond & (ring <= 1.0)
    depth = radius * 1.5 * (ring < tube.hollow) if tube.hollow else torch.zeros_like(z)
    z = torch.where(on_face, flat - depth, torch.where(beyond, gone, z))
    return z, torch.where(on_face, ring, face)
