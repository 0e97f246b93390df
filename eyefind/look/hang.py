"""Tell what each piece hangs on: the crown, or another piece."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Points
from eyefind.look.blobs import Labels
from eyefind.look.crown import disc
from eyefind.look.outline import box_of
from eyefind.look.parts import BODY, STEM
from eyefind.look.views import Plane

CRUMB_RADIUS_MM, CRUMB_MM2 = 2.5, 60.0
"""A thinner or smaller piece is no limb of its own."""
REACH_MM = 4.0
"""A piece that comes this near to the crown hangs on it."""
TOUCH_MM = 1.5
"""Pieces this near to each other touch."""
FAN_DEG = 50.0
"""A piece that lies on another but points away from the crown, within this angle, hangs
on the crown by a hidden neck."""
IN_LINE_DEG = 35.0
"""A piece that goes on where another ends, within this angle, is its other half."""
ROUND = 1.25
"""A piece less long than this, against its width, points nowhere."""


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece of tissue beside the crown.

    Attributes
    ----------
    number : int
        Its label.
    near_rc, far_rc, middle_rc : (2,) arrays
        Its ends, nearer to and farther from the crown, and its middle, working px.
    long : float
        Length against width.
    from_crown_px : float
        Distance to the crown.
    """

    number: int
    near_rc: Points
    far_rc: Points
    middle_rc: Points
    long: float
    from_crown_px: float


@dataclass(frozen=True, eq=False)
class Hanging:
    """What a piece hangs on.

    Attributes
    ----------
    on : int
        Label of the other piece; 0 for the crown.
    base_rc : (2,) array
        Where, working px.
    """

    on: int
    base_rc: Points


def sweep_crumbs(
    label: Labels, crown: Mask, chances: Plane, px_per_mm: float
) -> tuple[Labels, Mask]:
    """Give pieces that are no limb to what they touch.

    Too small ones are none, nor those that stay among the crown: a limb sticks out,
    unless it is a stem seen from its end.

    Parameters
    ----------
    label : (h, w) int32 array
        Pieces from 1.
    crown : (h, w) bool array
        The crown; may be empty.
    chances : (h, w, 4) float32 array
        What each pixel is (see `eyefind.look.parts`).
    px_per_mm : float
        Scale.

    Returns
    -------
    label : (h, w) int32 array
        Without the crumbs; what touches nothing is dropped.
    crown : (h, w) bool array
        With those that lay on it.
    """
    label, crown = label.copy(), crown.copy()
    hub = int(label.max()) + 1
    label[crown] = hub
    areas = np.bincount(label.ravel(), minlength=hub + 1)
    among = _among(label, crown, hub) & ~_likelier_stem(label, chances, hub)
    for number in np.argsort(areas[1:hub], kind="stable") + 1:
        own = label == number
        if not (among[number] or _is_small(own, px_per_mm)):
            continue
        rim = cv2.dilate(own.astype(np.uint8), disc(TOUCH_MM * px_per_mm)) > 0
        beside = np.bincount(label[rim & ~own], minlength=hub + 1)
        beside[0] = 0
        label[own] = int(np.argmax(beside)) if beside.any() else 0
    crown = label == hub
    label[crown] = 0
    return label, crown


def _is_small(own: Mask, px_per_mm: float) -> bool:
    cut = np.pad(own[box_of(own)], 1).view(np.uint8)
    depth = cv2.distanceTransform(cut, cv2.DIST_L2, 5)
    thin = depth.max() < CRUMB_RADIUS_MM * px_per_mm
    return bool(thin or own.sum() < CRUMB_MM2 * px_per_mm**2)


def _among(label: Labels, crown: Mask, hub: int) -> NDArray[np.bool_]:
    """Which pieces reach no farther from the crown's middle than the crown does."""
    reach = np.zeros(hub + 1)
    if crown.any():
        row, col = np.argwhere(crown).mean(axis=0)
        rows, cols = np.nonzero(label)
        away = np.hypot(rows - row, cols - col)
        np.maximum.at(reach, label[rows, cols], away)
    return np.asarray(reach < reach[hub])


def _likelier_stem(label: Labels, chances: Plane, hub: int) -> NDArray[np.bool_]:
    stem, body = (
        np.bincount(label.ravel(), chances[..., part].ravel(), minlength=hub + 1)
        for part in (STEM, BODY)
    )
    return np.asarray(stem > body)


