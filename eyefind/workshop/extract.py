"""Takes the truth out of a rendered picture."""

from typing import Literal, cast

import cv2
import numpy as np
import torch
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000, rgb2lab

from eyefind.model.network import PARTS
from eyefind.workshop.anatomy import Mark, Tube
from eyefind.workshop.field import Field
from eyefind.workshop.scene import Picture
from eyefind.workshop.stamp import SeenEye
from eyefind.workshop.truth import TrueEye, TruePatch, TrueStem, TrueTuber, Truth

LEAST_VISIBLE = 0.25
"""Eyes of which the camera sees a smaller share are left out."""
RAT_TAIL_MM = 20.0
"""Tubers' thin ends longer than this are rat's tails (as in rules.toml)."""
TuberKind = Literal["tuber", "spent_parent", "tuber_on_tuber"]
PatchKind = Literal["rat_tail", "soft"]
Outline = list[tuple[float, float]]
Labels = NDArray[np.uint16]


def labels_of(picture: Picture) -> Labels:
    """Return the label image, (H, W) uint16 at the picture's size."""
    field = picture.field
    value = (field.part * 100 + field.instance).float()
    size = picture.rgb.shape[:2]
    if (field.camera.height, field.camera.width) != size:
        value = torch.nn.functional.interpolate(
            value[None, None], size=size, mode="nearest-exact"
        )[0, 0]
    return np.asarray(value.round().cpu().numpy().astype(np.uint16))


def truth_of(
    picture: Picture, labels: Labels, file: str, seed: int, spoilt: list[str]
) -> Truth:
    """Collect everything that is so in a picture.

    Parameters
    ----------
    picture : Picture
        As rendered; its `rgb` is measured for the eyes' colour differences, so pass
        the pixels that the file holds.
    labels : (H, W) uint16 array
        Label image.
    file : str
        Name of the picture.
    seed : int
        What made it.
    spoilt : list of str
        What is deliberately wrong with it.

    Returns
    -------
    Truth
        Ready to be written.
    """
    clump = picture.posed.clump
    part = labels // 100
    tool = PARTS.index("tool_or_card")
    height, width = picture.rgb.shape[:2]
    tubers = [_tuber(picture, labels, tube) for tube in clump.tubes if _is_tuber(tube)]
    stems = [_stem(picture, labels, t) for t in clump.tubes if t.kind == "stem"]
    return Truth(
        format="eyefind-truth",
        version=1,
        file=file,
        seed=seed,
        family="workshop-1",
        height_px=height,
        width_px=width,
        label_shape=(height, width),
        px_per_mm=picture.field.camera.px_per_mm / picture.oversample,
        card=picture.card,
        view=picture.view,
        light=picture.light,
        skin=clump.skin,
        bench=picture.bench,
        clump_outline_px=_outline((part > 0) & (part != tool)),
        crown_outline_px=_outline(part == PARTS.index("crown")),
        eyes=_eyes(picture, labels),
        tubers=tubers,
        stems=stems,
        patches=_patches(picture, labels),
        spoilt=spoilt,
    )


def _is_tuber(tube: Tube) -> bool:
    return tube.kind in ("tuber", "spent_parent", "tuber_on_tuber")


