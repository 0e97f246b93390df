"""Tells the truth of a traced picture in the workshop's format."""

from typing import Literal, cast

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000, rgb2lab

from eyefind.model.network import PARTS
from eyefind.workshop.traced.body import has_rat_tail
from eyefind.workshop.traced.buds import Bud
from eyefind.workshop.traced.camera import hits
from eyefind.workshop.traced.noise3 import Floats
from eyefind.workshop.traced.parts import Root
from eyefind.workshop.traced.scene import Shot
from eyefind.workshop.truth import TrueEye, TruePatch, TrueStem, TrueTuber, Truth

LEAST_VISIBLE = 0.25
"""Eyes of which the camera sees a smaller share are left out."""
FINE = 5
"""Rays on each edge of a pixel that measure how much of an eye is seen."""
CROWN, NECK, STEM, THIN, SOFT, TOOL = (
    PARTS.index(part)
    for part in ("crown", "neck", "stem", "thin_root", "soft", "tool_or_card")
)
Outline = list[tuple[float, float]]
Labels = NDArray[np.uint16]


def labels_of(shot: Shot) -> Labels:
    """Return the label image, (H, W) uint16."""
    label = np.where(shot.faces >= 0, shot.mesh.label[np.maximum(shot.faces, 0)], 0)
    return label.astype(np.uint16)


def truth_of(shot: Shot, labels: Labels, file: str, seed: int) -> Truth:
    """Collect everything that is so in a picture.

    Parameters
    ----------
    shot : Shot
        As taken.
    labels : (H, W) uint16 array
        Its label image.
    file : str
        Name of the picture.
    seed : int
        What made it.

    Returns
    -------
    Truth
        Ready to be written.
    """
    camera, plan = shot.camera, shot.clump.plan
    part = labels // 100
    return Truth(
        format="eyefind-truth",
        version=1,
        file=file,
        seed=seed,
        family="traced-1",
        height_px=camera.height,
        width_px=camera.width,
        label_shape=(camera.height, camera.width),
        px_per_mm=round(camera.px_per_mm, 4),
        card=shot.card,
        view=camera.view,
        light=shot.light,
        skin=plan.skin,
        bench=shot.bench,
        clump_outline_px=_outline((part > 0) & (part != TOOL)),
        crown_outline_px=_outline(part == CROWN),
        eyes=_eyes(shot, labels),
        tubers=[_tuber(shot, labels, root) for root in plan.tubers()],
        stems=_stems(shot, labels),
        patches=_patches(shot, labels),
        spoilt=[],
    )