def hang(label: Labels, crown: Mask, px_per_mm: float) -> tuple[Labels, list[Hanging]]:
    """Find what each piece hangs on; halves of one limb are joined.

    Parameters
    ----------
    label : (h, w) int32 array
        Pieces.
    crown : (h, w) bool array
        The crown; when it is empty the largest piece takes its place as root.
    px_per_mm : float
        Scale.

    Returns
    -------
    label : (h, w) int32 array
        Numbered anew, 1 to n.
    hangings : list of Hanging
        One for each piece; a host comes before what hangs on it.
    """
    label = label.copy()
    away = _away(crown) if crown.any() else None
    pieces = _pieces(label, away)
    order = sorted(pieces.values(), key=lambda piece: piece.from_crown_px)
    reach = REACH_MM * px_per_mm
    hung: dict[int, Hanging] = {}
    for piece in order:
        if not hung or (crown.any() and piece.from_crown_px <= reach):
            hung[piece.number] = Hanging(0, piece.near_rc)
    waiting = [piece for piece in order if piece.number not in hung]
    middle = np.argwhere(crown).mean(axis=0) if crown.any() else None
    while waiting:
        hosts = [_host(piece, label, list(hung), px_per_mm) for piece in waiting]
        best = int(np.argmax([touch for _, touch, _ in hosts]))
        piece = waiting.pop(best)
        host, touch, contact = hosts[best]
        if touch == 0:
            hung[piece.number] = Hanging(0, piece.near_rc)
        elif _other_half(piece, pieces[host], contact):
            label[label == piece.number] = host
            pieces[host] = _piece(label, host, away)
        elif middle is not None and _points_away(piece, middle):
            hung[piece.number] = Hanging(0, piece.near_rc)
        else:
            hung[piece.number] = Hanging(host, contact)
    return _numbered(label, hung)


def _away(crown: Mask) -> Plane:
    """Distance to the crown, px."""
    free = (~crown).view(np.uint8)
    return np.asarray(cv2.distanceTransform(free, cv2.DIST_L2, 5), np.float32)


def _pieces(label: Labels, away: Plane | None) -> dict[int, Piece]:
    numbers = np.flatnonzero(np.bincount(label.ravel())).tolist()
    return {number: _piece(label, number, away) for number in numbers if number}


def _piece(label: Labels, number: int, away: Plane | None) -> Piece:
    places = np.argwhere(label == number).astype(float)
    middle = places.mean(axis=0)
    _, spread, axes = np.linalg.svd(places - middle, full_matrices=False)
    along = (places - middle) @ axes[0]
    ends = [
        places[along <= np.quantile(along, 0.04)].mean(axis=0),
        places[along >= np.quantile(along, 0.96)].mean(axis=0),
    ]
    from_crown = 0.0
    if away is not None:
        rows, cols = places.astype(int).T
        distance = away[rows, cols]
        from_crown = float(distance.min())
        near = places[distance <= from_crown + 2.0].mean(axis=0)
        ends.sort(key=lambda end: float(np.hypot(*(end - near))))
        if from_crown <= 2.0:
            ends[0] = near
    else:
        from_crown = -float(len(places))
    long = float(spread[0] / max(spread[1], 1e-6))
    return Piece(number, ends[0], ends[1], middle, long, from_crown)


def _host(
    piece: Piece, label: Labels, hung: list[int], px_per_mm: float
) -> tuple[int, int, Points]:
    """Find which hung piece touches this one most, how much and where."""
    reach = disc(TOUCH_MM * px_per_mm)
    rows, cols = box_of(label == piece.number, len(reach))
    label = label[rows, cols]
    own = label == piece.number
    rim = cv2.dilate(own.view(np.uint8), reach) > 0
    touched = np.where(rim & ~own & np.isin(label, hung), label, 0)
    counts = np.bincount(touched.ravel())
    counts[0] = 0
    if not counts.any():
        return 0, 0, piece.near_rc
    host = int(np.argmax(counts))
    corner = np.array([rows.start, cols.start])
    contact = np.argwhere(touched == host).mean(axis=0) + corner
    return host, int(counts[host]), contact


def _other_half(piece: Piece, host: Piece, contact: Points) -> bool:
    """Whether a piece goes on where its host ends."""
    at_end = np.hypot(*(contact - host.far_rc)) < np.hypot(*(contact - host.middle_rc))
    at_start = np.hypot(*(contact - piece.far_rc)) > np.hypot(
        *(contact - piece.middle_rc)
    )
    if not (at_end and at_start):
        return False
    turn = _angle_deg(host.far_rc - host.near_rc, piece.middle_rc - host.middle_rc)
    return turn < IN_LINE_DEG


def _points_away(piece: Piece, crown_rc: Points) -> bool:
    """Whether a piece lies along a ray from the crown."""
    if piece.long < ROUND:
        return True
    way = piece.far_rc - piece.near_rc
    return _angle_deg(way, piece.middle_rc - crown_rc) < FAN_DEG


def _angle_deg(one: Points, other: Points) -> float:
    lengths = np.hypot(*one) * np.hypot(*other)
    if lengths == 0:
        return 0.0
    return float(np.rad2deg(np.arccos(np.clip(one @ other / lengths, -1, 1))))


def _numbered(label: Labels, hung: dict[int, Hanging]) -> tuple[Labels, list[Hanging]]:
    order: list[int] = []
    left = list(hung)
    while left:
        ready = [n for n in left if hung[n].on == 0 or hung[n].on in order]
        order += ready
        left = [n for n in left if n not in ready]
    new = np.zeros(int(label.max()) + 1, np.int32)
    new[order] = np.arange(1, len(order) + 1)
    hangings = [Hanging(int(new[hung[n].on]), hung[n].base_rc) for n in order]
    return new[label], hangings