def _outline(mask: NDArray[np.bool_]) -> Outline:
    """Outline of the largest piece of a mask, to half a pixel."""
    found, _ = cv2.findContours(
        mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    if not found:
        return []
    largest = max(found, key=cv2.contourArea)
    simple = cv2.approxPolyDP(largest, 0.7, True)[:, 0]
    return [(float(row), float(col)) for col, row in simple]


def _at(picture: Picture, x_mm: float, y_mm: float) -> tuple[float, float]:
    row, col = picture.field.camera.to_px(x_mm, y_mm)
    return _shrunk(row, picture), _shrunk(col, picture)


def _shrunk(place: float, picture: Picture) -> float:
    return round((place + 0.5) / picture.oversample - 0.5, 2)


def _eyes(picture: Picture, labels: Labels) -> list[TrueEye]:
    lab = rgb2lab(picture.rgb)
    seen = []
    for eye in picture.eyes:
        row, col = _shrunk(eye.row, picture), _shrunk(eye.col, picture)
        inside = 0 <= row < labels.shape[0] - 1 and 0 <= col < labels.shape[1] - 1
        if eye.share <= LEAST_VISIBLE or not inside:
            continue
        if labels[round(row), round(col)] // 100 not in (2, 3):
            continue
        seen.append((eye, row, col))
    return [
        TrueEye(
            id=f"E{number}",
            row_px=row,
            col_px=col,
            size_mm=round(2 * _real_mark(picture, eye).radius, 2),
            belongs_to=eye.mark.belongs_to,
            visible_fraction=round(eye.share, 3),
            colour=eye.mark.eye_colour,
            delta_e=_contrast(picture, eye, row, col, lab, labels),
            sprouting=eye.mark.sprout,
        )
        for number, (eye, row, col) in enumerate(seen, start=1)
    ]


def _real_mark(picture: Picture, eye: SeenEye) -> Mark:
    """Return the eye's mark true to size."""
    return picture.real.marks[picture.posed.clump.marks.index(eye.mark)]


def _real_tube(picture: Picture, tube: Tube) -> Tube:
    """Return a tube true to size."""
    return picture.real.tubes[picture.posed.clump.tubes.index(tube)]


def _contrast(
    picture: Picture,
    eye: SeenEye,
    row: float,
    col: float,
    lab: NDArray[np.float64],
    labels: Labels,
) -> float:
    """CIEDE2000 between the mean colours of the eye and of the ring around it."""
    per_mm = picture.field.camera.px_per_mm / picture.oversample
    radius = eye.mark.radius * per_mm
    reach = int(np.ceil(2.2 * radius)) + 2
    rows = np.arange(max(round(row) - reach, 0), min(round(row) + reach, len(labels)))
    cols = np.arange(
        max(round(col) - reach, 0), min(round(col) + reach, labels.shape[1])
    )
    mine = _eye_pixels(picture, rows, cols) == eye.index
    away = np.hypot(rows[:, None] - row, cols[None, :] - col)
    grid = np.ix_(rows, cols)
    clump = (labels[grid] // 100 > 0) & (labels[grid] // 100 < 8)
    ring = clump & ~mine & (away > 1.25 * radius) & (away < 2.2 * radius)
    core = mine & (away < 0.85 * radius)
    core = core if core.any() else away < max(0.85 * radius, 0.8)
    if not ring.any():
        return 0.0
    patch = lab[grid]
    inner, outer = patch[core].mean(axis=0), patch[ring].mean(axis=0)
    return round(float(deltaE_ciede2000(inner, outer)), 2)


def _eye_pixels(
    picture: Picture, rows: NDArray[np.int64], cols: NDArray[np.int64]
) -> NDArray[np.int32]:
    """Eye buffer at pixels of the picture."""
    fine_rows = np.floor((rows + 0.5) * picture.oversample).astype(np.int64)
    fine_cols = np.floor((cols + 0.5) * picture.oversample).astype(np.int64)
    device = picture.eye_at.device
    return np.asarray(
        picture.eye_at[
            torch.from_numpy(fine_rows).to(device)[:, None],
            torch.from_numpy(fine_cols).to(device)[None, :],
        ]
        .cpu()
        .numpy()
    )


def _of_tuber(labels: Labels, number: int) -> NDArray[np.bool_]:
    """Pixels of a tuber: neck, body or parent, soft patches, thin end."""
    kinds = ("body", "neck", "spent_parent", "soft", "thin_root")
    values = [PARTS.index(kind) * 100 + number for kind in kinds]
    return np.isin(labels, values)


def _tuber(picture: Picture, labels: Labels, tube: Tube) -> TrueTuber:
    number = int(tube.id[1:])
    neck, real = tube.points[tube.neck], _real_tube(picture, tube)
    along = real.along
    marks = picture.posed.clump.marks
    whole = slice(tube.neck, tube.end + 1)
    return TrueTuber(
        id=tube.id,
        kind=cast(TuberKind, tube.kind),
        attached_to=tube.attached_to,
        outline_px=_outline(_of_tuber(labels, number)),
        neck_rc_px=_at(picture, float(neck[0]), float(neck[1])),
        neck_width_mm=round(2 * float(real.radius[tube.neck]), 2),
        length_mm=round(float(along[tube.end] - along[tube.neck]), 2),
        max_diameter_mm=round(2 * float(real.radius[whole].max()), 2),
        volume_ml=round(real.volume_ml, 2),
        neck_visible=_neck_seen(picture.field, picture, tube),
        broken_neck=tube.broken,
        soft=any(m.kind == "soft" and m.on == tube.id for m in marks),
    )


def _neck_seen(field: Field, picture: Picture, tube: Tube) -> bool:
    """Whether the tube itself, or the blend into it, shows where its neck is."""
    x, y, z = tube.points[tube.neck]
    row, col = (round(v) for v in field.camera.to_px(float(x), float(y)))
    if not (0 <= row < field.camera.height and 0 <= col < field.camera.width):
        return False
    own = picture.posed.clump.tubes.index(tube)
    if int(field.tube[row, col]) == own:
        return True
    above = float(field.z[row, col]) - float(z + tube.radius[tube.neck])
    return int(field.tube[row, col]) == -1 and above < 2.0


def _stem(picture: Picture, labels: Labels, tube: Tube) -> TrueStem:
    value = PARTS.index("stem") * 100 + int(tube.id[1:])
    clump = picture.posed.clump
    out = np.linalg.norm(tube.points - clump.ball_places.mean(axis=0), axis=1)
    base = int(np.argmax(out > clump.ball_radii.max()))
    ends = (tube.points[base], tube.points[-1])
    return TrueStem(
        id=tube.id,
        outline_px=_outline(labels == value),
        axis_px=[_at(picture, float(p[0]), float(p[1])) for p in ends],
        diameter_mm=round(2 * float(np.median(_real_tube(picture, tube).radius)), 2),
    )


def _patches(picture: Picture, labels: Labels) -> list[TruePatch]:
    patches = []
    root = PARTS.index("thin_root") * 100
    for tube in picture.posed.clump.tubes:
        if tube.kind == "rat_tail":
            outline = _outline(labels == root + 60 + int(tube.id[1:]))
            patches.append(("rat_tail", tube.attached_to, outline))
        elif _is_tuber(tube) and tube.tail > 0:
            along = _real_tube(picture, tube).along
            long = along[-1] - along[tube.tail]
            if long >= RAT_TAIL_MM:
                outline = _outline(labels == root + int(tube.id[1:]))
                patches.append(("rat_tail", tube.id, outline))
    soft = PARTS.index("soft") * 100
    for mark in picture.posed.clump.marks:
        if mark.kind == "soft":
            patches.append(
                ("soft", mark.on, _outline(labels == soft + int(mark.on[1:])))
            )
    shown = [patch for patch in patches if len(patch[2]) > 2]
    return [
        TruePatch(f"P{number}", cast(PatchKind, kind), on, outline)
        for number, (kind, on, outline) in enumerate(shown, start=1)
    ]