def _outline(mask: NDArray[np.bool_]) -> Outline:
    """Outline of the largest piece of a mask, to half a pixel."""
    found, _ = cv2.findContours(
        mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    if not found:
        return []
    simple = cv2.approxPolyDP(max(found, key=cv2.contourArea), 0.7, True)[:, 0]
    return [(float(row), float(col)) for col, row in simple]


def _at(shot: Shot, place: Floats) -> tuple[float, float]:
    row, col = shot.camera.to_px(shot.clump.on_bench(place))
    return round(float(row), 2), round(float(col), 2)


def _eyes(shot: Shot, labels: Labels) -> list[TrueEye]:
    lab = rgb2lab(shot.rgb)
    eyes: list[TrueEye] = []
    for index, bud in enumerate(shot.clump.buds):
        seen, middle = _seen(shot, index, bud)
        row, col = _at(shot, bud.place + 0.5 * bud.height * bud.normal)
        if seen <= LEAST_VISIBLE or middle is None:
            continue
        if _eye_at(shot, row, col) != index:
            row, col = middle
        if _part_at(labels, row, col) not in (CROWN, NECK):
            continue
        eyes.append(
            TrueEye(
                id=f"E{len(eyes) + 1}",
                row_px=row,
                col_px=col,
                size_mm=round(2 * bud.radius, 2),
                belongs_to=f"T{bud.owner}",
                visible_fraction=round(seen, 3),
                colour=bud.colour,
                delta_e=_contrast(shot, labels, lab, index, bud, (row, col)),
                sprouting=bud.sprouting,
            )
        )
    return eyes


def _scale(shot: Shot, bud: Bud) -> float:
    """Local scale at an eye, px per mm."""
    place = shot.clump.on_bench(bud.place)
    return shot.camera.focal_px / float((place - shot.camera.eye) @ shot.camera.axes[2])


def _seen(shot: Shot, index: int, bud: Bud) -> tuple[float, tuple[float, float] | None]:
    """Share of an eye's full disc that the camera sees, and the middle of that, px."""
    reach = (
        int(np.ceil(_scale(shot, bud) * max(1.4 * bud.radius, 1.3 * bud.height))) + 2
    )
    row, col = _at(shot, bud.place + 0.4 * bud.height * bud.normal)
    steps = np.arange(-reach, reach + 1e-9, 1 / FINE)
    rows, cols = (
        a.ravel() for a in np.meshgrid(row + steps, col + steps, indexing="ij")
    )
    inside = (rows > -0.5) & (rows < shot.camera.height - 0.5)
    inside &= (cols > -0.5) & (cols < shot.camera.width - 0.5)
    if not inside.any():
        return 0.0, None
    rows, cols = rows[inside], cols[inside]
    found = hits(shot.ids, shot.camera, rows, cols)
    mine = (found >= 0) & (shot.mesh.eye[np.maximum(found, 0)] == index)
    if not mine.any():
        return 0.0, None
    disc = np.pi * (bud.radius * _scale(shot, bud) * FINE) ** 2
    away = np.hypot(rows[mine] - rows[mine].mean(), cols[mine] - cols[mine].mean())
    best = int(np.argmin(away))
    middle = round(float(rows[mine][best]), 2), round(float(cols[mine][best]), 2)
    return float(min(mine.sum() / disc, 1.0)), middle


def _pixel(shape: tuple[int, ...], row: float, col: float) -> tuple[int, int] | None:
    r, c = round(row), round(col)
    return (r, c) if 0 <= r < shape[0] and 0 <= c < shape[1] else None


def _eye_at(shot: Shot, row: float, col: float) -> int:
    pixel = _pixel(shot.faces.shape, row, col)
    if pixel is None or shot.faces[pixel] < 0:
        return -1
    return int(shot.mesh.eye[shot.faces[pixel]])


def _part_at(labels: Labels, row: float, col: float) -> int:
    pixel = _pixel(labels.shape, row, col)
    return -1 if pixel is None else int(labels[pixel]) // 100


def _contrast(
    shot: Shot, labels: Labels, lab: Floats, index: int, bud: Bud,
    middle: tuple[float, float],
) -> float:  # fmt: skip
    """CIEDE2000 between the mean colours of an eye and of the ring around it."""
    radius = bud.radius * _scale(shot, bud)
    row, col = middle
    reach = int(np.ceil(2.2 * radius)) + 2
    rows = np.arange(
        max(round(row) - reach, 0), min(round(row) + reach, labels.shape[0])
    )
    cols = np.arange(
        max(round(col) - reach, 0), min(round(col) + reach, labels.shape[1])
    )
    grid = np.ix_(rows, cols)
    faces = shot.faces[grid]
    mine = (faces >= 0) & (shot.mesh.eye[np.maximum(faces, 0)] == index)
    away = np.hypot(rows[:, None] - row, cols[None, :] - col)
    grown = (labels[grid] // 100 > 0) & (labels[grid] // 100 < TOOL)
    ring = grown & ~mine & (away > 1.25 * radius) & (away < 2.2 * radius)
    core = mine & (away < 0.85 * radius)
    core = core if core.any() else away < max(0.85 * radius, 0.8)
    if not ring.any():
        return 0.0
    patch = lab[grid]
    inner, outer = patch[core].mean(axis=0), patch[ring].mean(axis=0)
    return round(float(deltaE_ciede2000(inner, outer)), 2)


def _tuber(shot: Shot, labels: Labels, root: Root) -> TrueTuber:
    kinds = ("body", "neck", "spent_parent", "soft", "thin_root")
    values = [100 * PARTS.index(kind) + root.number for kind in kinds]
    whole = (root.along >= root.neck) & (root.along <= root.end)
    area = np.pi * root.radius[whole] ** 2
    return TrueTuber(
        id=f"T{root.number}",
        kind=cast(Literal["tuber", "spent_parent", "tuber_on_tuber"], root.kind),
        attached_to=root.attached_to,
        outline_px=_outline(np.isin(labels, values)),
        neck_rc_px=_at(shot, root.place(root.neck)),
        neck_width_mm=round(2 * root.thickness(root.neck), 2),
        length_mm=round(root.end - root.neck, 2),
        max_diameter_mm=round(2 * float(root.radius[whole].max()), 2),
        volume_ml=round(float(np.trapezoid(area, root.along[whole])) / 1000, 2),
        neck_visible=_neck_seen(shot, labels, root),
        broken_neck=root.broken,
        soft=root.soft,
    )


def _neck_seen(shot: Shot, labels: Labels, root: Root) -> bool:
    """Whether what shows at the neck belongs to it, or is the crown just there."""
    place = shot.clump.on_bench(root.place(root.neck))
    pixel = _pixel(labels.shape, *shot.camera.to_px(place))
    if pixel is None or labels[pixel] == 0:
        return False
    value = int(labels[pixel])
    if value % 100 == root.number and value // 100 not in (CROWN, STEM):
        return True
    corner = shot.mesh.vertices[shot.mesh.faces[shot.faces[pixel], 0]]
    near = np.linalg.norm(corner - place) < 1.4 * root.thickness(root.neck) + 2
    return bool(near and value // 100 in (CROWN, NECK))


def _stems(shot: Shot, labels: Labels) -> list[TrueStem]:
    return [
        TrueStem(
            id=f"S{number}",
            outline_px=_outline(labels == 100 * STEM + number),
            axis_px=[
                _at(shot, stem.base + stem.way * 0.5 * shot.clump.plan.size),
                _at(shot, stem.base + stem.way * stem.length),
            ],
            diameter_mm=round(2 * stem.radius, 2),
        )
        for number, stem in enumerate(shot.clump.plan.stems, start=1)
    ]


def _patches(shot: Shot, labels: Labels) -> list[TruePatch]:
    plan = shot.clump.plan
    tails = [root for root in plan.hairs if root.kind == "rat_tail"]
    found = [("rat_tail", root.attached_to, labels == 100 * THIN + 60 + number)
             for number, root in enumerate(tails, start=1)]  # fmt: skip
    for root in plan.tubers():
        if has_rat_tail(root):
            mask = labels == 100 * THIN + root.number
            found.append(("rat_tail", f"T{root.number}", mask))
        if root.soft:
            found.append(
                ("soft", f"T{root.number}", labels == 100 * SOFT + root.number)
            )
    shown = [(kind, on, _outline(mask)) for kind, on, mask in found]
    shown = [patch for patch in shown if len(patch[2]) > 2]
    return [
        TruePatch(f"P{number}", cast(Literal["rat_tail", "soft"], kind), on, outline)
        for number, (kind, on, outline) in enumerate(shown, start=1)
    ]
